//! An exact fraction of whole numbers, never negative.

use std::cmp::Ordering;

/// The number left the range in which fractions are kept exactly (numerator or denominator above 10^37).
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the numbers are too far apart to be computed exactly")]
pub struct TooLarge;

/// A fraction in lowest terms, zero or more, without a unit: its holder knows the unit.
///
/// Both parts stay at or below 10^37, so that one more decimal digit can always be worked out without overflow.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Ratio {
    numerator: u128,
    denominator: u128,
}

const LARGEST: u128 = 10_u128.pow(37);

/// Ten to a power; nothing above 10^38, which does not fit.
pub(super) fn power_of_ten(exponent: u32) -> Option<u128> {
    static POWERS: [u128; 39] = {
        let mut powers = [1; 39];
        let mut exponent = 1;
        while exponent < 39 {
            powers[exponent] = powers[exponent - 1] * 10;
            exponent += 1;
        }
        powers
    };
    POWERS.get(usize::try_from(exponent).ok()?).copied()
}

impl Ratio {
    /// Nothing at all.
    pub const ZERO: Self = Self::whole(0);
    /// One.
    pub const ONE: Self = Self::whole(1);

    /// A whole number.
    #[must_use]
    pub const fn whole(value: u64) -> Self {
        Self { numerator: value as u128, denominator: 1 }
    }

    /// `numerator / denominator` in lowest terms.
    ///
    /// # Errors
    /// [`TooLarge`] when the reduced parts exceed 10^37 or the denominator is 0.
    pub fn new(numerator: u128, denominator: u128) -> Result<Self, TooLarge> {
        if denominator == 0 {
            return Err(TooLarge);
        }
        let (numerator, denominator) = lowest_terms(numerator, denominator);
        Self::of_lowest(numerator, denominator)
    }

    /// Two parts that have no common factor, within bounds.
    pub(super) const fn of_lowest(numerator: u128, denominator: u128) -> Result<Self, TooLarge> {
        if numerator > LARGEST || denominator > LARGEST { Err(TooLarge) } else { Ok(Self { numerator, denominator }) }
    }

    /// The upper part, in lowest terms.
    #[must_use]
    pub const fn numerator(self) -> u128 {
        self.numerator
    }

    /// The lower part, in lowest terms; never 0.
    #[must_use]
    pub const fn denominator(self) -> u128 {
        self.denominator
    }

    /// True for zero.
    #[must_use]
    pub const fn is_zero(self) -> bool {
        self.numerator == 0
    }

    /// The product.
    ///
    /// # Errors
    /// [`TooLarge`], as for [`Ratio::new`].
    pub fn times(self, other: Self) -> Result<Self, TooLarge> {
        // Both are in lowest terms: what is cancelled crosswise leaves lowest terms again.
        let (a, d) = lowest_terms(self.numerator, other.denominator);
        let (c, b) = lowest_terms(other.numerator, self.denominator);
        Self::of_lowest(product(a, c).ok_or(TooLarge)?, product(b, d).ok_or(TooLarge)?)
    }

    /// The quotient.
    ///
    /// # Errors
    /// [`TooLarge`], as for [`Ratio::new`]; also for a division by zero.
    pub fn over(self, other: Self) -> Result<Self, TooLarge> {
        if other.is_zero() {
            return Err(TooLarge);
        }
        self.times(Self { numerator: other.denominator, denominator: other.numerator })
    }

    /// The sum.
    ///
    /// # Errors
    /// [`TooLarge`], as for [`Ratio::new`].
    pub fn plus(self, other: Self) -> Result<Self, TooLarge> {
        let (left, right, denominator) = self.side_by_side(other)?;
        Self::new(left.checked_add(right).ok_or(TooLarge)?, denominator)
    }

    /// What is left of `self` after taking `other` away, and zero when nothing is left.
    ///
    /// # Errors
    /// [`TooLarge`], as for [`Ratio::new`].
    pub fn less(self, other: Self) -> Result<Self, TooLarge> {
        let (left, right, denominator) = self.side_by_side(other)?;
        Self::new(left.saturating_sub(right), denominator)
    }

    /// The distance between two values.
    ///
    /// # Errors
    /// [`TooLarge`], as for [`Ratio::new`].
    pub fn apart(self, other: Self) -> Result<Self, TooLarge> {
        self.max(other).less(self.min(other))
    }

