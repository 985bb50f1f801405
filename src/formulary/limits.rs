//! Limits: an interval with its origin, soft and hard ones, and the usual range inside them.

use std::fmt;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::quantity::{BolusDose, DoseRate, Quantity, Ratio, Time};

/// Where a limit stands and what it rests on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Origin {
    /// The file, from the formulary folder on.
    pub file: Arc<str>,
    /// The line in it, from 1.
    pub line: usize,
    /// The published source in words, or "demonstration value".
    pub source: Arc<str>,
}

impl fmt::Display for Origin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} line {} ({})", self.file, self.line, self.source)
    }
}

/// An interval, either side open.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Band<T> {
    /// The lower limit: itself allowed.
    pub from: Option<T>,
    /// The upper limit: itself allowed.
    pub to: Option<T>,
    /// Where it stands.
    pub origin: Origin,
    /// Both as exact numbers, worked out once.
    measured: (Option<Ratio>, Option<Ratio>),
}

/// Soft limits ask for a written reason; hard limits stop.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SoftHard<T> {
    /// Beyond these: a written reason.
    pub soft: Option<Band<T>>,
    /// Beyond these: stop.
    pub hard: Option<Band<T>>,
}

impl<T> SoftHard<T> {
    /// No limits at all.
    pub const NONE: Self = Self { soft: None, hard: None };
}

/// The limits of one phase of one indication, all in the indication's one dose unit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct DoseLimits {
    /// What is usually given: both sides are there.
    pub usual: Band<DoseRate>,
    /// Soft and hard limits: the upper sides are there.
    pub beyond: SoftHard<DoseRate>,
}

/// The limits of a bolus from the driver.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct BolusLimits {
    /// What is usually given.
    pub usual: Option<Band<BolusDose>>,
    /// Soft and hard limits: the upper sides are there.
    pub beyond: SoftHard<BolusDose>,
    /// The shortest and the longest time over which it is given.
    pub over: Band<Quantity<Time>>,
    /// The one unit of a bolus here.
    pub unit: crate::quantity::DoseUnit,
}

/// On which side of a limit a value lies, and which limit that is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Less than the lower limit.
    Below,
    /// More than the upper limit.
    Above,
}

/// A value that lies outside an interval.
#[derive(Debug)]
pub struct Outside<'l, T> {
    /// Which side.
    pub side: Side,
    /// The limit that is passed.
    pub limit: T,
    /// Where it stands.
    pub origin: &'l Origin,
}

impl<T: Copy> Band<T> {
    /// An interval whose sides count as `measure` says.
    #[must_use]
    pub fn new(from: Option<T>, to: Option<T>, origin: Origin, measure: impl Fn(T) -> Ratio) -> Self {
        let measured = (from.map(&measure), to.map(&measure));
        Self { from, to, origin, measured }
    }

    /// Both sides as exact numbers.
    #[must_use]
    pub const fn measured(&self) -> (Option<Ratio>, Option<Ratio>) {
        self.measured
    }

    /// On which side of the interval an exact number lies, if it lies outside.
    #[must_use]
    pub fn outside(&self, value: Ratio) -> Option<Outside<'_, T>> {
        if let (Some(limit), Some(from)) = (self.from, self.measured.0)
            && value < from
        {
            return Some(Outside { side: Side::Below, limit, origin: &self.origin });
        }
        let (limit, to) = (self.to?, self.measured.1?);
        (value > to).then_some(Outside { side: Side::Above, limit, origin: &self.origin })
    }
}
