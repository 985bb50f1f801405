//! Strengths of a solution: `80 mcg/mL`, `4 mg in 50 mL`, `1 %`, `1:10 000`.

use std::fmt;

use super::measure::is_amount;
use super::read::{Piece, place_of};
use super::refused::{Problem, Refused};
use super::show::{exact_or_about, grouped};
use super::{Amount, Number, NumberForm, Product, Quantity, Ratio, Unit, UnitKind, Volume};

/// A typed strength, as a label may state it.
#[derive(Debug, Clone, Copy)]
pub struct Strength {
    stated: Stated,
    /// Worked out once, when it is read.
    concentration: Concentration,
}

/// The forms in which a strength is written.
#[derive(Debug, Clone, Copy)]
pub enum Stated {
    /// An amount in each mL or L, or in a volume: `80 mcg/mL`, `4 mg in 50 mL`.
    Of {
        /// How much drug.
        amount: Quantity<Amount>,
        /// In how much solution.
        volume: Quantity<Volume>,
        /// Whether it was written as `amount in volume`, to be shown so again.
        in_words: bool,
    },
    /// Grams in 100 mL (weight in volume), never the bare fraction that UCUM calls `%`.
    Percent(Number),
    /// One gram in this many mL.
    OneIn(Number),
}

/// What a strength means: an exact amount in each mL.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Concentration {
    /// The kind of amount.
    pub kind: UnitKind,
    /// In the kind's reference unit per mL.
    pub per_ml: Ratio,
}

impl Strength {
    /// Reads a strength.
    ///
    /// # Errors
    /// [`Refused`], with the place and what to write instead.
    pub fn parse(text: &str) -> Result<Self, Refused> {
        Self::read(text, NumberForm::Dose)
    }

    /// Reads a strength copied from a bought-in label, where `5.0` may stand.
    ///
    /// # Errors
    /// [`Refused`], with the place and what to write instead.
    pub fn parse_label(text: &str) -> Result<Self, Refused> {
        Self::read(text, NumberForm::Measured)
    }

    pub(super) fn read(text: &str, form: NumberForm) -> Result<Self, Refused> {
        let whole = Piece::whole(text);
        let (number, rest) = whole.number(form)?;
        if let Some(after) = rest.text.strip_prefix('%') {
            return percent(whole, number, after);
        }
        if rest.text.starts_with(':') {
            return one_in(whole, number, rest.from(1).trimmed());
        }
        if rest.text.is_empty() {
            return Err(whole.refused(Problem::UnitMissing { found: whole.found() }, format!("write {EXPECTED}")));
        }
        amount_in_volume(whole, number, rest)
    }

    /// An amount in a volume, as a label states both.
    #[must_use]
    pub fn of(amount: Quantity<Amount>, volume: Quantity<Volume>) -> Self {
        Self::stated_as(Stated::Of { amount, volume, in_words: true })
    }

    fn stated_as(stated: Stated) -> Self {
        let (kind, product) = match stated {
            Stated::Of { amount, volume, .. } => {
                let product = Product::ONE.number(amount.number()).unit(amount.unit());
                (amount.kind(), product.over_number(volume.number()).over_unit(volume.unit()))
            }
            Stated::Percent(number) => {
                (UnitKind::Mass, Product::ONE.number(number).unit(Unit::Gram).over_ratio(Ratio::whole(100)))
            }
            Stated::OneIn(number) => (UnitKind::Mass, Product::ONE.unit(Unit::Gram).over_number(number)),
        };
        let per_ml = product
            .finish()
            .expect("two numbers of 9 digits within 10^-9 and 10^9 and factors below 10^10 fit in 10^37");
        Self { stated, concentration: Concentration { kind, per_ml } }
    }

    /// What it means, exactly.
    #[must_use]
    pub const fn concentration(self) -> Concentration {
        self.concentration
    }

    /// As it was written.
    #[must_use]
    pub const fn stated(self) -> Stated {
        self.stated
    }

    /// The unit of the amount, as typed: in which the strength is shown.
    #[must_use]
    pub const fn amount_unit(self) -> Unit {
        match self.stated {
            Stated::Of { amount, .. } => amount.unit(),
            Stated::Percent(_) | Stated::OneIn(_) => Unit::Milligram,
        }
    }
}

impl Concentration {
    /// Shown per mL in a unit of which there is 1 or more: the given one, or a smaller unit of mass.
    #[must_use]
    pub fn readable(self, unit: Unit) -> String {
        self.shown_in(unit.readable_for(self.per_ml))
    }

    /// Shown per mL, in the given unit of amount: `80 mcg/mL`.
    #[must_use]
    pub fn shown_in(self, unit: Unit) -> String {
        let value = Product::ONE.ratio(self.per_ml).over_unit(unit).finish();
        let value = value.expect("a unit of the same kind is at most 10^9 reference units");
        let name = if unit == Unit::Unit && value == Ratio::ONE { "unit" } else { unit.shown() };
        format!("{} {name}/mL", exact_or_about(value))
    }
}