    /// The nearest whole number, halves away from zero (as published dose tables round).
    #[must_use]
    pub fn rounded(self) -> u128 {
        if let (Ok(numerator), Ok(denominator)) = (u64::try_from(self.numerator), u64::try_from(self.denominator)) {
            let (whole, rest) = (numerator / denominator, numerator % denominator);
            return u128::from(if rest >= denominator - rest { whole + 1 } else { whole });
        }
        let whole = self.numerator / self.denominator;
        let rest = self.numerator % self.denominator;
        if rest >= self.denominator - rest { whole + 1 } else { whole }
    }

    /// The whole number at or below.
    #[must_use]
    pub const fn floor(self) -> u128 {
        self.numerator / self.denominator
    }

    /// The whole number at or above.
    #[must_use]
    pub fn ceiling(self) -> u128 {
        self.numerator.div_ceil(self.denominator)
    }

    /// The nearest multiple of `step`, halves away from zero.
    ///
    /// # Errors
    /// [`TooLarge`], as for [`Ratio::new`]; also for a step of zero.
    pub fn to_nearest(self, step: Self) -> Result<Self, TooLarge> {
        Self::new(self.over(step)?.rounded(), 1)?.times(step)
    }

    /// The nearest double: for the second route and for drawings only, never for a number that is shown.
    #[must_use]
    #[expect(clippy::cast_precision_loss, clippy::float_arithmetic, reason = "leaves exact arithmetic on purpose")]
    pub fn approximate(self) -> f64 {
        let nearest = |part: u128| u64::try_from(part).map_or(part as f64, |part| part as f64);
        nearest(self.numerator) / nearest(self.denominator)
    }

    fn side_by_side(self, other: Self) -> Result<(u128, u128, u128), TooLarge> {
        if self.denominator == other.denominator {
            return Ok((self.numerator, other.numerator, self.denominator));
        }
        let common = common_factor(self.denominator, other.denominator);
        let scale = other.denominator / common;
        let left = product(self.numerator, scale).ok_or(TooLarge)?;
        let right = product(other.numerator, self.denominator / common).ok_or(TooLarge)?;
        Ok((left, right, product(self.denominator, scale).ok_or(TooLarge)?))
    }
}

impl Ord for Ratio {
    fn cmp(&self, other: &Self) -> Ordering {
        if self.denominator == other.denominator {
            return self.numerator.cmp(&other.numerator);
        }
        let left = product(self.numerator, other.denominator);
        let right = product(other.numerator, self.denominator);
        match (left, right) {
            (Some(left), Some(right)) => left.cmp(&right),
            _ => by_continued_fraction(*self, *other),
        }
    }
}

impl PartialOrd for Ratio {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

/// Checked; two numbers of 64 bits cannot overflow, and that is nearly all of them.
pub(super) fn product(a: u128, b: u128) -> Option<u128> {
    match (u64::try_from(a), u64::try_from(b)) {
        (Ok(a), Ok(b)) => Some(u128::from(a) * u128::from(b)),
        _ => a.checked_mul(b),
    }
}

/// Compares whole parts, then the reciprocals of what is left: no product, so no overflow.
fn by_continued_fraction(mut left: Ratio, mut right: Ratio) -> Ordering {
    let mut turned = false;
    loop {
        let whole = (left.numerator / left.denominator).cmp(&(right.numerator / right.denominator));
        let rest = (left.numerator % left.denominator, right.numerator % right.denominator);
        let order = match (whole, rest) {
            (Ordering::Equal, (0, 0)) => Ordering::Equal,
            (Ordering::Equal, (0, _)) => Ordering::Less,
            (Ordering::Equal, (_, 0)) => Ordering::Greater,
            (Ordering::Equal, (a, b)) => {
                left = Ratio { numerator: left.denominator, denominator: a };
                right = Ratio { numerator: right.denominator, denominator: b };
                turned = !turned;
                continue;
            }
            (unequal, _) => unequal,
        };
        return if turned { order.reverse() } else { order };
    }
}

/// Both parts divided by their greatest common divisor. Nearly all numbers here fit in 64 bits, where a division costs a
/// fraction of one in 128.
pub(super) fn lowest_terms(a: u128, b: u128) -> (u128, u128) {
    if a == 1 || b == 1 {
        return (a, b);
    }
    if let (Ok(a), Ok(b)) = (u64::try_from(a), u64::try_from(b)) {
        let common = common_factor_short(a, b);
        return (u128::from(a / common), u128::from(b / common));
    }
    let common = common_factor(a, b);
    if common == 1 { (a, b) } else { (a / common, b / common) }
}

/// The greatest common divisor by shifts and subtractions (Stein 1967): a division of `u128` costs far more.
pub(super) fn common_factor(a: u128, b: u128) -> u128 {
    match (u64::try_from(a), u64::try_from(b)) {
        (Ok(a), Ok(b)) => u128::from(common_factor_short(a, b)),
        _ => common_factor_long(a, b),
    }
}

macro_rules! common_factor_of {
    ($name:ident, $whole:ty) => {
        fn $name(mut a: $whole, mut b: $whole) -> $whole {
            if a == 0 || b == 0 {
                return (a | b).max(1);
            }
            let shift = (a | b).trailing_zeros();
            a >>= a.trailing_zeros();
            b >>= b.trailing_zeros();
            // Both are odd. Which one is the greater cannot be foretold: a minimum and a distance need no branch for it.
            while a != b && a != 1 {
                let apart = a.abs_diff(b);
                a = a.min(b);
                b = apart >> apart.trailing_zeros();
            }
            a << shift
        }
    };
}

common_factor_of!(common_factor_short, u64);
common_factor_of!(common_factor_long, u128);

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use rstest::rstest;

