//! One drug as the pharmacist wrote it, checked: strengths from one list, and what is allowed where.

use jiff::civil::Date;

use crate::quantity::{
    Age, Amount, BodyMass, BolusDose, Concentration, DoseRateUnit, DoseUnit, FlowRate, Number, Per, Product, Quantity,
    Ratio, Strength, Time, Unit, Volume,
};

use super::limits::{Band, BolusLimits, DoseLimits, Origin, SoftHard};
use super::words::{DosingWeight, HowMade, Microgram, Phase, SurfaceFormula, ThroughTheLine};

/// A drug of the formulary.
#[derive(Debug, Clone)]
pub struct Drug {
    /// The name by which it is shown.
    pub name: String,
    /// Its file, from the formulary folder on.
    pub file: String,
    /// Other generic names by which it may be typed.
    pub other_names: Vec<String>,
    /// Names that are taken for this one.
    pub looks_like: Vec<String>,
    /// What other programs call it: `SYSTEM|CODE`, by which an electronic order names it.
    pub codes: Vec<String>,
    /// The class of its label, in words (ISO 26825).
    pub class: String,
    /// Whether a slip is likely to do lasting harm.
    pub high_alert: bool,
    /// Whether it is kept under the rules for controlled drugs: what is discarded needs a witness.
    pub controlled: bool,
    /// Whether it acts on the circulation, so that it hangs alone in its lumen.
    pub vasoactive: bool,
    /// How it goes through a line, where the house says so.
    pub in_the_line: Option<ThroughTheLine>,
    /// What the amounts count, where salt and base differ.
    pub amounts_as: Option<String>,
    /// How micrograms are written for this drug.
    pub microgram: Microgram,
    /// How long it may be used after drawing up.
    pub life: Quantity<Time>,
    /// Where the life stands.
    pub life_origin: Origin,
    /// When the pharmacist looks at it again.
    pub review: Review,
    /// What amounts of it hold: salt and base, grams and millimoles.
    pub equivalents: Vec<Equivalent>,
    /// Every strength that is stocked.
    pub strengths: Vec<Stocked>,
    /// The strongest solution for a peripheral line.
    pub peripheral_maximum: SoftHard<Strength>,
    /// What it is used for, and where.
    pub indications: Vec<Indication>,
    /// What the pharmacist has judged and accepted.
    pub accepted: Vec<Accepted>,
    /// Errors of the lint that somebody answers for by name, each at one place.
    pub exceptions: Vec<Exception>,
}

/// A remark about the drug's file that the pharmacist has judged and accepted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Accepted {
    /// The code of the remark.
    pub code: String,
    /// Why it may stand.
    pub reason: String,
}

/// An error of the lint that somebody answers for at one place of the file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Exception {
    /// The code of the error.
    pub code: String,
    /// The field at which it stands, or one that holds it.
    pub at: String,
    /// The value that may stand: another one, a zero more, is not answered.
    pub value: String,
    /// Who answers for it.
    pub by: String,
    /// Why it may stand.
    pub why: String,
}

impl Exception {
    /// Whether it answers an error of this code about this value of a field.
    #[must_use]
    pub fn answers(&self, code: &str, field: &str, value: &str) -> bool {
        let rest = field.strip_prefix(&*self.at);
        self.code == code
            && self.value == value
            && rest.is_some_and(|rest| rest.is_empty() || rest.starts_with(['.', '[']))
    }
}

/// The dates of a review.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Review {
    /// After this day: a note.
    pub by: Date,
    /// From this day on: a written reason.
    pub justify_from: Date,
    /// Where it stands.
    pub origin: Origin,
}

/// How much of one substance an amount of another holds: `1 g of magnesium sulfate heptahydrate holds 4.06 mmol of
/// magnesium`. Both as printed: a molar mass is a property of one substance, and nothing is converted without it.
#[derive(Debug, Clone)]
pub struct Equivalent {
    /// How much of the one.
    pub amount: Quantity<Amount>,
    /// The one, with its salt and water.
    pub of: String,
    /// How much of the other is in it.
    pub holds: Quantity<Amount>,
    /// The other.
    pub what: String,
    /// Where it stands.
    pub origin: Origin,
}

impl Equivalent {
    /// How much an amount holds, in the reference unit of its kind; none where the amount counts another thing, or where
    /// the numbers are too large.
    #[must_use]
    pub fn held_in(&self, amount: Quantity<Amount>) -> Option<Ratio> {
        if amount.kind() != self.amount.kind() {
            return None;
        }
        Product::ONE.ratio(amount.value()).ratio(self.holds.value()).over_ratio(self.amount.value()).finish().ok()
    }
}

impl std::fmt::Display for Equivalent {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} of {} holds {} of {}", self.amount, self.of, self.holds, self.what)
    }
}