/// By meaning: 1 % is 10 mg/mL.
impl PartialEq for Strength {
    fn eq(&self, other: &Self) -> bool {
        self.concentration() == other.concentration()
    }
}

impl Eq for Strength {}

/// As typed, except that a percentage and a ratio are always echoed in mg/mL.
impl fmt::Display for Strength {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.stated {
            Stated::Of { amount, volume, in_words: false } if volume.number().ratio() == Ratio::ONE => {
                write!(f, "{amount}/{}", volume.unit().shown())
            }
            Stated::Of { amount, volume, .. } => write!(f, "{amount} in {volume}"),
            Stated::Percent(number) => {
                write!(f, "{} ({} %)", self.concentration().shown_in(Unit::Milligram), grouped(&number.to_string()))
            }
            Stated::OneIn(number) => {
                write!(f, "{} (1:{})", self.concentration().shown_in(Unit::Milligram), grouped(&number.to_string()))
            }
        }
    }
}

const EXPECTED: &str = "a strength, for example 80 mcg/mL, 4 mg in 50 mL, 1 % or 1:10 000";

fn percent(whole: Piece<'_>, number: Number, after: &str) -> Result<Strength, Refused> {
    if !matches!(after.trim(), "" | "w/v") {
        return Err(
            whole.refused(Problem::Trailing { found: whole.found() }, "write 1 % for 1 g in 100 mL, or 10 mg/mL")
        );
    }
    if number.ratio() > Ratio::whole(100) {
        return Err(whole.refused(Problem::PercentTooHigh { found: whole.found() }, "write the strength in mg/mL"));
    }
    Ok(Strength::stated_as(Stated::Percent(number)))
}

fn one_in(whole: Piece<'_>, first: Number, after: Piece<'_>) -> Result<Strength, Refused> {
    let help = "write 1:10 000 for 1 g in 10 000 mL, or 0.1 mg/mL";
    if first.ratio() != Ratio::ONE {
        return Err(whole.refused(Problem::Trailing { found: whole.found() }, help));
    }
    let (number, rest) = after.number(NumberForm::Dose)?;
    if number.ratio() < Ratio::ONE {
        return Err(whole.refused(Problem::PercentTooHigh { found: whole.found() }, "write the strength in mg/mL"));
    }
    if rest.text.is_empty() {
        Ok(Strength::stated_as(Stated::OneIn(number)))
    } else {
        Err(rest.refused(Problem::Trailing { found: rest.found() }, help))
    }
}

fn amount_in_volume(whole: Piece<'_>, number: Number, rest: Piece<'_>) -> Result<Strength, Refused> {
    let (first, second, in_words) = halves(rest);
    let unit = first.unit(EXPECTED)?;
    let Some(second) = second else {
        let problem = Problem::VolumeMissing { found: whole.found() };
        return Err(whole.refused(problem, format!("write {EXPECTED}")));
    };
    let (volume_number, volume_unit) =
        if second.text.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+')) {
            // A volume states a precision: 50.0 mL is no slip.
            let (number, unit) = second.number(NumberForm::Measured)?;
            (Some(number), unit)
        } else {
            (None, second)
        };
    let volume_unit_found = volume_unit.unit("a volume: mL or L")?;
    if unit.kind() == UnitKind::Volume && is_amount(volume_unit_found.kind()) {
        return Err(whole.refused(
            Problem::Swapped { found: whole.found() },
            "write the amount first, then the volume: 4 mg in 50 mL",
        ));
    }
    let wrong_kind = |piece: Piece<'_>, unit: Unit, expected: &str| {
        let problem = Problem::WrongKind {
            found: piece.found(),
            what: unit.kind().described().to_owned(),
            expected: expected.to_owned(),
        };
        piece.refused(problem, format!("write {EXPECTED}"))
    };
    let one = || Number::parse("1", NumberForm::Dose).expect("1 is a number");
    let amount = Quantity::of(number, unit).ok_or_else(|| wrong_kind(first, unit, "an amount of drug"))?;
    let volume = Quantity::of(volume_number.unwrap_or_else(one), volume_unit_found)
        .ok_or_else(|| wrong_kind(volume_unit, volume_unit_found, "a volume"))?;
    Ok(Strength::stated_as(Stated::Of { amount, volume, in_words: in_words || volume_number.is_some() }))
}

