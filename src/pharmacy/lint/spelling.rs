//! How numbers and units are spelled: a text of a file in, the same value as people must read it out, never another value.

use std::borrow::Cow;
use std::ops::Range;

use crate::document::{Node, Path, Typed, Value};
use crate::quantity::{Unit, grouped};

/// Every field of a formulary that holds a number with its unit, a unit or a number: the rest is words.
pub const QUANTITIES: &[&str] = &[
    "from",
    "to",
    "soft",
    "hard",
    "dose_unit",
    "amount",
    "volume",
    "of",
    "holds",
    "times",
    "ampoules",
    "time",
    "size",
    "usable",
    "stays_behind",
    "length",
    "priming_volume",
    "smallest_rate",
    "largest_rate",
    "up_to",
    "step",
    "bolus_rate",
    "note_above",
    "justify_above",
    "smallest_drawn_up",
    "slow_arrival",
    "late_alarm",
    "next_syringe_times",
    "per_kg_recipe_within",
    "review_near",
    "unstarted_entry_expires",
];

/// Measured on equipment, where `0.60 mL` says how well: the only fields in which a zero may end a number.
const MEASURED: &[&str] = &["stays_behind", "priming_volume", "length"];

/// Under these keys people write words, and name things as they like. Ages have words of their own.
const NO_QUANTITIES: &[&str] = &["sources", "accepted", "age"];

/// What a text holds that is spelled otherwise than people must read it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Slip {
    /// `5.0`: read as 50 where the point is overlooked.
    TrailingZero,
    /// `.5`: read as 5 where the point is overlooked.
    LeadingPoint,
    /// `10000`, or `1 000`.
    Grouping,
    /// `µg`, `ng`: misread too often (ISMP).
    ErrorProne,
    /// `ml`, `hr`: understood, and written otherwise everywhere else.
    Unit,
}

/// A text as it should be written, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Respelled {
    pub(super) text: String,
    pub(super) slips: Vec<Slip>,
}

/// A text that holds a quantity.
pub(super) struct Written<'w> {
    pub(super) path: Path<'w>,
    pub(super) text: &'w str,
    node: &'w Node<'w>,
    is_measured: bool,
}

impl Written<'_> {
    /// Its bytes in the file, without quotes; nothing where it is written with escapes.
    pub(super) fn range(&self) -> Option<Range<usize>> {
        let in_place = matches!(self.node.value, Value::Text(Cow::Borrowed(_)));
        Typed::of(self.node).filter(|_| in_place).map(|typed| typed.place(&(0..self.text.len())))
    }

    /// As it should be written.
    pub(super) fn respelled(&self) -> Option<Respelled> {
        respelled(self.text, self.is_measured)
    }
}

/// Every text of a file that holds a quantity, in its order.
pub(super) fn each_quantity(root: &Node<'_>, see: &mut impl FnMut(&Written<'_>)) {
    walk(root, Path::Root, see);
}

