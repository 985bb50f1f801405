//! What a dose is counted against.

use serde::{Deserialize, Serialize};

use crate::quantity::Ratio;

/// What the dose is counted against, and how much of it there is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Body {
    /// The dosing weight in kg.
    pub weight: Option<Ratio>,
    /// The body surface in m2.
    pub surface: Option<Ratio>,
}
