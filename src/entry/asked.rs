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

use super::questions::{AMPOULES, IDENTIFIER, QUESTIONS, Question, TIMES};
use super::{Access, EntryForm, FormContext, LineFilled, NotTold, Sex, WeightFrom};

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

/// Who is asked, and when.
#[derive(Debug, Clone, Copy)]
pub struct Asking {
    /// Whether two people agreed on the patient before, in this case.
    pub patient_known: bool,
    /// Whether it is a second person: they are asked what is compared, and what a card is made stricter by.
    pub second: bool,
    /// Whether it is an emergency: nobody is held up by an age of the solution that nobody knows.
    pub emergency: bool,
    /// The day it is.
    pub today: Date,
}

/// Answers so far, by their place in the form.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Answers(Vec<(String, String)>);

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

    /// Writes one more item of a list down.
    pub(super) fn add(&mut self, path: &str, text: &str) {
        self.0.push((path.to_owned(), text.to_owned()));
    }

    /// The items of a list that stand at paths that begin so.
    pub(super) fn items<'s>(&'s self, list: &'s str) -> impl Iterator<Item = &'s str> {
        self.0.iter().filter(move |(path, _)| path.starts_with(list)).map(|(_, text)| text.as_str())
    }

    /// The place of every answer.
    pub(super) fn paths(&self) -> impl Iterator<Item = &str> {
        self.0.iter().map(|(path, _)| path.as_str())
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
        self.0.retain(|(path, text)| {
            let was_carried = path.starts_with("carried[") && of_field.contains(&text.as_str());
            !was_carried && !of_field.contains(&path.as_str()) && !path.starts_with(&format!("{field}."))
        });
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

    /// Whether a question is asked, by what was answered before it, and by who is asked. `docs/entry.md` says why.
    #[must_use]
    pub fn need(&self, question: &Question, formulary: &Formulary, asking: Asking) -> Need {
        use Need::{MayBeEmpty, Needed, No};
        let said = |path: &str| self.said(path).is_some();
        let indication = self.indication(formulary);
        let by_kg = indication.is_some_and(|found| found.dose_unit.dose().per() == Per::Kilogram);
        let for_children = self
            .said("area")
            .and_then(|area| formulary.area(area))
            .is_some_and(|area| area.age.as_ref().is_some_and(|age| age.to.is_some()));
        let several = indication.is_some_and(|found| found.strengths.len() > 1);
        let made_here = self.is_made_here();
        let sized = indication.is_some_and(|found| {
            found.body_surface.is_some() || found.dosing_weights.iter().any(|weight| *weight != DosingWeight::Actual)
        });
        match question.path {
            path if asking.patient_known && path.starts_with("patient.") => No,
            "patient.identifiers[1]" if self.said(IDENTIFIER) == Some(PENDING) => No,
            "indication" if self.indications(formulary).len() < 2 => No,
            // Neither is compared; what the first person planned stands on the card.
            "starts_at" | "planned_for" if asking.second => No,
            // A range belongs to a dose that follows its effect, a bolus to a use that has limits for one.
            "titrate.from" if !said("titrate.from") && indication.is_none_or(|found| !found.titrated_to_effect) => No,
            "bolus.dose" if !said("bolus.dose") && indication.is_none_or(|found| found.bolus.is_none()) => No,
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
            "patient.gestation" if self.is_in_first_year(asking.today) => MayBeEmpty,
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
            "use_before" if said("drawn_up_at") || asking.emergency => MayBeEmpty,
            _ => Needed,
        }
    }

    /// Whether it was made here, by what was answered about the ampoules.
    pub(super) fn is_made_here(&self) -> bool {
        self.said(AMPOULES).is_some_and(|said| !NotTold::WORDS.contains(&said))
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

    pub(super) fn indications<'f>(&self, formulary: &'f Formulary) -> Vec<&'f Indication> {
        let (Some(drug), Some(area)) = (self.said("drug"), self.said("area")) else { return Vec::new() };
        let (Lookup::Found(drug), Some(area)) = (formulary.drug(drug), formulary.area(area)) else {
            return Vec::new();
        };
        drug.indications.iter().filter(|found| found.area == area.name).collect()
    }

    pub(super) fn indication<'f>(&self, formulary: &'f Formulary) -> Option<&'f Indication> {
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
        FormContext {
            name: "A. Idowu".to_owned(),
            role: "anaesthetist".to_owned(),
            entered_at,
            patient: None,
            may_assume: false,
            may_carry: false,
        }
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
        let need = |today: Date| {
            let asking = Asking { patient_known: false, second: false, emergency: false, today };
            answers.need(gestation, &formulary, asking)
        };
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
            answers.need(question, &formulary, Asking { patient_known: false, second: false, emergency: false, today })
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

    #[test]
    fn every_question_has_its_reason_in_the_manual() {
        let manual = include_str!("../../docs/entry.md");
        for question in QUESTIONS {
            assert!(manual.contains(&format!("| `{}` |", question.path)), "{}", question.path);
        }
    }

    #[test]
    fn a_range_a_bolus_and_times_are_asked_where_the_use_or_the_person_needs_them() {
        let formulary = Formulary::demonstration().expect("it has no fault");
        let need = |drug: &str, path: &str, second: bool| {
            let mut answers = Answers::default();
            answers.say("area", "adult theatre");
            answers.say("drug", drug);
            let question = QUESTIONS.iter().find(|question| question.path == path).expect("asked");
            let today = jiff::civil::date(2026, 3, 14);
            answers.need(question, &formulary, Asking { patient_known: true, second, emergency: false, today })
        };
        assert_eq!(need("noradrenaline", "titrate.from", false), Need::MayBeEmpty);
        assert_eq!(need("noradrenaline", "bolus.dose", false), Need::No);
        assert_eq!(need("noradrenaline", "planned_for", false), Need::MayBeEmpty);
        assert_eq!(need("noradrenaline", "planned_for", true), Need::No);
        assert_eq!(need("noradrenaline", "patient.weight", true), Need::No);
        // Everything that is compared is asked of both.
        for compared in
            ["dose", "label.amount", "container", "fill", "line", "line_filled", "driver", "access", "phase"]
        {
            assert_eq!(need("noradrenaline", compared, true), Need::Needed, "{compared}");
        }
    }

    // hazard: H-UNIT
    #[test]
    fn every_key_writes_what_the_reader_of_forms_takes() {
        let formulary = Formulary::demonstration().expect("it has no fault");
        let fault = |path: &'static str, text: String| {
            let mut answers = Answers::default();
            answers.say("area", "adult theatre");
            answers.say(path, &text);
            answers.fault(path, &given(), &formulary).map(|fault| (text, fault.message))
        };
        for question in QUESTIONS.iter().filter(|question| !question.keys.is_empty()) {
            match question.keys {
                [units] if *units == NotTold::WORDS => {
                    units.iter().for_each(|word| assert_eq!(fault(question.path, (*word).to_owned()), None));
                }
                [[":", "now"]] => assert!(written(question.path, "now", given().entered_at).is_ok()),
                [amounts, ["in"], ["mL"]] => {
                    amounts.iter().for_each(|unit| assert_eq!(fault(question.path, format!("1 {unit} in 1 mL")), None));
                }
                [amounts, ["/mL", ..]] => {
                    amounts.iter().for_each(|unit| assert_eq!(fault(question.path, format!("1 {unit}/mL")), None));
                }
                [units] => {
                    // Weeks of pregnancy and the like have their bounds; a unit that is not known is another fault.
                    for unit in *units {
                        let code = fault(question.path, format!("30 {unit}")).map(|(_, message)| message);
                        assert!(code.as_deref().is_none_or(|says| !says.contains(unit)), "{}: {code:?}", question.path);
                    }
                }
                [amounts, per, times @ ..] => {
                    let times = times.first().copied().unwrap_or(&[""]);
                    for (amount, time) in amounts.iter().flat_map(|amount| times.iter().map(move |time| (amount, time)))
                    {
                        for per in per.iter().chain([&""]) {
                            assert_eq!(fault(question.path, format!("1 {amount}{per}{time}")), None);
                        }
                    }
                }
                [] => unreachable!("questions with keys alone"),
            }
        }
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
