//! The one grammar for numbers that people type.

use rust_decimal::Decimal;

use super::Ratio;
use super::ratio::power_of_ten;
use super::refused::{Problem, Refused, clip};

/// A typed number: exact, not negative, at most nine significant digits (twelve where the program printed it).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Number {
    /// The significant digits without trailing zeros.
    digits: u64,
    /// The power of ten that goes with them.
    tens: i32,
}

/// What a number may look like depends on where it stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NumberForm {
    /// A dose or a strength: `5.0` is refused (ISMP: read as 50 when the point is overlooked), zero is refused.
    Dose,
    /// A measurement, a display or a bought-in label that is copied: `5.0` states a precision. Zero is refused.
    Measured,
    /// As [`NumberForm::Measured`], and zero is an answer: a dead space may be nothing.
    MeasuredOrZero,
    /// Printed by this program before: up to twelve significant digits.
    Computed,
    /// As [`NumberForm::Computed`], and zero: what this program keeps to read again.
    Kept,
}

impl NumberForm {
    const fn most_digits(self) -> usize {
        match self {
            Self::Computed | Self::Kept => 12,
            _ => 9,
        }
    }
}

impl Number {
    /// Reads a number that is the whole text.
    ///
    /// # Errors
    /// [`Refused`], with the place and what to write instead.
    pub fn parse(text: &str, form: NumberForm) -> Result<Self, Refused> {
        let (number, end) = Self::at_start(text, form)?;
        let rest = text[end..].trim_end();
        if rest.is_empty() {
            return Ok(number);
        }
        Err(Refused::new(
            Problem::Trailing { found: clip(rest) },
            end..end + rest.len(),
            format!("write the number alone: {number}"),
        ))
    }

    /// Reads the number at the start of a text, and says where it ends.
    pub(super) fn at_start(text: &str, form: NumberForm) -> Result<(Self, usize), Refused> {
        if let Some(found) = plain_at_start(text) {
            return Ok(found);
        }
        let written = Written::scan(text)?;
        let number = written.number(form)?;
        Ok((number, written.end))
    }

    /// The exact value.
    #[must_use]
    pub fn ratio(self) -> Ratio {
        self.times_ten_to(0)
    }

    /// The exact value times a power of ten: what a decimal unit makes of it, without a common factor to look for.
    pub(super) fn times_ten_to(self, tens: i32) -> Ratio {
        let tens = self.tens + tens;
        let exponent = tens.unsigned_abs();
        let power = power_of_ten(exponent).expect("at most 10^31 by the grammar and the table of units");
        let digits = u128::from(self.digits);
        let ratio = if tens >= 0 || digits == 0 {
            Ratio::of_lowest(digits.saturating_mul(if tens >= 0 { power } else { 1 }), 1)
        } else {
            // The last digit is not 0, so 2 and 5 cannot both be cancelled.
            let twos = self.digits.trailing_zeros().min(exponent);
            let (mut above, mut below) = (digits >> twos, power >> twos);
            while above.is_multiple_of(5) && below.is_multiple_of(5) {
                (above, below) = (above / 5, below / 5);
            }
            Ratio::of_lowest(above, below)
        };
        ratio.expect("at most 12 digits times 10^25, or over 10^31")
    }

    /// True for zero.
    #[must_use]
    pub const fn is_zero(self) -> bool {
        self.digits == 0
    }

    /// The nearest double: for the second route only.
    #[must_use]
    #[expect(clippy::cast_precision_loss, clippy::float_arithmetic, reason = "leaves exact arithmetic on purpose")]
    pub fn approximate(self) -> f64 {
        const POWERS: [f64; 23] = [
            1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18,
            1e19, 1e20, 1e21, 1e22,
        ];
        let power = POWERS[self.tens.unsigned_abs() as usize % POWERS.len()];
        match self.tens {
            ..0 => self.digits as f64 / power,
            0.. => self.digits as f64 * power,
        }
    }

