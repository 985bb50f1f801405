//! What a set-up gives now, by its record: for every answer that says so.

use std::fmt::Write as _;

use serde::Serialize;
use serde_json::{Value, json};

use crate::case::{CaseError, Cases, Course, Owed, SetUpCode};
use crate::cli::entry_file::NoAnswer;
use crate::cli::report::{Exact, Valued};
use crate::formulary::Formulary;
use crate::quantity::{Moment, exact_or_about};

use super::words::paragraph;

/// The last line of whatever is said about now.
pub(in crate::cli) const BY_THE_RECORD: &str = "By the record, not read off the driver.";

/// What is given now.
#[derive(Debug, Serialize)]
pub(in crate::cli) struct Now {
    /// In one word: running, empty, paused, stopped, closed.
    pub(in crate::cli) state: &'static str,
    /// In words.
    #[serde(skip)]
    pub(in crate::cli) says: String,
    /// As the driver is set; nothing while paused or stopped.
    pub(in crate::cli) rate: Option<Valued>,
    /// Nothing where nothing flows.
    pub(in crate::cli) dose: Option<Valued>,
    /// The dose as an exact fraction.
    pub(in crate::cli) exact: Option<Exact>,
    pub(in crate::cli) since: String,
}

/// What a course says about its last moment.
pub(in crate::cli) fn of_course(course: &Course) -> Result<Now, CaseError> {
    let basis = &course.syringe().basis;
    let set = course.rate.map(|rate| Valued::of(rate, "mL/h"));
    let nothing = |state, says: String, since: Moment| Now {
        state,
        says,
        rate: set.as_ref().map(|rate| Valued { value: rate.value.clone(), unit: rate.unit.clone() }),
        dose: None,
        exact: None,
        since: since.to_rfc3339(),
    };
    if let (true, None, Some(rate)) = (basis.sealed, course.stopped, course.rate) {
        let says = format!(
            "{} mL/h since {}; what it gives is not shown before two people agree",
            exact_or_about(rate),
            course.since
        );
        return Ok(nothing("running", says, course.since));
    }
    Ok(match (course.stopped, course.rate) {
        (Some(stopped), _) if course.closed => nothing("closed", format!("closed; stopped since {stopped}"), stopped),
        (Some(stopped), _) => nothing("stopped", format!("stopped since {stopped}"), stopped),
        (None, None) => nothing("paused", format!("paused since {}", course.since), course.since),
        (None, Some(rate)) => match course.flowing() {
            Some(flowing) => {
                let dose = basis.dose(flowing)?;
                let says = format!(
                    "{} mL/h, which gives {} {}, since {}",
                    exact_or_about(rate),
                    exact_or_about(dose),
                    basis.unit,
                    course.since
                );
                let exact = Some(Exact::of(dose, basis.unit));
                Now {
                    state: "running",
                    says,
                    rate: set,
                    dose: Some(Valued::of(dose, basis.unit)),
                    exact,
                    since: course.since.to_rfc3339(),
                }
            }
            None => {
                let empty = course.syringe().ran_empty.or(course.empty_at).unwrap_or(course.until);
                let says = format!(
                    "THE SYRINGE SHOULD BE EMPTY since {empty}: nothing is given, though the rate is set to {} mL/h",
                    exact_or_about(rate)
                );
                nothing("empty", says, empty)
            }
        },
    })
}

/// What is owed for one set-up.
pub(super) fn owed(
    cases: &Cases,
    code: SetUpCode,
    current: Option<&Formulary>,
    now: Moment,
) -> Result<Vec<Owed>, NoAnswer> {
    let rows = cases.rows(&cases.case(code.case)?, current, now)?;
    Ok(rows.into_iter().find(|row| row.set_up == Some(code)).map(|row| row.owed).unwrap_or_default())
}

/// What is owed, a line each.
pub(super) fn owed_in_words(out: &mut String, owed: &[Owed]) {
    for one in owed {
        paragraph(out, "Owed: ", &format!("{} [{}]", one.says, one.code));
    }
}

/// The same as data.
pub(super) fn owed_as_data(owed: &[Owed]) -> Vec<Value> {
    owed.iter().map(|one| json!({"code": one.code, "says": one.says})).collect()
}

/// What is given now, for people.
pub(super) fn now_in_words(out: &mut String, now: Option<&Now>) {
    match now {
        Some(now) => paragraph(out, "Now: ", &format!("{}.", now.says)),
        None => {
            let _ = writeln!(out, "Now: not started.");
        }
    }
}
