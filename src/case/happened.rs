//! What somebody says has happened: made whole from the card, and marked where it is not as agreed.

use serde::{Deserialize, Serialize};

use crate::formulary::Side;
use crate::quantity::{BolusDose, FlowRate, Moment, Ratio, exact_or_about};

use super::accounting::{Course, ml_per_hour};
use super::basis::Basis;
use super::error::{CaseError, refuse};
use super::fold::{Case, SetUp};
use super::record::{What, kept_bolus, kept_rate, typed_rate};
use super::standing::Formularies;

/// What somebody says has happened.
#[derive(Debug, Clone)]
pub enum Happening {
    /// Started, at the card's rate or another.
    Started(Option<FlowRate>),
    /// The rate was changed.
    RateChanged(FlowRate),
    /// A bolus was given.
    BolusGiven(BolusDose),
    /// Paused.
    Paused,
    /// Went on, at the rate before or another.
    Resumed(Option<FlowRate>),
    /// The next syringe was put in, at the card's rate or another.
    SyringeChanged(Option<FlowRate>),
    /// Stopped.
    Stopped,
    /// An event was otherwise; with nothing in its place it did not happen.
    Corrected {
        /// Which event.
        event: u64,
        /// What happened instead.
        instead: Option<Box<Happening>>,
        /// When it happened, where that was wrong.
        happened: Option<Moment>,
    },
    /// The reason for an event that was written down before.
    Explained {
        /// Which event.
        event: u64,
    },
}

/// Something odd about what happened, as the record keeps it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Mark {
    /// Kebab-case, stable.
    pub code: String,
    /// In words.
    pub says: String,
}

/// Every mark there is, and what it says. Those of the first list are taken only when somebody says that it really
/// happened even so.
pub const MARKS: &[(&str, &str)] = &[
    ("not-agreed", "Two people have not agreed on the set-up."),
    ("entry-expired", "The entries are older than an unstarted entry may be in the area."),
    ("solution-expired", "The solution was to be discarded before."),
    ("weight-in-doubt", "The weight is being read again."),
    ("weight-changed", "The weight has changed since, and the dose counts by it."),
    ("identifiers-pending", "The patient's identifiers are still pending."),
    ("dose-above-hard-limit", "The dose at this rate is above the hard limit of the phase."),
    ("dose-below-hard-limit", "The dose at this rate is below the hard lower limit of the phase."),
    ("not-a-driver-rate", "The driver cannot be set to this rate."),
    ("not-double-checked", "Nobody has checked the emergency entry."),
    ("not-the-card-rate", "It was not started at the card's rate."),
    ("outside-ordered-range", "The dose at this rate is outside the ordered range."),
    ("dose-above-soft-limit", "The dose at this rate is above the soft limit of the phase."),
    ("dose-below-soft-limit", "The dose at this rate is below the soft lower limit of the phase."),
    ("jump", "The rate was changed by more at once than the drug's own limit."),
    ("bolus-not-ordered", "No bolus was ordered, or another one."),
    ("bolus-more-than-left", "The bolus is more than the syringe should still hold."),
    ("balance-differs", "What was drawn up and what is accounted for differ."),
];

const NEEDS_EVEN_SO: usize = 9;

impl Mark {
    pub(super) fn new(code: &'static str, says: impl Into<String>) -> Self {
        debug_assert!(MARKS.iter().any(|(known, _)| *known == code), "{code} is not listed");
        Self { code: code.to_owned(), says: says.into() }
    }

    /// Whether it is taken only when somebody confirms that it really happened.
    #[must_use]
    pub fn needs_even_so(&self) -> bool {
        MARKS[..NEEDS_EVEN_SO].iter().any(|(code, _)| *code == self.code)
    }

    /// Whether a reason is owed for it, now or later.
    #[must_use]
    pub fn owes_reason(&self) -> bool {
        self.code != "not-double-checked"
    }
}

/// Makes whole what was said: which reading, at which rate.
pub(super) fn resolve(
    case: &Case,
    set_up: &SetUp,
    happening: &Happening,
    course: Option<&Course>,
    kept: &Formularies,
) -> Result<What, CaseError> {
    Ok(match happening {
        Happening::Started(rate) => {
            let reading = latest(set_up)?;
            What::Start { reading, rate: rate_or_card(case, set_up, reading, *rate, kept)? }
        }
        Happening::SyringeChanged(rate) => {
            let reading = latest(set_up)?;
            if set_up.running_reading() == Some(reading) {
                return Err(refuse(
                    "next-syringe-not-entered",
                    format!("no next syringe of {} has been entered", set_up.code),
                    format!("two people enter it beforehand: `countersign case enter {}`", set_up.code),
                ));
            }
            What::Syringe { reading, rate: rate_or_card(case, set_up, reading, *rate, kept)? }
        }
        Happening::RateChanged(rate) => What::Rate { to: typed_rate(*rate) },
        Happening::BolusGiven(bolus) => What::Bolus { given: kept_bolus(*bolus) },
        Happening::Paused => What::Pause,
        Happening::Resumed(rate) => What::Resume { rate: rate.map(typed_rate) },
        Happening::Stopped => What::Stop,
        Happening::Corrected { event, instead, happened } => {
            known_event(set_up, *event)?;
            let instead = match instead {
                Some(instead) => Some(Box::new(resolve(case, set_up, instead, course, kept)?)),
                None => None,
            };
            What::Correct { event: *event, instead, happened: happened.map(Moment::to_rfc3339) }
        }
        Happening::Explained { event } => {
            known_event(set_up, *event)?;
            What::Reason { event: *event }
        }
    })
}