    fn ratio(n: u128, d: u128) -> Ratio {
        Ratio::new(n, d).expect("small parts")
    }

    #[rstest]
    #[case(1, 2, 1)]
    #[case(49, 100, 0)]
    #[case(5, 2, 3)]
    #[case(7, 3, 2)]
    fn halves_go_away_from_zero(#[case] n: u128, #[case] d: u128, #[case] nearest: u128) {
        assert_eq!(ratio(n, d).rounded(), nearest);
    }

    #[test]
    fn a_rate_is_rounded_to_the_step() {
        // 6.75 mL/h prints as 6.8: prescribing information, cisatracurium, Table 2, 45 kg at 1 mcg/kg/min
        assert_eq!(ratio(27, 4).to_nearest(ratio(1, 10)), Ok(ratio(34, 5)));
    }

    #[test]
    fn the_ceiling_is_the_whole_number_at_or_above() {
        assert_eq!([ratio(7, 3), ratio(6, 3), ratio(1, 9), Ratio::ZERO].map(Ratio::ceiling), [3, 2, 1, 0]);
    }

    #[test]
    fn what_cannot_be_kept_exactly_is_refused() {
        assert_eq!(Ratio::new(10_u128.pow(38), 3), Err(TooLarge));
        assert_eq!(Ratio::new(1, 0), Err(TooLarge));
        assert_eq!(Ratio::ONE.over(Ratio::ZERO), Err(TooLarge));
    }

    proptest! {
        #[test]
        fn both_comparisons_agree(a in 0..u64::MAX, b in 1..u64::MAX, c in 0..u64::MAX, d in 1..u64::MAX) {
            let (left, right) = (ratio(a.into(), b.into()), ratio(c.into(), d.into()));
            prop_assert_eq!(left.cmp(&right), by_continued_fraction(left, right));
        }

        #[test]
        fn multiplying_and_dividing_gives_back_the_same(a in 0..u32::MAX, b in 1..u32::MAX, c in 1..u32::MAX, d in 1..u32::MAX) {
            let (x, y) = (ratio(a.into(), b.into()), ratio(c.into(), d.into()));
            prop_assert_eq!(x.times(y).and_then(|z| z.over(y)), Ok(x));
            prop_assert_eq!(x.plus(y).and_then(|z| z.less(y)), Ok(x));
        }

        #[test]
        fn the_common_factor_is_the_one_euclid_finds(a in any::<u128>(), b in 1..u128::MAX) {
            let (mut x, mut y) = (a, b);
            while y != 0 { (x, y) = (y, x % y); }
            prop_assert_eq!(common_factor(a, b), x);
        }

        #[test]
        fn rounding_moves_by_half_a_step_at_most(n in 0..u64::MAX, d in 1..u64::MAX, step in 1..1000_u64) {
            let (value, step) = (ratio(n.into(), d.into()), ratio(step.into(), 100));
            let Ok(rounded) = value.to_nearest(step) else { return Ok(()) };
            let Ok(moved) = value.apart(rounded) else { return Ok(()) };
            prop_assert!(moved <= step.over(Ratio::whole(2)).expect("small"));
        }
    }
}