/// `mg in 50 mL` or `mg/50 mL` or `mg per mL`: the two halves, and whether the word `in` joins them.
fn halves(rest: Piece<'_>) -> (Piece<'_>, Option<Piece<'_>>, bool) {
    match place_of(rest.text, b" in ") {
        Some(at) => (rest.to(at).trimmed(), Some(rest.from(at + 4).trimmed()), true),
        None => {
            let (first, second) = rest.cut();
            (first, second, false)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rstest::rstest;

    #[rstest]
    #[case("80 mcg/mL", "80 mcg/mL")]
    #[case("80 mcg per 1 mL", "80 mcg in 1 mL")]
    #[case("1 units/mL", "1 unit/mL")]
    #[case("4 mg in 50 mL", "4 mg in 50 mL")]
    #[case("4 mg/50 mL", "4 mg in 50 mL")]
    #[case("4 mg in 50.0 mL", "4 mg in 50 mL")]
    #[case("1 %", "10 mg/mL (1 %)")]
    #[case("1 % w/v", "10 mg/mL (1 %)")]
    #[case("100 %", "1000 mg/mL (100 %)")]
    #[case("1:10 000", "0.1 mg/mL (1:10 000)")]
    #[case("1:1", "1000 mg/mL (1:1)")]
    fn a_strength_is_shown_as_it_was_typed(#[case] text: &str, #[case] shown: &str) {
        assert_eq!(Strength::parse(text).map(|strength| strength.to_string()), Ok(shown.to_owned()));
    }

    #[rstest]
    #[case("80", "unit-missing")]
    #[case("80 mcg", "strength-volume-missing")]
    #[case("1 % in water", "quantity-trailing")]
    #[case("100.1 %", "strength-percent-too-high")]
    #[case("2:1000", "quantity-trailing")]
    #[case("1:0.5", "strength-percent-too-high")]
    #[case("1:1000 mL", "quantity-trailing")]
    #[case("50 mL in 4 mg", "strength-swapped")]
    #[case("50 mL in 4 mL", "unit-wrong-kind")]
    #[case("50 min in 4 mL", "unit-wrong-kind")]
    #[case("4 mg in 50 mg", "unit-wrong-kind")]
    #[case("4 mg in .5 mL", "number-leading-point")]
    #[case("4 mg in -5 mL", "number-sign")]
    #[case("4 mg in ,5 mL", "number-comma")]
    #[case("4 mg in +5 mL", "number-sign")]
    #[case("4 mg in bag", "unit-unknown")]
    fn other_strengths_are_refused(#[case] text: &str, #[case] code: &str) {
        assert_eq!(Strength::parse(text).expect_err("refused").problem.code(), code);
    }

    #[test]
    fn a_label_may_state_a_precision() {
        assert_eq!(Strength::parse("5.0 mg/mL").expect_err("refused").problem.code(), "number-trailing-zero");
        assert_eq!(Strength::parse_label("5.0 mg/mL"), Strength::parse("5 mg/mL"));
    }

    #[rstest]
    #[case("0.08 mg/mL", Unit::Milligram, "0.08 mg/mL", "80 mcg/mL")]
    #[case("1 mg/mL", Unit::Milligram, "1 mg/mL", "1 mg/mL")]
    #[case("0.999 mg/mL", Unit::Gram, "0.000999 g/mL", "999 mcg/mL")]
    #[case("80 mcg/mL", Unit::Nanogram, "80 000 nanogram/mL", "80 000 nanogram/mL")]
    #[case("1 units/mL", Unit::Unit, "1 unit/mL", "1 unit/mL")]
    #[case("0.5 units/mL", Unit::Unit, "0.5 units/mL", "0.5 units/mL")]
    #[case("1 mmol/mL", Unit::Millimole, "1 mmol/mL", "1 mmol/mL")]
    fn a_concentration_is_shown_in_a_unit(
        #[case] text: &str,
        #[case] unit: Unit,
        #[case] in_it: &str,
        #[case] readable: &str,
    ) {
        let found = Strength::parse(text).expect("a strength").concentration();
        assert_eq!((found.shown_in(unit), found.readable(unit)), (in_it.to_owned(), readable.to_owned()));
    }

    #[rstest]
    #[case("1 %", "10 mg/mL", true)]
    #[case("1:1000", "1 mg/mL", true)]
    #[case("80 mcg/mL", "4 mg in 50 mL", true)]
    #[case("80 mcg/mL", "8 mcg/mL", false)]
    #[case("1 unit/mL", "1 mmol/mL", false)]
    fn strengths_are_the_same_by_meaning(#[case] one: &str, #[case] other: &str, #[case] same: bool) {
        assert_eq!(Strength::parse(one) == Strength::parse(other), same);
    }

    #[test]
    fn it_is_shown_in_the_unit_that_was_typed() {
        let unit = |text| Strength::parse(text).expect("a strength").amount_unit();
        assert_eq!(["80 mcg/mL", "1 %", "1:1000"].map(unit), [Unit::Microgram, Unit::Milligram, Unit::Milligram]);
    }
}
