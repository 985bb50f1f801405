//! From how little to how much. In: edges that are in order; out: an interval, and what a formula makes of it.

use std::ops::{Add, Mul};

/// A smallest and a largest value, and the one in between that is usual, where one is known.
///
/// The edges are what is said; the usual value alone never is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval<T> {
    low: T,
    typical: Option<T>,
    high: T,
}

impl<T: Copy + PartialOrd> Interval<T> {
    /// An interval of these values; nothing where they are not in rising order or one is not a number.
    #[must_use]
    pub fn new(low: T, typical: Option<T>, high: T) -> Option<Self> {
        let in_order = low <= high && typical.is_none_or(|typical| low <= typical && typical <= high);
        in_order.then_some(Self { low, typical, high })
    }

    /// A value that is known.
    #[must_use]
    pub const fn exactly(value: T) -> Self {
        Self { low: value, typical: Some(value), high: value }
    }

    /// The smallest value.
    #[must_use]
    pub const fn low(&self) -> T {
        self.low
    }

    /// The usual value, where one is known.
    #[must_use]
    pub const fn typical(&self) -> Option<T> {
        self.typical
    }

    /// The largest value.
    #[must_use]
    pub const fn high(&self) -> T {
        self.high
    }

    /// Whether a value lies in it, the edges included.
    #[must_use]
    pub fn contains(&self, value: T) -> bool {
        self.low <= value && value <= self.high
    }

    /// Whether all of another interval lies in it.
    #[must_use]
    pub fn covers(&self, other: &Self) -> bool {
        self.low <= other.low && other.high <= self.high
    }

    /// What a formula makes of it. The formula must rise or fall throughout: then the edges go to the edges.
    #[must_use]
    pub fn through<U: Copy + PartialOrd>(&self, formula: impl Fn(T) -> U) -> Interval<U> {
        let (first, last) = (formula(self.low), formula(self.high));
        let (low, high) = if last < first { (last, first) } else { (first, last) };
        Interval { low, typical: self.typical.map(formula), high }
    }

    /// What a formula makes of two intervals. It must rise or fall throughout in each of them, the other held still:
    /// then its extremes lie in the corners.
    #[must_use]
    pub fn with<A: Copy + PartialOrd, U: Copy + PartialOrd>(
        &self,
        other: &Interval<A>,
        formula: impl Fn(T, A) -> U,
    ) -> Interval<U> {
        let least = self.through(|own| formula(own, other.low));
        let most = self.through(|own| formula(own, other.high));
        let typical = self.typical.zip(other.typical).map(|(own, other)| formula(own, other));
        Interval { typical, ..least.hull(&most) }
    }

    /// The smallest interval that holds both. The usual value is dropped: it would be one of two.
    #[must_use]
    pub fn hull(&self, other: &Self) -> Self {
        let low = if other.low < self.low { other.low } else { self.low };
        let high = if other.high > self.high { other.high } else { self.high };
        Self { low, typical: None, high }
    }

    /// Without its usual value.
    #[must_use]
    pub fn edges(&self) -> Self {
        Self { typical: None, ..*self }
    }

    /// The same with no value below this one.
    #[must_use]
    pub fn not_below(&self, least: T) -> Self {
        let raised = |value: T| if value < least { least } else { value };
        Self { low: raised(self.low), typical: self.typical.map(raised), high: raised(self.high) }
    }
}

impl<T: Copy + PartialOrd + Add<Output = T> + Mul<f64, Output = T>> Interval<T> {
    /// Wider by a share of each edge, outwards: 0.14 for 14 %.
    #[must_use]
    pub fn widened(&self, share: f64) -> Self {
        let nothing = self.low * 0.0;
        let outwards = |edge: T, sign: f64| {
            let sign = if edge < nothing { -sign } else { sign };
            edge + edge * (sign * share)
        };
        Self { low: outwards(self.low, -1.0), typical: self.typical, high: outwards(self.high, 1.0) }
    }
}

impl<T: Copy + PartialOrd + Add<Output = T>> Add for Interval<T> {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        self.with(&other, |first, second| first + second)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_out_of_order_is_no_interval() {
        assert!(Interval::new(1.0, Some(2.0), 3.0).is_some() && Interval::new(1.0, None, 1.0).is_some());
        assert!(Interval::new(2.0, None, 1.0).is_none());
        assert!(Interval::new(1.0, Some(3.5), 3.0).is_none() && Interval::new(1.0, Some(0.5), 3.0).is_none());
        assert!(Interval::new(f64::NAN, None, 3.0).is_none() && Interval::new(1.0, Some(f64::NAN), 3.0).is_none());
    }

    #[test]
    fn a_falling_formula_swaps_the_edges() {
        let flow = Interval::new(1.0, Some(2.0), 4.0).expect("in order");
        assert_eq!(flow.through(|flow| 8.0 / flow), Interval::new(2.0, Some(4.0), 8.0).expect("in order"));
        let volume = Interval::new(4.0, Some(8.0), 16.0).expect("in order");
        let time = volume.with(&flow, |volume, flow| volume / flow);
        assert_eq!(time, Interval::new(1.0, Some(4.0), 16.0).expect("in order"));
    }

    #[test]
    fn wider_is_outwards_on_either_side_of_nothing() {
        let lack = Interval::new(-2.0, Some(0.0), 4.0).expect("in order").widened(0.5);
        assert_eq!((lack.low(), lack.typical(), lack.high()), (-3.0, Some(0.0), 6.0));
        let below = Interval::new(-4.0, None, -2.0).expect("in order").widened(0.5);
        assert_eq!((below.low(), below.high()), (-6.0, -1.0));
    }
}
