//! The practice theatre: invented staff, two infusions that run, and a set-up that waits for its second entry. Everything
//! is done through the actions that people use, at moments before now.

use std::path::Path;

use jiff::SignedDuration;

use crate::case::{
    self, Author, Cases, Confirmed, Person, ReportedAction, Role, SetUpCode, Shown, SubmittedForm, Turn, When,
};
use crate::cli::entry_file::CommandError;
use crate::entry::{Answers, QUESTIONS};
use crate::formulary::Formulary;
use crate::journal::{Journal, Signer};
use crate::quantity::{BolusDose, FlowRate, Moment};

/// Somebody who may sign in.
#[derive(Debug)]
pub(super) struct StaffMember {
    pub(super) person: Person,
    pub(super) pin: String,
    signer: Signer,
}

/// What a practice begins with.
#[derive(Debug)]
pub(super) struct Theatre {
    pub(super) cases: Cases,
    pub(super) staff: Vec<StaffMember>,
    /// The set-up that waits for its second entry.
    pub(super) waits: SetUpCode,
    /// What its second person reads: each question of the form with its answer.
    pub(super) sheet: Vec<(&'static str, String)>,
}

/// One invented patient: how old, and what two people read at the bedside.
struct Bedside {
    age_in_days: i64,
    hospital_number: &'static str,
    /// Minutes before now.
    drawn_up: u32,
    readings: &'static [(&'static str, &'static str)],
}

const STAFF: [(&str, Role); 3] =
    [("A. Idowu", Role::Anaesthetist), ("M. Tamm", Role::NurseAnaesthetist), ("E. Varga", Role::Pharmacist)];

/// 0.1 mcg/kg/min x 80 kg of 80 mcg/mL: 6 mL/h.
const ADULT: Bedside = Bedside {
    age_in_days: 24_300,
    hospital_number: "QM-20846",
    drawn_up: 90,
    readings: &[
        ("patient.weight", "80 kg"),
        ("patient.weight_from", "measured"),
        ("area", "adult theatre"),
        ("drug", "noradrenaline"),
        ("indication", "vasopressor"),
        ("phase", "maintenance"),
        ("dose", "0.1 mcg/kg/min"),
        ("titrate.from", "0.02 mcg/kg/min"),
        ("titrate.to", "0.3 mcg/kg/min"),
        ("titrate.step", "0.02 mcg/kg/min"),
        ("label.amount", "4 mg"),
        ("label.volume", "50 mL"),
        ("label.strength", "80 mcg/mL"),
        ("made_from.ampoules", "4"),
        ("made_from.of", "1 mg in 1 mL"),
        ("made_from.how", "made up to"),
        ("made_from.diluent", "glucose 5 %"),
        ("access", "central"),
        ("container", "syringe 50 mL"),
        ("fill", "50 mL"),
        ("line", "narrow-150"),
        ("line_filled", "from this syringe"),
        ("beyond", "0.3 mL"),
        ("driver", "bench"),
        ("planned_for", "4 h"),
    ],
};

/// 120 mcg/kg/h x 18 kg of 1 mg/mL: 2.16 mL/h; a bolus of 100 mcg/kg is 1.8 mg.
const CHILD: Bedside = Bedside {
    age_in_days: 2_000,
    hospital_number: "KL-00731",
    drawn_up: 65,
    readings: &[
        ("patient.weight", "18 kg"),
        ("patient.weight_from", "measured"),
        ("area", "paediatric theatre"),
        ("drug", "midazolam"),
        ("indication", "sedation"),
        ("phase", "maintenance"),
        ("dose", "120 mcg/kg/h"),
        ("bolus.dose", "100 mcg/kg"),
        ("bolus.over", "5 min"),
        ("label.amount", "50 mg"),
        ("label.volume", "50 mL"),
        ("label.strength", "1 mg/mL"),
        ("made_from.ampoules", "5"),
        ("made_from.of", "10 mg in 2 mL"),
        ("made_from.how", "made up to"),
        ("made_from.diluent", "sodium chloride 0.9 %"),
        ("access", "peripheral"),
        ("container", "syringe 50 mL"),
        ("fill", "50 mL"),
        ("line", "narrow-100"),
        ("line_filled", "from this syringe"),
        ("beyond", "0.2 mL"),
        ("driver", "fine"),
        ("planned_for", "8 h"),
    ],
};

/// 2.5 units/h of 1 unit/mL: 2.5 mL/h.
const WAITING: Bedside = Bedside {
    age_in_days: 20_000,
    hospital_number: "VT-55290",
    drawn_up: 12,
    readings: &[
        ("patient.weight", "96 kg"),
        ("patient.weight_from", "stated"),
        ("area", "adult theatre"),
        ("drug", "insulin"),
        ("indication", "variable rate"),
        ("phase", "maintenance"),
        ("dose", "2.5 units/h"),
        ("label.amount", "50 units"),
        ("label.volume", "50 mL"),
        ("label.strength", "1 unit/mL"),
        ("made_from.ampoules", "0.05"),
        ("made_from.of", "1000 units in 10 mL"),
        ("made_from.how", "made up to"),
        ("made_from.diluent", "sodium chloride 0.9 %"),
        ("access", "peripheral"),
        ("container", "syringe 50 mL"),
        ("fill", "50 mL"),
        ("line", "narrow-200"),
        ("line_filled", "from this syringe"),
        ("driver", "bench"),
        ("planned_for", "6 h"),
    ],
};

impl Theatre {
    /// Fills a new journal.
    pub(super) fn prepare(journal: &Path, formulary: &Formulary, now: Moment) -> Result<Self, CommandError> {
        let mut journal = Journal::create(journal, true, before(now, 100)?)?;
        let staff = employ(&mut journal, before(now, 99)?)?;
        let mut prologue = Prologue { cases: Cases::of(journal), staff, formulary, now };
        let adult = prologue.agrees(&ADULT, 85, 80)?;
        prologue.starts(adult, 75, "6 mL/h")?;
        let child = prologue.agrees(&CHILD, 60, 55)?;
        prologue.starts(child, 50, "2.16 mL/h")?;
        prologue.records(adult, &ReportedAction::RateChanged(FlowRate::parse("7.2 mL/h").map_err(typed_here)?), 30)?;
        prologue.reads_back(adult, "7.2 mL/h", 29)?;
        prologue.records(child, &ReportedAction::BolusGiven(BolusDose::parse("1.8 mg").map_err(typed_here)?), 20)?;
        prologue.reads_back(child, "2.16 mL/h", 14)?;
        let waits = prologue.enters_first(&WAITING, 5)?;
        let sheet = WAITING.sheet(now)?;
        Ok(Self { cases: prologue.cases, staff: prologue.staff, waits, sheet })
    }
}

/// The people, each vouched for by the first.
fn employ(journal: &mut Journal, at: Moment) -> Result<Vec<StaffMember>, CommandError> {
    let mut staff: Vec<StaffMember> = Vec::new();
    for (name, role) in STAFF {
        let pin = pin()?;
        case::add(journal, at, staff.first().map(|first| &first.signer), name, role, &pin)?;
        let (person, signer) = case::unlock(journal, at, name, &pin)?;
        staff.push(StaffMember { person, pin, signer });
    }
    Ok(staff)
}

/// What happens before the visitor comes.
struct Prologue<'f> {
    cases: Cases,
    staff: Vec<StaffMember>,
    formulary: &'f Formulary,
    now: Moment,
}

