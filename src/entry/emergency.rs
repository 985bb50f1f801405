//! The few questions of an emergency: where, which drug, the weight, the dose and the strength. In: their answers and the
//! formulary; out: a whole form, which names every field that nobody was asked for.

use crate::formulary::{Composition, Container, DosingWeight, Driver, Formulary, Indication, Lookup, Phase, Stocked};
use crate::quantity::{Amount, Product, Quantity, Strength, Volume, plain};

use super::asked::Answers;
use super::questions::{QUESTIONS, Question};
use super::{Access, LineFilled, WeightFrom, body_weight};

/// Where the stocked strength is answered: in the words of the formulary, amount and volume.
pub const STRENGTH: &str = "strength";

const STRENGTH_QUESTION: Question = Question {
    path: STRENGTH,
    field: "label",
    says: "What does the syringe label say?",
    example: "250 mg in 50 mL",
    keys: &[],
};

/// The questions, in the order in which they are asked. Which use is asked only where the drug has several.
const PATHS: [&str; 5] = ["area", "drug", "indication", "patient.weight", "dose"];

/// Every question of an emergency.
pub fn questions() -> impl Iterator<Item = &'static Question> {
    let listed = PATHS.iter().filter_map(|path| QUESTIONS.iter().find(|question| question.path == *path));
    listed.chain(std::iter::once(&STRENGTH_QUESTION))
}

