//! The published tables and what is asked of each row. In: CSV files beside this one, each with its source in the
//! column `cite`. Out: rows, and checks that fail with the source in the message.
#![allow(dead_code, reason = "each test file uses its own part")]

use countersign::infusion::rate::{Body, RateError, dose_at, rate_for, volume_of};
use countersign::quantity::{
    Amount, BodyMass, BodySurface, BolusDose, DoseRate, DoseRateUnit, FlowRate, Quantity, Ratio, Refused, Strength,
};
use serde::Deserialize;
use serde::de::DeserializeOwned;

/// Every row of a table, in its order.
pub(crate) fn table<Row: DeserializeOwned>(name: &str) -> Vec<Row> {
    let path = format!("{}/tests/it/published/{name}.csv", env!("CARGO_MANIFEST_DIR"));
    let mut reader = csv::Reader::from_path(&path).expect("the table is beside the tests");
    reader.deserialize().map(|row| row.expect("a row with every column that is asked for")).collect()
}

/// A printed decimal or fraction, `3.6` or `125/6`, read without the library's own grammar.
pub(crate) fn exact(text: &str) -> Ratio {
    let (above, below) = text.split_once('/').unwrap_or((text, "1"));
    decimal(above).over(decimal(below)).expect("a published number is small")
}

fn decimal(text: &str) -> Ratio {
    let (whole, fraction) = text.split_once('.').unwrap_or((text, ""));
    let digits = format!("{whole}{fraction}").parse().expect("a published number has digits only");
    let scale = u32::try_from(fraction.len()).expect("short");
    Ratio::new(digits, 10_u128.pow(scale)).expect("a published number is small")
}

/// Weight and surface as typed; empty for none.
pub(crate) fn body(weight: &str, surface: &str) -> Body {
    let weight = (!weight.is_empty()).then(|| Quantity::<BodyMass>::parse(weight).expect("a weight").value());
    let surface = (!surface.is_empty()).then(|| Quantity::<BodySurface>::parse(surface).expect("a surface").value());
    Body { weight, surface }
}

/// A strength as typed; empty for none.
pub(crate) fn strength(text: &str) -> Option<Strength> {
    (!text.is_empty()).then(|| Strength::parse(text).unwrap_or_else(|refused| panic!("{text}: {refused}")))
}

/// How many of a unit of strength, `mcg/mL`, a strength is.
pub(crate) fn strength_in(strength: Strength, unit: &str) -> Ratio {
    let one = Strength::parse(&format!("1 {unit}")).expect("a unit of strength").concentration();
    let found = strength.concentration();
    assert_eq!(found.kind, one.kind, "{strength} in {unit}");
    found.per_ml.over(one.per_ml).expect("small parts")
}

/// The outcome of a refusal, as one word that a table can name.
pub(crate) fn why(no_rate: &RateError) -> &'static str {
    match no_rate {
        RateError::KindsDiffer { .. } => "kinds differ",
        RateError::WeightMissing { .. } => "weight missing",
        RateError::SurfaceMissing { .. } => "surface missing",
        RateError::StrengthMissing { .. } => "strength missing",
        RateError::RoundsToNothing { .. } => "rounds to nothing",
        RateError::TooLarge(_) => "too large",
        RateError::RoutesDiffer(_) => "routes differ",
    }
}

/// One figure of a published source.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(crate) struct Check {
    /// Which example; one example may take several rows.
    pub(crate) id: String,
    pub(crate) drug: String,
    /// What is worked out: see [`Check::found`].
    pub(crate) check: String,
    pub(crate) weight: String,
    pub(crate) dose: String,
    pub(crate) strength: String,
    pub(crate) flow: String,
    /// The wanted unit, or the code of a refusal.
    pub(crate) unit: String,
    pub(crate) exact: String,
    pub(crate) printed: String,
    /// The step to which the source rounds; empty where it does not.
    pub(crate) step: String,
    /// Whether the printed number is right: `yes`, or `no` for a misprint or another pound.
    pub(crate) agrees: String,
    pub(crate) cite: String,
    pub(crate) note: String,
}