    /// For showing and comparing; never divided.
    fn decimal(self) -> Decimal {
        decimal(self.digits, self.tens).expect("at most 12 digits, 10^15 and 10^-21 by the grammar")
    }

    pub(super) const fn digits_and_tens(self) -> (u64, i32) {
        (self.digits, self.tens)
    }
}

impl Ord for Number {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        if self.tens == other.tens { self.digits.cmp(&other.digits) } else { self.decimal().cmp(&other.decimal()) }
    }
}

impl PartialOrd for Number {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

/// Without trailing zeros and without grouping, as machines read it.
impl std::fmt::Display for Number {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.decimal().fmt(f)
    }
}

/// Nearly every number: up to nine digits, a point in the midst or none, no zero at either end that could be judged,
/// and then a space or the end. Whatever is not so plain goes the careful way.
fn plain_at_start(text: &str) -> Option<(Number, usize)> {
    let bytes = text.as_bytes();
    let (mut digits, mut end, mut point) = (0_u64, 0, None);
    while let Some(byte) = bytes.get(end) {
        match byte {
            b'0'..=b'9' => digits = digits.checked_mul(10)?.checked_add(u64::from(byte - b'0'))?,
            b'.' if point.is_none() && end > 0 => point = Some(end),
            b' ' if !bytes.get(end + 1).is_some_and(u8::is_ascii_digit) => break,
            _ => return None,
        }
        end += 1;
    }
    let count = if point.is_some() { end - 1 } else { end };
    let leading_zero = bytes.first() == Some(&b'0') && point != Some(1);
    if count == 0 || count > 9 || digits == 0 || leading_zero {
        return None;
    }
    let Some(point) = point else {
        let mut tens = 0;
        while digits.is_multiple_of(10) {
            digits /= 10;
            tens += 1;
        }
        return Some((Number { digits, tens }, end));
    };
    let ends_plainly = !matches!(bytes[end - 1], b'0' | b'.');
    ends_plainly.then(|| (Number { digits, tens: -i32::try_from(end - 1 - point).unwrap_or(0) }, end))
}

/// A number as it stands in the text, before its size is judged.
struct Written<'t> {
    text: &'t str,
    whole: Digits,
    /// Digits after the point; none where there is no point.
    fraction: Option<Digits>,
    end: usize,
}

/// A run of digits: their count and, as far as they fit, their value.
#[derive(Clone, Copy, Default)]
struct Digits {
    count: usize,
    leading_zeros: usize,
    trailing_zeros: usize,
    value: u64,
}

impl Digits {
    fn push(&mut self, digit: u8) {
        if digit == b'0' {
            self.trailing_zeros += 1;
            if self.leading_zeros == self.count {
                self.leading_zeros += 1;
            }
        } else {
            self.trailing_zeros = 0;
        }
        self.count += 1;
        self.value = self.value.saturating_mul(10).saturating_add(u64::from(digit - b'0'));
    }
}

impl<'t> Written<'t> {
    fn scan(text: &'t str) -> Result<Self, Refused> {
        let bytes = text.as_bytes();
        if !bytes.first().is_some_and(u8::is_ascii_digit) {
            return Err(no_digit_first(text));
        }
        let (whole, mut end) = run(bytes, 0);
        let mut written = Self { text, whole, fraction: None, end };
        if let Some(after) = written.groups()? {
            end = after;
        }
        if bytes.get(end) == Some(&b'.') {
            let (fraction, after) = run(bytes, end + 1);
            if fraction.count == 0 {
                return Err(written.broken_point(end));
            }
            written.fraction = Some(fraction);
            end = after;
        }
        written.end = end;
        written.next_is_harmless()?;
        Ok(written)
    }