impl Answers {
    /// The drugs that are used in the area that was answered, by name.
    #[must_use]
    pub fn drugs_here<'f>(&self, formulary: &'f Formulary) -> Vec<&'f str> {
        let Some(area) = self.said("area").and_then(|area| formulary.area(area)) else { return Vec::new() };
        let is_here = |indications: &[Indication]| indications.iter().any(|one| one.area == area.name);
        let mut drugs: Vec<&str> = formulary
            .usable()
            .into_iter()
            .filter(|drug| is_here(&drug.indications))
            .map(|drug| drug.name.as_str())
            .collect();
        drugs.sort_unstable();
        drugs
    }

    /// The stocked strengths of the use that was answered, in the words of the formulary.
    #[must_use]
    pub fn strengths_here(&self, formulary: &Formulary) -> Vec<String> {
        self.stocked(formulary).iter().map(ToString::to_string).collect()
    }

    /// The whole form of an emergency: what was answered, and for what was not asked the usual equipment of the area. What
    /// cannot be filled in is left out, so that the reader of forms says what is missing.
    #[must_use]
    pub fn in_an_emergency(&self, formulary: &Formulary) -> Self {
        let mut whole = Self::default();
        for path in PATHS {
            whole.say(path, self.said(path).unwrap_or_default());
        }
        for path in self.paths().filter(|path| path.starts_with("reasons.")) {
            whole.say(path, self.said(path).unwrap_or_default());
        }
        whole.say("patient.identifiers[0]", "pending");
        let mut assumed = Vec::new();
        let mut assume = |form: &mut Self, field: &'static str, path: &str, text: &str| {
            form.say(path, text);
            assumed.push(field);
        };
        assume(&mut whole, "weight_from", "patient.weight_from", WeightFrom::Provisional.word());
        assume(&mut whole, "access", "access", Access::Central.word());
        assume(&mut whole, "line_filled", "line_filled", LineFilled::FromThisSyringe.word());
        // The solution is as old as nobody knows: no time stands for it.
        assume(&mut whole, "drawn_up_at", "drawn_up_at", "");
        if let Some(indication) = self.indication(formulary) {
            assume(&mut whole, "phase", "phase", first_phase(indication).word());
            if indication.dosing_weights.len() > 1 && indication.dosing_weights.contains(&DosingWeight::Actual) {
                assume(&mut whole, "dosing_weight", "dosing_weight", DosingWeight::Actual.word());
            }
        }
        let label = self.label(formulary);
        if let Some((amount, volume, strength)) = &label {
            whole.say("label.amount", &amount.to_string());
            whole.say("label.volume", &volume.to_string());
            whole.say("label.strength", strength);
            assume(&mut whole, "fill", "fill", &volume.to_string());
        }
        if let (Some(standard), Some((_, volume, _))) = (self.standard_equipment(formulary), label) {
            if let Some((container, driver)) = holding(volume, &standard.container, &standard.driver, formulary) {
                assume(&mut whole, "container", "container", &container.key);
                assume(&mut whole, "driver", "driver", &driver.key);
            }
            assume(&mut whole, "line", "line", &standard.line);
        }
        for field in assumed {
            whole.add("assumed[0]", field);
        }
        whole
    }

    /// The whole form of an emergency in which nobody could say how old the solution is: it goes on, and the card says so.
    #[must_use]
    pub fn of_unknown_age(mut self) -> Self {
        let has = |path: &str| self.said(path).is_some_and(|said| !said.is_empty());
        if !self.is_made_here() && !has("drawn_up_at") && !has("use_before") {
            self.add("assumed[0]", "drawn_up_at");
        }
        self
    }

    fn stocked<'f>(&self, formulary: &'f Formulary) -> Vec<&'f Stocked> {
        let drug = self.said("drug").and_then(|drug| match formulary.drug(drug) {
            Lookup::Found(drug) => Some(drug),
            _ => None,
        });
        let (Some(drug), Some(indication)) = (drug, self.indication(formulary)) else { return Vec::new() };
        indication.strengths.iter().filter_map(|at| drug.strengths.get(*at)).collect()
    }

    /// Amount, volume and strength of the stocked syringe that was chosen. One that is made for each kg has the amount for the
    /// weight that was answered.
    fn label(&self, formulary: &Formulary) -> Option<(Quantity<Amount>, Quantity<Volume>, String)> {
        let chosen = self.said(STRENGTH)?;
        let stocked = self.stocked(formulary).into_iter().find(|stocked| stocked.to_string() == chosen)?;
        let (amount, volume) = match stocked.composition {
            Composition::Fixed { amount, volume, .. } => (amount, volume),
            Composition::PerKilogram { amount, volume } => {
                let weight = body_weight(self.said("patient.weight")?).ok()?;
                let held = Product::ONE.number(amount.number()).ratio(weight.value()).finish().ok()?;
                let text = format!("{} {}", plain(held), amount.unit().amount().shown());
                (Quantity::<Amount>::parse(&text).ok()?, volume)
            }
        };
        let whole = Strength::of(amount, volume);
        let per_ml = whole.concentration().readable(whole.amount_unit());
        // What does not come out even per mL is said as amount and volume.
        let strength = match Strength::parse(&per_ml) {
            Ok(shown) if shown == whole => per_ml,
            _ => format!("{amount} in {volume}"),
        };
        Some((amount, volume, strength))
    }
}

/// An infusion begins with its start, where the use has limits for one.
fn first_phase(indication: &Indication) -> Phase {
    let has = |phase: &Phase| indication.limits(*phase).is_some();
    [Phase::Start, Phase::Maintenance, Phase::Load, Phase::Weaning].into_iter().find(has).unwrap_or(Phase::Maintenance)
}