impl Prologue<'_> {
    /// The first entry of a new case, some minutes before now.
    fn enters_first(&mut self, bedside: &Bedside, minutes: u32) -> Result<SetUpCode, CommandError> {
        let at = before(self.now, minutes)?;
        let case = self.cases.open(at, Some(&self.staff[0].signer))?;
        self.enters(bedside, (case, None), Turn::First { anew: false }, at)
    }

    /// A new case whose first set-up two people agree on.
    fn agrees(&mut self, bedside: &Bedside, first: u32, second: u32) -> Result<SetUpCode, CommandError> {
        let code = self.enters_first(bedside, first)?;
        self.enters(bedside, (code.case, Some(code.number)), Turn::Second, before(self.now, second)?)
    }

    fn enters(
        &mut self,
        bedside: &Bedside,
        code: (case::CaseCode, Option<u16>),
        turn: Turn,
        at: Moment,
    ) -> Result<SetUpCode, CommandError> {
        let member = &self.staff[usize::from(turn == Turn::Second)];
        let author = Author::Signed(&member.person, &member.signer);
        let task = self.cases.task(code, turn, &author, at)?;
        let text = bedside.answers(self.now)?.to_json();
        let form = SubmittedForm { name: "the practice form".to_owned(), text, json: true, dose_again: None };
        Ok(self.cases.seal(&task, &form, &author, self.formulary, at)?)
    }

    /// The driver is read back, and started.
    fn starts(&mut self, code: SetUpCode, minutes: u32, rate: &str) -> Result<(), CommandError> {
        self.records(code, &ReportedAction::Started(None, case::SyringeSaid::default()), minutes)?;
        self.reads_back(code, rate, minutes - 1)
    }

    fn records(&mut self, code: SetUpCode, happening: &ReportedAction, minutes: u32) -> Result<(), CommandError> {
        let (at, idowu) = (before(self.now, minutes)?, &self.staff[0]);
        self.cases.record(
            code,
            (&idowu.person, &idowu.signer),
            happening,
            &When::default(),
            None,
            Confirmed::default(),
            at,
        )?;
        Ok(())
    }

    fn reads_back(&mut self, code: SetUpCode, rate: &str, minutes: u32) -> Result<(), CommandError> {
        let (at, tamm) = (before(self.now, minutes)?, &self.staff[1]);
        let shown = [Shown { value: "rate".to_owned(), typed: rate.to_owned() }];
        self.cases.read_back(code, (&tamm.person, &tamm.signer), &shown, None, at)?;
        Ok(())
    }
}