    /// Groups of three after a space (ISO 80000-1), from five digits on: `10 000`.
    fn groups(&mut self) -> Result<Option<usize>, Refused> {
        let bytes = self.text.as_bytes();
        let (first, mut end) = (self.whole.count, self.end);
        let mut groups = 0_usize;
        // With what follows the point, or the mend would be another number.
        let joined = |after: usize| {
            let decimals = bytes[after..].iter().take_while(|b| b.is_ascii_digit() || **b == b'.').count();
            let found = &self.text[..after + decimals];
            (found, found.chars().filter(|c| c.is_ascii_digit() || *c == '.').collect::<String>())
        };
        while let Some(space) = group_space(&bytes[end..]) {
            let (digits, after) = run(bytes, end + space);
            if digits.count == 0 {
                break;
            }
            if digits.count != 3 || first > 3 {
                let (found, joined) = joined(after);
                return Err(Refused::new(
                    Problem::Grouping { found: clip(found) },
                    0..found.len(),
                    format!("write {} without spaces, or grouped by threes from the right", clip(&joined)),
                ));
            }
            for digit in &bytes[end + space..after] {
                self.whole.push(*digit);
            }
            groups += 1;
            end = after;
        }
        if groups == 0 {
            return Ok(None);
        }
        if self.whole.count < 5 {
            let (found, joined) = joined(end);
            return Err(Refused::new(
                Problem::GroupedTooShort { found: clip(found) },
                0..found.len(),
                format!("write {}: only five digits and more are grouped", clip(&joined)),
            ));
        }
        Ok(Some(end))
    }

    fn broken_point(&self, point: usize) -> Refused {
        let rest = &self.text[point + 1..];
        if rest.starts_with('.') {
            let end = point + 1 + rest.bytes().take_while(|b| *b == b'.' || b.is_ascii_digit()).count();
            let found = clip(&self.text[..end]);
            return Refused::new(Problem::TwoPoints { found }, 0..end, "write one point");
        }
        if let Some(refused) = look_alike(rest, point + 1) {
            return refused;
        }
        let found = clip(&self.text[..=point]);
        let help = format!("write {}", clip(&self.text[..point]));
        Refused::new(Problem::TrailingPoint { found }, 0..point + 1, help)
    }

    /// What follows a number without a space may only be a unit, a percent sign or a colon.
    fn next_is_harmless(&self) -> Result<(), Refused> {
        let rest = &self.text[self.end..];
        let Some(next) = rest.chars().next() else { return Ok(()) };
        let end = self.end + rest.find(|c: char| c.is_whitespace() || c == '/').unwrap_or(rest.len());
        let found = clip(&self.text[..end]);
        match next {
            ',' => return Err(self.comma()),
            '.' => return Err(Refused::new(Problem::TwoPoints { found }, 0..end, "write one point")),
            '\'' | '_' | '’' => {
                let help = "write the digits together, or grouped by threes with a space from five digits on";
                return Err(Refused::new(Problem::Grouping { found }, self.end..self.end + next.len_utf8(), help));
            }
            '+' | '-' | '−' | '–' => {
                let help = "write one number without a sign; a range is two entries, from and to";
                return Err(Refused::new(Problem::Sign { found }, self.end..self.end + next.len_utf8(), help));
            }
            'e' | 'E' if rest[1..].starts_with(|c: char| c.is_ascii_digit() || c == '+' || c == '-') => {
                return Err(Refused::new(Problem::Exponent { found }, 0..end, "write the number out in full"));
            }
            'l' if !rest[1..].starts_with(|c: char| c.is_ascii_lowercase()) => {
                let problem = Problem::TwoReadings { found, one: "a digit 1".into(), other: "litre".into() };
                return Err(Refused::new(problem, self.end..self.end + 1, "write the digit 1, or a space and L"));
            }
            _ => {}
        }
        look_alike(rest, self.end).map_or(Ok(()), Err)
    }

    fn comma(&self) -> Refused {
        let bytes = self.text.as_bytes();
        let end =
            self.end + bytes[self.end..].iter().take_while(|b| b.is_ascii_digit() || matches!(b, b',' | b'.')).count();
        let found = &self.text[..end];
        Refused::new(Problem::Comma { found: clip(found) }, 0..end, NO_COMMA)
    }

