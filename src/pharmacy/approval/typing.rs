//! How a value is typed for an approval: its place in words, and what is wrong with its writing. Nothing of what the
//! author wrote takes part in it.

use crate::diagnostic::Fault;
use crate::pharmacy::sheet::BETWEEN;
use crate::quantity::{Number, NumberForm};

use super::{NONE, TypedPlace};

impl TypedPlace {
    /// File and place in words: `drugs/heparin.yaml, areas, adult theatre, anticoagulation, dose unit`.
    #[must_use]
    pub fn says(&self) -> String {
        format!("{}, {}", self.file, in_words(&self.place))
    }
}

/// A place of a file in words.
#[must_use]
pub fn in_words(place: &str) -> String {
    place.replace(BETWEEN, ", ").replace('_', " ")
}

/// What is wrong with the writing alone of what was typed.
#[must_use]
pub fn fault_of(typed: &str) -> Option<Fault> {
    if typed.is_empty() {
        let fault = Fault::new("empty", "nothing is typed");
        return Some(fault.help(format!("type the value as its source gives it, or {NONE}")));
    }
    let number = typed.split([' ', '/', '%', ':', '-']).next().unwrap_or_default();
    if !number.starts_with(|first: char| first.is_ascii_digit() || ".,+".contains(first)) {
        return None;
    }
    let refused = Number::parse(number, NumberForm::MeasuredOrZero).err()?;
    Some(Fault::new(refused.problem.code(), refused.to_string()).help(refused.help))
}

#[cfg(test)]
mod tests {
    use rstest::rstest;

    use super::fault_of;

    #[rstest]
    #[case("", Some("empty"))]
    #[case(".5 mg", Some("number-leading-point"))]
    #[case("0.5 mg", None)]
    #[case("none", None)]
    #[case("adult theatre", None)]
    fn the_writing_alone_is_judged(#[case] typed: &str, #[case] code: Option<&str>) {
        assert_eq!(fault_of(typed).map(|fault| fault.code), code);
    }
}
