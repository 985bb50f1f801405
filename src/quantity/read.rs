//! Splits a typed text into its number and its unit parts, and names the unit that was meant when one is misspelled.

use super::refused::{Problem, Refused, clip};
use super::{Number, NumberForm, Unit, look_alike};

/// A piece of the typed text and where it begins.
#[derive(Debug, Clone, Copy)]
pub(super) struct Piece<'t> {
    pub(super) text: &'t str,
    pub(super) at: usize,
}

impl<'t> Piece<'t> {
    /// The whole text, without the white space around it.
    pub(super) fn whole(text: &'t str) -> Self {
        Self { text, at: 0 }.trimmed()
    }

    pub(super) fn trimmed(self) -> Self {
        let text = trimmed(self.text);
        let start = if text.len() == self.text.len() { 0 } else { self.text.len() - self.text.trim_start().len() };
        Self { text, at: self.at + start }
    }

    pub(super) fn from(self, by: usize) -> Self {
        Self { text: &self.text[by..], at: self.at + by }
    }

    pub(super) fn to(self, by: usize) -> Self {
        Self { text: &self.text[..by], at: self.at }
    }

    pub(super) fn range(self) -> std::ops::Range<usize> {
        self.at..self.at + self.text.len()
    }

    pub(super) fn found(self) -> String {
        clip(self.text)
    }

    pub(super) fn refused(self, problem: Problem, help: impl Into<String>) -> Refused {
        Refused::new(problem, self.range(), help)
    }

    /// The number at the start, and what follows it.
    pub(super) fn number(self, form: NumberForm) -> Result<(Number, Self), Refused> {
        let (number, end) = Number::at_start(self.text, form).map_err(|refused| refused.moved(self.at))?;
        Ok((number, self.from(end).trimmed()))
    }

    /// Cuts at the first `/` or the word `per`: the text before, and the text after if there is any.
    pub(super) fn cut(self) -> (Self, Option<Self>) {
        let slash = self.text.bytes().position(|byte| byte == b'/').map(|at| (at, 1));
        let word = place_of(self.text, b" per ").map(|at| (at, 5));
        let first = [slash, word].into_iter().flatten().min();
        match first {
            Some((at, len)) => (self.to(at).trimmed(), Some(self.from(at + len).trimmed())),
            None => (self.trimmed(), None),
        }
    }

    /// Reads the piece as one unit.
    pub(super) fn unit(self, expected: &str) -> Result<Unit, Refused> {
        if self.text.is_empty() {
            return Err(self.refused(Problem::UnitMissing { found: String::new() }, format!("write {expected}")));
        }
        Unit::spelled(self.text).ok_or_else(|| self.not_a_unit(expected))
    }

    fn not_a_unit(self, expected: &str) -> Refused {
        let found = self.found();
        if let Some((_, why, write)) = MISREAD.iter().find(|(spelling, ..)| *spelling == self.text) {
            return self.refused(Problem::UnitMisread { found, why: (*why).to_owned() }, format!("write {write}"));
        }
        if let Some((_, one, other)) = TWO_READINGS.iter().find(|(spelling, ..)| *spelling == self.text) {
            let problem = Problem::TwoReadings { found, one: (*one).to_owned(), other: (*other).to_owned() };
            return self.refused(problem, format!("write {one}, or {other}, in full"));
        }
        let same_letters = Unit::SPELLINGS.iter().find(|(spelling, _)| spelling.eq_ignore_ascii_case(self.text));
        if let Some((_, unit)) = same_letters {
            return self.refused(Problem::UnitCase { found }, format!("write {}", unit.shown()));
        }
        let retype = look_alike::named(self.text);
        let help = match self.nearest() {
            Some(unit) => format!("{retype}did you mean {}? Write {expected}", unit.shown()),
            None => format!("{retype}write {expected}"),
        };
        self.refused(Problem::UnitUnknown { found }, help)
    }

    fn nearest(self) -> Option<Unit> {
        if self.text.len() > 20 {
            return None;
        }
        let latin = look_alike::in_latin(self.text);
        let typed = latin.as_deref().unwrap_or(self.text);
        let distance = |spelling: &str| strsim::osa_distance(spelling, typed);
        let (spelling, unit) = Unit::SPELLINGS.iter().min_by_key(|(spelling, _)| distance(spelling))?;
        let most = if self.text.chars().count() > 3 { 2 } else { 1 };
        (distance(spelling) <= most).then_some(*unit)
    }
}

/// Without the white space around it; nearly every text has none.
#[must_use]
pub fn trimmed(text: &str) -> &str {
    let visible = |byte: Option<&u8>| byte.is_some_and(u8::is_ascii_graphic);
    let bytes = text.as_bytes();
    if visible(bytes.first()) && visible(bytes.last()) { text } else { text.trim() }
}

/// Where a word stands in a short text: setting up a search costs more than looking.
pub(super) fn place_of(text: &str, word: &[u8]) -> Option<usize> {
    text.as_bytes().windows(word.len()).position(|window| window == word)
}