fn walk(node: &Node<'_>, path: Path<'_>, see: &mut impl FnMut(&Written<'_>)) {
    match &node.value {
        Value::List(nodes) => nodes.iter().enumerate().for_each(|(at, node)| walk(node, path.item(at), see)),
        Value::Map(members) => {
            let parent = match path {
                Path::Field(_, key) => key,
                Path::Root | Path::Item(..) => "",
            };
            for member in members.iter().filter(|member| !NO_QUANTITIES.contains(&&*member.key)) {
                let path = path.field(&member.key);
                match &member.node.value {
                    Value::Text(text) if is_quantity(parent, &member.key) => {
                        see(&Written { path, text, node: &member.node, is_measured: MEASURED.contains(&&*member.key) })
                    }
                    _ => walk(&member.node, path, see),
                }
            }
        }
        Value::Text(_) | Value::Nothing | Value::Bare => {}
    }
}

/// Elsewhere than in a recipe, `of` may be followed by words.
fn is_quantity(parent: &str, key: &str) -> bool {
    QUANTITIES.contains(&key) && (key != "of" || parent == "recipe")
}

/// The text as it should be written; nothing where it is, or where its spelling has more than one reading.
pub(super) fn respelled(text: &str, is_measured: bool) -> Option<Respelled> {
    let mut slips = Vec::new();
    let mut mended: Vec<Cow<'_, str>> = Vec::new();
    let mut follows_a_number = false;
    for (number, token) in tokens(text).enumerate() {
        let before = slips.len();
        match token {
            // Mended, two numbers side by side would read as one.
            Token::Number(_) if follows_a_number => return None,
            Token::Other(other) if other.trim().is_empty() => {}
            _ => follows_a_number = matches!(token, Token::Number(_)),
        }
        let written = match token {
            Token::Number(number) => number_respelled(number, is_measured, &mut slips)?,
            Token::Word(word) => unit_respelled(word, &mut slips).unwrap_or(word).into(),
            Token::Other(other) => other.into(),
        };
        // Nearly every text is right: nothing is put together for it.
        if mended.is_empty() && slips.len() > before {
            mended.extend(tokens(text).take(number).map(Token::text));
        }
        if !slips.is_empty() {
            mended.push(written);
        }
    }
    (!slips.is_empty()).then(|| Respelled { text: mended.concat(), slips })
}

/// Whether two texts hold the same numbers and the same units: read apart from the way in which [`respelled`] writes.
pub(super) fn is_same_value(one: &str, other: &str) -> bool {
    fn meaning(text: &str) -> Option<Vec<Meaning<'_>>> {
        tokens(text)
            .filter(|token| !matches!(token, Token::Other(other) if other.trim().is_empty()))
            .map(|token| match token {
                Token::Number(number) => decimal(number).map(|(digits, tens)| Meaning::Number(digits, tens)),
                Token::Word(word) => Some(Unit::spelled(word).map_or(Meaning::Text(word), Meaning::Unit)),
                Token::Other(other) => Some(Meaning::Text(other.trim())),
            })
            .collect()
    }
    let (one, other) = (meaning(one), meaning(other));
    one.is_some() && one == other
}

#[derive(PartialEq, Eq)]
enum Meaning<'t> {
    /// Significant digits without zeros at either end, and the power of ten that goes with them.
    Number(String, i64),
    Unit(Unit),
    Text(&'t str),
}

/// The value of a number as it stands, whatever its form.
fn decimal(number: &str) -> Option<(String, i64)> {
    let plain: String = number.chars().filter(|c| *c != ' ').collect();
    let (whole, fraction) = plain.split_once('.').unwrap_or((&plain, ""));
    if fraction.contains('.') || (whole.is_empty() && fraction.is_empty()) {
        return None;
    }
    let all = format!("{whole}{fraction}");
    let kept = all.trim_end_matches('0');
    let zeros = i64::try_from(all.len() - kept.len()).ok()?;
    let tens = zeros - i64::try_from(fraction.len()).ok()?;
    let digits = kept.trim_start_matches('0');
    Some((digits.to_owned(), if digits.is_empty() { 0 } else { tens }))
}

#[derive(Clone, Copy)]
enum Token<'t> {
    /// Digits with points, and the spaces between groups of three.
    Number(&'t str),
    /// What is neither a number nor a sign: a unit, if it is spelled as one.
    Word(&'t str),
    /// Spaces, `/`, `:`, `%`.
    Other(&'t str),
}

impl<'t> Token<'t> {
    fn text(self) -> Cow<'t, str> {
        let (Self::Number(text) | Self::Word(text) | Self::Other(text)) = self;
        text.into()
    }
}

fn tokens(text: &str) -> impl Iterator<Item = Token<'_>> {
    let mut rest = text;
    std::iter::from_fn(move || {
        let first = rest.chars().next()?;
        let is_sign = |c: char| c.is_whitespace() || matches!(c, '/' | ':' | '%');
        let is_number = first.is_ascii_digit() || first == '.';
        let end = if is_number {
            number_end(rest)
        } else if is_sign(first) {
            rest.find(|c| !is_sign(c)).unwrap_or(rest.len())
        } else {
            rest.find(is_sign).unwrap_or(rest.len())
        };
        let (token, after) = rest.split_at(end);
        rest = after;
        Some(match token {
            _ if is_number => Token::Number(token),
            _ if is_sign(first) => Token::Other(token),
            _ => Token::Word(token),
        })
    })
}