/// The area's usual container and driver where they hold the volume; else the smallest that does, with a driver that takes it.
fn holding<'f>(
    volume: Quantity<Volume>,
    container: &str,
    driver: &str,
    formulary: &'f Formulary,
) -> Option<(&'f Container, &'f Driver)> {
    let equipment = formulary.equipment();
    let holds = |one: &&Container| one.usable.value() >= volume.value();
    let usual = equipment.container(container).filter(holds);
    let smallest = || equipment.containers.iter().filter(holds).min_by_key(|one| one.usable.value());
    let container = usual.or_else(smallest)?;
    let takes = |one: &&Driver| one.takes(container);
    let driver = equipment.driver(driver).filter(takes).or_else(|| equipment.drivers.iter().find(takes))?;
    Some((container, driver))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::{Path, read_form};
    use crate::entry::{Entry, EntryForm, FormContext};
    use crate::quantity::{Moment, Ratio};

    fn answered(said: &[(&str, &str)]) -> Answers {
        let mut answers = Answers::default();
        said.iter().for_each(|(path, text)| answers.say(path, text));
        answers
    }

    fn read(text: &str, may_assume: bool) -> Result<Box<Entry>, Vec<&'static str>> {
        let entered_at = Moment::parse("2026-03-14T07:40:00+00:00").expect("a moment");
        let (name, role) = ("A. Idowu".to_owned(), "anaesthetist".to_owned());
        let given = FormContext { name, role, entered_at, patient: None, may_assume };
        let mut faults = Vec::new();
        let root = read_form(text, true, &mut faults).expect("JSON");
        let entry = EntryForm::at(&root, Path::Root).given(&given).read(&mut faults);
        entry.ok_or_else(|| faults.into_iter().map(|fault| fault.code).collect())
    }

    const NORADRENALINE: [(&str, &str); 5] = [
        ("area", "adult theatre"),
        ("drug", "noradrenaline"),
        ("patient.weight", "80 kg"),
        ("dose", "0.05 mcg/kg/min"),
        (STRENGTH, "4 mg in 50 mL"),
    ];

    // hazard: H-EMERGENCY
    #[test]
    fn what_was_not_asked_is_assumed_by_name_and_only_in_an_emergency() {
        let formulary = Formulary::demonstration().expect("it has no fault");
        let form = answered(&NORADRENALINE).in_an_emergency(&formulary).to_json();
        let entry = read(&form, true).expect("a whole form");
        for field in ["phase", "access", "container", "fill", "line", "line_filled", "driver", "weight_from"] {
            assert!(entry.assumes(field), "{field}: {form}");
        }
        for asked in ["drug", "weight", "dose", "label", "area"] {
            assert!(!entry.assumes(asked), "{asked}");
        }
        assert!(entry.assumes_volumes() && entry.drawn_up_at().is_none());
        assert_eq!(entry.dose().to_string(), "0.05 mcg/kg/min");
        assert_eq!(read(&form, false).expect_err("two people read everything"), ["field-missing", "field-unknown"]);
        let other = form.replace(r#""assumed":["#, r#""assumed":["dose","#);
        assert!(read(&other, true).expect_err("never the dose").contains(&"field-not-assumed"));
    }

    // hazard: H-EMERGENCY
    #[test]
    fn every_stocked_strength_of_every_use_makes_a_label_whose_three_figures_agree() {
        let formulary = Formulary::demonstration().expect("it has no fault");
        let mut seen = 0;
        for drug in formulary.usable() {
            for indication in &drug.indications {
                let dose = format!("1 {}", indication.dose_unit);
                let mut answers = answered(&[
                    ("area", &indication.area),
                    ("drug", &drug.name),
                    ("indication", &indication.name),
                    ("patient.weight", "3.2 kg"),
                    ("dose", &dose),
                ]);
                for strength in answers.strengths_here(&formulary) {
                    answers.say(STRENGTH, &strength);
                    let form = answers.in_an_emergency(&formulary).to_json();
                    let entry = read(&form, true).unwrap_or_else(|codes| panic!("{codes:?}: {form}"));
                    let label = entry.label();
                    assert_eq!(label.strength, label.content, "{} {strength}", drug.name);
                    assert_eq!(entry.fill().value(), label.volume.value());
                    let stocked = drug.strengths.iter().find(|one| one.to_string() == strength).expect("it is listed");
                    let weight = Ratio::new(32, 10).expect("a weight in kg");
                    assert_eq!(Some(label.content.concentration()), stocked.concentration(weight), "{}", drug.name);
                    seen += 1;
                }
            }
        }
        assert!(seen > 100, "{seen}");
    }

    #[test]
    fn a_strength_that_is_not_stocked_is_no_label() {
        let formulary = Formulary::demonstration().expect("it has no fault");
        let mut answers = answered(&NORADRENALINE);
        answers.say(STRENGTH, "40 mg in 50 mL");
        let codes = read(&answers.in_an_emergency(&formulary).to_json(), true).expect_err("no label");
        assert!(codes.contains(&"field-missing"), "{codes:?}");
    }
}