/// Spellings that the ISMP list names as error-prone, or that have no fixed size.
const MISREAD: &[(&str, &str, &str)] = &[
    ("U", "it is read as 0 or 4", "units"),
    ("u", "it is read as 0 or 4, and means micro elsewhere", "units"),
    ("IU", "it is read as IV or 10", "units"),
    ("iu", "it is read as IV or 10", "units"),
    ("I.U.", "it is read as IV or 10", "units"),
    ("cc", "it is read as u (units)", "mL"),
    ("ccm", "it is read as u (units)", "mL"),
    ("gm", "it is not a symbol of any unit", "g"),
    ("mgm", "it is not a symbol of any unit", "mg"),
    ("mic", "it is spoken, and no symbol of any unit", "mcg"),
    ("mics", "it is spoken, and no symbol of any unit", "mcg"),
    ("gamma", "it is not a symbol of any unit", "mcg"),
    ("γ", "it is not a symbol of any unit", "mcg"),
    ("drops", "a drop has no fixed size", "mL"),
    ("gtt", "a drop has no fixed size", "mL"),
    ("[drp]", "a drop has no fixed size", "mL"),
    ("st", "a stone is not weighed here", "kg"),
];

const TWO_READINGS: &[(&str, &str, &str)] = &[
    ("mU", "milliunits", "million units"),
    ("MU", "million units", "milliunits"),
    ("mu", "milliunits", "micro"),
    ("mIU", "milliunits", "million units"),
    ("MIU", "million units", "milliunits"),
    ("M", "molar", "a million"),
    ("gr", "gram", "grain"),
    ("mc", "mcg", "mCi"),
    ("n", "nanogram", "a number"),
];

#[cfg(test)]
mod tests {
    use super::*;
    use rstest::rstest;

    // Misread spellings: ISMP list of error-prone abbreviations, symbols and dose designations.
    #[rstest]
    #[case("IU", "unit-misread", "write units")]
    #[case("cc", "unit-misread", "write mL")]
    #[case("mics", "unit-misread", "write mcg")]
    #[case("mic", "unit-misread", "write mcg")]
    #[case("mU", "two-readings", "write milliunits, or million units, in full")]
    #[case("MG", "unit-case", "write mg")]
    #[case("", "unit-missing", "write a mass")]
    #[case("mcgg", "unit-unknown", "did you mean mcg? Write a mass")]
    #[case("mxx", "unit-unknown", "write a mass")]
    #[case("nanogramm", "unit-unknown", "did you mean nanogram? Write a mass")]
    #[case("migrom", "unit-unknown", "write a mass")]
    #[case("mikrograms", "unit-unknown", "did you mean mcg? Write a mass")]
    #[case("mikrogramms", "unit-unknown", "did you mean mcg? Write a mass")]
    #[case("mikrogrammss", "unit-unknown", "write a mass")]
    #[case("mikkrokilogramms and more", "unit-unknown", "write a mass")]
    #[case(
        "mсg",
        "unit-unknown",
        "the `с` in it (U+0441) only looks like the letter c: retype the word. did you mean mcg? Write a mass"
    )]
    fn what_is_no_unit_is_mended(#[case] text: &str, #[case] code: &str, #[case] help: &str) {
        let refused = Piece::whole(text).unit("a mass").expect_err("refused");
        assert_eq!((refused.problem.code(), &*refused.help), (code, help));
    }

    #[test]
    fn a_refusal_repeats_what_was_typed() {
        let refused = Piece::whole("5 mcgg").from(2).unit("a mass").expect_err("refused");
        assert!(refused.to_string().contains("`mcgg`"), "{refused}");
    }

    #[rstest]
    #[case("mcg/kg/min", "mcg", Some(("kg/min", 4)))]
    #[case("mcg per kg", "mcg", Some(("kg", 8)))]
    #[case(" mcg / kg ", "mcg", Some(("kg", 7)))]
    #[case("mcg per kg/min", "mcg", Some(("kg/min", 8)))]
    #[case("mcg/kg per min", "mcg", Some(("kg per min", 4)))]
    #[case("mcg", "mcg", None)]
    fn a_piece_is_cut_at_the_first_divisor(
        #[case] text: &str,
        #[case] before: &str,
        #[case] after: Option<(&str, usize)>,
    ) {
        let (first, rest) = Piece::whole(text).cut();
        assert_eq!((first.text, rest.map(|rest| (rest.text, rest.at))), (before, after));
    }

    #[rstest]
    #[case("5 mg", "5 mg")]
    #[case(" 5 mg", "5 mg")]
    #[case("5 mg ", "5 mg")]
    #[case("\u{a0}5 mg\u{a0}", "5 mg")]
    #[case("  ", "")]
    #[case("", "")]
    fn white_space_is_taken_off(#[case] text: &str, #[case] rest: &str) {
        assert_eq!(trimmed(text), rest);
    }

    #[test]
    fn a_place_counts_from_the_text_as_typed() {
        let piece = Piece::whole("  5 mg ");
        assert_eq!((piece.range(), piece.from(2).range(), piece.to(1).range()), (2..6, 4..6, 2..3));
        let (_, unit) = piece.number(NumberForm::Dose).expect("a number");
        assert_eq!((unit.text, unit.at), ("mg", 4));
        assert_eq!(Piece::whole(" 05 mg").number(NumberForm::Dose).expect_err("refused").range, 1..3);
    }
}
