//! The same form, asked question by question: which question comes next, what may be answered, and what is wrong with
//! one answer. In: answers so far and the formulary. Out: the form as JSON. No question holds an answer that a person
//! must read for themselves, and every answer is judged by the reader of forms, in its words.

use std::ops::Range;

use jiff::civil::Date;
use serde_json::{Map, Value as Json};

use crate::diagnostic::Fault;
use crate::document::{Node, Path, Value, read_form};
use crate::formulary::{DosingWeight, Formulary, HowMade, Indication, Lookup, Phase, StandardEquipment};
use crate::quantity::{Moment, Per};

use super::{Access, EntryForm, FormContext, LineFilled, NotTold, Sex, WeightFrom};

/// One question of the form.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Question {
    /// Where the answer stands in the form: `label.amount`.
    pub path: &'static str,
    /// The field that a disagreement names.
    pub field: &'static str,
    /// In words.
    pub says: &'static str,
    /// What an answer looks like. Never the value that this patient or syringe has.
    pub example: &'static str,
}

/// Whether a question is asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Need {
    /// It needs an answer.
    Needed,
    /// It may be left empty.
    MayBeEmpty,
    /// It is not asked.
    No,
}

/// Answers so far, by their place in the form.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Answers(Vec<(String, String)>);

const fn question(path: &'static str, field: &'static str, says: &'static str, example: &'static str) -> Question {
    Question { path, field, says, example }
}

/// Every question, in the order in which they are asked.
pub const QUESTIONS: &[Question] = &[
    question("area", "area", "Area", "adult theatre"),
    question("drug", "drug", "Drug, as the order says", "dobutamine"),
    question("indication", "indication", "What it is for", "vasopressor"),
    question(IDENTIFIER, "identifiers", "First identifier, off the wristband, or pending", "AB-12345"),
    question("patient.identifiers[1]", "identifiers", "Second identifier, off the wristband", "1970-01-31"),
    question("patient.weight", "weight", "Weight", "70.5 kg"),
    question("patient.weight_from", "weight", "Where the weight comes from", "measured"),
    question("patient.born", "born", "Date of birth", "1970-01-31"),
    question("patient.age", "born", "Age", "45 years"),
    question("patient.gestation", "gestation", "Weeks of pregnancy at birth, for the preterm", "34 weeks"),
    question("patient.sex", "sex", "Sex", "female"),
    question("patient.height", "height", "Height", "170 cm"),
    question("phase", "phase", "Phase", "maintenance"),
    question("dose", "dose", "Dose, with its unit, as the order says", "1.5 mcg/kg/min"),
    question("titrate.from", "titrate", "Ordered range, from", "1 mcg/kg/min"),
    question("titrate.to", "titrate", "Ordered range, to", "2 mcg/kg/min"),
    question("titrate.step", "titrate", "Ordered step", "0.5 mcg/kg/min"),
    question("bolus.dose", "bolus", "Ordered bolus", "0.5 mg/kg"),
    question("bolus.over", "bolus", "Bolus over which time", "1 min"),
    question("dosing_weight", "dosing_weight", "Weight by which the dose is counted", "actual"),
    question("label.amount", "label", "Amount, off the syringe's label", "250 mg"),
    question("label.volume", "label", "Volume, off the syringe's label", "30 mL"),
    question("label.strength", "label", "Strength, off the syringe's label", "7.5 mg/mL"),
    question(AMPOULES, "made_from", "How many ampoules it was made from, or not seen, or bought in", "3"),
    question("made_from.of", "made_from", "What each ampoule holds", "75 mg in 5 mL"),
    question("made_from.how", "made_from", "How it was made", "made up to"),
    question("made_from.diluent", "made_from", "Diluent", "glucose 5 %"),
    question("drawn_up_at", "drawn_up_at", "Drawn up at", "06:15"),
    question("use_before", "use_before", "To be used before, as the syringe says", "2026-01-31 06:15"),
    question("access", "access", "Access", "central"),
    question("container", "container", "Syringe or bag", "syringe 50 mL"),
    question("line", "line", "Line", "narrow-150"),
    question("driver", "driver", "Driver or pump", "bench"),
    question("fill", "fill", "Volume in the syringe, before the line is filled", "28.5 mL"),
    question("line_filled", "line_filled", "With what the line is filled", "from this syringe"),
    question("beyond", "beyond", "Dead space beyond the line", "0.25 mL"),
    question("starts_at", "starts_at", "Planned start", "06:30"),
    question("planned_for", "planned_for", "Planned for", "90 min"),
];

