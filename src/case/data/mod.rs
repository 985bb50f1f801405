//! Answers about cases as data: the same fields in the same order for commands and other programs.

mod course;
mod record;
mod case_status;

use serde::Serialize;

use crate::card::{DEMONSTRATION, Lead};

use super::{CardAnswer, CaseCode, Cases, ReadAgainDone, ReadBack, RecountStatement, SetUpCode, Twice};

pub use case_status::{BoardShown, DriverHangs, EntrySealed, InDriver, OwedNow, SetUpStands, Stands};
pub use course::{
    Account, CourseSums, GivenNow, LineHolds, NextSyringeHeld, ReachesThePatient, SyringeSums, TotalSums,
};
pub use record::{Closed, DriverAccount, RecordLine, RecordShown, RecordWritten, owed_for};

/// A case that was opened.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct CaseOpened {
    version: u8,
    /// The code by which people name it.
    case: String,
}

/// A case of which nothing can be read any more.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct CaseForgotten {
    version: u8,
    case: String,
    /// Always true.
    forgotten: bool,
}

/// The set-up card. The rate stands here and nowhere else.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct CardShown {
    version: u8,
    /// `NOT RECORDED` where `recorded` is false.
    set_up: String,
    /// False where the journal could not be written: the entry has no code yet, and the card says so.
    recorded: bool,
    /// True only where two people each signed a blind entry: never on an emergency card, whether or not one person has
    /// checked it afterwards.
    double_checked: bool,
    /// Who checked an emergency entry afterwards, with one signed entry; they could have seen it before.
    checked_afterwards_by: Option<String>,
    /// What runs by the record: then the rate in `card` is what was agreed, and not what runs. Nothing before the start.
    runs: Option<Leads>,
    /// What is uncertain about the clock by which an emergency card was given; left out where nothing is.
    #[serde(skip_serializing_if = "Option::is_none")]
    clock: Option<String>,
    /// As the card's page says it; every number is text with its unit.
    #[cfg_attr(feature = "web", schema(value_type = Object))]
    card: serde_json::Value,
    /// What is in the square code on paper; it signs `card`.
    code: Option<String>,
}

/// What a card leads with where its set-up runs.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct Leads {
    /// What `rate` is.
    heading: String,
    /// In mL/h with its unit; nothing where none is to be set.
    rate: Option<String>,
    /// Sentences that stand beside it.
    says: Vec<String>,
}

/// What a driver shows, held against the card or the record.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct ReadBackDone {
    version: u8,
    set_up: String,
    read_back: ReadBack,
}

/// What two people read again, each alone.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct ReadAgain {
    version: u8,
    case: String,
    /// `weight` or `identifiers`.
    read: &'static str,
    /// `agreed`, `awaits-second` or `differ`.
    stands: &'static str,
    /// What was counted again with what two people agreed on.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    recounts: Vec<SetUpRecounted>,
    /// What was uncertain about the clock by which it was sealed.
    #[serde(skip_serializing_if = "Option::is_none")]
    clock: Option<String>,
}

/// A set-up that was counted again, or that two people enter again.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct SetUpRecounted {
    set_up: String,
    /// What came of it and what to do, in words: `64 -> 62.7 mL/h: new card`, and so on.
    says: String,
}

impl CaseOpened {
    /// Of a new case.
    #[must_use]
    pub fn of(case: CaseCode) -> Self {
        Self { version: 1, case: case.to_string() }
    }
}

impl CaseForgotten {
    /// Of a case that was forgotten.
    #[must_use]
    pub fn of(case: CaseCode) -> Self {
        Self { version: 1, case: case.to_string(), forgotten: true }
    }
}

impl CardShown {
    /// Of a set-up.
    #[must_use]
    pub fn of(set_up: SetUpCode, card: &CardAnswer) -> Self {
        Self::shown(set_up.to_string(), true, card)
    }

    /// Of an emergency entry that is in no journal.
    #[must_use]
    pub fn not_recorded(card: &CardAnswer) -> Self {
        Self::shown("NOT RECORDED".to_owned(), false, card)
    }

    fn shown(set_up: String, recorded: bool, card: &CardAnswer) -> Self {
        let (double_checked, code) = (card.is_double_checked(), card.code().map(ToString::to_string));
        let checked_afterwards_by = card.checked_afterwards_by().map(str::to_owned);
        let runs = card.lead().map(Leads::new);
        let clock = card.clock().map(str::to_owned);
        let card = card.json();
        Self { version: 1, set_up, recorded, double_checked, checked_afterwards_by, runs, clock, card, code }
    }
}

impl Leads {
    fn new(lead: &Lead) -> Self {
        // Grouping is for people.
        let value: String = lead.value.split(' ').collect();
        let rate = (!lead.unit.is_empty()).then(|| format!("{value} {}", lead.unit));
        Self { heading: lead.heading.clone(), rate, says: lead.lines.clone() }
    }
}

impl ReadBackDone {
    /// Of a set-up.
    #[must_use]
    pub fn of(set_up: SetUpCode, read_back: &ReadBack) -> Self {
        Self { version: 1, set_up: set_up.to_string(), read_back: read_back.clone() }
    }
}

impl ReadAgain {
    /// How it stands after one more reading of `read`: `weight` or `identifiers`.
    #[must_use]
    pub fn of(case: CaseCode, read: &'static str, done: &ReadAgainDone) -> Self {
        let stands = match done.stands {
            Twice::Quiet => "agreed",
            Twice::AwaitsSecond { .. } => "awaits-second",
            Twice::Differ => "differ",
        };
        let shown = |one: &RecountStatement| SetUpRecounted { set_up: one.set_up.to_string(), says: one.says.clone() };
        let recounts = done.recounts.iter().map(shown).collect();
        Self { version: 1, case: case.to_string(), read, stands, recounts, clock: done.clock.clone() }
    }
}

/// What stands above everything that a journal for practice says.
fn notice(cases: &Cases) -> Option<&'static str> {
    cases.journal().is_demonstration().then_some(DEMONSTRATION)
}