/// A strength that is stocked.
#[derive(Debug, Clone)]
pub struct Stocked {
    /// Its key in the drug's list.
    pub key: String,
    /// What it is made of.
    pub composition: Composition,
    /// How it is made up.
    pub recipe: Option<Recipe>,
    /// Where it stands.
    pub origin: Origin,
}

/// Amount and volume of a stocked strength.
#[derive(Debug, Clone, Copy)]
pub enum Composition {
    /// The same for every patient.
    Fixed {
        /// How much drug.
        amount: Quantity<Amount>,
        /// In how much solution.
        volume: Quantity<Volume>,
        /// What the two make, exactly.
        content: Concentration,
    },
    /// An amount for each kg of the patient.
    PerKilogram {
        /// How much drug for each kg.
        amount: BolusDose,
        /// In how much solution.
        volume: Quantity<Volume>,
    },
}

impl Stocked {
    /// The strength that it has for a patient of this weight in kg.
    #[must_use]
    pub fn concentration(&self, weight: Ratio) -> Option<Concentration> {
        match self.composition {
            Composition::Fixed { content, .. } => Some(content),
            Composition::PerKilogram { amount, volume } => {
                let product = Product::ONE.number(amount.number()).unit(amount.unit().amount()).ratio(weight);
                let per_ml = product.over_number(volume.number()).over_unit(volume.unit()).finish().ok()?;
                Some(Concentration { kind: amount.unit().kind(), per_ml })
            }
        }
    }

    /// Whether it is made for each patient's weight.
    #[must_use]
    pub const fn is_per_kilogram(&self) -> bool {
        matches!(self.composition, Composition::PerKilogram { .. })
    }

    /// The unit in which its amount is stated.
    #[must_use]
    pub const fn amount_unit(&self) -> Unit {
        match self.composition {
            Composition::Fixed { amount, .. } => amount.unit(),
            Composition::PerKilogram { amount, .. } => amount.unit().amount(),
        }
    }
}

/// `4 mg in 50 mL`, or `15 mg/kg in 50 mL`.
impl std::fmt::Display for Stocked {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.composition {
            Composition::Fixed { amount, volume, .. } => write!(f, "{amount} in {volume}"),
            Composition::PerKilogram { amount, volume } => write!(f, "{amount} in {volume}"),
        }
    }
}

/// How a strength is made up.
#[derive(Debug, Clone)]
pub struct Recipe {
    /// How many ampoules.
    pub ampoules: Number,
    /// What each holds.
    pub of: Strength,
    /// With what it is diluted, if it is.
    pub diluent: Option<String>,
    /// Which of the three ways.
    pub how: HowMade,
}

/// What a drug is used for in one area, with exactly one dose unit.
#[derive(Debug, Clone)]
pub struct Indication {
    /// The area.
    pub area: String,
    /// Its name.
    pub name: String,
    /// The one unit in which the dose is ordered.
    pub dose_unit: DoseRateUnit,
    /// Which weights the dose may be counted by; the first is the default. Empty where it is not per kg.
    pub dosing_weights: Vec<DosingWeight>,
    /// By which formula the body surface is worked out. Only where the dose is per m2.
    pub body_surface: Option<SurfaceFormula>,
    /// Whether the dose follows its effect, so that a coarse step matters less.
    pub titrated_to_effect: bool,
    /// Which of the drug's strengths are stocked for it.
    pub strengths: Vec<usize>,
    /// Whether any other strength is stopped.
    pub listed_only: bool,
    /// Limits on the weight, narrower than the area's.
    pub weight: SoftHard<Quantity<BodyMass>>,
    /// The ages for which it is meant.
    pub age: Option<Band<Age>>,
    /// Dose limits by phase.
    pub phases: Vec<(Phase, DoseLimits)>,
    /// A bolus from the driver, where one is allowed.
    pub bolus: Option<BolusLimits>,
    /// Limits on the rate itself.
    pub flow: SoftHard<FlowRate>,
    /// The longest duration.
    pub longest: Option<Band<Quantity<Time>>>,
    /// By how many times a rate is changed at once at most; more is marked in the record.
    pub largest_jump: Option<Ratio>,
    /// Where it stands.
    pub origin: Origin,
}

impl Indication {
    /// The limits of a phase.
    #[must_use]
    pub fn limits(&self, phase: Phase) -> Option<&DoseLimits> {
        self.phases.iter().find(|(known, _)| *known == phase).map(|(_, limits)| limits)
    }

    /// Whether anything about the dose depends on the weight.
    #[must_use]
    pub fn is_per_kilogram(&self) -> bool {
        let bolus: Option<DoseUnit> = self.bolus.as_ref().map(|bolus| bolus.unit);
        self.dose_unit.dose().per() == Per::Kilogram || bolus.is_some_and(|unit| unit.per() == Per::Kilogram)
    }
}
