//! What is wrong with a typed quantity, where in the text, and what to write instead.

use std::ops::Range;

/// A refused text: the problem, its place, and the mend.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{problem}")]
pub struct Refused {
    /// What was found.
    pub problem: Problem,
    /// Bytes of the typed text that are at fault.
    pub range: Range<usize>,
    /// What to write instead.
    pub help: String,
}

impl Refused {
    pub(super) fn new(problem: Problem, range: Range<usize>, help: impl Into<String>) -> Self {
        Self { problem, range, help: help.into() }
    }

    /// The same refusal for a text that stands `by` bytes further on.
    #[must_use]
    pub(super) fn moved(mut self, by: usize) -> Self {
        self.range = self.range.start + by..self.range.end + by;
        self
    }
}

/// Why a typed quantity is refused. The wording rules behind most of these: ISMP list of error-prone abbreviations,
/// symbols and dose designations; ISO 80000-1.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[expect(missing_docs, reason = "each variant's message says what it is")]
pub enum Problem {
    #[error("nothing is written here")]
    Empty,
    #[error("`{found}` does not begin with a number")]
    NumberMissing { found: String },
    #[error("`{found}` begins with a point, which is easily overlooked")]
    LeadingPoint { found: String },
    #[error("`{found}` ends with a zero after the point: if the point is overlooked it is ten times as much")]
    TrailingZero { found: String },
    #[error("`{found}` ends with a point")]
    TrailingPoint { found: String },
    #[error("`{found}` has more than one point")]
    TwoPoints { found: String },
    #[error("`{found}` begins with a zero that does not belong there")]
    LeadingZero { found: String },
    #[error("`{found}` has a comma, which is a decimal sign in some countries and groups thousands in others")]
    Comma { found: String },
    #[error("`{found}` is not grouped by threes")]
    Grouping { found: String },
    #[error("`{found}` groups a number of four digits")]
    GroupedTooShort { found: String },
    #[error("`{found}` is a power of ten in computer writing")]
    Exponent { found: String },
    #[error("`{found}` has a sign")]
    Sign { found: String },
    #[error("`{found}` is the {what}, not a digit")]
    LookAlike { found: String, what: String },
    #[error("`{found}` can be read two ways: {one}, or {other}")]
    TwoReadings { found: String, one: String, other: String },
    #[error("`{found}` has more than {most} significant digits, more than anybody measures: a slip of the fingers?")]
    TooManyDigits { found: String, most: usize },
    #[error("`{found}` is outside 0.000000001 to 1000000000")]
    OutOfRange { found: String },
    #[error("`{found}` is zero")]
    Zero { found: String },
    #[error("`{found}` has no unit")]
    UnitMissing { found: String },
    #[error("`{found}` is not a unit that is known here")]
    UnitUnknown { found: String },
    #[error("`{found}` is not the way this unit is written: capitals change a unit's meaning")]
    UnitCase { found: String },
    #[error("`{found}` is misread too often: {why}")]
    UnitMisread { found: String, why: String },
    #[error("`{found}` is {what}, where {expected} is expected")]
    WrongKind { found: String, what: String, expected: String },
    #[error("`{found}` has no time: how much in what time?")]
    TimeMissing { found: String },
    #[error("`{found}` has a time, and a bolus is an amount")]
    TimeTooMany { found: String },
    #[error("`{found}` cannot stand after `/` here")]
    DivisorUnknown { found: String },
    #[error("`{found}` divides by the same thing twice")]
    DivisorTwice { found: String },
    #[error("`{found}` is an amount without a volume")]
    VolumeMissing { found: String },
    #[error("`{found}` has the amount and the volume in each other's place")]
    Swapped { found: String },
    #[error("`{found}` is more than there is: a strength ends at 100 %, which is 1:1")]
    PercentTooHigh { found: String },
    #[error("`{found}` stands after the end of the quantity")]
    Trailing { found: String },
    #[error("`{found}` is {why}")]
    Moment { found: String, why: String },
    #[error("{0}")]
    TooLarge(#[from] super::TooLarge),
}

impl Problem {
    /// The stable code: kebab-case.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::Empty => "quantity-empty",
            Self::NumberMissing { .. } => "number-missing",
            Self::LeadingPoint { .. } => "number-leading-point",
            Self::TrailingZero { .. } => "number-trailing-zero",
            Self::TrailingPoint { .. } => "number-trailing-point",
            Self::TwoPoints { .. } => "number-two-points",
            Self::LeadingZero { .. } => "number-leading-zero",
            Self::Comma { .. } => "number-comma",
            Self::Grouping { .. } => "number-grouping",
            Self::GroupedTooShort { .. } => "number-grouped-too-short",
            Self::Exponent { .. } => "number-exponent",
            Self::Sign { .. } => "number-sign",
            Self::LookAlike { .. } => "number-look-alike",
            Self::TwoReadings { .. } => "two-readings",
            Self::TooManyDigits { .. } => "number-too-many-digits",
            Self::OutOfRange { .. } => "number-out-of-range",
            Self::Zero { .. } => "number-zero",
            Self::UnitMissing { .. } => "unit-missing",
            Self::UnitUnknown { .. } => "unit-unknown",
            Self::UnitCase { .. } => "unit-case",
            Self::UnitMisread { .. } => "unit-misread",
            Self::WrongKind { .. } => "unit-wrong-kind",
            Self::TimeMissing { .. } => "dose-time-missing",
            Self::TimeTooMany { .. } => "dose-time-too-many",
            Self::DivisorUnknown { .. } => "unit-divisor-unknown",
            Self::DivisorTwice { .. } => "unit-divisor-twice",
            Self::VolumeMissing { .. } => "strength-volume-missing",
            Self::Swapped { .. } => "strength-swapped",
            Self::PercentTooHigh { .. } => "strength-percent-too-high",
            Self::Trailing { .. } => "quantity-trailing",
            Self::Moment { .. } => "moment",
            Self::TooLarge(_) => "number-too-large",
        }
    }
}

/// A typed text as it may be quoted in a message: short, and without characters that steer a terminal.
#[must_use]
pub fn clip(text: &str) -> String {
    const LONGEST: usize = 40;
    let mut shown: String = text.chars().take(LONGEST).flat_map(harmless).collect();
    if text.chars().nth(LONGEST).is_some() {
        shown.push('…');
    }
    shown
}

fn harmless(c: char) -> impl Iterator<Item = char> {
    // Direction marks and the like can make a shown number read otherwise than it is.
    let steers = c.is_control()
        || matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}');
    let escaped = steers.then(|| c.escape_unicode());
    let plain = (!steers).then_some(c);
    escaped.into_iter().flatten().chain(plain)
}

#[cfg(test)]
mod tests {
    use super::*;
    use rstest::rstest;

    #[rstest]
    #[case("5 mg", "5 mg")]
    #[case(&"7".repeat(40), &"7".repeat(40))]
    #[case(&"7".repeat(41), &format!("{}…", "7".repeat(40)))]
    #[case("5\u{1b}[2J mg", "5\\u{1b}[2J mg")]
    #[case("5\u{202e}mg", "5\\u{202e}mg")]
    #[case("5\u{200b}mg\u{feff}", "5\\u{200b}mg\\u{feff}")]
    #[case("5 µg", "5 µg")]
    fn what_is_quoted_is_short_and_steers_nothing(#[case] text: &str, #[case] shown: &str) {
        assert_eq!(clip(text), shown);
    }
}
