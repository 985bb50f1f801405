//! The next syringe goes on with about the dose that runs. Asked when both entries are sealed, since a reader who knows what runs
//! copies it; a reason and never a stop, since the record may be behind.

use serde::{Deserialize, Serialize};

use crate::check::finding::{Code, Finding};
use crate::infusion::Computed;
use crate::quantity::{DoseRateUnit, Ratio, exact_or_about, significant};

/// What a set-up gives by the record at the moment at which its next syringe is decided.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct RunningInfusion {
    /// The drug in the driver.
    pub drug: String,
    /// Its dose, as a number of `unit`.
    pub dose: Ratio,
    /// The unit of the dose.
    pub unit: DoseRateUnit,
    /// Its rate in mL/h.
    pub rate: Ratio,
}

static DOSE: Code = Code::justify("far-from-running-dose");
static STRENGTH: Code = Code::justify("far-from-running-strength");

/// Both kinds: no rule of one entry makes them.
pub(in crate::check) static CODES: [&Code; 2] = [&DOSE, &STRENGTH];

/// How far an entry lies from what runs: by its dose, else by the strength on its label.
pub(in crate::check) fn far(computed: &Computed<'_>, runs: &RunningInfusion) -> Option<Finding> {
    let (names, dose) = (computed.names(), computed.entry().dose());
    let (drug, indication) = (names.drug.as_ref().ok()?, names.indication.as_ref().ok()?);
    if drug.name != runs.drug || dose.unit() != runs.unit {
        return None;
    }
    let policy = computed.formulary().policy();
    let most = indication.largest_jump.or(policy.next_syringe_times)?;
    let beyond = |now: Ratio, before: Ratio| {
        let up = now >= before;
        let times = if up { now.over(before) } else { before.over(now) }.ok()?;
        let side = if up { "times" } else { "times less than" };
        (times > most).then(|| format!("{} {side}", significant(times, 2).0))
    };
    let origin = if indication.largest_jump.is_some() { &indication.origin } else { &policy.origin };
    if let Some(times) = beyond(dose.number().ratio(), runs.dose) {
        let running = format!("{} {}", exact_or_about(runs.dose), runs.unit);
        let message = format!("{dose} is {times} the {running} that runs by the record");
        let help = "read back the driver that runs, and the order; if the change is meant, each of you writes why";
        return Some(DOSE.found("dose", message).help(help).origin(origin));
    }
    // The rate that one of the dose's units needs, then and now: what differs there is the label.
    let for_one = runs.rate.over(runs.dose).ok()?;
    let times = beyond(for_one, computed.sum().ok()?.exact.over(dose.number().ratio()).ok()?)?;
    let message = format!("the strength on this label is {times} the one that runs by the record");
    let help = "read both labels again; if another strength is meant, each of you writes so";
    Some(STRENGTH.found("label.strength", message).help(help).origin(origin))
}