impl Bedside {
    /// The form as one of the two people fills it in. The birth date moves with now, so that the age stays.
    fn answers(&self, now: Moment) -> Result<Answers, CommandError> {
        let born = now.date().checked_sub(SignedDuration::from_hours(24 * self.age_in_days));
        let born = born.map_err(|error| CommandError::Fault(error.to_string()))?.to_string();
        let drawn_up_at = before(now, self.drawn_up)?.to_rfc3339();
        let mut answers = Answers::default();
        answers.say("patient.identifiers[0]", &born);
        answers.say("patient.identifiers[1]", self.hospital_number);
        answers.say("patient.born", &born);
        answers.say("drawn_up_at", &drawn_up_at);
        self.readings.iter().for_each(|(path, text)| answers.say(path, text));
        Ok(answers)
    }

    /// The same as a person reads it, in the order of the form.
    fn sheet(&self, now: Moment) -> Result<Vec<(&'static str, String)>, CommandError> {
        let (answers, drawn_up_at) = (self.answers(now)?, before(now, self.drawn_up)?.to_string());
        let text = |path| match path {
            // Day and minute: the form takes the offset from this machine.
            "drawn_up_at" => drawn_up_at.get(..16),
            path => answers.said(path),
        };
        Ok(QUESTIONS.iter().filter_map(|question| Some((question.says, text(question.path)?.to_owned()))).collect())
    }
}

fn before(now: Moment, minutes: u32) -> Result<Moment, CommandError> {
    now.minutes_earlier(minutes)
        .ok_or_else(|| CommandError::Fault("the clock of this machine shows no usable time".to_owned()))
}

fn typed_here(refused: crate::quantity::Refused) -> CommandError {
    CommandError::Fault(refused.to_string())
}

/// Six random digits. The last one differs from the first as in no run and no repetition, which would be refused.
fn pin() -> Result<String, CommandError> {
    let mut bytes = [0_u8; 5];
    getrandom::fill(&mut bytes).map_err(|error| CommandError::Fault(error.to_string()))?;
    let digits = bytes.map(|byte| byte % 10);
    let last = (digits[0] + 3) % 10;
    Ok(digits.iter().chain([&last]).map(|digit| char::from(b'0' + digit)).collect())
}

