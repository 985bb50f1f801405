//! The solution is not older than the drug lasts after drawing up, now and until the end.

use crate::check::finding::{Code, Finding};
use crate::check::rule::{Findings, Judges, Rule};
use crate::infusion::Computed;
use crate::quantity::{Moment, Quantity};

static CONTRADICT: Code = Code::impossible("times-contradict");
static EXPIRED: Code = Code::beyond("solution-expired");
static EXPIRES_IN_PLAN: Code = Code::justify("solution-expires-in-plan");

pub(super) const RULE: Rule = Rule { codes: &[&CONTRADICT, &EXPIRED, &EXPIRES_IN_PLAN], judges: Judges::Entry, check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let entry = computed.entry();
    let start = entry.starts_at().unwrap_or_else(|| entry.entered_at());
    if let Some(drawn) = entry.drawn_up_at()
        && start.is_before(drawn)
    {
        let what = if entry.starts_at().is_some() { "start" } else { "entry" };
        let message = format!("it was drawn up at {drawn}, after the {what} at {start}");
        findings.add(CONTRADICT.found("drawn_up_at", message).help("look at the times again"));
        return;
    }
    if entry.starts_at().is_some() && computed.starts_long_before_entry() {
        let message = format!("it is to start at {start}, long before this entry at {}", entry.entered_at());
        findings.add(CONTRADICT.found("starts_at", message).help("look at the day and the time again"));
        return;
    }
    let Some(end_of_life) = computed.discard_instant() else { return };
    let origin = computed.names().drug.as_ref().ok().map(|drug| &drug.life_origin);
    let with_origin = |finding: Finding| match (entry.use_before(), origin) {
        (None, Some(origin)) => finding.origin(origin),
        _ => finding,
    };
    let discard = || end_of_life.shown_as(start);
    if end_of_life.is_before(start) {
        let what = if entry.starts_at().is_some() { "starts at" } else { "was entered at" };
        let message = format!("it is to be discarded after {}, and {what} {start}", discard());
        findings.add(with_origin(EXPIRED.found("drawn_up_at", message).help("draw up a fresh one")));
        return;
    }
    // Of an entry that is too old to be started itself, `stale` says so.
    if end_of_life.is_before(computed.now()) && !computed.is_stale() {
        let now = computed.now().shown_as(start);
        let message = format!("it is to be discarded after {}, and it is {now} now", discard());
        findings.add(with_origin(EXPIRED.found("drawn_up_at", message).help("draw up a fresh one")));
        return;
    }
    // Without a plan, the card says by when the syringe is changed.
    let Some(planned) = entry.planned_for().map(Quantity::value) else { return };
    let lasts = computed.sum().ok().map_or(planned, |sum| sum.run.lasts);
    let Some(ends_at) = start.later(planned.min(lasts)) else { return };
    if end_of_life.is_before(ends_at) {
        let message = format!(
            "it is to be discarded after {}, before the end of the plan or of the syringe ({})",
            discard(),
            ends_at.shown_as(start)
        );
        let help = "plan to change the syringe by then, and write so";
        findings.add(with_origin(EXPIRES_IN_PLAN.found("planned_for", message).help(help)));
    }
}

/// Times are not compared, so one entry may know the start and the other the end: held against each other here.
pub(in crate::check) fn of_a_pair(first: &Computed<'_>, second: &Computed<'_>) -> Option<Finding> {
    let earliest = |a: Moment, b: Moment| if b.is_before(a) { b } else { a };
    let latest = |a: Moment, b: Moment| if a.is_before(b) { b } else { a };
    let discard = [first, second].into_iter().filter_map(Computed::discard_after).reduce(earliest)?;
    let start = [first, second].into_iter().filter_map(|one| one.entry().starts_at()).reduce(latest)?;
    if !discard.is_before(start) {
        return None;
    }
    let message = format!(
        "by one entry it is to be discarded after {}, by the other it starts at {start}",
        discard.shown_as(start)
    );
    Some(EXPIRED.found("drawn_up_at", message).help("look at both times together, or draw up a fresh one"))
}