const IDENTIFIER: &str = "patient.identifiers[0]";
const AMPOULES: &str = "made_from.ampoules";
/// The three that an area's standard equipment answers at once.
pub const EQUIPMENT: [&str; 3] = ["container", "line", "driver"];
/// Answers that may be clock times.
pub const TIMES: [&str; 3] = ["drawn_up_at", "use_before", "starts_at"];

impl Answers {
    /// The answers that a form holds.
    #[must_use]
    pub fn of_form(text: &str, json: bool) -> Self {
        let mut faults = Vec::new();
        let root = read_form(text, json, &mut faults);
        let mut answers = Self::default();
        if let Some(root) = root {
            flatten(&root, String::new(), &mut answers.0);
        }
        // A list of identifiers or ampoules, or the words in their place.
        for (whole, first) in WORDS_IN_PLACE {
            if let Some(word) = answers.0.iter_mut().find(|(path, _)| path == whole) {
                first.clone_into(&mut word.0);
            }
        }
        answers
    }

    /// Writes an answer down, or takes it away where it is empty.
    pub fn say(&mut self, path: &str, text: &str) {
        self.0.retain(|(known, _)| known != path);
        if !text.is_empty() {
            self.0.push((path.to_owned(), text.to_owned()));
        }
    }

    /// The answer that stands at a place.
    #[must_use]
    pub fn said(&self, path: &str) -> Option<&str> {
        self.0.iter().find(|(known, _)| known == path).map(|(_, text)| text.as_str())
    }

    /// Takes away every answer of a field that is read again.
    pub fn forget(&mut self, field: &str) {
        let mut paths = QUESTIONS.iter().filter(|question| question.field == field).map(|question| question.path);
        let of_field: Vec<&str> = paths.by_ref().collect();
        self.0.retain(|(path, _)| !of_field.contains(&path.as_str()) && !path.starts_with(&format!("{field}.")));
    }

    /// The form.
    #[must_use]
    pub fn to_json(&self) -> String {
        let mut root = Map::new();
        for (path, text) in &self.0 {
            put(&mut root, place_of(path, text), text);
        }
        Json::Object(root).to_string()
    }

    /// Whether a question is asked, by what was answered before it, and by the day it is.
    #[must_use]
    pub fn need(&self, question: &Question, formulary: &Formulary, patient_known: bool, today: Date) -> Need {
        use Need::{MayBeEmpty, Needed, No};
        let said = |path: &str| self.said(path).is_some();
        let indication = self.indication(formulary);
        let by_kg = indication.is_some_and(|found| found.dose_unit.dose().per() == Per::Kilogram);
        let for_children = self
            .said("area")
            .and_then(|area| formulary.area(area))
            .is_some_and(|area| area.age.as_ref().is_some_and(|age| age.to.is_some()));
        let several = indication.is_some_and(|found| found.strengths.len() > 1);
        let made_here = self.said(AMPOULES).is_some_and(|said| !NotTold::WORDS.contains(&said));
        let sized = indication.is_some_and(|found| {
            found.body_surface.is_some() || found.dosing_weights.iter().any(|weight| *weight != DosingWeight::Actual)
        });
        match question.path {
            path if patient_known && path.starts_with("patient.") => No,
            "patient.identifiers[1]" if self.said(IDENTIFIER) == Some(PENDING) => No,
            "indication" if self.indications(formulary).len() < 2 => No,
            // Where several strengths are stocked, the ampoules tell which one it is.
            AMPOULES if several => Needed,
            "patient.born" | "titrate.from" | "bolus.dose" | AMPOULES | "beyond" | "starts_at" | "planned_for" => {
                MayBeEmpty
            }
            "patient.age" if said("patient.born") => No,
            // Age and height tell whether a weight is likely, where the dose is counted by it.
            "patient.age" if by_kg && for_children => Needed,
            "patient.age" => MayBeEmpty,
            // Weeks of pregnancy count in the first year.
            "patient.gestation" if self.is_in_first_year(today) => MayBeEmpty,
            "patient.sex" | "patient.height" if sized => MayBeEmpty,
            "patient.height" if by_kg && !for_children => MayBeEmpty,
            "patient.gestation" | "patient.sex" | "patient.height" => No,
            "titrate.to" if !said("titrate.from") => No,
            "titrate.step" if said("titrate.from") => MayBeEmpty,
            "titrate.step" => No,
            "bolus.over" if !said("bolus.dose") => No,
            "dosing_weight" if indication.is_none_or(|found| found.dosing_weights.len() < 2) => No,
            "made_from.of" | "made_from.how" | "made_from.diluent" if !made_here => No,
            "made_from.diluent" if self.said("made_from.how") == Some(HowMade::Undiluted.word()) => No,
            "drawn_up_at" if !made_here => MayBeEmpty,
            "use_before" if made_here => No,
            "use_before" if said("drawn_up_at") => MayBeEmpty,
            _ => Needed,
        }
    }

