//! What a blocked line would do here: how late the driver may alarm, and what it sets free when the block is released.

use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::delivery::si::volume::millilitre;
use crate::delivery::told::{time, volume};
use crate::delivery::{Blocked, Circumstances, Purge, SetUp, time_of};
use crate::infusion::Computed;
use crate::infusion::rate::volume_of;
use crate::quantity::exact_or_about;

static LATE: Code = Code::note("alarm-late");
static BOLUS: Code = Code::note("stored-bolus-above-limit");

pub(super) const RULE: Rule = Rule { codes: &[&LATE, &BOLUS], judges: Judges::Rate, check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let names = computed.names();
    let (Some(container), Some(line), Some(driver)) = (names.container, names.line, names.driver) else { return };
    let Ok(sum) = computed.sum() else { return };
    // As it is to be done: the driver pushed fluid through the line before it was connected.
    let how = Circumstances::of(computed, Purge::OnTheDriver);
    let Ok(blocked) = Blocked::estimate(SetUp { container, line, driver, rate: sum.set }, &how) else { return };
    let policy = computed.formulary().policy();
    if let Ok(alarm) = blocked.time_to_alarm()
        && policy.late_alarm.is_some_and(|late| alarm.high() > time_of(late))
    {
        let message = format!("if the line is blocked, the driver may alarm only after {}", time(&alarm).text);
        let help = "look at the line and at the effect; a smaller syringe or a weaker solution alarms sooner";
        findings.add(LATE.found("driver", message).help(help).origin(&policy.origin));
    }
    let Some(limit) = names.indication.as_ref().ok().and_then(|one| one.bolus.as_ref()?.beyond.soft.as_ref()) else {
        return;
    };
    let Some(most) = limit.to.and_then(|dose| volume_of(dose, sum.body, Some(sum.strength)).ok()) else {
        return;
    };
    if let Ok(stored) = blocked.largest_bolus()
        && stored.high().get::<millilitre>() > most.approximate()
    {
        let message = format!(
            "a blocked line may set free up to {} mL when it is released, and the soft limit of a bolus is {} mL",
            volume(&stored).edges_as_text().1,
            exact_or_about(most)
        );
        let help = "after an alarm, take the line off the patient before the block is released";
        findings.add(BOLUS.found("driver", message).help(help).origin(&limit.origin));
    }
}
