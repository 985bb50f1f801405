//! What is refused and what is read, as the writing rules have it.

use super::*;
use proptest::prelude::*;
use rstest::rstest;

// Wording rules: ISMP list of error-prone abbreviations, symbols and dose designations; ISO 80000-1 for grouping.
#[rstest]
#[case(".5", "number-leading-point", "write 0.5")]
#[case("5.0", "number-trailing-zero", "write 5")]
#[case("0.10", "number-trailing-zero", "write 0.1")]
#[case("5.", "number-trailing-point", "write 5")]
#[case("5..0", "number-two-points", "write one point")]
#[case("1.2.3", "number-two-points", "write one point")]
#[case("1,5", "number-comma", NO_COMMA)]
#[case("0,5", "number-comma", NO_COMMA)]
#[case("1,000", "number-comma", NO_COMMA)]
#[case(",5", "number-comma", NO_COMMA)]
#[case("1,50", "number-comma", NO_COMMA)]
#[case("1,234.5", "number-comma", NO_COMMA)]
#[case("1,234,567", "number-comma", NO_COMMA)]
#[case("007", "number-leading-zero", "write 7")]
#[case("10.0", "number-trailing-zero", "write 10")]
#[case("10.50", "number-trailing-zero", "write 10.5")]
#[case("1 000", "number-grouped-too-short", "write 1000: only five digits and more are grouped")]
#[case("1 234.5", "number-grouped-too-short", "write 1234.5: only five digits and more are grouped")]
#[case("10 00.5", "number-grouping", "write 1000.5 without spaces, or grouped by threes from the right")]
#[case("12 345.6.7", "number-two-points", "write one point")]
#[case("0.00000000123456789", "number-too-many-digits", "write at most 8 significant digits")]
#[case("10 00", "number-grouping", "write 1000 without spaces, or grouped by threes from the right")]
#[case("1000 000", "number-grouping", "write 1000000 without spaces, or grouped by threes from the right")]
#[case("1_000", "number-grouping", "write the digits together, or grouped by threes with a space from five digits on")]
#[case("1e3", "number-exponent", "write the number out in full")]
#[case("+5", "number-sign", "write the number without a sign")]
#[case("-5", "number-sign", "write the number without a sign")]
#[case("−5", "number-sign", "write the number without a sign")]
#[case("5-10", "number-sign", "write one number without a sign; a range is two entries, from and to")]
#[case("O.5", "number-look-alike", "write the digit 0")]
#[case("l0", "number-look-alike", "write the digit 1")]
#[case("1O", "number-look-alike", "write the digit 0")]
#[case("0.O5", "number-look-alike", "write the digit 0")]
#[case("5l", "two-readings", "write the digit 1, or a space and L")]
#[case("٥", "number-look-alike", "write the digits 0 to 9")]
#[case("1２", "number-look-alike", "write the digits 0 to 9")]
#[case("05", "number-leading-zero", "write 5")]
#[case("00.5", "number-leading-zero", "write 0.5")]
#[case("0", "number-zero", "write a number above zero, or leave the field out")]
#[case("0.123456789012", "number-too-many-digits", "write at most 9 significant digits")]
#[case("1000000001", "number-too-many-digits", "write at most 9 significant digits")]
#[case("10000000000", "number-out-of-range", "write it in a larger or smaller unit, and look at it again")]
#[case("0.0000000001", "number-out-of-range", "write it in a larger or smaller unit, and look at it again")]
#[case("", "quantity-empty", "write a number and its unit, for example 0.5 mg")]
#[case("mg", "number-missing", "write the number first, then a space and the unit")]
#[case("é5", "number-missing", "write the number first, then a space and the unit")]
fn what_is_misread_is_refused_with_the_mend(#[case] text: &str, #[case] code: &str, #[case] help: &str) {
    let refused = Number::parse(text, NumberForm::Dose).expect_err("refused");
    assert_eq!((refused.problem.code(), refused.help.as_str()), (code, help), "{refused}");
    assert!(text.get(refused.range.clone()).is_some(), "the place {:?} is in {text:?}", refused.range);
}

