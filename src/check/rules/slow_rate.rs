//! A rate so slow that the syringe does not give it steadily, or that a blocked line is alarmed at late: one warning with what to
//! do. What the card says of a blocked line anyway is no warning.

use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::delivery::statements::time;
use crate::delivery::{Blocked, Circumstances, DeliverySetUp, Purge, sticks_and_slips, time_of};
use crate::infusion::Computed;

static SLOW: Code = Code::note("rate-slow");

pub(super) const RULE: Rule = Rule { codes: &[&SLOW], judges: Judges::Rate, check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let (Ok(sum), Some(container)) = (computed.sum(), computed.names().container) else { return };
    let policy = computed.formulary().policy();
    let sticks = sticks_and_slips(container, sum.set).then(|| {
        format!(
            "at so low a rate a syringe of {} sticks and slips: for hours far less than the rate was measured (Neal & Lin 2009)",
            container.size
        )
    });
    let Some(message) = sticks.or_else(|| late_alarm(computed)) else { return };
    let help = "a smaller syringe or a weaker solution; look at the line and at the effect; after an alarm, take the line off the patient before the block is released";
    findings.add(SLOW.found("driver", message).help(help).origin(&policy.origin));
}

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
