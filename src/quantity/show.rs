//! The writing rules for numbers that people read: leading zero, no trailing zero, five digits and more grouped by
//! threes with a space, a number that does not end at four significant digits with the sign for "about".

use std::fmt::Write as _;

use super::Ratio;

/// The value to at most `most` significant digits, halves away from zero, without trailing zeros; and whether that is
/// the exact value.
#[must_use]
pub fn significant(value: Ratio, most: usize) -> (String, bool) {
    let (whole, mut rest) = (value.numerator() / value.denominator(), value.numerator() % value.denominator());
    let whole_digits = if whole == 0 { 0 } else { whole.to_string().len() };
    if whole_digits > most {
        return rounded_whole(value, whole_digits - most);
    }
    // Digits after the point, by long division; the denominator is at most 10^37, so ten times the rest fits.
    let mut digits: Vec<u8> = Vec::new();
    let mut kept = whole_digits;
    while rest != 0 && kept < most {
        rest *= 10;
        let digit = u8::try_from(rest / value.denominator()).unwrap_or(9);
        rest %= value.denominator();
        if kept > 0 || digit > 0 {
            kept += 1;
        }
        digits.push(digit);
    }
    let exact = rest == 0;
    let up = !exact && rest >= value.denominator() - rest;
    let whole = if up && carry(&mut digits) { whole + 1 } else { whole };
    while digits.last() == Some(&0) {
        digits.pop();
    }
    let mut shown = whole.to_string();
    if !digits.is_empty() {
        shown.push('.');
        shown.extend(digits.iter().map(|digit| char::from(b'0' + digit)));
    }
    (shown, exact)
}

/// To twelve significant digits, ungrouped: what machines read and `--rate` takes back.
#[must_use]
pub fn plain(value: Ratio) -> String {
    significant(value, 12).0
}

/// Exact where it ends within nine significant digits; else four, with the sign for "about".
#[must_use]
pub fn exact_or_about(value: Ratio) -> String {
    let (shown, exact) = significant(value, 9);
    if exact { grouped(&shown) } else { about(value) }
}

/// A percentage to two significant digits; the sign for "about" where they are not exact.
#[must_use]
pub fn percent(value: Ratio) -> String {
    let (shown, exact) = significant(value, 2);
    if exact { format!("{shown} %") } else { format!("≈ {shown} %") }
}

/// Four significant digits; the sign for "about" where they are not exact.
#[must_use]
pub fn about(value: Ratio) -> String {
    let (shown, exact) = significant(value, 4);
    if exact { grouped(&shown) } else { format!("≈ {}", grouped(&shown)) }
}

/// The digits before the point grouped by threes with a space, from five digits on (ISO 80000-1).
#[must_use]
pub fn grouped(plain: &str) -> String {
    let whole = plain.find('.').unwrap_or(plain.len());
    if whole < 5 {
        return plain.to_owned();
    }
    let mut shown = String::with_capacity(plain.len() + whole / 3);
    for (index, digit) in plain[..whole].char_indices() {
        if index > 0 && (whole - index).is_multiple_of(3) {
            shown.push(' ');
        }
        shown.push(digit);
    }
    shown.push_str(&plain[whole..]);
    shown
}

/// A time in hours as hours and whole minutes, `9 h 24 min`, rounded down: a syringe is never said to last longer than
/// it does. Under half an hour with seconds.
#[must_use]
pub fn duration(hours: Ratio) -> String {
    let seconds = hours.numerator().saturating_mul(3600) / hours.denominator();
    let (h, min, s) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
    let mut shown = String::new();
    let parts = match (h, min, s) {
        (0, 0..30, s) => [(0, "h"), (min, "min"), (s, "s")],
        _ => [(h, "h"), (min, "min"), (0, "s")],
    };
    for (count, unit) in parts.into_iter().filter(|(count, _)| *count > 0) {
        let space = if shown.is_empty() { "" } else { " " };
        let _ = write!(shown, "{space}{} {unit}", grouped(&count.to_string()));
    }
    if shown.is_empty() { "0 s".to_owned() } else { shown }
}

/// Adds one to the last digit; true when the carry leaves the fraction.
fn carry(digits: &mut [u8]) -> bool {
    for digit in digits.iter_mut().rev() {
        if *digit < 9 {
            *digit += 1;
            return false;
        }
        *digit = 0;
    }
    true
}

