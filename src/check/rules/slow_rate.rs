//! A rate at which the syringe does not give steadily, at all or from the start: one warning with what to do. A late alarm stands
//! on every card as a line of its own, and is said here only beside that.

use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::delivery::statements::time;
use crate::delivery::{Blocked, Circumstances, DeliverySetUp, Purge, starts_slowly, sticks_and_slips, time_of};
use crate::formulary::Phase;
use crate::infusion::Computed;

static SLOW: Code = Code::note("rate-slow");

pub(super) const RULE: Rule = Rule { codes: &[&SLOW], judges: Judges::Rate, check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let (Ok(sum), Some(container)) = (computed.sum(), computed.names().container) else { return };
    // The card's times say so of every slow start. It changes what is done where the next step up waits for the effect.
    let titrated = computed.names().indication.as_ref().is_ok_and(|indication| indication.titrated_to_effect)
        && computed.entry().phase() == Phase::Start;
    let (message, help) = if sticks_and_slips(container, sum.set) {
        let says = "at so low a rate a syringe of";
        (
            format!(
                "{says} {} sticks and slips: for hours far less than the rate was measured (Neal & Lin 2009)",
                container.size
            ),
            STICKS,
        )
    } else if titrated && starts_slowly(container, sum.set) {
        let says = "at so low a rate a syringe of";
        (
            format!(
                "{says} {} had no steady flow in the first hour (Schmidt 2010): the effect may begin that late",
                container.size
            ),
            STARTS,
        )
    } else {
        return;
    };
    let message = late_alarm(computed).map_or_else(|| message.clone(), |alarm| format!("{message}; {alarm}"));
    findings.add(SLOW.found("driver", message).help(help).origin(&computed.formulary().policy().origin));
}

const STICKS: &str = "a smaller syringe or a weaker solution; look at the line and at the effect; after an alarm, take the line off the patient before the block is released";
const STARTS: &str = "let the driver push fluid out of the line before it is connected; a smaller syringe or a weaker solution; no step up before the first hour is over";

/// As it is to be done: the driver pushed fluid through the line before it was connected.
fn late_alarm(computed: &Computed<'_>) -> Option<String> {
    let names = computed.names();
    let (container, line, driver) = (names.container?, names.line?, names.driver?);
    let set_up = DeliverySetUp { container, line, driver, rate: computed.sum().ok()?.set };
    let blocked = Blocked::estimate(set_up, &Circumstances::of(computed, Purge::OnTheDriver)).ok()?;
    let alarm = blocked.time_to_alarm().ok()?;
    let late = computed.formulary().policy().late_alarm?;
    (alarm.high() > time_of(late))
        .then(|| format!("if the line is blocked, the driver may alarm only after {}", time(&alarm).text))
}