#[rstest]
#[case("0.5", NumberForm::Dose, "0.5")]
#[case("1000", NumberForm::Dose, "1000")]
#[case("10 000", NumberForm::Dose, "10000")]
#[case("10\u{202f}000", NumberForm::Dose, "10000")]
#[case("1 000 000", NumberForm::Dose, "1000000")]
#[case("12 345.678", NumberForm::Dose, "12345.678")]
#[case("75900000", NumberForm::Dose, "75900000")]
#[case("0.0000000012345", NumberForm::Dose, "0.0000000012345")]
#[case("5.0", NumberForm::Measured, "5")]
#[case("84.20", NumberForm::Measured, "84.2")]
#[case("0", NumberForm::MeasuredOrZero, "0")]
#[case("12.0833333333", NumberForm::Computed, "12.0833333333")]
fn what_is_clear_is_read(#[case] text: &str, #[case] form: NumberForm, #[case] shown: &str) {
    assert_eq!(Number::parse(text, form).map(|n| n.to_string()), Ok(shown.to_owned()));
}

#[rstest]
#[case("0.25", 0, (1, 4))]
#[case("0.25", 1, (5, 2))]
#[case("0.25", 2, (25, 1))]
#[case("0.25", 3, (250, 1))]
#[case("40", -2, (2, 5))]
#[case("40", 2, (4000, 1))]
fn a_power_of_ten_moves_the_point(#[case] text: &str, #[case] tens: i32, #[case] expected: (u128, u128)) {
    let moved = Number::parse(text, NumberForm::Dose).expect("a number").times_ten_to(tens);
    assert_eq!((moved.numerator(), moved.denominator()), expected);
}

#[rstest]
#[case("5..0 mg", "number-two-points", 0..4)]
#[case("1.2.3 mg", "number-two-points", 0..5)]
#[case("5. mg", "number-trailing-point", 0..2)]
#[case("25.O5 mg", "number-look-alike", 3..4)]
#[case("12O mg", "number-look-alike", 2..3)]
#[case("12_000 mg", "number-grouping", 2..3)]
#[case("12'000 mg", "number-grouping", 2..3)]
#[case("12’000 mg", "number-grouping", 2..5)]
#[case("15-20 mg", "number-sign", 2..3)]
#[case("15–20 mg", "number-sign", 2..5)]
#[case("15+20 mg", "number-sign", 2..3)]
#[case("10e3/mL", "number-exponent", 0..4)]
#[case("10e3 mg", "number-exponent", 0..4)]
#[case("10E3 mg", "number-exponent", 0..4)]
#[case("10e+3 mg", "number-exponent", 0..5)]
#[case("10e-3 mg", "number-exponent", 0..5)]
#[case("5eq", "quantity-trailing", 1..3)]
#[case("5 e3", "quantity-trailing", 1..4)]
#[case("5litre", "quantity-trailing", 1..6)]
#[case("5L", "quantity-trailing", 1..2)]
#[case("25l", "two-readings", 2..3)]
#[case("25l mg", "two-readings", 2..3)]
#[case("25%", "quantity-trailing", 2..3)]
#[case("25/h", "quantity-trailing", 2..4)]
#[case("25:1", "quantity-trailing", 2..4)]
#[case("5 mg ", "quantity-trailing", 1..4)]
#[case("1,5 mg", "number-comma", 0..3)]
#[case("1,234.5 mg", "number-comma", 0..7)]
#[case("1,234,567 mg", "number-comma", 0..9)]
#[case("1 000 mg", "number-grouped-too-short", 0..5)]
#[case("1 000.5 mg", "number-grouped-too-short", 0..7)]
#[case("10 00 mg", "number-grouping", 0..5)]
#[case("10 000 5 mg", "number-grouping", 0..8)]
#[case("1000 000 mg", "number-grouping", 0..8)]
#[case("10 0000 mg", "number-grouping", 0..7)]
#[case(".5 mg", "number-leading-point", 0..2)]
#[case(",25 mg", "number-comma", 0..3)]
#[case(".x mg", "number-missing", 0..2)]
#[case("+5 mg", "number-sign", 0..1)]
#[case("−5 mg", "number-sign", 0..3)]
#[case("mg 5", "number-missing", 0..2)]
#[case("05 mg", "number-leading-zero", 0..2)]
#[case("5.0 mg", "number-trailing-zero", 0..3)]
#[case("0 mg", "number-zero", 0..1)]
#[case("12345678912 mg", "number-too-many-digits", 0..11)]
#[case("90000000000 mg", "number-out-of-range", 0..11)]
#[case("O", "number-look-alike", 0..1)]
#[case("O5", "number-look-alike", 0..1)]
#[case("o,5", "number-look-alike", 0..1)]
#[case("l mg", "number-look-alike", 0..1)]
#[case("|/h", "number-look-alike", 0..1)]
#[case("Il", "number-look-alike", 0..1)]
#[case("lI", "number-look-alike", 0..1)]
#[case("OO", "number-look-alike", 0..1)]
#[case("Io", "number-look-alike", 0..1)]
#[case("Oxytocin", "number-missing", 0..8)]
#[case("litre", "number-missing", 0..5)]
#[case("٥ mg", "number-look-alike", 0..2)]
fn the_place_that_is_at_fault_is_told(#[case] text: &str, #[case] code: &str, #[case] range: std::ops::Range<usize>) {
    let refused = Number::parse(text, NumberForm::Dose).expect_err("refused");
    assert_eq!((refused.problem.code(), refused.range), (code, range), "{}", refused.problem);
}

