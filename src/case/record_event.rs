//! What the journal keeps of a running set-up, as it is written: what was done, what was odd about it, what a driver showed.

use serde::{Deserialize, Serialize};

use crate::quantity::{BolusDose, FlowRate, Moment, Ratio, Refused, Strength, plain};

use super::error::CaseError;

/// Something that was done, as the journal keeps it. Quantities are kept as typed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
#[serde(tag = "did", rename_all = "kebab-case")]
pub enum RecordEvent {
    /// The first syringe was started.
    Start {
        /// Which reading.
        reading: u16,
        /// At which rate.
        rate: String,
        /// What is in the syringe, where two people had not agreed on it.
        #[serde(skip_serializing_if = "Option::is_none", default)]
        said: Option<Box<SyringeSaid>>,
    },
    /// The rate was changed.
    Rate {
        /// To which.
        to: String,
        /// The dose for which it was set, where that was said.
        #[serde(skip_serializing_if = "Option::is_none", default)]
        dose: Option<String>,
        /// The strength by which the rate was worked out for that dose.
        #[serde(skip_serializing_if = "Option::is_none", default)]
        strength: Option<String>,
    },
    /// A bolus was given.
    Bolus {
        /// A dose or a volume.
        given: String,
        /// The volume that held it, as it was worked out when it was recorded; earlier programs did not keep it.
        #[serde(skip_serializing_if = "Option::is_none", default)]
        volume: Option<String>,
        /// The strength by which that volume was worked out.
        #[serde(skip_serializing_if = "Option::is_none", default)]
        strength: Option<String>,
    },
    /// It was paused.
    Pause,
    /// It went on.
    Resume {
        /// At which rate, where it is not the one before.
        rate: Option<String>,
    },
    /// The next syringe was put in.
    Syringe {
        /// Which reading.
        reading: u16,
        /// At which rate it went on.
        rate: String,
        /// What is in the syringe, where two people had not agreed on it.
        #[serde(skip_serializing_if = "Option::is_none", default)]
        said: Option<Box<SyringeSaid>>,
    },
    /// It was stopped.
    Stop,
    /// What was drawn up is accounted for.
    Close {
        /// What stayed in the line.
        in_line: String,
        /// What was left in the syringe and is kept.
        left: String,
        /// What was discarded.
        discarded: String,
        /// Who saw that, where a witness is needed.
        witness: Option<String>,
        /// What the driver itself says that it gave.
        #[serde(skip_serializing_if = "Option::is_none", default)]
        driver_total: Option<String>,
    },
    /// Volumes read for a closing that does not balance: they are kept, and read a second time before it is closed.
    ClosingRead {
        /// What stayed in the line.
        in_line: String,
        /// What was left in the syringe and is kept.
        left: String,
        /// What was discarded.
        discarded: String,
        /// Who saw that.
        witness: Option<String>,
        /// What the driver itself says that it gave.
        #[serde(skip_serializing_if = "Option::is_none", default)]
        driver_total: Option<String>,
    },
    /// Something written down before was otherwise, or did not happen.
    Correct {
        /// Which event.
        event: u64,
        /// What happened instead; nothing did where this is empty.
        #[cfg_attr(feature = "web", schema(no_recursion))]
        instead: Option<Box<RecordEvent>>,
        /// When it happened, where that was wrong.
        happened: Option<String>,
    },
    /// The reason for something written down before.
    Reason {
        /// Which event.
        event: u64,
    },
}

/// What is in a syringe by the words of the person who put it in.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct SyringeSaid {
    /// The drug.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub drug: Option<String>,
    /// The strength, as its label says it.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub strength: Option<String>,
}

impl SyringeSaid {
    /// Reads what was typed, and keeps it as it was typed; nothing where it is empty.
    ///
    /// # Errors
    /// When the strength is none.
    pub fn read(drug: Option<&str>, strength: Option<&str>) -> Result<Self, Refused> {
        let drug = drug.map(str::trim).filter(|drug| !drug.is_empty()).map(str::to_owned);
        let strength = strength.map(str::trim).filter(|text| !text.is_empty()).map(str::to_owned);
        strength.as_deref().map(Strength::parse_label).transpose()?;
        Ok(Self { drug, strength })
    }

    /// In words.
    pub(super) fn says(&self) -> String {
        let not_said = |what: &Option<String>, name: &str| what.clone().unwrap_or_else(|| format!("{name} not said"));
        format!("{}, {}", not_said(&self.drug, "drug"), not_said(&self.strength, "strength"))
    }

    /// Nothing where nothing was said.
    pub(super) fn kept(&self) -> Option<Box<Self>> {
        (*self != Self::default()).then(|| Box::new(self.clone()))
    }
}

