//! How a value is typed for an approval: its place in words, and what is wrong with its writing. Nothing of what the
//! author wrote takes part in it.

use crate::diagnostic::Fault;
use crate::pharmacy::lint::QUANTITIES;
use crate::pharmacy::sheet::BETWEEN;
use crate::quantity::{Number, NumberForm};

use super::{NONE, TypedPlace};

impl TypedPlace {
    /// File and place in words: `drugs/heparin.yaml, areas, adult theatre, anticoagulation, dose unit`.
    #[must_use]
    pub fn says(&self) -> String {
        format!("{}, {}", self.file, in_words(&self.place))
    }

    /// Of the value that is proposed: the same as long as the author writes the same there.
    #[cfg(feature = "journal")]
    pub(super) fn digest(&self) -> String {
        let proposed = self.proposed.as_ref().map(|(value, what)| [what.word(), value.as_str()]);
        let whole = serde_json::json!([self.file, self.place, proposed]);
        crate::journal::Hash::of(whole.to_string().as_bytes()).to_string()
    }
}

/// A place of a file in words.
#[must_use]
pub fn in_words(place: &str) -> String {
    place.replace(BETWEEN, ", ").replace('_', " ")
}

/// Fields that hold a number alone.
const WITHOUT_UNIT: [&str; 4] = ["ampoules", "times", "next_syringe_times", "identifiers_needed"];

/// What is wrong with the writing alone of what was typed: a number that is written otherwise than in a formulary, or that
/// has no unit where its field has one.
#[must_use]
pub fn fault_of(place: &TypedPlace, typed: &str) -> Option<Fault> {
    if typed.is_empty() {
        let fault = Fault::new("empty", "nothing is typed");
        return Some(fault.help(format!("type the value as its source gives it, or {NONE}")));
    }
    let number = typed.split([' ', '/', '%', ':', '-']).next().unwrap_or_default();
    if !number.starts_with(|first: char| first.is_ascii_digit() || ".,+".contains(first)) {
        return None;
    }
    if let Err(refused) = Number::parse(number, NumberForm::MeasuredOrZero) {
        return Some(Fault::new(refused.problem.code(), refused.to_string()).help(refused.help));
    }
    let field = place.place.rsplit(BETWEEN).find(|step| !step.starts_with('#')).unwrap_or_default();
    let has_unit = QUANTITIES.contains(&field) && !WITHOUT_UNIT.contains(&field);
    let is_bare = typed.chars().all(|letter| letter.is_ascii_digit() || " .".contains(letter));
    (has_unit && is_bare).then(|| {
        let fault = Fault::new("unit-missing", format!("`{typed}` has no unit"));
        fault.help("type its unit too, as the source gives it")
    })
}

#[cfg(test)]
mod tests {
    use rstest::rstest;

    use super::fault_of;
    use crate::pharmacy::approval::TypedPlace;

    #[rstest]
    #[case("", Some("empty"))]
    #[case(".5 mg", Some("number-leading-point"))]
    #[case("0.5 mg", None)]
    #[case("none", None)]
    #[case("adult theatre", None)]
    #[case("12", Some("unit-missing"))]
    #[case("10 000", Some("unit-missing"))]
    #[case("12 mg", None)]
    #[case("5 %", None)]
    fn the_writing_alone_is_judged(#[case] typed: &str, #[case] code: Option<&str>) {
        assert_eq!(fault_of(&at("soft > to"), typed).map(|fault| fault.code), code);
    }

    #[test]
    fn a_field_without_a_unit_takes_a_number_alone() {
        assert_eq!(fault_of(&at("recipe > ampoules"), "4"), None);
        assert_eq!(fault_of(&at("policy > identifiers_needed"), "2"), None);
    }

    fn at(place: &str) -> TypedPlace {
        TypedPlace { file: "drugs/heparin.yaml".to_owned(), place: place.to_owned(), source: None, proposed: None }
    }
}