    /// The words that may be answered, where they are a closed list.
    #[must_use]
    pub fn offered(&self, question: &Question, formulary: &Formulary) -> Vec<String> {
        let words = |words: &[&str]| words.iter().map(|word| (*word).to_owned()).collect();
        match question.path {
            "area" => formulary.areas().iter().map(|area| area.name.clone()).collect(),
            "indication" => self.indications(formulary).iter().map(|found| found.name.clone()).collect(),
            "patient.weight_from" => words(WeightFrom::WORDS),
            "patient.sex" => words(Sex::WORDS),
            "phase" => words(Phase::WORDS),
            "dosing_weight" => {
                let found = self.indication(formulary).map(|found| found.dosing_weights.as_slice());
                found.unwrap_or_default().iter().map(|weight| weight.word().to_owned()).collect()
            }
            "made_from.how" => words(HowMade::WORDS),
            "access" => words(Access::WORDS),
            "line_filled" => words(LineFilled::WORDS),
            "container" => formulary.equipment().containers.iter().map(|one| one.key.clone()).collect(),
            "line" => formulary.equipment().lines.iter().map(|one| one.key.clone()).collect(),
            "driver" => formulary.equipment().drivers.iter().map(|one| one.key.clone()).collect(),
            _ => Vec::new(),
        }
    }

    /// The usual equipment of the area.
    #[must_use]
    pub fn standard_equipment<'f>(&self, formulary: &'f Formulary) -> Option<&'f StandardEquipment> {
        Some(&formulary.area(self.said("area")?)?.standard)
    }

    /// What is wrong with an answer: by the reader of forms, or because the formulary does not know the name.
    #[must_use]
    pub fn fault(&self, path: &str, given: &FormContext, formulary: &Formulary) -> Option<Fault> {
        let text = self.to_json();
        let mut faults = Vec::new();
        let root = read_form(&text, true, &mut faults)?;
        let _ = EntryForm::at(&root, Path::Root).given(given).read(&mut faults);
        let path = self.said(path).map_or(path, |text| place_of(path, text));
        let own = faults.into_iter().find(|fault| fault.field == path).map(Fault::without_what_was_typed);
        own.or_else(|| self.unknown_name(path, formulary)).map(|fault| Fault { range: None::<Range<usize>>, ..fault })
    }

    fn unknown_name(&self, path: &str, formulary: &Formulary) -> Option<Fault> {
        let typed = self.said(path)?;
        let equipment = formulary.equipment();
        let known = match path {
            "area" => formulary.area(typed).is_some(),
            "container" => equipment.container(typed).is_some(),
            "line" => equipment.line(typed).is_some(),
            "driver" => equipment.driver(typed).is_some(),
            "indication" => self.indications(formulary).iter().any(|found| found.name == typed),
            "drug" => {
                let Lookup::Unknown { .. } = formulary.drug(typed) else { return None };
                let help = "read the order again, and write the generic name";
                return Some(Fault::new("drug-unknown", "the formulary has no such drug").in_field(path).help(help));
            }
            _ => true,
        };
        let question = QUESTIONS.iter().find(|question| question.path == path).filter(|_| !known)?;
        let help = format!("write one of: {}", self.offered(question, formulary).join(", "));
        Some(Fault::new("name-unknown", "the formulary has no such name").in_field(path).help(help))
    }

    fn indications<'f>(&self, formulary: &'f Formulary) -> Vec<&'f Indication> {
        let (Some(drug), Some(area)) = (self.said("drug"), self.said("area")) else { return Vec::new() };
        let (Lookup::Found(drug), Some(area)) = (formulary.drug(drug), formulary.area(area)) else {
            return Vec::new();
        };
        drug.indications.iter().filter(|found| found.area == area.name).collect()
    }

    fn indication<'f>(&self, formulary: &'f Formulary) -> Option<&'f Indication> {
        let all = self.indications(formulary);
        match self.said("indication") {
            Some(name) => all.into_iter().find(|found| found.name == name),
            None => all.first().copied().filter(|_| all.len() == 1),
        }
    }

    fn is_in_first_year(&self, today: Date) -> bool {
        let age = self.said("patient.age").and_then(|text| crate::quantity::Age::parse(text).ok());
        let born = self.said("patient.born").and_then(|text| crate::quantity::parse_date(text).ok());
        let days = age.map(crate::quantity::Age::days).or_else(|| crate::quantity::Age::days_from(born?, today));
        days.is_some_and(|days| days <= crate::quantity::Ratio::whole(366))
    }
}