#[cfg(test)]
mod tests {
    use super::super::folder::PracticeFolder;
    use super::*;
    use crate::case::OverCases;
    use crate::entry::Asking;

    #[test]
    fn the_theatre_begins_with_two_good_infusions_and_one_set_up_that_waits() {
        let folder = PracticeFolder::create(&std::env::temp_dir()).expect("room");
        let formulary = Formulary::demonstration().expect("the one inside the program");
        for at in ["2026-03-14T00:40:00+01:00", "2031-07-01T12:00:30+00:00", "2040-02-29T23:59:59-05:00"] {
            let now = Moment::parse(at).expect("a moment");
            let journal = folder.path().join(&at[..4]);
            let theatre = Theatre::prepare(&journal, &formulary, now).map_err(|_| ()).expect("it follows");
            let rows = theatre.cases.list(OverCases::All, Some(&formulary), now).expect("a list").rows;
            let runs: Vec<_> = rows.iter().filter_map(|row| row.runs.as_ref()).collect();
            let rates: Vec<_> = runs.iter().map(|runs| (runs.drug.as_str(), runs.rate.as_deref())).collect();
            assert_eq!(rates, [("noradrenaline", Some("7.2 mL/h")), ("midazolam", Some("2.16 mL/h"))], "{at}");
            let owed: Vec<_> =
                rows.iter().map(|row| row.owed.iter().map(|owed| owed.code).collect::<Vec<_>>()).collect();
            assert_eq!(owed, [vec![], vec![], vec![""; 0]], "{at}");
            for row in &rows {
                let case = theatre.cases.case(row.case).expect("it was opened");
                let course = case.course(&case.set_ups[0], now).expect("it follows");
                assert_eq!(course.is_some(), row.runs.is_some(), "{at}");
            }
            theatre.cases.journal().verify(&[], &mut |_, _| {}).expect("each event is as it was written");
        }
    }

    #[test]
    fn the_second_person_agrees_by_typing_the_sheet() {
        let folder = PracticeFolder::create(&std::env::temp_dir()).expect("room");
        let formulary = Formulary::demonstration().expect("the one inside the program");
        let now = Moment::now().local();
        let mut theatre = Theatre::prepare(&folder.journal(), &formulary, now).map_err(|_| ()).expect("it follows");
        let tamm = &theatre.staff[1];
        let author = Author::Signed(&tamm.person, &tamm.signer);
        let mut answers = Answers::default();
        let asking = Asking { patient_known: false, second: true, emergency: false, today: now.date() };
        for question in QUESTIONS {
            let need = answers.need(question, &formulary, asking);
            let typed = theatre.sheet.iter().find(|(says, _)| *says == question.says).map(|(_, text)| text.as_str());
            assert!(typed.is_some() || need != crate::entry::Need::Needed, "{} is asked and not read", question.path);
            let text = crate::entry::written(question.path, typed.unwrap_or_default(), now).expect("it is read");
            answers.say(question.path, &text);
        }
        let code = (theatre.waits.case, Some(theatre.waits.number));
        let task = theatre.cases.task(code, Turn::Second, &author, now).expect("their turn");
        let form = SubmittedForm { name: "a form".to_owned(), text: answers.to_json(), json: true, dose_again: None };
        theatre.cases.seal(&task, &form, &author, &formulary, now).expect("a good form");
        let case = theatre.cases.case(theatre.waits.case).expect("it was opened");
        let standing = case.standing(case.set_ups[0].latest().expect("it was entered"));
        assert!(matches!(standing.stage, case::ReviewStage::Agreed(_)));
    }

    #[test]
    fn pins_are_never_refused() {
        for _ in 0..200 {
            let pin = pin().map_err(|_| ()).expect("random numbers");
            let digits: Vec<i32> = pin.bytes().map(i32::from).collect();
            assert!(digits.len() == 6 && pin.bytes().all(|byte| byte.is_ascii_digit()), "{pin}");
            let steps: Vec<i32> = digits.windows(2).map(|two| two[1] - two[0]).collect();
            assert!(steps.iter().any(|step| *step != steps[0]), "{pin}");
        }
    }
}