fn number_end(text: &str) -> usize {
    let bytes = text.as_bytes();
    let mut end = 0;
    loop {
        match bytes.get(end) {
            Some(b'0'..=b'9' | b'.') => end += 1,
            Some(b' ') if bytes.get(end + 1).is_some_and(u8::is_ascii_digit) => end += 1,
            _ => return end,
        }
    }
}

/// Nothing where the number can be read in more than one way.
fn number_respelled<'t>(number: &'t str, is_measured: bool, slips: &mut Vec<Slip>) -> Option<Cow<'t, str>> {
    let (whole, fraction) = match number.split_once('.') {
        Some((whole, fraction)) => (whole, Some(fraction)),
        None => (number, None),
    };
    let spaced = whole.contains(' ');
    let is_odd = fraction.is_some_and(|digits| digits.is_empty() || digits.contains(['.', ' ']))
        || (whole.len() > 1 && whole.starts_with('0'))
        || (spaced && !is_grouped_by_threes(whole));
    if is_odd {
        return None;
    }
    let joined: Cow<'_, str> =
        if spaced { whole.chars().filter(|c| *c != ' ').collect::<String>().into() } else { whole.into() };
    let mut written: Cow<'_, str> = if whole.is_empty() {
        slips.push(Slip::LeadingPoint);
        "0".into()
    } else if spaced != (joined.len() > 4) {
        slips.push(Slip::Grouping);
        grouped(&joined).into()
    } else {
        whole.into()
    };
    let Some(fraction) = fraction else { return Some(written) };
    let mut kept = fraction;
    if fraction.ends_with('0') && !is_measured {
        slips.push(Slip::TrailingZero);
        kept = fraction.trim_end_matches('0');
    } else if matches!(written, Cow::Borrowed(same) if same == whole) {
        return Some(number.into());
    }
    if !kept.is_empty() {
        let text = written.to_mut();
        text.push('.');
        text.push_str(kept);
    }
    Some(written)
}

fn is_grouped_by_threes(whole: &str) -> bool {
    let mut groups = whole.split(' ');
    groups.next().is_some_and(|first| (1..=3).contains(&first.len())) && groups.all(|group| group.len() == 3)
}

/// Also right: one of a thing, a word in full, and what people say for a day.
const LEFT_ALONE: &[&str] = &["unit", "milliunit", "microgram", "micrograms", "nanograms", "days"];
/// Spellings that the ISMP list of error-prone abbreviations names, or that are a mu in other clothes; and the litre that
/// is read as a 1.
const ERROR_PRONE: &[&str] = &["µg", "μg", "ug", "ng", "µL", "μL", "uL", "µmol", "μmol", "umol", "l"];