/// What is odd about what happened, held against the card, the order and the limits of its phase.
pub(super) fn marks(
    case: &Case,
    set_up: &SetUp,
    what: &What,
    before: Option<&Course>,
    now: Moment,
    kept: &Formularies,
) -> Result<Vec<Mark>, CaseError> {
    let mut marks = Vec::new();
    match what {
        What::Start { reading, rate } | What::Syringe { reading, rate } => {
            marks = case.not_startable(set_up, now, kept)?;
            let (basis, rate) = (case.basis(set_up, *reading, kept)?, ml_per_hour(rate)?);
            if rate != basis.set {
                let card = exact_or_about(basis.set);
                marks.push(Mark::new(
                    "not-the-card-rate",
                    format!("the card says {card} mL/h, not {} mL/h", exact_or_about(rate)),
                ));
                marks.extend(of_rate(&basis, rate, None)?);
            }
        }
        What::Rate { to: rate } | What::Resume { rate: Some(rate) } => {
            if let Some(course) = before {
                let last = course.rate.or(course.before_pause);
                marks = of_rate(&course.syringe().basis, ml_per_hour(rate)?, last)?;
            }
        }
        What::Bolus { given } => {
            if let Some(course) = before {
                let syringe = course.syringe();
                let volume = syringe.basis.volume(BolusDose::parse(given)?)?;
                if syringe.basis.bolus.is_none_or(|(_, ordered)| ordered.volume != volume) {
                    let says = if syringe.basis.bolus.is_some() {
                        "another bolus was ordered"
                    } else {
                        "no bolus was ordered"
                    };
                    marks.push(Mark::new("bolus-not-ordered", says));
                }
                if volume > syringe.left {
                    let left = exact_or_about(syringe.left);
                    marks.push(Mark::new("bolus-more-than-left", format!("the syringe should hold {left} mL")));
                }
            }
        }
        What::Correct { instead: Some(instead), .. } => return self::marks(case, set_up, instead, before, now, kept),
        _ => {}
    }
    Ok(marks)
}

fn of_rate(basis: &Basis, rate: Ratio, last: Option<Ratio>) -> Result<Vec<Mark>, CaseError> {
    let dose = basis.dose(rate)?;
    let shown = format!("{} {}", exact_or_about(dose), basis.unit);
    let mut marks = Vec::new();
    if rate < basis.smallest.value() || rate > basis.largest.value() {
        let says = format!("this driver goes from {} to {}", basis.smallest, basis.largest);
        marks.push(Mark::new("not-a-driver-rate", says));
    }
    let hard = basis.hard().and_then(|band| band.outside(dose));
    let soft = basis.soft().and_then(|band| band.outside(dose));
    let in_order = basis.titration.is_some_and(|range| {
        dose >= range.from.number().ratio() && dose <= range.to.number().ratio() && range.to.unit() == basis.unit
    });
    if let Some(outside) = hard {
        let (code, side) = match outside.side {
            Side::Above => ("dose-above-hard-limit", "above"),
            Side::Below => ("dose-below-hard-limit", "below"),
        };
        marks.push(Mark::new(
            code,
            format!("{shown} is {side} the hard limit of {} for {}", outside.limit, basis.phase),
        ));
    } else if in_order {
        // Inside the range that two people agreed on, no question is asked.
        return Ok(marks);
    } else if let Some(outside) = soft {
        let (code, side) = match outside.side {
            Side::Above => ("dose-above-soft-limit", "above"),
            Side::Below => ("dose-below-soft-limit", "below"),
        };
        marks.push(Mark::new(
            code,
            format!("{shown} is {side} the soft limit of {} for {}", outside.limit, basis.phase),
        ));
    }
    if let Some(range) = basis.titration {
        let says = format!("{shown} is outside the ordered range of {} to {}", range.from.number(), range.to);
        marks.push(Mark::new("outside-ordered-range", says));
    }
    if let (Some(last), Some(most)) = (last.filter(|last| !last.is_zero()), basis.largest_jump) {
        let factor = if rate > last {
            rate.over(last)?
        } else if rate.is_zero() {
            Ratio::ONE
        } else {
            last.over(rate)?
        };
        if factor > most {
            let says = format!(
                "from {} mL/h to {} mL/h is more than {} times at once",
                exact_or_about(last),
                exact_or_about(rate),
                exact_or_about(most)
            );
            marks.push(Mark::new("jump", says));
        }
    }
    Ok(marks)
}

fn rate_or_card(
    case: &Case,
    set_up: &SetUp,
    reading: u16,
    rate: Option<FlowRate>,
    kept: &Formularies,
) -> Result<String, CaseError> {
    match rate {
        Some(rate) => Ok(typed_rate(rate)),
        None => Ok(kept_rate(case.basis(set_up, reading, kept)?.set)),
    }
}

fn latest(set_up: &SetUp) -> Result<u16, CaseError> {
    set_up.latest().map(|reading| reading.number).ok_or_else(|| {
        refuse(
            "nothing-entered",
            format!("nothing was entered for {}", set_up.code),
            "enter it first: `countersign case enter`",
        )
    })
}

fn known_event(set_up: &SetUp, event: u64) -> Result<(), CaseError> {
    if set_up.record.iter().any(|signed| signed.seq == event) {
        return Ok(());
    }
    let says = format!("event {event} is not one of the record of {}", set_up.code);
    Err(refuse("event-unknown", says, format!("see `countersign record show {}`", set_up.code)))
}
