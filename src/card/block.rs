//! What a card is made of: neutral blocks, which every renderer draws in its own way. To add a line to the card, add a
//! row in `build.rs`; no renderer changes.

use std::borrow::Cow;

use serde::{Deserialize, Serialize};

use crate::quantity::{Moment, Ratio};

/// Words that stand in the program; a card that was kept brings its own.
pub(super) type Caption = Cow<'static, str>;

/// The key of the facts that say that a card was counted again.
pub(super) const RECOUNT: &str = "recount";

/// One part of a card, in reading order.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Block {
    /// A warning over the whole width, before anything else.
    Banner(String),
    /// What runs by the record, above what was agreed: in the largest letters.
    Lead(Lead),
    /// The name of the card and when it was made.
    Title {
        /// What it is.
        text: String,
        /// When both entries were held against each other.
        at: String,
    },
    /// Names and values.
    Facts {
        /// Key of the block in data.
        key: Caption,
        /// Its heading.
        heading: Caption,
        /// Each row: key in data, label, value.
        rows: Vec<FactRow>,
    },
    /// The one rate.
    Rate {
        /// The number.
        value: String,
        /// Its unit.
        unit: Caption,
        /// What it lies beyond, in capitals: read before the number, not screens away from it. Only in an emergency.
        beyond: Vec<String>,
    },
    /// The rates of other doses.
    Ladder(Box<Ladder>),
    /// Where the dose lies between the limits.
    Scale(Box<Scale>),
    /// What is in the syringe, against time.
    Emptying(Box<Emptying>),
    /// When the drug reaches the patient.
    Arrives(Box<Arrives>),
    /// What the checks found, with the reasons.
    Findings(Vec<CardFinding>),
    /// Steps to tick.
    Steps {
        /// Key of the block in data.
        key: Caption,
        /// Its heading.
        heading: Caption,
        /// Each step.
        steps: Vec<String>,
    },
    /// Sentences.
    Text {
        /// Key of the block in data.
        key: Caption,
        /// Its heading.
        heading: Caption,
        /// Each sentence.
        lines: Vec<String>,
    },
    /// The signed code by which a card is held against the journal, as text; drawn as a QR code.
    Code(String),
}

/// What is true of the driver when a card is given out; the card itself says what was agreed, and stays as it is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Lead {
    /// What the number is, in capitals.
    pub heading: String,
    /// The one rate to be read; or a word where nothing runs.
    pub value: String,
    /// Its unit; nothing beside a word.
    pub unit: Caption,
    /// What else is to be known of it, a sentence each.
    pub lines: Vec<String>,
    /// Whether it is the rate that the card says: then the card's own frame holds it.
    pub is_the_cards: bool,
    /// Whether the patient weighs something else now than the card counted by: its doses do not hold.
    pub weighs_otherwise: bool,
    /// Whether the syringe of the card runs: from then on its times are those of the record.
    pub started: bool,
    /// Whether the line runs already: what the card says of a first arrival is not what happens.
    pub line_runs: bool,
}

/// One row of facts.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FactRow {
    /// Key in data.
    pub key: Caption,
    /// Label for people.
    pub label: Caption,
    /// Value, with its unit.
    pub value: String,
}

/// Doses and their rates for one patient and one syringe: a table whose units stand in its head alone.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Ladder {
    /// The weight that the doses are counted by; nothing where they count by none.
    pub counted_by: Option<String>,
    /// By how much at a time, where that was ordered.
    pub step: Option<String>,
    /// Which of its steps are listed, where it is not each: every second, every third.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub every: Option<u64>,
    /// The unit of every dose.
    pub dose_unit: String,
    /// The unit of every rate.
    pub rate_unit: Caption,
    /// Rising.
    pub rows: Vec<LadderRow>,
    /// What a bolus or a loading dose is set to.
    pub bolus: Option<BolusRate>,
}

/// One dose and its rate.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct LadderRow {
    /// The dose, a number of the unit in the head; with its own unit where that is another.
    pub dose: String,
    /// The rate, a number.
    pub rate: String,
    /// Whether it is the rate to set.
    pub is_set: bool,
}

/// A bolus or a loading dose with the rate at which it runs.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct BolusRate {
    /// How much, over how long.
    pub dose: String,
    /// The rate, a number.
    pub rate: String,
}

/// A finding as the card shows it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CardFinding {
    /// Its code.
    pub code: Caption,
    /// One word.
    pub severity: Caption,
    /// What was found.
    pub message: String,
    /// What to do.
    pub help: String,
    /// Formulary file, line and source.
    pub source: Option<String>,
    /// Each person's name and reason, where reasons are needed.
    pub reasons: Vec<(String, String)>,
}

/// The limits and the dose, for a drawing.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Scale {
    /// The unit of all of them.
    pub unit: String,
    /// The dose.
    pub dose: ScaleMark,
    /// Hard lower limit.
    pub hard_from: Option<ScaleMark>,
    /// Soft lower limit.
    pub soft_from: Option<ScaleMark>,
    /// Usual range.
    pub usual_from: Option<ScaleMark>,
    /// Usual range.
    pub usual_to: Option<ScaleMark>,
    /// Soft upper limit.
    pub soft_to: Option<ScaleMark>,
    /// Hard upper limit.
    pub hard_to: Option<ScaleMark>,
}

/// A number on a scale.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct ScaleMark(pub crate::quantity::Number);

/// What is in the syringe, from the start on, at the rate of the card.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Emptying {
    /// At the start, mL: what is filled in, less what fills the line.
    pub holds: Ratio,
    /// An ordered bolus, mL, drawn as given at once.
    pub bolus: Option<Ratio>,
    /// Cannot be pushed out, mL.
    pub stays_behind: Ratio,
    /// Until nothing more can be pushed out, hours.
    pub lasts: Ratio,
    /// When the next syringe is needed, hours.
    pub change_over: Ratio,
    /// Where the solution is discarded before the syringe is empty: when.
    pub discarded_at: Option<Moment>,
    /// The clock at the start, where it is known.
    pub starts_at: Option<Moment>,
}

/// When the drug reaches the patient, counted from the start.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Arrives {
    /// From when to when; or why it is not estimated.
    pub band: Result<Band, String>,
    /// What is assumed.
    pub assumed: Vec<String>,
}

/// From when to when shares of the full rate arrive.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Band {
    /// Nothing comes before its beginning.
    pub earliest: Reached,
    /// At 5, 50 and 95 %.
    pub shares: [Reached; 3],
}

/// When a share of the full rate arrives.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reached {
    /// Percent of the full rate.
    pub percent: u8,
    /// At the earliest, hours.
    pub from: Ratio,
    /// At the latest, hours.
    pub to: Ratio,
    /// As it is written, rounded outwards.
    pub says: String,
}

impl Block {
    pub(super) fn facts(key: &'static str, heading: &'static str, rows: Vec<FactRow>) -> Self {
        Self::Facts { key: key.into(), heading: heading.into(), rows }
    }

    pub(super) fn steps(key: &'static str, heading: &'static str, steps: Vec<String>) -> Self {
        Self::Steps { key: key.into(), heading: heading.into(), steps }
    }

    pub(super) fn text(key: &'static str, heading: &'static str, lines: Vec<String>) -> Self {
        Self::Text { key: key.into(), heading: heading.into(), lines }
    }
}