impl Check {
    /// Asserts the exact number, and that the printed one is or is not its rounding.
    pub(crate) fn prove(&self) {
        match self.check.as_str() {
            "refused" => return self.is_refused(),
            "same" => {
                let amount = |text: &str| Quantity::<Amount>::parse_dose(text).expect("an amount");
                return assert_eq!(amount(&self.dose), amount(&self.unit), "{self}");
            }
            _ => {}
        }
        let found = self.found();
        assert_eq!(found, exact(&self.exact), "the exact value: {self}");
        let rounded = match self.step.as_str() {
            "" => found,
            step => found.to_nearest(exact(step)).expect("a small number"),
        };
        let printed = exact(&self.printed);
        match self.agrees.as_str() {
            "yes" => assert_eq!(rounded, printed, "the printed value: {self}"),
            "no" => assert!(rounded != printed && found != printed, "a misprint that we would print too: {self}"),
            other => panic!("{other} is neither yes nor no: {self}"),
        }
    }

    fn found(&self) -> Ratio {
        let body = body(&self.weight, "");
        let strength = strength(&self.strength);
        let unit = |text: &str| DoseRateUnit::parse(text).unwrap_or_else(|refused| panic!("{refused}: {self}"));
        match self.check.as_str() {
            "rate" => {
                let dose = self.read(DoseRate::parse(&self.dose));
                let rate = self.worked(rate_for(dose, body, strength));
                let back = self.worked(dose_at(rate, dose.unit(), body, strength));
                assert_eq!(back, dose.number().ratio(), "back from the rate: {self}");
                rate
            }
            "dose" => {
                let rate = self.read(FlowRate::parse(&self.flow)).value();
                self.worked(dose_at(rate, unit(&self.unit), body, strength))
            }
            "convert" => {
                let dose = self.read(DoseRate::parse(&self.dose));
                let rate = self.worked(rate_for(dose, body, strength));
                self.worked(dose_at(rate, unit(&self.unit), body, strength))
            }
            "volume" => self.volume(body, strength),
            "amount" => {
                let strength = strength.expect("an amount is asked for with a strength");
                let per_ml = strength_in(strength, &format!("{}/mL", self.unit));
                self.volume(body, Some(strength)).times(per_ml).expect("small parts")
            }
            "strength" => strength_in(strength.expect("a strength is asked for"), &self.unit),
            "weight" => body.weight.expect("a weight is asked for"),
            other => panic!("{other} is not a check: {self}"),
        }
    }

    fn volume(&self, body: Body, strength: Option<Strength>) -> Ratio {
        self.worked(volume_of(self.read(BolusDose::parse(&self.dose)), body, strength))
    }

    fn is_refused(&self) {
        let refused = match (self.dose.as_str(), self.strength.as_str()) {
            (dose, "") => DoseRate::parse(dose).map(|read| read.to_string()),
            ("", strength) => Strength::parse(strength).map(|read| read.to_string()),
            _ => panic!("one text is refused at a time: {self}"),
        };
        assert_eq!(refused.expect_err("refused").problem.code(), self.unit, "{self}");
    }

    fn read<T>(&self, read: Result<T, Refused>) -> T {
        read.unwrap_or_else(|refused| panic!("{refused} ({}): {self}", refused.help))
    }

    fn worked(&self, worked: Result<Ratio, RateError>) -> Ratio {
        worked.unwrap_or_else(|no_rate| panic!("{no_rate}: {self}"))
    }
}

/// The row with its source, for a failure.
impl std::fmt::Display for Check {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { id, drug, check, weight, dose, strength, flow, unit, printed, cite, note, .. } = self;
        write!(f, "{id} {drug} {check} {weight} {dose} {strength} {flow} {unit}, printed {printed} ({cite}; {note})")
    }
}
