//! The running record as data: a line that was written, every line of it, and the account at the end.

use serde::Serialize;

use crate::case::{
    CaseError, Cases, Closing, Course, DriverTotal, NextSyringe, Owed, People, Person, Recorded, SetUp, SetUpCode,
    Signed,
};
use crate::formulary::Formulary;
use crate::quantity::{Moment, Valued};

use super::{Account, CourseSums, GivenNow, NextSyringeHeld, OwedNow, notice};

/// A line that was written.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct RecordWritten {
    version: u8,
    notice: Option<&'static str>,
    set_up: String,
    /// Its number in the journal.
    pub event: u64,
    recorded: Recorded,
    /// What is given with it; nothing before it was started.
    pub now: Option<GivenNow>,
    owed: Vec<OwedNow>,
}

/// Every line, and what follows from them.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct RecordShown {
    version: u8,
    notice: Option<&'static str>,
    set_up: String,
    /// The moment of this answer.
    at: String,
    /// In the order in which it happened.
    record: Vec<RecordLine>,
    /// Nothing before it was started, and before two people agree.
    now: Option<GivenNow>,
    /// Nothing before it was started, and before two people agree.
    course: Option<CourseSums>,
    /// Once two people have agreed on it.
    next_syringe: Option<NextSyringeHeld>,
    owed: Vec<OwedNow>,
}

/// One line.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct RecordLine {
    /// Its number in the journal.
    event: u64,
    /// Who signed it.
    by: String,
    written_at: String,
    /// What was odd about the clock, if anything.
    clock: Option<String>,
    recorded: Recorded,
    /// In words.
    says: String,
    /// The event that says that it was otherwise.
    corrected_by: Option<u64>,
    /// False where a later line says that it did not happen.
    happened: bool,
}

/// A set-up that was accounted for, or a reading of its volumes that is kept.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct Closed {
    version: u8,
    notice: Option<&'static str>,
    set_up: String,
    /// False where the volumes are to be read a second time.
    closed: bool,
    /// What to do then.
    read_again: Option<String>,
    /// Nothing where nobody agreed on what was drawn up, and before it is closed.
    balance: Option<Account>,
    /// What the driver says that it gave, where somebody read it.
    driver: Option<DriverAccount>,
    reason: Option<String>,
    witness: Option<String>,
    owed: Vec<OwedNow>,
}

/// What the driver says that it gave, and what the record comes to, in mL.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct DriverAccount {
    driver: Valued,
    record: Valued,
}

/// What is owed for one set-up.
///
/// # Errors
/// [`CaseError`] when the case cannot be read.
pub fn owed_for(
    cases: &Cases,
    code: SetUpCode,
    current: Option<&Formulary>,
    now: Moment,
) -> Result<Vec<Owed>, CaseError> {
    let rows = cases.rows(&cases.case(code.case)?, current, now)?;
    Ok(rows.into_iter().find(|row| row.set_up == Some(code)).map(|row| row.owed).unwrap_or_default())
}

impl RecordWritten {
    /// Of the line that somebody has just written, as [`Cases::record`] gave it back.
    ///
    /// # Errors
    /// [`CaseError`] when the case cannot be read.
    pub fn of(
        cases: &Cases,
        code: SetUpCode,
        by: &Person,
        (recorded, course): (Recorded, Option<&Course>),
        owed: &[Owed],
    ) -> Result<Self, CaseError> {
        let case = cases.case(code.case)?;
        // Somebody else may have written another line meanwhile.
        let own = |signed: &&Signed<Recorded>| signed.by == by.id && signed.what == recorded;
        let event = case.set_up(code.number)?.record.iter().rev().find(own).map_or(0, |signed| signed.seq);
        Ok(Self {
            version: 1,
            notice: notice(cases),
            set_up: code.to_string(),
            event,
            recorded,
            now: course.map(GivenNow::of).transpose()?,
            owed: OwedNow::all(owed),
        })
    }
}

impl RecordShown {
    /// Of a set-up at a moment. What it gives would tell a second person what the first one read: `course` is nothing
    /// before two people agree.
    ///
    /// # Errors
    /// [`CaseError`] when a sum cannot be kept exactly.
    pub fn of(
        cases: &Cases,
        set_up: &SetUp,
        (course, next): (Option<&Course>, Option<&NextSyringe>),
        people: &People,
        owed: &[Owed],
        now: Moment,
    ) -> Result<Self, CaseError> {
        let line = |signed: &Signed<Recorded>| {
            let correction = set_up.correction(signed.seq);
            RecordLine {
                event: signed.seq,
                by: people.name(&signed.by).to_owned(),
                written_at: signed.at.to_utc(),
                clock: signed.clock.clone(),
                recorded: set_up.line_for_data(signed),
                says: set_up.line_in_words(signed, people),
                corrected_by: correction.as_ref().map(|correction| correction.by),
                happened: correction.is_none_or(|correction| correction.instead.is_some()),
            }
        };
        let course = course.filter(|course| !course.syringe().basis.sealed);
        Ok(Self {
            version: 1,
            notice: notice(cases),
            set_up: set_up.code.to_string(),
            at: now.to_rfc3339(),
            record: set_up.record_in_order().into_iter().map(line).collect(),
            now: course.map(GivenNow::of).transpose()?,
            course: course.map(CourseSums::of).transpose()?,
            next_syringe: next.map(NextSyringeHeld::new),
            owed: OwedNow::all(owed),
        })
    }
}

impl SetUp {
    /// The lines of its record as they happened; what was written down later stands where it belongs.
    #[must_use]
    pub fn record_in_order(&self) -> Vec<&Signed<Recorded>> {
        let mut lines: Vec<&Signed<Recorded>> = self.record.iter().collect();
        let happened = |signed: &Signed<Recorded>| signed.what.happened().unwrap_or(signed.at);
        lines.sort_by(|one, other| happened(one).seconds_since(happened(other)).cmp(&0));
        lines
    }
}

impl Closed {
    /// Of a set-up.
    #[must_use]
    pub fn of(
        cases: &Cases,
        code: SetUpCode,
        closing: &Closing,
        (reason, witness): (Option<&str>, Option<&str>),
        owed: &[Owed],
    ) -> Self {
        let (balance, driver, read_again) = match closing {
            Closing::Closed { balance, driver } => (balance.as_deref(), driver.as_ref(), None),
            Closing::ReadAgain { tolerance, by_another } => {
                (None, None, Some(Closing::read_again_in_words(tolerance, *by_another)))
            }
        };
        let driver = driver.map(|total: &DriverTotal| DriverAccount {
            driver: Valued::of(total.driver, "mL"),
            record: Valued::of(total.record, "mL"),
        });
        Self {
            closed: read_again.is_none(),
            read_again,
            driver,
            version: 1,
            notice: notice(cases),
            set_up: code.to_string(),
            balance: balance.map(Account::of),
            reason: reason.map(str::to_owned),
            witness: witness.map(str::to_owned),
            owed: OwedNow::all(owed),
        }
    }
}