fn rounded_whole(value: Ratio, zeros: usize) -> (String, bool) {
    let power = 10_u128.pow(u32::try_from(zeros).unwrap_or(u32::MAX).min(37));
    let exact = value.denominator() == 1 && value.numerator().is_multiple_of(power);
    match Ratio::new(power, 1).and_then(|step| value.to_nearest(step)) {
        Ok(rounded) => (rounded.numerator().to_string(), exact),
        Err(_) => (value.rounded().to_string(), false),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rstest::rstest;

    fn ratio(n: u128, d: u128) -> Ratio {
        Ratio::new(n, d).expect("small parts")
    }

    #[rstest]
    #[case(18, 5, "3.6")]
    #[case(1, 3, "≈ 0.3333")]
    #[case(2, 3, "≈ 0.6667")]
    #[case(1, 2, "0.5")]
    #[case(100_000, 1, "100 000")]
    #[case(9999, 1, "9999")]
    #[case(12_345_678, 1000, "12 345.678")]
    #[case(99_999_999, 3, "33 333 333")]
    #[case(299_999, 3, "≈ 100 000")]
    fn numbers_are_written_as_people_must_read_them(#[case] n: u128, #[case] d: u128, #[case] shown: &str) {
        assert_eq!(exact_or_about(ratio(n, d)), shown);
    }

    #[rstest]
    #[case(10375, 861, "12.049941928")]
    #[case(2, 3, "0.666666666667")]
    #[case(9_999_999_999_999, 10, "1000000000000")]
    #[case(1, 1, "1")]
    fn machines_get_twelve_digits(#[case] n: u128, #[case] d: u128, #[case] shown: &str) {
        assert_eq!(plain(ratio(n, d)), shown);
    }

    #[rstest]
    #[case(12_345, 1, 4, "12350", false)]
    #[case(12_340, 1, 4, "12340", true)]
    #[case(123_449, 10, 4, "12340", false)]
    #[case(9996, 1, 3, "10000", false)]
    #[case(9996, 10_000, 3, "1", false)]
    #[case(1, 16, 2, "0.063", false)]
    #[case(1, 16, 4, "0.0625", true)]
    #[case(5, 1, 1, "5", true)]
    #[case(11, 10, 1, "1", false)]
    #[case(3, 2, 1, "2", false)]
    #[case(21, 20, 2, "1.1", false)]
    #[case(0, 1, 4, "0", true)]
    fn halves_go_away_from_zero(
        #[case] n: u128,
        #[case] d: u128,
        #[case] most: usize,
        #[case] shown: &str,
        #[case] exact: bool,
    ) {
        assert_eq!(significant(ratio(n, d), most), (shown.to_owned(), exact));
    }

    #[rstest]
    #[case("9999", "9999")]
    #[case("12345", "12 345")]
    #[case("123456", "123 456")]
    #[case("1234567.8901", "1 234 567.8901")]
    #[case("0.123456", "0.123456")]
    fn from_five_digits_on_they_are_grouped(#[case] digits: &str, #[case] shown: &str) {
        assert_eq!(grouped(digits), shown);
    }

    #[rstest]
    #[case(5, 1, "5 %")]
    #[case(1, 3, "≈ 0.33 %")]
    fn a_percentage_is_about_where_it_is_not_exact(#[case] n: u128, #[case] d: u128, #[case] shown: &str) {
        assert_eq!(percent(ratio(n, d)), shown);
    }

    #[test]
    fn what_has_no_place_is_the_nearest_whole_number() {
        let vast = ratio(10_u128.pow(37), 3);
        assert_eq!(about(vast), "≈ 3 333 000 000 000 000 000 000 000 000 000 000 000");
        assert_eq!(about(ratio(12_345, 1)), "≈ 12 350");
    }

    #[rstest]
    #[case(47, 5, "9 h 24 min")]
    #[case(25_000, 1, "25 000 h")]
    #[case(1, 2, "30 min")]
    #[case(1799, 3600, "29 min 59 s")]
    #[case(3601, 3600, "1 h")]
    #[case(3659, 3600, "1 h")]
    #[case(1, 7200, "0 s")]
    #[case(1, 60, "1 min")]
    #[case(1, 120, "30 s")]
    #[case(5, 36, "8 min 20 s")]
    #[case(1, 3, "20 min")]
    #[case(4, 1, "4 h")]
    #[case(0, 1, "0 s")]
    fn times_are_hours_and_minutes(#[case] n: u128, #[case] d: u128, #[case] shown: &str) {
        assert_eq!(duration(ratio(n, d)), shown);
    }
}