fn unit_respelled(word: &str, slips: &mut Vec<Slip>) -> Option<&'static str> {
    let shown = Unit::spelled(word)?.shown();
    if word == shown || LEFT_ALONE.contains(&word) {
        return None;
    }
    slips.push(if ERROR_PRONE.contains(&word) { Slip::ErrorProne } else { Slip::Unit });
    Some(shown)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use rstest::rstest;

    use super::{is_same_value, respelled};
    use crate::quantity::{DoseRate, Quantity, Strength, Volume};

    #[rstest]
    #[case("50 ml", "50 mL")]
    #[case("50.0 mL", "50 mL")]
    #[case(".5 mcg/kg/min", "0.5 mcg/kg/min")]
    #[case("0.50 µg/kg/hr", "0.5 mcg/kg/h")]
    #[case("5.0 mg", "5 mg")]
    #[case("10000 units", "10 000 units")]
    #[case("1 000 units", "1000 units")]
    #[case("12345.60 mg", "12 345.6 mg")]
    #[case("20 ng/kg/min", "20 nanogram/kg/min")]
    #[case("1 mg in 10 ml", "1 mg in 10 mL")]
    #[case("4mg/50ml", "4mg/50mL")]
    #[case("1:10000", "1:10 000")]
    #[case("100 m[IU] per min", "100 milliunits per min")]
    #[case("0.0 mL", "0 mL")]
    fn a_slip_of_spelling_is_mended(#[case] text: &str, #[case] mended: &str) {
        let found = respelled(text, false).expect("it is spelled otherwise");
        assert_eq!(found.text, mended);
        assert!(is_same_value(text, mended));
    }

    #[rstest]
    #[case("50 mL")]
    #[case("0.05 mcg/kg/min")]
    #[case("10 000 units")]
    #[case("1 unit/h")]
    #[case("60 days")]
    #[case("5 microgram/min")]
    #[case("1:1000")]
    // More than one reading: these are for a person.
    #[case("05.0 mg")]
    #[case("5. mg")]
    #[case("1.000.0 mg")]
    #[case("10 00 mL")]
    #[case("0.02 .1 mcg/kg/min")]
    #[case("1,50 mg")]
    #[case("5 MG")]
    #[case("5 U")]
    #[case("")]
    fn what_is_right_or_doubtful_is_left_alone(#[case] text: &str) {
        assert_eq!(respelled(text, false), None);
    }

    #[test]
    fn a_measurement_may_end_with_a_zero() {
        assert_eq!(respelled("0.60 mL", true), None);
        assert_eq!(respelled("0.60 ml", true).map(|found| found.text).as_deref(), Some("0.60 mL"));
    }

    #[rstest]
    #[case("5.0 mg", "50 mg")]
    #[case(".5 mg", "5 mg")]
    #[case("5 mcg", "5 mg")]
    #[case("1 mg/h", "1 mg/min")]
    #[case("1 mg/kg/h", "1 mg/h")]
    #[case("1 000 mg", "1 mg")]
    #[case("0.50 mg", "0.05 mg")]
    #[case("5. mg x", "5 mg")]
    fn another_value_is_told_from_another_spelling(#[case] text: &str, #[case] other: &str) {
        assert!(!is_same_value(text, other));
    }

    proptest! {
        #[test]
        fn no_mend_changes_a_value(
            number in "[0-9]{0,6}(\\.[0-9]{0,5})?",
            unit in prop::sample::select(vec!["ml", "mL", "l", "µL"]),
        ) {
            let text = format!("{number} {unit}");
            let Some(found) = respelled(&text, false) else { return Ok(()) };
            prop_assert!(is_same_value(&text, &found.text));
            if let (Ok(before), Ok(after)) = (Quantity::<Volume>::parse(&text), Quantity::<Volume>::parse(&found.text)) {
                prop_assert_eq!(before, after);
            }
            // Mended once, mended for good.
            prop_assert_eq!(respelled(&found.text, false), None);
        }

        #[test]
        fn any_text_is_looked_at(text in "\\PC{0,24}", measured in any::<bool>()) {
            if let Some(found) = respelled(&text, measured) {
                prop_assert!(is_same_value(&text, &found.text), "{text} {}", found.text);
            }
        }

        #[test]
        fn a_mended_dose_reads_as_before(whole in 0_u32..2_000_000, fraction in "[0-9]{0,3}", unit in prop::sample::select(vec!["ug/kg/min", "ng/kg/hr", "mg/h", "[IU]/min"])) {
            let text = if fraction.is_empty() { format!("{whole} {unit}") } else { format!("{whole}.{fraction} {unit}") };
            let Some(found) = respelled(&text, false) else { return Ok(()) };
            if let Ok(before) = DoseRate::parse(&text) {
                prop_assert_eq!(DoseRate::parse(&found.text), Ok(before));
            }
            let strength = format!("{whole} ug in 50 ml");
            if let (Ok(before), Some(found)) = (Strength::parse(&strength), respelled(&strength, false)) {
                prop_assert_eq!(Strength::parse(&found.text), Ok(before));
            }
        }
    }
}
