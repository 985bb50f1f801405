//! Numbers as data. In: an exact number and its unit; out: text that no reader rounds.

use serde::Serialize;

use super::{Ratio, plain};

/// A number with its unit, as data.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct Valued {
    /// In the unit, ungrouped, at most twelve significant digits.
    pub value: String,
    /// As people write it.
    pub unit: String,
}

/// An exact fraction with its unit, as data.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
#[cfg_attr(feature = "web", schema(as = ExactFraction))]
pub struct Exact {
    /// A whole number, in the unit.
    pub numerator: String,
    /// A whole number, 1 or more.
    pub denominator: String,
    /// As people write it.
    pub unit: String,
}

impl Valued {
    /// A number in a unit.
    #[must_use]
    pub fn of(value: Ratio, unit: impl ToString) -> Self {
        Self { value: plain(value), unit: unit.to_string() }
    }
}

impl Exact {
    /// A number in a unit.
    #[must_use]
    pub fn of(value: Ratio, unit: impl ToString) -> Self {
        let (numerator, denominator) = (value.numerator().to_string(), value.denominator().to_string());
        Self { numerator, denominator, unit: unit.to_string() }
    }
}
