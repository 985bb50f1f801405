//! The house rules: every threshold of a check.

use jiff::civil::Date;

use crate::quantity::{Percent, Quantity, Ratio, Time, Volume};

use super::limits::Origin;

/// What the formulary says of itself, and the thresholds of the checks.
#[derive(Debug, Clone)]
pub struct Policy {
    /// Its title.
    pub title: String,
    /// Its version, as the pharmacist counts.
    pub version: String,
    /// Whether its limits are for demonstration only.
    pub demonstration: bool,
    /// The day it was issued.
    pub issued: Date,
    /// A rounding error above this is noted.
    pub rounding_note: Percent,
    /// A rounding error above this needs a written reason.
    pub rounding_justify: Percent,
    /// Less than this cannot be drawn up accurately.
    pub smallest_drawn_up: Quantity<Volume>,
    /// Dead space that takes longer than this at the set rate is noted of a drug that is titrated to effect, from half an
    /// hour on.
    pub slow_arrival: Quantity<Time>,
    /// A blocked line that may be alarmed at later than this is noted.
    ///
    /// A formulary that was kept before the rule existed has none.
    pub late_alarm: Option<Quantity<Time>>,
    /// A next syringe whose dose or strength lies further than this factor from what runs needs a reason of each person, where the
    /// use itself names no factor. It may be left out: then nothing is held against what runs.
    pub next_syringe_times: Option<Ratio>,
    /// How far a label may lie from the weight times a recipe per kg.
    pub per_kg_within: Percent,
    /// So long before a review is due, lint says so.
    pub review_near: Quantity<Time>,
    /// How many identifiers a patient needs.
    pub identifiers_needed: usize,
    /// Whether sealing an entry asks for the PIN at that moment, also of somebody who is signed in.
    pub sealing_asks_pin: bool,
    /// Reasons that a clinician may pick.
    pub clinical_reasons: Vec<String>,
    /// Where the thresholds stand.
    pub origin: Origin,
}