/// One line of the record.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct Recorded {
    /// What was done.
    pub what: RecordEvent,
    /// When it happened.
    pub happened: String,
    /// Why it was written down only later.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub late: Option<String>,
    /// The reason for it, where one was given.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub reason: Option<String>,
    /// What was odd about it.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub marks: Vec<Mark>,
}

impl Recorded {
    /// When it happened.
    ///
    /// # Errors
    /// When the journal holds something that is not a moment.
    pub fn happened(&self) -> Result<Moment, CaseError> {
        Ok(Moment::parse(&self.happened)?)
    }
}

/// Something odd about what happened, as the record keeps it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct Mark {
    /// Kebab-case, stable.
    pub code: String,
    /// In words.
    pub says: String,
}

/// Every mark there is, and what it says. Those of the first list are taken only when somebody says that it really
/// happened even so.
pub const MARKS: &[&str] = &[
    "not-agreed",
    "entry-expired",
    "solution-expired",
    "weight-in-doubt",
    "weight-changed",
    "card-void",
    "identifiers-pending",
    "dose-above-hard-limit",
    "dose-below-hard-limit",
    "flow-beyond-hard-limit",
    "bolus-beyond-hard-limit",
    "not-a-driver-rate",
    "tenfold-change",
    "display-differs",
    "bolus-more-than-left",
    "bolus-without-limits",
    "formulary-recalled",
    "not-double-checked",
    "checked-afterwards",
    "same-drug-runs",
    "not-the-card-rate",
    "dose-changed-at-restart",
    "outside-ordered-range",
    "dose-above-soft-limit",
    "dose-below-soft-limit",
    "flow-beyond-soft-limit",
    "bolus-beyond-soft-limit",
    "jump",
    "bolus-not-ordered",
    "balance-differs",
    "older-edition",
];

const NEEDS_EVEN_SO: usize = 17;

/// Whether a mark of this code is taken only when somebody confirms that it really happened.
#[must_use]
pub fn needs_even_so(code: &str) -> bool {
    MARKS[..NEEDS_EVEN_SO].contains(&code)
}

impl Mark {
    pub(super) fn new(code: &'static str, says: impl Into<String>) -> Self {
        debug_assert!(MARKS.contains(&code), "{code} is not listed");
        Self { code: code.to_owned(), says: says.into() }
    }

    /// Whether it is taken only when somebody confirms that it really happened.
    #[must_use]
    pub fn needs_even_so(&self) -> bool {
        needs_even_so(&self.code)
    }

    /// Whether it is about a hard limit.
    #[must_use]
    pub fn is_hard_limit(&self) -> bool {
        self.code.ends_with("-hard-limit")
    }

    /// Whether a reason is owed for it, now or later.
    #[must_use]
    pub fn owes_reason(&self) -> bool {
        !matches!(self.code.as_str(), "not-double-checked" | "checked-afterwards" | "older-edition")
    }
}

/// The marks for which somebody is asked whether it really happened. An emergency card that is started as it is says
/// what is odd about it, and nothing more is asked.
pub(super) fn asked(marks: &[Mark]) -> Vec<&str> {
    let has = |code: &str| marks.iter().any(|mark| mark.code == code);
    let is_emergency = has("not-double-checked") && !has("not-the-card-rate");
    let asked = marks.iter().filter(|mark| mark.needs_even_so() && !is_emergency);
    asked.map(|mark| mark.says.as_str()).collect()
}

/// One value of a display, as somebody typed it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct Shown {
    /// Which value: a word of the driver's `shows`.
    pub value: String,
    /// As displayed.
    pub typed: String,
}

/// A value that is not what it should be.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct Difference {
    /// Which value.
    pub value: String,
    /// As displayed.
    pub shown: String,
    /// What the card or the record says.
    pub expected: String,
    /// What may have happened, where the numbers tell.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub cause: Option<String>,
}

/// One read-back.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct ReadBack {
    /// What was read.
    pub shown: Vec<Shown>,
    /// What the rate was held against.
    pub against: String,
    /// What differs.
    pub differences: Vec<Difference>,
    /// What was said of a difference. It settles nothing: one person's word takes no display off the list.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub reason: Option<String>,
    /// The limits that the displayed rate crosses, where it differs.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub marks: Vec<Mark>,
}

impl ReadBack {
    /// Whether the display shows what it should.
    #[must_use]
    pub const fn is_equal(&self) -> bool {
        self.differences.is_empty()
    }
}

/// A rate in mL/h as it is kept.
pub(super) fn kept_rate(rate: Ratio) -> String {
    format!("{} mL/h", plain(rate))
}

/// A dose or a volume of a bolus, as it is kept.
pub(super) fn kept_bolus(bolus: BolusDose) -> String {
    bolus.to_string()
}

/// A rate typed at the bedside.
pub(super) fn typed_rate(rate: FlowRate) -> String {
    rate.to_string()
}
