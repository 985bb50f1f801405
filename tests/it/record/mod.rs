//! The running record: what happened can always be written down, and what is given and left is exact.
#![cfg(feature = "journal")]

mod closing;
mod commands;
mod corrections;
mod history;
mod marks;
mod mended;
mod order;
mod restart;
mod sums;
mod weights;

use std::path::PathBuf;
use std::sync::LazyLock;

use countersign::case::{
    Author, CaseError, Cases, Confirmed, Course, Person, Recorded, ReportedAction, Role, SetUpCode, Shown,
    SubmittedForm, Turn, When, add, unlock,
};
use countersign::formulary::Formulary;
use countersign::journal::{Journal, Signer};
use countersign::quantity::{BolusDose, FlowRate, Moment, Ratio};

use crate::common::{Said, copy, folder, run};

const IDOWU: &str = "A. Idowu";
const TAMM: &str = "M. Tamm";
const PIN: &str = "281940";

/// Whatever is odd about it, it was meant so.
const BOTH: Confirmed = Confirmed { even_so: true, dose_changes: true };

/// Everything is written down at this time of the day.
const NOW: &str = "20:00";

/// 80 kg and 80 mcg/mL: 1 mL/h gives a sixtieth of a mcg/kg/min. The card says 4.8 mL/h; 49 mL are left to infuse.
const SINGLE: &str = r#"patient: {identifiers: ["1959-08-02", "QM-30417"], weight: 80 kg, weight_from: measured, born: 1959-08-02}
drug: noradrenaline
area: adult theatre
indication: vasopressor
phase: maintenance
dose: 0.08 mcg/kg/min
titrate: {from: 0.02 mcg/kg/min, to: 0.3 mcg/kg/min, step: 0.02 mcg/kg/min}
label: {amount: 4 mg, volume: 50 mL, strength: 80 mcg/mL}
made_from: {ampoules: 4, of: 1 mg in 1 mL, diluent: glucose 5 %, how: made up to}
drawn_up_at: 2026-03-14T07:35:00+00:00
access: central
container: syringe 50 mL
fill: 50 mL
line: narrow-150
line_filled: from this syringe
driver: bench
planned_for: 3 h
"#;

/// A journal in which two people may sign, held in the hands of both.
struct Theatre {
    journal: PathBuf,
    cases: Cases,
    idowu: &'static (Person, Signer),
    tamm: &'static (Person, Signer),
    formulary: Formulary,
}

fn at(clock: &str) -> Moment {
    Moment::parse(&format!("2026-03-14T{clock}:00+00:00")).expect("a moment")
}

/// The same set-up with the next syringe of double strength, into a line that is full, entered as it was ordered whatever runs.
fn double() -> String {
    changed(
        SINGLE,
        &[
            ("amount: 4 mg, volume: 50 mL, strength: 80 mcg/mL", "amount: 8 mg, volume: 50 mL, strength: 160 mcg/mL"),
            ("ampoules: 4", "ampoules: 8"),
            ("line_filled: from this syringe", "line_filled: already full"),
            ("planned_for: 3 h", "planned_for: 3 h\nreasons: {far-from-running-dose: the dose that was ordered first}"),
        ],
    )
}

/// A form with text replaced that stands in it exactly once.
#[track_caller]
fn changed(form: &str, changes: &[(&str, &str)]) -> String {
    changes.iter().fold(form.to_owned(), |form, (from, to)| {
        assert_eq!(form.matches(from).count(), 1, "{from:?} stands once in {form}");
        form.replace(from, to)
    })
}

impl Theatre {
    fn new(name: &str) -> Self {
        Self::with(name, Formulary::demonstration().expect("the one inside the program"))
    }

    fn with(name: &str, formulary: Formulary) -> Self {
        // One journal is made for all tests and copied for each: a PIN takes long to check.
        static MADE: LazyLock<(PathBuf, [(Person, Signer); 2])> = LazyLock::new(|| {
            let path = folder("made-once").join("journal");
            let mut journal = Journal::create(&path, true, at("06:00")).expect("our own folder");
            add(&mut journal, at("06:00"), None, IDOWU, Role::Anaesthetist, PIN).expect("a good PIN");
            let idowu = unlock(&mut journal, at("06:00"), IDOWU, PIN).expect("the PIN");
            add(&mut journal, at("06:00"), Some(&idowu.1), TAMM, Role::Nurse, PIN).expect("a good PIN");
            let tamm = unlock(&mut journal, at("06:00"), TAMM, PIN).expect("the PIN");
            (path, [idowu, tamm])
        });
        let (made, [idowu, tamm]) = &*MADE;
        let path = folder(name).join("journal");
        copy(made, &path);
        let journal = Journal::open(&path).expect("it was made");
        Self { journal: path, cases: Cases::of(journal), idowu, tamm, formulary }
    }

    /// A case whose first set-up two people agree on at 07:41.
    fn agreed(&mut self, form: &str) -> SetUpCode {
        let case = self.cases.open(at("07:30"), Some(&self.idowu.1)).expect("room");
        let code = self.enters((case, None), Turn::First { anew: false }, form, "07:40");
        self.enters((case, Some(code.number)), Turn::Second, form, "07:41")
    }

