//! The patient, as one person read them.

use jiff::civil::Date;

use serde::{Deserialize, Serialize};

use crate::document::{Item, Refusal, Typed};
use crate::formulary::words;
use crate::quantity::{Age, BodyMass, Length, Quantity, Ratio, Unit, parse_date};

use super::read::{choice, quantity, words as plain_words};

/// Who it is for.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Patient {
    /// Two and more identifiers, or none yet.
    pub identifiers: Identifiers,
    /// Actual weight, never in pounds.
    pub weight: Quantity<BodyMass>,
    /// Where the weight comes from.
    pub weight_from: WeightFrom,
    /// Date of birth or age, where given.
    pub age: Option<AgeGiven>,
    /// Weeks of pregnancy at birth, where given.
    pub gestation: Option<Age>,
    /// Sex, where a formula asks for it.
    pub sex: Option<Sex>,
    /// Height, where a formula asks for it.
    pub height: Option<Quantity<Length>>,
}

/// Identifiers of a patient, as typed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Identifiers {
    /// To follow; a start needs them.
    Pending,
    /// As on the wristband.
    Known(Vec<String>),
}

impl Identifiers {
    /// The different ones, sorted, without spaces, marks and letter case: a wristband is not copied to the blank.
    #[must_use]
    pub fn folded(known: &[String]) -> Vec<String> {
        let folded = known.iter().map(|one| signs(one).collect());
        let mut folded: Vec<String> = folded.filter(|one: &String| !one.is_empty()).collect();
        folded.sort();
        folded.dedup();
        folded
    }

    /// How many different ones there are, as [`Identifiers::folded`] tells them apart; of the usual two or three without a copy
    /// of each.
    #[must_use]
    pub fn different(known: &[String]) -> usize {
        const FEW: usize = 4;
        if known.len() > FEW {
            return Self::folded(known).len();
        }
        let is_new = |(at, one): &(usize, &String)| {
            signs(one).next().is_some() && !known[..*at].iter().any(|earlier| signs(earlier).eq(signs(one)))
        };
        known.iter().enumerate().filter(is_new).count()
    }
}

/// What two people would call the same, whatever stands between its letters and digits.
fn signs(identifier: &str) -> impl Iterator<Item = char> {
    identifier.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase)
}

/// How old the patient is, in one of two ways.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum AgeGiven {
    /// The date of birth.
    Born(#[serde(with = "calendar_day")] Date),
    /// The age.
    Aged(Age),
}

words! {
    /// Where a weight comes from.
    WeightFrom {
        /// Weighed.
        Measured = "measured",
        /// Said by the patient or somebody else.
        Stated = "stated",
        /// Guessed by looking or by length.
        Estimated = "estimated",
        /// To be confirmed before the start.
        Provisional = "provisional",
    }
    /// The sex that a formula asks for.
    Sex {
        /// Female.
        Female = "female",
        /// Male.
        Male = "male",
    }
}

/// A date of birth as it is typed.
mod calendar_day {
    use jiff::civil::Date;
    use serde::{Deserialize, Deserializer, Serializer, de};

    pub(super) fn serialize<S: Serializer>(day: &Date, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(day)
    }

    pub(super) fn deserialize<'de, R: Deserializer<'de>>(deserializer: R) -> Result<Date, R::Error> {
        let text = String::deserialize(deserializer)?;
        crate::quantity::parse_date(&text).map_err(de::Error::custom)
    }
}

impl Patient {
    /// The age in days on a day, where it is known.
    #[must_use]
    pub fn age_in_days(&self, on: Date) -> Option<crate::quantity::Ratio> {
        match self.age? {
            AgeGiven::Born(born) => Age::days_from(born, on),
            AgeGiven::Aged(age) => Some(age.days()),
        }
    }
}