// The ends of what is kept: nine significant digits, twelve of a number that was printed, 10^-9 to 10^9.
#[rstest]
#[case("123456789", NumberForm::Dose, Ok("123456789"))]
#[case("1234567891", NumberForm::Dose, Err("number-too-many-digits"))]
#[case("0.123456789", NumberForm::Dose, Ok("0.123456789"))]
#[case("0.1234567891", NumberForm::Dose, Err("number-too-many-digits"))]
#[case("12345.6789", NumberForm::Dose, Ok("12345.6789"))]
#[case("12345.67891", NumberForm::Dose, Err("number-too-many-digits"))]
#[case("1.00000000", NumberForm::Measured, Ok("1"))]
#[case("1.000000000", NumberForm::Measured, Err("number-too-many-digits"))]
#[case("10.50", NumberForm::Measured, Ok("10.5"))]
#[case("1000000000", NumberForm::Dose, Ok("1000000000"))]
#[case("1010000000", NumberForm::Dose, Err("number-out-of-range"))]
#[case("1000000000.5", NumberForm::Computed, Ok("1000000000.5"))]
#[case("0.000000001", NumberForm::Dose, Ok("0.000000001"))]
#[case("0.0000000009", NumberForm::Dose, Err("number-out-of-range"))]
#[case("0.0000000009", NumberForm::Computed, Ok("0.0000000009"))]
#[case("0.0000000012345678", NumberForm::Dose, Ok("0.0000000012345678"))]
#[case("0.00000000123456789", NumberForm::Computed, Ok("0.00000000123456789"))]
#[case("999999999999", NumberForm::Computed, Ok("999999999999"))]
#[case("9999999999991", NumberForm::Computed, Err("number-too-many-digits"))]
#[case("100000000000000", NumberForm::Computed, Ok("100000000000000"))]
#[case("1000000000000000", NumberForm::Computed, Err("number-out-of-range"))]
#[case("0.000000000000000000001", NumberForm::Computed, Ok("0.000000000000000000001"))]
#[case("0.0000000000000000000001", NumberForm::Computed, Err("number-out-of-range"))]
#[case("0.0", NumberForm::MeasuredOrZero, Ok("0"))]
#[case("0.0", NumberForm::Measured, Err("number-zero"))]
#[case("0.0", NumberForm::Dose, Err("number-trailing-zero"))]
#[case("0.000000000", NumberForm::MeasuredOrZero, Ok("0"))]
#[case("0.0000000000", NumberForm::MeasuredOrZero, Err("number-too-many-digits"))]
#[case("0", NumberForm::Computed, Err("number-zero"))]
#[case("123\u{a0}456", NumberForm::Dose, Ok("123456"))]
#[case("123\u{2009}456.75", NumberForm::Dose, Ok("123456.75"))]
#[case("10.05", NumberForm::Dose, Ok("10.05"))]
#[case("100.010", NumberForm::Measured, Ok("100.01"))]
fn numbers_end_somewhere(#[case] text: &str, #[case] form: NumberForm, #[case] read: Result<&str, &str>) {
    let found = Number::parse(text, form).map(|number| number.to_string()).map_err(|refused| refused.problem.code());
    assert_eq!(found.as_deref().map_err(|code| *code), read);
}