    /// Another reading of a set-up, which two people agree on.
    fn next(&mut self, code: SetUpCode, form: &str, clock: &str) {
        let form = changed(form, &[(form.lines().next().expect("the patient"), "")]);
        self.enters((code.case, Some(code.number)), Turn::First { anew: true }, &form, clock);
        self.enters((code.case, Some(code.number)), Turn::Second, &form, clock);
    }

    #[track_caller]
    fn enters(
        &mut self,
        code: (countersign::case::CaseCode, Option<u16>),
        turn: Turn,
        form: &str,
        clock: &str,
    ) -> SetUpCode {
        let (person, signer) = if turn == Turn::Second { self.tamm } else { self.idowu };
        let author = Author::Signed(person, signer);
        let task = self.cases.task(code, turn, &author, at(clock)).expect("their turn");
        let form = SubmittedForm { name: "a form".to_owned(), text: form.to_owned(), json: false, dose_again: None };
        self.cases.seal(&task, &form, &author, &self.formulary, at(clock)).expect("a good form")
    }

    /// Reads a rate off the display; gives whether it is what it should be.
    fn reads(&mut self, code: SetUpCode, rate: &str, clock: &str) -> bool {
        let by = (&self.tamm.0, &self.tamm.1);
        let shown = [Shown { value: "rate".to_owned(), typed: rate.to_owned() }];
        self.cases.read_back(code, by, &shown, None, at(clock)).expect("a card").is_equal()
    }

    /// Writes down at [`NOW`] what happened at a time, even if it is odd.
    fn did(&mut self, code: SetUpCode, clock: &str, happening: ReportedAction) -> Result<Recorded, CaseError> {
        let when = When { happened: Some(at(clock)), late: Some("no hand was free".to_owned()) };
        self.writes(code, &happening, &when, true)
    }

    fn writes(
        &mut self,
        code: SetUpCode,
        happening: &ReportedAction,
        when: &When,
        even_so: bool,
    ) -> Result<Recorded, CaseError> {
        let by = (&self.idowu.0, &self.idowu.1);
        let about_another = matches!(happening, ReportedAction::Corrected { .. } | ReportedAction::Explained { .. });
        let reason = about_another.then_some("read off another driver");
        // The next syringe keeps the running dose where no rate is said.
        let keeps = matches!(happening, ReportedAction::SyringeChanged { rate: None, .. });
        let confirmed = Confirmed { even_so, dose_changes: even_so && !keeps };
        self.cases.record(code, by, happening, when, reason, confirmed, at(NOW)).map(|(recorded, _)| recorded)
    }

    #[track_caller]
    fn course(&self, code: SetUpCode, clock: &str) -> Course {
        self.course_at(code, at(clock)).expect("it was started")
    }

    #[track_caller]
    fn course_at(&self, code: SetUpCode, now: Moment) -> Option<Course> {
        let case = self.cases.case(code.case).expect("it was opened");
        case.course(case.set_up(code.number).expect("it was entered"), now).expect("it follows")
    }

    /// The number of the event that was written last.
    fn last(&self) -> u64 {
        self.cases.journal().head().expect("a journal").seq
    }

    /// Runs a command at a clock time, with what is typed line by line.
    fn says(&self, clock: &str, typed: &[&str], words: &[&str]) -> Said {
        let typed: String = typed.iter().map(|line| format!("{line}\n")).collect();
        let moment = format!("2026-03-14T{clock}:00+00:00");
        let run = run(words).arg("--journal").arg(&self.journal).arg("--at").arg(moment);
        run.env("COUNTERSIGN_FORMULARY", "demonstration").env("TZ", "UTC").stdin(typed).said()
    }
}

fn rate(text: &str) -> FlowRate {
    FlowRate::parse(text).expect("a rate")
}

fn bolus(text: &str) -> BolusDose {
    BolusDose::parse(text).expect("a bolus")
}

fn ratio(numerator: u128, denominator: u128) -> Ratio {
    Ratio::new(numerator, denominator).expect("small parts")
}

#[track_caller]
fn refused<T: std::fmt::Debug>(result: Result<T, CaseError>) -> String {
    match result {
        Err(CaseError::Refused(refusal)) => refusal.code.to_owned(),
        other => panic!("not refused: {other:?}"),
    }
}

/// Codes are drawn by lot, and hashes are of what was sealed under keys drawn by lot.
fn settled(text: &str) -> String {
    let code = regex::Regex::new(r"\b[0-9A-HJ-NP-Y]{3}-[0-9A-HJ-NP-Y]{3}\b").expect("a pattern");
    let hash = regex::Regex::new(r"\b[0-9a-f]{16}([0-9a-f]{48})?\b").expect("a pattern");
    let id = regex::Regex::new(r#""(id|witness)":"[0-9a-f]{12}""#).expect("a pattern");
    let text = code.replace_all(text, "K7M-4QX");
    let text = hash.replace_all(&text, "0123456789abcdef");
    id.replace_all(&text, r#""$1":"…""#).into_owned()
}