pub(super) fn read(item: Item<'_, '_, '_>) -> Option<Patient> {
    let node = item.node();
    let mut fields = item.fields()?;
    let identifiers = fields.required_item("identifiers").and_then(identifiers);
    let weight = fields.required("weight", weight);
    let weight_from =
        fields.required("weight_from", choice("source of a weight", WeightFrom::WORDS, WeightFrom::written));
    let born = fields.optional("born", quantity(parse_date));
    let age = fields.optional("age", quantity(Age::parse));
    if node.member("born").is_some() && node.member("age").is_some() {
        let refusal = Refusal::new("fields-contradict", "both `born` and `age` are given, and they may disagree");
        fields.refuse("age", refusal.help("give one of them: the date of birth where it is known"));
    }
    let gestation = fields.optional("gestation", gestation);
    let sex = fields.optional("sex", choice("sex", Sex::WORDS, Sex::written));
    let height = fields.optional("height", quantity(Quantity::<Length>::parse));
    fields.no_others();
    let age = born.map(AgeGiven::Born).or(age.map(AgeGiven::Aged));
    Some(Patient { identifiers: identifiers?, weight: weight?, weight_from: weight_from?, age, gestation, sex, height })
}

/// From the earliest birth that a child survives to two weeks after the latest that is waited for (common practice, no
/// source).
const WEEKS_OF_PREGNANCY: std::ops::RangeInclusive<u64> = 22..=44;

fn gestation(typed: &Typed<'_, '_>) -> Result<Age, Refusal> {
    let age = quantity(Age::parse)(typed)?;
    let (from, to) = WEEKS_OF_PREGNANCY.into_inner();
    let days = |weeks: u64| Ratio::whole(7 * weeks);
    if age.days() < days(from) || age.days() > days(to) {
        let message = format!("weeks of pregnancy at birth lie between {from} and {to}");
        let help = "read them again, and write completed weeks: 34 weeks; the age of the patient is `born` or `age`";
        return Err(Refusal::new("gestation-outside", message).help(help));
    }
    Ok(age)
}

fn weight(typed: &Typed<'_, '_>) -> Result<Quantity<BodyMass>, Refusal> {
    body_weight(typed.text())
}

/// Reads a weight as typed; pounds are refused.
///
/// # Errors
/// [`Refusal`], with what to write instead.
pub fn body_weight(text: &str) -> Result<Quantity<BodyMass>, Refusal> {
    let weight = Quantity::<BodyMass>::parse(text)?;
    if weight.unit() == Unit::Pound {
        let message = "the weight is in pounds: a number of pounds taken for kg is more than twice the dose";
        return Err(Refusal::new("weight-in-pounds", message).help("weigh in kg, and write the weight in kg"));
    }
    Ok(weight)
}

fn identifiers(item: Item<'_, '_, '_>) -> Option<Identifiers> {
    if Typed::of(item.node()).is_some() {
        return item.text(|typed| match typed.text().trim() {
            "pending" => Ok(Identifiers::Pending),
            _ => Err(Refusal::new("identifiers-not-list", "identifiers are a list of two or more")
                .help("write them as a list, [\"1959-08-02\", \"QM-30417\"], or the word pending")),
        });
    }
    let known = item.items()?.read(|item| item.text(plain_words))?;
    Some(Identifiers::Known(known))
}

#[cfg(test)]
mod tests {
    use super::*;
    use rstest::rstest;

    #[rstest]
    #[case(&[], 0)]
    #[case(&["A-1", "B-2"], 2)]
    #[case(&["A-1", "a 1"], 1)]
    #[case(&["A-1", "-", ""], 1)]
    #[case(&["\u{c9}1", "\u{e9}-1", "E1"], 2)]
    #[case(&["1", "2", "3", "4", "5", "5."], 5)]
    fn identifiers_are_told_apart_by_letters_and_digits(#[case] known: &[&str], #[case] different: usize) {
        let known: Vec<String> = known.iter().map(|one| (*one).to_owned()).collect();
        assert_eq!(Identifiers::different(&known), different);
        assert_eq!(Identifiers::folded(&known).len(), different);
    }
}
