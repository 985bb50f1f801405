//! A product of many factors that is divided once, at the end: common factors out first, powers of ten apart.

use super::ratio::{Ratio, TooLarge, common_factor, lowest_terms, power_of_ten, product};
use super::{Number, Unit};

/// Factors multiplied so far: `above / below x 10^tens`, every product checked.
#[derive(Debug, Clone, Copy)]
#[must_use]
pub struct Product {
    above: u128,
    below: u128,
    tens: i32,
    lost: bool,
}

impl Product {
    /// The empty product: one.
    pub const ONE: Self = Self { above: 1, below: 1, tens: 0, lost: false };

    /// Times a typed number.
    pub fn number(self, number: Number) -> Self {
        let (digits, tens) = number.digits_and_tens();
        self.factor(digits, 1, tens)
    }

    /// Divided by a typed number.
    pub fn over_number(self, number: Number) -> Self {
        let (digits, tens) = number.digits_and_tens();
        self.factor(1, digits, -tens)
    }

    /// Times the size of a unit in the reference unit of its kind.
    pub fn unit(self, unit: Unit) -> Self {
        let (above, below, tens) = unit.size();
        self.factor(above, below, tens)
    }

    /// Divided by the size of a unit in the reference unit of its kind.
    pub fn over_unit(self, unit: Unit) -> Self {
        let (above, below, tens) = unit.size();
        self.factor(below, above, -tens)
    }

    /// Times a whole number.
    pub fn whole(self, value: u64) -> Self {
        self.factor(value, 1, 0)
    }

    /// Times an exact fraction.
    pub fn ratio(self, ratio: Ratio) -> Self {
        self.multiplied(ratio.numerator(), ratio.denominator())
    }

    /// Divided by an exact fraction.
    pub fn over_ratio(self, ratio: Ratio) -> Self {
        self.multiplied(ratio.denominator(), ratio.numerator())
    }

    /// The one division.
    ///
    /// # Errors
    /// [`TooLarge`] when a part cannot be kept exactly, or on a division by zero.
    pub fn finish(self) -> Result<Ratio, TooLarge> {
        if self.lost || self.below == 0 {
            return Err(TooLarge);
        }
        let (above, below) = lowest_terms(self.above, self.below);
        if self.tens == 0 {
            return Ratio::of_lowest(above, below);
        }
        let power = power_of_ten(self.tens.unsigned_abs()).ok_or(TooLarge)?;
        // For each prime, 2 and 5, one side has none left: lowest terms again.
        if self.tens > 0 {
            let (power, below) = lowest_terms(power, below);
            Ratio::of_lowest(product(above, power).ok_or(TooLarge)?, below)
        } else {
            let (above, power) = lowest_terms(above, power);
            Ratio::of_lowest(above, product(below, power).ok_or(TooLarge)?)
        }
    }

    fn factor(self, above: u64, below: u64, tens: i32) -> Self {
        let mut product = self.multiplied(above.into(), below.into());
        product.tens += tens;
        product
    }

    /// Multiplies both parts; where that overflows, common factors are taken out first.
    fn multiplied(self, above: u128, below: u128) -> Self {
        if let Some(product) = self.checked(above, below) {
            return product;
        }
        let own = common_factor(self.above, self.below);
        let reduced = Self { above: self.above / own, below: self.below / own, ..self };
        let (up, down) = (common_factor(above, reduced.below), common_factor(below, reduced.above));
        let reduced = Self { above: reduced.above / down, below: reduced.below / up, ..reduced };
        reduced.checked(above / up, below / down).unwrap_or(Self { lost: true, ..self })
    }

    fn checked(self, above: u128, below: u128) -> Option<Self> {
        let times = |part: u128, by: u128| if by == 1 { Some(part) } else { product(part, by) };
        Some(Self { above: times(self.above, above)?, below: times(self.below, below)?, ..self })
    }
}

impl From<Number> for Product {
    fn from(number: Number) -> Self {
        Self::ONE.number(number)
    }
}

impl Unit {
    /// This unit, or the first smaller unit of drug mass in which a value in the reference unit is 1 or more: a figure that
    /// begins with a nought is easily misread. Itself, where there is none.
    #[must_use]
    pub fn readable_for(self, value: Ratio) -> Self {
        const MASSES: [Unit; 4] = [Unit::Gram, Unit::Milligram, Unit::Microgram, Unit::Nanogram];
        let from = MASSES.iter().position(|unit| *unit == self).unwrap_or(MASSES.len());
        let is_one =
            |unit: &&Self| Product::ONE.ratio(value).over_unit(**unit).finish().is_ok_and(|of| of >= Ratio::ONE);
        MASSES[from..].iter().find(is_one).copied().unwrap_or(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rstest::rstest;

    const TWOS: u128 = 1 << 80;
    const THREES: u128 = 3_u128.pow(50);

    // Multiplied as they come, each of these is beyond 128 bits.
    #[rstest]
    #[case::common_to_what_was_multiplied_so_far(&[(TWOS, TWOS), (TWOS, 1)], Ok((TWOS, 1)))]
    #[case::a_factor_and_the_lower_part(&[(THREES, TWOS), (TWOS, 1)], Ok((THREES, 1)))]
    #[case::a_divisor_and_the_upper_part(&[(TWOS, THREES), (1, TWOS)], Ok((1, THREES)))]
    #[case::nothing_in_common(&[(TWOS, 1), (TWOS, 1)], Err(TooLarge))]
    #[case::nothing_in_common_below(&[(1, THREES), (1, THREES)], Err(TooLarge))]
    #[case::what_was_lost_stays_lost(&[(TWOS, 1), (TWOS, 1), (1, TWOS)], Err(TooLarge))]
    #[case::a_division_by_nought(&[(1, 0)], Err(TooLarge))]
    fn common_factors_go_before_anything_is_lost(
        #[case] factors: &[(u128, u128)],
        #[case] expected: Result<(u128, u128), TooLarge>,
    ) {
        let product = factors.iter().fold(Product::ONE, |product, (above, below)| product.multiplied(*above, *below));
        assert_eq!(product.finish().map(|ratio| (ratio.numerator(), ratio.denominator())), expected);
    }

    // 10 x 10^-1 and 1/8 x 10^3 are whole; 3 x 10^-2 keeps its hundred.
    #[rstest]
    #[case(1, 1, 0, (1, 1))]
    #[case(10, 1, -1, (1, 1))]
    #[case(1, 8, 3, (125, 1))]
    #[case(3, 1, -2, (3, 100))]
    #[case(4, 1, -2, (1, 25))]
    #[case(1, 3, 2, (100, 3))]
    fn powers_of_ten_come_in_lowest_terms(
        #[case] above: u64,
        #[case] below: u64,
        #[case] tens: i32,
        #[case] expected: (u128, u128),
    ) {
        let ratio = Product::ONE.factor(above, below, tens).finish().expect("small");
        assert_eq!((ratio.numerator(), ratio.denominator()), expected);
        assert_eq!(Product::ONE.factor(1, 1, 39).finish(), Err(TooLarge));
    }
}