/// As it is kept: a clock time with its day and offset, everything else as typed.
///
/// # Errors
/// When a clock time cannot be read.
pub fn written(path: &str, typed: &str, now: Moment) -> Result<String, Fault> {
    if !TIMES.contains(&path) || typed.is_empty() {
        return Ok(typed.to_owned());
    }
    let read =
        if path == "drawn_up_at" { Moment::parse_local(typed, now) } else { Moment::parse_local_any(typed, now) };
    read.map(Moment::to_rfc3339)
        .map_err(|refused| Fault::new(refused.problem.code(), refused.to_string()).help(refused.help))
}

const PENDING: &str = "pending";
/// Where one word may stand for a whole field, with the question at which it is answered.
const WORDS_IN_PLACE: [(&str, &str); 2] = [("patient.identifiers", IDENTIFIER), ("made_from", AMPOULES)];

/// Where an answer stands in the form.
fn place_of<'p>(path: &'p str, text: &str) -> &'p str {
    match path {
        IDENTIFIER if text == PENDING => "patient.identifiers",
        AMPOULES if NotTold::WORDS.contains(&text) => "made_from",
        _ => path,
    }
}

fn flatten(node: &Node<'_>, path: String, into: &mut Vec<(String, String)>) {
    match &node.value {
        Value::Text(text) => into.push((path, text.trim().to_owned())),
        Value::Map(members) => {
            for member in members {
                let dot = if path.is_empty() { "" } else { "." };
                flatten(&member.node, format!("{path}{dot}{}", member.key), into);
            }
        }
        Value::List(items) => {
            items.iter().enumerate().for_each(|(at, item)| flatten(item, format!("{path}[{at}]"), into));
        }
        Value::Nothing | Value::Bare => {}
    }
}