// What is plain is not read the careful way; what is not so plain is.
#[rstest]
#[case("5", Some((5, 0, 1)))]
#[case("10", Some((1, 1, 2)))]
#[case("84.2 kg", Some((842, -1, 4)))]
#[case("0.05 mcg/kg/min", Some((5, -2, 4)))]
#[case("100 mL", Some((1, 2, 3)))]
#[case("123456789", Some((123_456_789, 0, 9)))]
#[case("12345.6789 mg", Some((123_456_789, -4, 10)))]
#[case("1234567891", None)]
#[case("12345.67891", None)]
#[case("0", None)]
#[case("0.0", None)]
#[case("05", None)]
#[case("00.5", None)]
#[case("5.0", None)]
#[case("5.", None)]
#[case(".5", None)]
#[case("1.2.3", None)]
#[case("10 000", None)]
#[case("5mg", None)]
#[case("", None)]
fn nearly_every_number_goes_the_short_way(#[case] text: &str, #[case] read: Option<(u64, i32, usize)>) {
    let found = plain_at_start(text).map(|(number, end)| (number.digits, number.tens, end));
    assert_eq!(found, read);
}

#[test]
fn numbers_are_ordered_by_their_value() {
    let read = |text: &str| Number::parse(text, NumberForm::MeasuredOrZero).expect("a number");
    let rising = ["0", "0.05", "0.06", "0.5", "2", "5", "12", "60", "500"].map(read);
    assert!(rising.is_sorted_by(|one, other| one < other));
    assert!(read("5").is_zero() != read("0").is_zero() && read("0").is_zero());
    assert!(read("500").approximate() == 500.0 && read("0.05").approximate() == 0.05 && read("7").approximate() == 7.0);
}

#[test]
fn a_million_digits_get_one_short_message() {
    let refused = Number::parse(&"7".repeat(1_000_000), NumberForm::Dose).expect_err("refused");
    assert_eq!(refused.problem.code(), "number-too-many-digits");
    assert!(refused.to_string().len() < 200);
}

proptest! {
    #[test]
    fn the_short_way_reads_what_the_careful_way_reads(text in "[0-9. ]{0,12}( mg)?") {
        if let Some((number, end)) = plain_at_start(&text) {
            for form in [NumberForm::Dose, NumberForm::Measured, NumberForm::MeasuredOrZero, NumberForm::Computed] {
                let careful = Written::scan(&text).and_then(|written| Ok((written.number(form)?, written.end)));
                prop_assert_eq!(careful, Ok((number, end)), "{}", text);
            }
        }
    }

    #[test]
    fn no_text_makes_it_panic(text in any::<String>()) {
        for form in [NumberForm::Dose, NumberForm::Measured, NumberForm::MeasuredOrZero, NumberForm::Computed] {
            if let Err(refused) = Number::parse(&text, form) {
                prop_assert!(text.get(refused.range).is_some());
            }
        }
    }

    #[test]
    fn nearly_numbers_do_not_make_it_panic(text in "[0-9.,lOe +\u{2009}-]{0,24}") {
        let _ = Number::parse(&text, NumberForm::Measured);
    }

    #[test]
    fn shown_and_read_again_it_is_the_same(digits in 1..=999_999_999_u64, scale in 0..=16_u32) {
        let text = Decimal::new(i64::try_from(digits).expect("nine digits"), scale).normalize().to_string();
        if let Ok(number) = Number::parse(&text, NumberForm::Dose) {
            prop_assert_eq!(number.to_string(), text.clone());
            prop_assert_eq!(Number::parse(&number.to_string(), NumberForm::Dose), Ok(number));
            prop_assert_eq!(number.ratio(), Ratio::new(digits.into(), 10_u128.pow(scale)).expect("small"));
        } else {
            let value = Decimal::new(i64::try_from(digits).expect("nine digits"), scale);
            prop_assert!(value < Decimal::new(1, 9), "only its size may refuse {}", text);
        }
    }
}
