//! The entry is still fresh at the moment of the check.

use crate::check::finding::{Code, Finding};
use crate::check::rule::{Findings, Judges, Rule};
use crate::infusion::Computed;
use crate::quantity::Moment;

static OLD: Code = Code::note("entry-old");

static EARLY: Code = Code::note("entry-after-check");
static START_TOO_LATE: Code = Code::beyond("start-after-entry-expires");

pub(super) const RULE: Rule = Rule { codes: &[&OLD, &EARLY, &START_TOO_LATE], judges: Judges::Entry, check };

/// Times on a card count from the entry's own: a person who takes up an old one must know it.
fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let (entry, Some(area)) = (computed.entry(), computed.names().area) else { return };
    let now = computed.now();
    if now.is_before(entry.entered_at()) {
        let message = format!("entered at {}, which is after this check at {now}", entry.entered_at());
        findings.add(EARLY.found("entered_at", message).help("look at the time of the entry and at the clock"));
    }
    if let Some(start) = entry.starts_at()
        && let Some(finding) = too_late(start, computed.expiry_instant())
    {
        findings.add(finding);
    }
    if !computed.is_stale() {
        return;
    }
    let discard = computed.discard_instant().filter(|discard| discard.is_before(now));
    let discard = discard.map(|_| ", and by now the solution is too old").unwrap_or_default();
    let expires = area.unstarted_entry_expires;
    let message = format!("entered at {}, more than {expires} before this check{discard}", entry.entered_at());
    findings.add(
        OLD.found("entered_at", message)
            .help("nothing is started from it: read the order, the syringe and the line again"),
    );
}

/// Times are not compared: an entry may expire before the start that the other one plans.
pub(in crate::check) fn of_a_pair(first: &Computed<'_>, second: &Computed<'_>) -> Option<Finding> {
    let earliest = |a: Moment, b: Moment| if b.is_before(a) { b } else { a };
    let latest = |a: Moment, b: Moment| if a.is_before(b) { b } else { a };
    let start = [first, second].into_iter().filter_map(|one| one.entry().starts_at()).reduce(latest)?;
    too_late(start, [first, second].into_iter().filter_map(Computed::expiry_instant).reduce(earliest))
}

fn too_late(start: Moment, expires: Option<Moment>) -> Option<Finding> {
    let expires = expires.filter(|expires| expires.is_before(start))?.shown_as(start);
    let message = format!("it is to start at {start}, and an entry expires before, at {expires}");
    let help = "look at the planned start again; if it is right, both of you enter it again nearer to it";
    Some(START_TOO_LATE.found("starts_at", message).help(help))
}
