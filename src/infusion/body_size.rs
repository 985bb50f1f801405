//! Dosing weights and body surface. Each is rounded first, shown, and exact from then on, as if it had been typed:
//! weights to 0.1 kg, surface to 0.01 m2. All but Du Bois are worked out in whole numbers.

use crate::formulary::{DosingWeight, SurfaceFormula};
use crate::quantity::{Product, Ratio, TooLarge, exact_or_about};

/// The sex that a formula asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sex {
    /// Female.
    Female,
    /// Male.
    Male,
}

/// What is known of a patient's size.
#[derive(Debug, Clone, Copy)]
pub struct Size {
    /// Actual weight in kg.
    pub weight: Ratio,
    /// Height in cm.
    pub height: Option<Ratio>,
    /// Sex.
    pub sex: Option<Sex>,
    /// Whether the patient is known to be an adult (16 years and more), or known not to be, or neither.
    pub adult: Option<bool>,
}

impl Size {
    /// Whether an age in days is that of an adult for these formulas: 16 years of 365.25 days (common practice, no source).
    #[must_use]
    pub fn is_adult(days: Ratio) -> bool {
        days >= Ratio::whole(5844)
    }
}

/// A size that was worked out, with the formula by name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Derived {
    /// In kg or m2, rounded.
    pub value: Ratio,
    /// The formula, its source and its numbers.
    pub working: String,
    /// Set where the formula gave more than the actual weight, which then counts instead.
    pub capped: bool,
}