    fn number(&self, form: NumberForm) -> Result<Number, Refused> {
        let found = || clip(&self.text[..self.end]);
        let all = 0..self.end;
        let fraction = self.fraction.unwrap_or_default();
        if self.whole.count > 1 && self.whole.leading_zeros > 0 {
            let mut shorter = self.text[..self.end].trim_start_matches('0').to_owned();
            if !shorter.starts_with(|c: char| c.is_ascii_digit()) {
                shorter.insert(0, '0');
            }
            return Err(Refused::new(
                Problem::LeadingZero { found: found() },
                all,
                format!("write {}", clip(&shorter)),
            ));
        }
        if form == NumberForm::Dose && fraction.trailing_zeros > 0 {
            let shorter = self.text[..self.end].trim_end_matches('0').trim_end_matches('.');
            return Err(Refused::new(
                Problem::TrailingZero { found: found() },
                all,
                format!("write {}", clip(shorter)),
            ));
        }
        let (significant, any) = self.significant();
        let is_own = matches!(form, NumberForm::Computed | NumberForm::Kept);
        let most = form.most_digits();
        if significant > most {
            let help = format!("write at most {most} significant digits");
            return Err(Refused::new(Problem::TooManyDigits { found: found(), most }, all, help));
        }
        if !any {
            return self.zero(form);
        }
        // Trailing zeros were counted above, so what is left fits: at most 12 digits with at most 10 zeros before the point.
        let decimals = fraction.count - fraction.trailing_zeros;
        let longest = if is_own { 15 } else { 10 };
        if self.whole.count > longest || decimals > 21 {
            return Err(self.out_of_range());
        }
        let kept = fraction.value / 10_u64.pow(u32::try_from(fraction.trailing_zeros).unwrap_or(0));
        let scale = u32::try_from(decimals).unwrap_or(0);
        let mut digits = u128::from(self.whole.value) * 10_u128.pow(scale) + u128::from(kept);
        let mut tens = -i32::try_from(scale).unwrap_or(0);
        while digits % 10 == 0 {
            digits /= 10;
            tens += 1;
        }
        let digits = u64::try_from(digits).map_err(|_| self.out_of_range())?;
        let value = decimal(digits, tens).ok_or_else(|| self.out_of_range())?;
        let (least, most) = (Decimal::new(1, 9), Decimal::new(1_000_000_000, 0));
        if !is_own && (value < least || value > most) {
            return Err(self.out_of_range());
        }
        // With a digit less, 10^9 g in any volume, and 10^-9 nanogram in 10^9 L shown in g, stay within 10^37.
        if !is_own && scale > 16 {
            let problem = Problem::TooManyDigits { found: found(), most: 8 };
            return Err(Refused::new(problem, all, "write at most 8 significant digits"));
        }
        Ok(Number { digits, tens })
    }

    /// How many digits are significant, and whether any of them is not zero.
    fn significant(&self) -> (usize, bool) {
        let fraction = self.fraction.unwrap_or_default();
        let whole_is_zero = self.whole.leading_zeros == self.whole.count;
        let any = !whole_is_zero || fraction.leading_zeros < fraction.count;
        let significant = match (whole_is_zero, fraction.count) {
            (true, _) => fraction.count - fraction.leading_zeros,
            (false, 0) => self.whole.count - self.whole.trailing_zeros,
            (false, _) => self.whole.count + fraction.count,
        };
        // A string of zeros has no significant digit, and is still a slip when it is long.
        if any { (significant, true) } else { (fraction.count, false) }
    }

    fn zero(&self, form: NumberForm) -> Result<Number, Refused> {
        if matches!(form, NumberForm::MeasuredOrZero | NumberForm::Kept) {
            return Ok(Number { digits: 0, tens: 0 });
        }
        let found = clip(&self.text[..self.end]);
        Err(Refused::new(Problem::Zero { found }, 0..self.end, "write a number above zero, or leave the field out"))
    }

