//! An interval with its assumptions and sources. In: parameters that are estimates themselves; out:
//! estimates that carry the assumptions and sources of everything that went into them.

use std::ops::{Add, Mul};

use super::CLOSEST_CLAIM;
use super::assumption::Assumption;
use super::interval::Interval;
use super::listed::EachOnce;
use super::not_modelled::NotModelled;
use super::source::{KONINGS_2016, SET_UP, Source};

/// An estimate, or why there is none.
pub type Modelled<T> = Result<Estimate<T>, NotModelled>;

/// An interval, its assumptions and its sources.
#[derive(Debug, Clone, PartialEq)]
pub struct Estimate<T> {
    interval: Interval<T>,
    assumptions: EachOnce<Assumption>,
    sources: EachOnce<Source>,
}

impl<T: Copy + PartialOrd> Estimate<T> {
    /// An interval that rests on these.
    #[must_use]
    pub fn new(interval: Interval<T>, assumptions: &[Assumption], sources: &[Source]) -> Self {
        Self { interval, assumptions: EachOnce::new(assumptions), sources: EachOnce::new(sources) }
    }

    /// A value as entered.
    #[must_use]
    pub fn entered(value: T) -> Self {
        Self::new(Interval::exactly(value), &[], &[SET_UP])
    }

    /// The interval.
    #[must_use]
    pub const fn interval(&self) -> Interval<T> {
        self.interval
    }

    /// The smallest value.
    #[must_use]
    pub const fn low(&self) -> T {
        self.interval.low()
    }

    /// The usual value, where one is known.
    #[must_use]
    pub const fn typical(&self) -> Option<T> {
        self.interval.typical()
    }

    /// The largest value.
    #[must_use]
    pub const fn high(&self) -> T {
        self.interval.high()
    }

    /// Its assumptions, each once.
    #[must_use]
    pub fn assumptions(&self) -> Vec<Assumption> {
        self.assumptions.iter().collect()
    }

    /// What it rests on, each once.
    #[must_use]
    pub fn sources(&self) -> Vec<Source> {
        self.sources.iter().collect()
    }

    /// Whether what is measured tends to be later, or more, than this says.
    #[must_use]
    pub fn is_optimistic(&self) -> bool {
        self.assumptions.iter().any(|assumption| assumption.is_optimistic())
    }

    /// What a formula that rises or falls throughout makes of it.
    #[must_use]
    pub fn through<U: Copy + PartialOrd>(&self, formula: impl Fn(T) -> U) -> Estimate<U> {
        self.of(self.interval.through(formula))
    }

    /// What a formula that rises or falls throughout in each of two estimates makes of them.
    #[must_use]
    pub fn with<A: Copy + PartialOrd, U: Copy + PartialOrd>(
        &self,
        other: &Estimate<A>,
        formula: impl Fn(T, A) -> U,
    ) -> Estimate<U> {
        self.of(self.interval.with(&other.interval, formula)).noting_all(other)
    }

    /// With these assumptions and sources too.
    #[must_use]
    pub fn noting(self, assumptions: &[Assumption], sources: &[Source]) -> Self {
        let others = Self::new(self.interval, assumptions, sources);
        self.noting_all(&others)
    }

    /// With the assumptions and sources of another estimate too.
    pub(super) fn noting_all<A>(self, other: &Estimate<A>) -> Self {
        let (assumptions, sources) = (self.assumptions.and(other.assumptions), self.sources.and(other.sources));
        Self { assumptions, sources, ..self }
    }

    /// Another interval that rests on the same.
    pub(super) fn of<U: Copy + PartialOrd>(&self, interval: Interval<U>) -> Estimate<U> {
        Estimate { interval, assumptions: self.assumptions, sources: self.sources }
    }
}

impl<T: Copy + PartialOrd + Add<Output = T> + Mul<f64, Output = T>> Estimate<T> {
    /// As wide as may be claimed: each edge by [`CLOSEST_CLAIM`] outwards.
    #[must_use]
    pub fn claimed(&self) -> Self {
        self.of(self.interval.widened(CLOSEST_CLAIM))
            .noting(&[Assumption::NoCloserThanFourteenPercent], &[KONINGS_2016])
    }
}

impl<T: Copy + PartialOrd + Add<Output = T>> Add for &Estimate<T> {
    type Output = Estimate<T>;

    fn add(self, other: Self) -> Estimate<T> {
        self.with(other, |first, second| first + second)
    }
}
