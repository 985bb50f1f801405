//! What a set-up gives at the last moment of its course, by its record: for every answer that says so.

use crate::quantity::{Moment, Ratio, exact_or_about};

use super::accounting::Course;
use super::error::CaseError;

/// What is given now.
#[derive(Debug, Clone)]
pub struct Gives {
    /// In one word: running, empty, paused, stopped, closed.
    pub state: &'static str,
    /// In words.
    pub says: String,
    /// The dose; nothing where nothing flows, or before two people agree.
    pub dose: Option<Ratio>,
    /// Since when.
    pub since: Moment,
}

impl Course {
    /// What it says about its last moment.
    ///
    /// # Errors
    /// When the dose cannot be kept exactly.
    pub fn gives(&self) -> Result<Gives, CaseError> {
        let basis = &self.syringe().basis;
        let nothing = |state, says: String, since: Moment| Gives { state, says, dose: None, since };
        if let (true, None, Some(rate)) = (basis.sealed, self.stopped, self.rate) {
            let says = format!(
                "{} mL/h since {}; what it gives is not shown before two people agree",
                exact_or_about(rate),
                self.since
            );
            return Ok(nothing("running", says, self.since));
        }
        Ok(match (self.stopped, self.rate) {
            (Some(stopped), _) if self.closed => nothing("closed", format!("closed; stopped since {stopped}"), stopped),
            (Some(stopped), _) => nothing("stopped", format!("stopped since {stopped}"), stopped),
            (None, None) => {
                let held = self.still_in_the_line()?.map(|held| format!("; {}", held.says())).unwrap_or_default();
                nothing("paused", format!("paused since {}{held}", self.since), self.since)
            }
            (None, Some(rate)) => match self.flowing() {
                Some(flowing) => {
                    let dose = basis.dose(flowing)?;
                    let mut says = format!(
                        "{} mL/h, which gives {} {}, since {}",
                        exact_or_about(rate),
                        exact_or_about(dose),
                        basis.unit,
                        self.since
                    );
                    if let Some(held) = self.still_in_the_line()? {
                        says.push_str(&format!("; {}", held.says()));
                    }
                    Gives { state: "running", says, dose: Some(dose), since: self.since }
                }
                None => {
                    let empty = self.syringe().ran_empty.or(self.empty_at).unwrap_or(self.until);
                    let says = format!(
                        "THE SYRINGE SHOULD BE EMPTY since {empty}: nothing is given, though the rate is set to {} mL/h",
                        exact_or_about(rate)
                    );
                    nothing("empty", says, empty)
                }
            },
        })
    }
}