/// Why a size cannot be worked out.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[expect(missing_docs, reason = "each variant's message says what it is")]
pub enum NoSize {
    #[error("the {what} needs the height, and none is given")]
    HeightMissing { what: &'static str },
    #[error("the {what} needs the sex, and none is given")]
    SexMissing { what: &'static str },
    #[error("the {what} is for adults, and the age is not given")]
    AgeMissing { what: &'static str },
    #[error("the {what} is for adults of 16 years and more, and this patient is younger")]
    NotAdult { what: &'static str },
    #[error("the {what} is for adults of 152.4 cm (60 inches) and more, and the height is {height} cm")]
    TooShort { what: &'static str, height: String },
    #[error("a height of {height} cm is no height of a patient")]
    Implausible { height: String },
    #[error("a body surface of less than 0.01 m2 is none")]
    NoSurface,
    #[error(transparent)]
    TooLarge(#[from] TooLarge),
}

impl NoSize {
    /// Which field of an entry is at fault.
    #[must_use]
    pub const fn field(&self) -> &'static str {
        match self {
            Self::HeightMissing { .. } | Self::TooShort { .. } | Self::Implausible { .. } => "patient.height",
            Self::SexMissing { .. } => "patient.sex",
            Self::AgeMissing { .. } | Self::NotAdult { .. } => "patient.born",
            Self::TooLarge(_) | Self::NoSurface => "patient.weight",
        }
    }

    /// What to do about it.
    #[must_use]
    pub const fn help(&self) -> &'static str {
        match self {
            Self::HeightMissing { .. } => "measure the height and give it in cm",
            Self::SexMissing { .. } => "give the sex (female or male), which the formula asks for",
            Self::AgeMissing { .. } => "give the date of birth, or the age",
            Self::NotAdult { .. } | Self::TooShort { .. } => "dose by the actual weight, or go back to the order",
            Self::Implausible { .. } | Self::NoSurface | Self::TooLarge(_) => {
                "look at weight and height again, and at their units"
            }
        }
    }
}

/// The weight in kg by which a dose is counted.
///
/// Ideal weight: Devine 1974, men 50 kg, women 45.5 kg, and 2.3 kg for each inch over 60. Lean weight: Janmahasatian
/// et al., Clin Pharmacokinet 2005;44:1051-65. Adjusted: ideal and 0.4 of the excess over it. Never above the actual
/// weight.
///
/// # Errors
/// [`NoSize`] when height, sex or age is missing or out of the formula's range.
pub fn dosing_weight(which: DosingWeight, size: Size) -> Result<Derived, NoSize> {
    let actual = Derived {
        value: size.weight,
        working: format!("dosing weight: actual weight {} kg", exact_or_about(size.weight)),
        capped: false,
    };
    let what = match which {
        DosingWeight::Actual => return Ok(actual),
        DosingWeight::Ideal => "ideal body weight (Devine 1974)",
        DosingWeight::Lean => "lean body weight (Janmahasatian 2005)",
        DosingWeight::Adjusted => "adjusted body weight (ideal by Devine 1974, and 0.4 of the excess)",
    };
    let (height, sex) = adult_height_and_sex(what, size)?;
    let found = match which {
        DosingWeight::Actual | DosingWeight::Ideal => ideal(height, sex)?,
        DosingWeight::Lean => lean(size.weight, height, sex)?,
        DosingWeight::Adjusted => adjusted(size.weight, ideal(height, sex)?)?,
    }
    .to_nearest(tenth())?;
    let capped = found > size.weight;
    let value = if capped { size.weight } else { found };
    let mut working = format!("dosing weight: {what} for {} cm: {} kg", exact_or_about(height), exact_or_about(found));
    if capped {
        working = format!("{working}, above the actual weight: {} kg counts", exact_or_about(value));
    }
    Ok(Derived { value, working, capped })
}

/// The body surface in m2, to 0.01 m2.
///
/// Mosteller, N Engl J Med 1987;317:1098: sqrt(cm x kg / 3600). Du Bois, Arch Intern Med 1916;17:863:
/// 0.007184 x cm^0.725 x kg^0.425.
///
/// # Errors
/// [`NoSize`] when the height is missing.
pub fn body_surface(formula: SurfaceFormula, size: Size) -> Result<Derived, NoSize> {
    let height = plausible(size.height.ok_or(NoSize::HeightMissing { what: "body surface" })?)?;
    let (hundredths, name) = match formula {
        SurfaceFormula::Mosteller => (mosteller_hundredths(size.weight, height)?, "Mosteller 1987"),
        SurfaceFormula::DuBois => (du_bois_hundredths(size.weight, height), "Du Bois 1916"),
    };
    if hundredths == 0 {
        return Err(NoSize::NoSurface);
    }
    let value = Ratio::new(hundredths, 100)?;
    let working = format!(
        "body surface ({name}) for {} cm and {} kg: {} m2",
        exact_or_about(height),
        exact_or_about(size.weight),
        exact_or_about(value)
    );
    Ok(Derived { value, working, capped: false })
}

/// From the smallest newborn to the tallest man on record (common practice, no source).
fn plausible(height: Ratio) -> Result<Ratio, NoSize> {
    let range = Ratio::whole(20)..=Ratio::whole(280);
    if range.contains(&height) { Ok(height) } else { Err(NoSize::Implausible { height: exact_or_about(height) }) }
}

fn adult_height_and_sex(what: &'static str, size: Size) -> Result<(Ratio, Sex), NoSize> {
    match size.adult {
        Some(true) => {}
        Some(false) => return Err(NoSize::NotAdult { what }),
        None => return Err(NoSize::AgeMissing { what }),
    }
    let height = plausible(size.height.ok_or(NoSize::HeightMissing { what })?)?;
    if height < Ratio::new(1524, 10)? {
        return Err(NoSize::TooShort { what, height: exact_or_about(height) });
    }
    Ok((height, size.sex.ok_or(NoSize::SexMissing { what })?))
}

fn tenth() -> Ratio {
    Ratio::new(1, 10).expect("a tenth is a fraction")
}

fn ideal(height: Ratio, sex: Sex) -> Result<Ratio, TooLarge> {
    let base = match sex {
        Sex::Male => Ratio::whole(50),
        Sex::Female => Ratio::new(455, 10)?,
    };
    let inches_over = height.over(Ratio::new(254, 100)?)?.less(Ratio::whole(60))?;
    base.plus(inches_over.times(Ratio::new(23, 10)?)?)
}

fn adjusted(weight: Ratio, ideal: Ratio) -> Result<Ratio, TooLarge> {
    ideal.plus(weight.less(ideal)?.times(Ratio::new(4, 10)?)?)
}

/// 9270 W / (a + b W/h2) = 9270 W h2 / (a h2 + b W), with h in metres.
fn lean(weight: Ratio, height: Ratio, sex: Sex) -> Result<Ratio, TooLarge> {
    let (a, b) = match sex {
        Sex::Male => (6680, 216),
        Sex::Female => (8780, 244),
    };
    let metres = height.over(Ratio::whole(100))?;
    let squared = metres.times(metres)?;
    let below = Ratio::whole(a).times(squared)?.plus(Ratio::whole(b).times(weight)?)?;
    Product::ONE.whole(9270).ratio(weight).ratio(squared).over_ratio(below).finish()
}

/// The whole number n of hundredths nearest to 100 sqrt(x): the largest n with (2n - 1)^2 <= 4 x 10^4 x.
fn mosteller_hundredths(weight: Ratio, height: Ratio) -> Result<u128, TooLarge> {
    let squared = Product::ONE.ratio(weight).ratio(height).whole(40_000).over_ratio(Ratio::whole(3600)).finish()?;
    let twice = (squared.numerator() / squared.denominator()).isqrt();
    Ok(twice.div_ceil(2))
}

/// Powers with broken exponents have no exact value: rounded at once, and exact from then on.
#[expect(
    clippy::float_arithmetic,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a power with a broken exponent"
)]
fn du_bois_hundredths(weight: Ratio, height: Ratio) -> u128 {
    let surface = 0.007_184 * height.approximate().powf(0.725) * weight.approximate().powf(0.425);
    (surface * 100.0).round() as u128
}

#[cfg(test)]
mod tests {
    use super::*;
    use rstest::rstest;

    fn ratio(text: &str) -> Ratio {
        crate::quantity::Number::parse(text, crate::quantity::NumberForm::Measured).expect("a number").ratio()
    }

    fn size(weight: &str, height: &str, sex: Sex) -> Size {
        Size { weight: ratio(weight), height: Some(ratio(height)), sex: Some(sex), adult: Some(true) }
    }

    // Devine 1974 as printed in PMC4411565, Table 3: man of 70 in 73.0 kg, woman of 64 in 54.7 kg.
    // Janmahasatian 2005: man of 178 cm and 110 kg, 71.92 kg.
    #[rstest]
    #[case(DosingWeight::Ideal, "90", "177.8", Sex::Male, "73")]
    #[case(DosingWeight::Ideal, "90", "162.56", Sex::Female, "54.7")]
    #[case(DosingWeight::Lean, "110", "178", Sex::Male, "71.9")]
    #[case(DosingWeight::Adjusted, "123", "177.8", Sex::Male, "93")]
    #[case(DosingWeight::Actual, "123.4", "150", Sex::Male, "123.4")]
    fn dosing_weights(
        #[case] which: DosingWeight,
        #[case] weight: &str,
        #[case] height: &str,
        #[case] sex: Sex,
        #[case] kg: &str,
    ) {
        assert_eq!(dosing_weight(which, size(weight, height, sex)).map(|found| found.value), Ok(ratio(kg)));
    }

    #[rstest]
    #[case(DosingWeight::Ideal)]
    #[case(DosingWeight::Adjusted)]
    #[case(DosingWeight::Lean)]
    fn never_above_the_actual_weight(#[case] which: DosingWeight) {
        let found = dosing_weight(which, size("40", "180", Sex::Male)).expect("an adult");
        assert!(found.value <= ratio("40"));
    }

    // Devine 1974: a woman of 60 inches, 45.5 kg. As much as she weighs is not more than she weighs.
    #[rstest]
    #[case("45.5", "45.5", false)]
    #[case("45.4", "45.4", true)]
    #[case("45.6", "45.5", false)]
    fn what_is_capped_says_so(#[case] weight: &str, #[case] kg: &str, #[case] capped: bool) {
        let found = dosing_weight(DosingWeight::Ideal, size(weight, "152.4", Sex::Female)).expect("an adult");
        assert_eq!((found.value, found.capped), (ratio(kg), capped));
        assert_eq!(found.working.contains("above the actual weight"), capped, "{}", found.working);
    }

    // Mosteller by formula, PMC4411565 Table 3: 170 cm and 70 kg, 1.8181 m2.
    #[test]
    fn mosteller() {
        let found = body_surface(SurfaceFormula::Mosteller, size("70", "170", Sex::Male)).expect("a height");
        assert_eq!(found.value, ratio("1.82"));
    }

    #[test]
    fn mosteller_is_the_nearest_hundredth() {
        for tenths in 5..3000_u64 {
            let weight = Ratio::new(u128::from(tenths), 10).expect("small");
            let found = mosteller_hundredths(weight, Ratio::whole(170)).expect("small");
            let x = Product::ONE
                .ratio(weight)
                .whole(170)
                .whole(10_000)
                .over_ratio(Ratio::whole(3600))
                .finish()
                .expect("small");
            let below = Ratio::new((2 * found - 1) * (2 * found - 1), 4).expect("small");
            let above = Ratio::new((2 * found + 1) * (2 * found + 1), 4).expect("small");
            assert!(below <= x && x < above, "{tenths}");
        }
    }

    #[rstest]
    #[case(Size { height: None, ..size("80", "170", Sex::Male) }, "patient.height")]
    #[case(Size { sex: None, ..size("80", "170", Sex::Male) }, "patient.sex")]
    #[case(Size { adult: None, ..size("80", "170", Sex::Male) }, "patient.born")]
    #[case(Size { adult: Some(false), ..size("80", "170", Sex::Male) }, "patient.born")]
    #[case(size("80", "152.3", Sex::Male), "patient.height")]
    fn what_is_missing_is_named(#[case] size: Size, #[case] field: &str) {
        assert_eq!(dosing_weight(DosingWeight::Ideal, size).map_err(|e| e.field()), Err(field));
    }
}