    fn out_of_range(&self) -> Refused {
        let found = clip(&self.text[..self.end]);
        Refused::new(
            Problem::OutOfRange { found },
            0..self.end,
            "write it in a larger or smaller unit, and look at it again",
        )
    }
}

fn decimal(digits: u64, tens: i32) -> Option<Decimal> {
    let zeros = u32::try_from(tens.max(0)).ok()?;
    let mantissa = i64::try_from(digits).ok()?.checked_mul(10_i64.checked_pow(zeros)?)?;
    Decimal::try_new(mantissa, u32::try_from(-tens.min(0)).ok()?).ok()
}

fn run(bytes: &[u8], from: usize) -> (Digits, usize) {
    let mut digits = Digits::default();
    let mut end = from;
    while let Some(digit) = bytes.get(end).filter(|b| b.is_ascii_digit()) {
        digits.push(*digit);
        end += 1;
    }
    (digits, end)
}

/// The length of a space that may group digits: plain, no-break, narrow no-break or thin.
fn group_space(bytes: &[u8]) -> Option<usize> {
    [" ", "\u{a0}", "\u{202f}", "\u{2009}"].iter().find(|s| bytes.starts_with(s.as_bytes())).map(|s| s.len())
}

/// A comma has two readings, ten or a thousand times apart: both written out would be a choice between two doses.
const NO_COMMA: &str =
    "go back to what is written there; write a point as the decimal sign, and no sign between thousands";

fn no_digit_first(text: &str) -> Refused {
    let Some(first) = text.chars().next() else {
        return Refused::new(Problem::Empty, 0..0, "write a number and its unit, for example 0.5 mg");
    };
    let word_end = text.find(char::is_whitespace).unwrap_or(text.len());
    let found = clip(&text[..word_end]);
    let here = 0..first.len_utf8();
    match first {
        '.' | ',' if text[1..].starts_with(|c: char| c.is_ascii_digit()) => {
            let digits = text[1..].bytes().take_while(u8::is_ascii_digit).count();
            let zero_first = format!("write 0.{}", clip(&text[1..=digits]));
            let (problem, help) = match first {
                '.' => (Problem::LeadingPoint { found }, zero_first),
                _ => (Problem::Comma { found }, NO_COMMA.to_owned()),
            };
            return Refused::new(problem, 0..1 + digits, help);
        }
        '+' | '-' | '−' | '–' => {
            return Refused::new(Problem::Sign { found }, here, "write the number without a sign");
        }
        _ => {}
    }
    look_alike(text, 0).unwrap_or_else(|| {
        Refused::new(Problem::NumberMissing { found }, 0..word_end, "write the number first, then a space and the unit")
    })
}

/// A character that stands where a digit is expected and only looks like one.
fn look_alike(rest: &str, at: usize) -> Option<Refused> {
    let first = rest.chars().next()?;
    let after = rest[first.len_utf8()..].chars().next();
    // A lone letter, or one followed by a digit or a point, is in the number; one followed by letters is a unit.
    let in_number =
        after.is_none_or(|c| c.is_ascii_digit() || matches!(c, '.' | ',' | ' ' | '/') || is_round_or_straight(c));
    let (what, instead) = match first {
        'O' | 'o' | 'Ο' | 'ο' | 'О' | 'о' if in_number => ("letter O", "the digit 0"),
        'l' | 'I' | '|' | 'І' if in_number => ("letter l or I", "the digit 1"),
        c if !c.is_ascii() && c.is_numeric() => ("digit of another script", "the digits 0 to 9"),
        _ => return None,
    };
    let problem = Problem::LookAlike { found: clip(&first.to_string()), what: what.to_owned() };
    Some(Refused::new(problem, at..at + first.len_utf8(), format!("write {instead}")))
}

const fn is_round_or_straight(c: char) -> bool {
    matches!(c, 'O' | 'o' | 'l' | 'I')
}

#[cfg(test)]
#[path = "number_tests.rs"]
mod tests;