/// Puts a text where its path says: keys, and places in a list.
fn put(map: &mut Map<String, Json>, path: &str, text: &str) {
    // The code of a finding is the rest of the path, whole.
    let (key, rest) = match path.split_once('.') {
        Some((key, rest)) => (key, Some(rest)),
        None => (path, None),
    };
    match (rest, key.strip_suffix(']').and_then(|key| key.split_once('['))) {
        (Some(rest), _) => {
            let inner = map.entry(key).or_insert_with(|| Json::Object(Map::new()));
            if let Json::Object(inner) = inner {
                put(inner, rest, text);
            }
        }
        (None, Some((list, _))) => {
            let list = map.entry(list).or_insert_with(|| Json::Array(Vec::new()));
            if let Json::Array(list) = list {
                list.push(text.into());
            }
        }
        (None, None) => drop(map.insert(key.to_owned(), text.into())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Moment;

    fn given() -> FormContext {
        let entered_at = Moment::parse("2026-03-14T07:40:00+00:00").expect("a moment");
        FormContext { name: "A. Idowu".to_owned(), role: "anaesthetist".to_owned(), entered_at, patient: None }
    }

    #[test]
    fn answers_make_a_form_and_a_form_makes_answers() {
        let mut answers = Answers::default();
        for (path, text) in [
            ("drug", "noradrenaline"),
            (IDENTIFIER, "1959-08-02"),
            ("patient.identifiers[1]", "QM-30417"),
            ("label.amount", "4 mg"),
            ("reasons.dose-above-soft-limit", "septic \"shock\""),
        ] {
            answers.say(path, text);
        }
        assert_eq!(Answers::of_form(&answers.to_json(), true), answers);
        answers.forget("identifiers");
        answers.forget("reasons");
        assert_eq!(answers.said(IDENTIFIER), None);
        assert_eq!(answers.said("reasons.dose-above-soft-limit"), None);
        answers.say(IDENTIFIER, PENDING);
        assert!(answers.to_json().contains(r#""identifiers":"pending""#));
        assert_eq!(Answers::of_form(&answers.to_json(), true).said(IDENTIFIER), Some(PENDING));
        answers.say(AMPOULES, "not seen");
        assert!(answers.to_json().contains(r#""made_from":"not seen""#));
        assert_eq!(Answers::of_form(&answers.to_json(), true).said(AMPOULES), Some("not seen"));
    }

    #[test]
    fn weeks_of_pregnancy_are_asked_in_the_first_year_of_the_day_it_is() {
        let formulary = Formulary::demonstration().expect("it has no fault");
        let gestation = QUESTIONS.iter().find(|question| question.path == "patient.gestation").expect("asked");
        let mut answers = Answers::default();
        answers.say("patient.born", "2026-02-20");
        let need = |today: Date| answers.need(gestation, &formulary, false, today);
        assert_eq!(need(jiff::civil::date(2026, 3, 14)), Need::MayBeEmpty);
        assert_eq!(need(jiff::civil::date(2027, 3, 14)), Need::No);
    }

    #[test]
    fn ampoules_are_asked_where_a_use_stocks_several_strengths_and_age_or_height_where_a_dose_counts_by_weight() {
        let formulary = Formulary::demonstration().expect("it has no fault");
        let today = jiff::civil::date(2026, 3, 14);
        let need = |said: &[(&str, &str)], path: &str| {
            let mut answers = Answers::default();
            said.iter().for_each(|(path, text)| answers.say(path, text));
            let question = QUESTIONS.iter().find(|question| question.path == path).expect("asked");
            answers.need(question, &formulary, false, today)
        };
        let adult = [("area", "adult theatre"), ("drug", "noradrenaline")];
        assert_eq!(need(&adult, AMPOULES), Need::Needed);
        assert_eq!(need(&adult, "patient.height"), Need::MayBeEmpty);
        assert_eq!(need(&[("area", "adult theatre"), ("drug", "insulin")], AMPOULES), Need::MayBeEmpty);
        let child = [("area", "paediatric theatre"), ("drug", "midazolam"), ("indication", "sedation")];
        assert_eq!(need(&child, "patient.age"), Need::Needed);
        assert_eq!(need(&child, "patient.height"), Need::No);
        let [area, drug] = adult;
        let not_seen = [area, drug, (AMPOULES, "not seen")];
        assert_eq!(need(&not_seen, "made_from.of"), Need::No);
        assert_eq!(need(&[area, drug, (AMPOULES, "4")], "made_from.of"), Need::Needed);
    }

    // hazard: H-UNIT
    #[test]
    fn an_answer_is_judged_in_the_words_of_the_form() {
        let formulary = Formulary::demonstration().expect("it has no fault");
        let fault = |path: &str, text: &str| {
            let mut answers = Answers::default();
            answers.say("area", "adult theatre");
            answers.say(path, text);
            answers.fault(path, &given(), &formulary).map(|fault| fault.code)
        };
        assert_eq!(fault("dose", "0.08 mcg/kg/min"), None);
        assert_eq!(fault("dose", ".08 mcg/kg/min"), Some("number-leading-point"));
        assert_eq!(fault("patient.weight", "185 lb"), Some("weight-in-pounds"));
        assert_eq!(fault("drug", "noradrenalin"), Some("drug-unknown"));
        assert_eq!(fault("container", "syringe 40 mL"), Some("name-unknown"));
        assert_eq!(fault("phase", "middle"), Some("word-unknown"));
    }

    #[test]
    fn every_question_leads_into_the_form() {
        let formulary = Formulary::demonstration().expect("it has no fault");
        for question in QUESTIONS {
            let mut answers = Answers::default();
            answers.say("area", "adult theatre");
            answers.say("drug", "noradrenaline");
            answers.say(question.path, question.example);
            let fault = answers.fault(question.path, &given(), &formulary);
            let is_clock = TIMES.contains(&question.path);
            assert!(is_clock || fault.is_none(), "{}: {fault:?}", question.path);
        }
    }
}
