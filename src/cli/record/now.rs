//! What a set-up gives now, by its record: for every answer that says so.

use std::fmt::Write as _;

use serde::Serialize;
use serde_json::{Value, json};

use crate::case::{CaseError, Cases, Course, Owed, SetUpCode};
use crate::cli::entry_file::NoAnswer;
use crate::cli::report::{Exact, Valued};
use crate::formulary::Formulary;
use crate::quantity::Moment;

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
    let unit = course.syringe().basis.unit;
    let gives = course.gives()?;
    Ok(Now {
        state: gives.state,
        says: gives.says,
        rate: course.rate.map(|rate| Valued::of(rate, "mL/h")),
        dose: gives.dose.map(|dose| Valued::of(dose, unit)),
        exact: gives.dose.map(|dose| Exact::of(dose, unit)),
        since: gives.since.to_rfc3339(),
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
