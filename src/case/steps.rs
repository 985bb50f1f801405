//! The steps of the ordered range next to the running dose: each dose with the rate that gives it with this syringe.

use crate::entry::Titration;
use crate::quantity::{DoseRate, FlowRate, Ratio, exact_or_about, plain};

use super::accounting::Course;
use super::error::{CaseError, refuse};

/// One step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DoseStep {
    /// The dose, in the unit of the order.
    pub dose: DoseRate,
    /// The rate that the driver is set to for it, mL/h.
    pub rate: Ratio,
}

/// A step that was chosen and is not recorded: what the person reads before they say so.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StepAsked {
    /// The running rate in mL/h, which the person was shown.
    pub runs: String,
    /// The running rate, and the dose that it gives.
    pub now: String,
    /// The new rate, and the dose that it gives.
    pub then: String,
}

/// Number of steps named to each side of the running dose.
const EACH_SIDE: usize = 2;

/// A range with more steps is stepped through by nobody.
const MOST: u64 = 200;

impl Course {
    /// The steps next to the running rate, lowest first; none where no step was ordered, or two people have not agreed.
    ///
    /// # Errors
    /// When two routes of the sum disagree.
    pub fn dose_steps(&self) -> Result<Vec<DoseStep>, CaseError> {
        let basis = &self.syringe().basis;
        let agreed = basis.titration.filter(|_| basis.agreed);
        let (Some(running), Some(titration)) = (self.rate, agreed) else { return Ok(Vec::new()) };
        let mut steps = Vec::new();
        for dose in doses(&titration)? {
            match basis.rate_giving(dose) {
                Ok(rate) => steps.push(DoseStep { dose, rate }),
                Err(CaseError::Refused(_)) => {}
                Err(other) => return Err(other),
            }
        }
        let below = steps.iter().filter(|step| step.rate < running).count();
        let above = steps.iter().filter(|step| step.rate <= running).count();
        let (from, to) = (below.saturating_sub(EACH_SIDE), (above + EACH_SIDE).min(steps.len()));
        Ok([&steps[from..below], &steps[above..to]].concat())
    }
}

impl Course {
    /// What a step changes, before it is recorded. `shown` is the rate that ran when the person was asked, once they were.
    ///
    /// # Errors
    /// When something else runs than they were shown, or the dose needs another rate.
    pub fn ask_step(&self, dose: DoseRate, rate: FlowRate, shown: Option<&str>) -> Result<StepAsked, CaseError> {
        let changed = |says: String| {
            let says = format!("{says}: what runs has changed meanwhile");
            refuse("rate-changed-meanwhile", says, "look at the record, and set the driver anew")
        };
        let basis = &self.syringe().basis;
        let Some(running) = self.rate.filter(|_| basis.agreed) else {
            return Err(changed("nothing runs that was agreed on".to_owned()));
        };
        let needed = basis.rate_giving(dose)?;
        if needed != rate.value() {
            let says = format!("{dose} needs {} mL/h now, and the button said {rate}", exact_or_about(needed));
            return Err(changed(says));
        }
        let runs = plain(running);
        if let Some(shown) = shown.filter(|shown| *shown != runs) {
            return Err(changed(format!("{runs} mL/h runs now, and {shown} mL/h ran when you were asked")));
        }
        let gives = exact_or_about(basis.dose(needed)?);
        let then = format!("{} mL/h, which gives {gives} {}", exact_or_about(needed), basis.unit);
        Ok(StepAsked { runs, now: self.gives()?.says, then })
    }
}

/// Every dose from the lower end of the range to the upper one, in the unit in which the range was ordered.
fn doses(titration: &Titration) -> Result<Vec<DoseRate>, CaseError> {
    let Titration { from, to, step: Some(step) } = titration else { return Ok(Vec::new()) };
    let unit = from.unit();
    if to.unit() != unit || step.unit() != unit {
        return Ok(Vec::new());
    }
    let (from, to, step) = (from.number().ratio(), to.number().ratio(), step.number().ratio());
    let mut doses = Vec::new();
    for count in 0..MOST {
        let dose = from.plus(step.times(Ratio::whole(count))?)?;
        if dose > to {
            return Ok(doses);
        }
        // What cannot be written exactly is no step that somebody ordered.
        let Ok(dose) = DoseRate::parse(&format!("{} {unit}", plain(dose))) else { return Ok(Vec::new()) };
        doses.push(dose);
    }
    Ok(Vec::new())
}
