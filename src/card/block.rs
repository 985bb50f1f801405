//! What a card is made of: neutral blocks, which every renderer draws in its own way. To add a line to the card, add a
//! row in `build.rs`; no renderer changes.

/// One part of a card, in reading order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Block {
    /// A warning over the whole width, before anything else.
    Banner(String),
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
        key: &'static str,
        /// Its heading.
        heading: &'static str,
        /// Each row: key in data, label, value.
        rows: Vec<Row>,
    },
    /// The one rate.
    Rate {
        /// The number.
        value: String,
        /// Its unit.
        unit: &'static str,
    },
    /// Where the dose lies between the limits.
    Scale(Box<Scale>),
    /// What the checks found, with the reasons.
    Findings(Vec<Found>),
    /// Steps to tick.
    Steps {
        /// Key of the block in data.
        key: &'static str,
        /// Its heading.
        heading: &'static str,
        /// Each step.
        steps: Vec<String>,
    },
    /// Sentences.
    Text {
        /// Key of the block in data.
        key: &'static str,
        /// Its heading.
        heading: &'static str,
        /// Each sentence.
        lines: Vec<String>,
    },
}

/// One row of facts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// Key in data.
    pub key: &'static str,
    /// Label for people.
    pub label: &'static str,
    /// Value, with its unit.
    pub value: String,
}

/// A finding as the card shows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Found {
    /// Its code.
    pub code: &'static str,
    /// One word.
    pub severity: &'static str,
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
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Scale {
    /// The unit of all of them.
    pub unit: String,
    /// The dose.
    pub dose: Mark,
    /// Hard lower limit.
    pub hard_from: Option<Mark>,
    /// Soft lower limit.
    pub soft_from: Option<Mark>,
    /// Usual range.
    pub usual_from: Option<Mark>,
    /// Usual range.
    pub usual_to: Option<Mark>,
    /// Soft upper limit.
    pub soft_to: Option<Mark>,
    /// Hard upper limit.
    pub hard_to: Option<Mark>,
}

/// A number on a scale.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Mark(pub crate::quantity::Number);
