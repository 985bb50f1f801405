//! What cases promise, through the real program in journals of their own, and through the library where two people must
//! act at the same instant.
#![cfg(feature = "journal")]

mod agreement;
mod approval;
pub(crate) mod blindness;
mod card;
mod clock;
mod counts;
mod decisions;
mod editions;
mod emergency;
mod expiry;
mod forget;
mod golden;
mod lumen;
mod next_syringe;
mod open_cases;
mod order;
mod patient;
mod patients_journal;
mod people;
mod read_back;
mod recount;
mod round;
mod sealing;
mod ward;
mod words;

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use countersign::case::{Cases, Confirmed, Person, ReportedAction, SetUpCode, When, unlock};
use countersign::journal::{Journal, Signer};
use countersign::quantity::Moment;

use crate::common::{Said, copy, example, folder, run};

/// Somebody and their PIN.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Who(&'static str, &'static str);

const IDOWU: Who = Who("A. Idowu", "281940");
const TAMM: Who = Who("M. Tamm", "quiet harbour 7");
const OKORO: Who = Who("B. Okoro", "502768");

/// A demonstration journal of one test, in which three people may sign.
struct Theatre {
    journal: PathBuf,
    formulary: String,
}

/// A moment of the day on which everything happens.
fn at(clock: &str) -> String {
    format!("2026-03-14T{clock}:00+00:00")
}

fn moment(clock: &str) -> Moment {
    Moment::parse(&at(clock)).expect("a moment")
}

/// The first person's form of the example, as a file in which the journal says who and when.
fn first() -> String {
    without_author(&example("adult-vasopressor/first.yaml"))
}

/// The same set-up as somebody else reads it.
fn second() -> String {
    without_author(&example("adult-vasopressor/second.yaml"))
}

/// A set-up that is not counted by the weight.
fn by_rate() -> String {
    without_author(&example("insulin/first.yaml"))
}

fn without_author(form: &str) -> String {
    let mut kept = String::new();
    let mut inside = false;
    for line in form.lines() {
        inside = line.starts_with("entered_") || (inside && line.starts_with(' '));
        if !inside {
            kept.push_str(line);
            kept.push('\n');
        }
    }
    kept
}

/// A form with text replaced that stands in it exactly once.
fn changed(form: &str, changes: &[(&str, &str)]) -> String {
    changes.iter().fold(form.to_owned(), |form, (from, to)| {
        assert_eq!(form.matches(from).count(), 1, "{from:?} stands once in {form}");
        form.replace(from, to)
    })
}

/// A form that leaves the patient out.
fn without_patient(form: &str) -> String {
    let mut kept = String::new();
    let mut inside = false;
    for line in form.lines() {
        inside = line.starts_with("patient:") || (inside && line.starts_with(' '));
        if !inside {
            kept.push_str(line);
            kept.push('\n');
        }
    }
    kept
}

impl Theatre {
    fn new(name: &str) -> Self {
        static TEMPLATE: OnceLock<PathBuf> = OnceLock::new();
        let template = TEMPLATE.get_or_init(|| {
            let journal = folder("template").join("journal");
            let made =
                run(["journal", "create"]).arg(&journal).arg("--demonstration").arg("--at").arg(at("06:00")).said();
            assert_eq!(made.code, 0, "{made:?}");
            let theatre = Self { journal: journal.clone(), formulary: "formulary".to_owned() };
            for (Who(name, pin), role, voucher) in [
                (IDOWU, "anaesthetist", None),
                (TAMM, "nurse anaesthetist", Some(IDOWU)),
                (OKORO, "physician", Some(IDOWU)),
            ] {
                let mut words = vec!["people", "add", name, "--role", role];
                let mut typed = vec![pin, pin];
                if let Some(Who(voucher, its_pin)) = voucher {
                    words.extend(["--as", voucher]);
                    typed.insert(0, its_pin);
                }
                let added = theatre.says("06:00", &typed, &words);
                assert_eq!(added.code, 0, "{added:?}");
            }
            journal
        });
        let journal = folder(name).join("journal");
        copy(template, &journal);
        Self { journal, formulary: "formulary".to_owned() }
    }

    fn with_formulary(mut self, folder: &Path) -> Self {
        self.formulary = folder.display().to_string();
        self
    }

    /// Runs a command at a clock time, with what is typed line by line.
    fn says(&self, clock: &str, typed: &[&str], words: &[&str]) -> Said {
        let typed: String = typed.iter().map(|line| format!("{line}\n")).collect();
        let run = run(words).arg("--journal").arg(&self.journal).arg("--at").arg(at(clock));
        run.env("COUNTERSIGN_FORMULARY", &self.formulary).stdin(typed).said()
    }

    /// The same, as data.
    fn data(&self, clock: &str, typed: &[&str], words: &[&str]) -> serde_json::Value {
        let said = self.says(clock, typed, &[words, &["--format", "json"]].concat());
        assert!([0, 3, 4, 5].contains(&said.code), "{said:?}");
        said.json()
    }

    /// Opens a case; gives its code.
    fn case(&self) -> String {
        let said = self.says("07:30", &[IDOWU.1], &["case", "open", "--as", IDOWU.0]);
        assert_eq!(said.code, 0, "{said:?}");
        said.stdout.lines().next().expect("its code").to_owned()
    }

    /// Enters a form from a file: `case enter` or `case second`.
    fn enters(&self, clock: &str, who: Who, command: &str, code: &str, form: &str) -> Said {
        self.enters_with(clock, who, &["case", command, code], form)
    }

    fn enters_with(&self, clock: &str, who: Who, words: &[&str], form: &str) -> Said {
        let file = self.file("form.yaml", form);
        self.says(clock, &[who.1], &[words, &["--as", who.0, "--from", &file]].concat())
    }

    fn file(&self, name: &str, text: &str) -> String {
        let file = self.journal.with_file_name(name);
        fs::write(&file, text).expect("our own folder");
        file.display().to_string()
    }

    /// A case whose first set-up two people have agreed on, at 07:46.
    fn agreed(&self) -> String {
        let code = self.case();
        self.agree(&code, &first(), &second());
        code
    }

    #[track_caller]
    fn agree(&self, code: &str, one: &str, other: &str) {
        let said = self.enters("07:40", IDOWU, "enter", code, one);
        assert_eq!(said.code, 0, "{said:?}");
        let said = self.enters("07:46", TAMM, "second", code, other);
        assert_eq!(said.code, 0, "{said:?}");
        assert!(said.stdout.contains("Now: agreed."), "{said:?}");
    }

    fn cases(&self) -> Cases {
        Cases::of(Journal::open(&self.journal).expect("it was made"))
    }

    fn unlocked(&self, clock: &str, who: Who) -> (Person, Signer) {
        unlock(self.cases().journal_mut(), moment(clock), who.0, who.1).expect("the right PIN")
    }

    /// Writes down what happened.
    fn records(&self, clock: &str, code: &str, happening: &ReportedAction) {
        let (person, signer) = self.unlocked(clock, IDOWU);
        let (case, number) = SetUpCode::parse(code).expect("a code");
        let code = SetUpCode { case, number: number.expect("a set-up") };
        let now = moment(clock);
        let recorded =
            self.cases().record(code, (&person, &signer), happening, &When::default(), None, Confirmed::default(), now);
        recorded.expect("it follows from the record");
    }

    /// How many events the journal holds.
    fn events(&self) -> u64 {
        self.cases().journal().head().expect("a journal").seq
    }

    /// Every byte of every file of the journal.
    fn bytes(&self) -> Vec<u8> {
        fn gather(folder: &Path, into: &mut Vec<u8>) {
            for item in fs::read_dir(folder).expect("it was made") {
                let path = item.expect("it can be listed").path();
                if path.is_dir() {
                    gather(&path, into);
                } else {
                    into.extend(fs::read(&path).expect("it can be read"));
                }
            }
        }
        let mut bytes = Vec::new();
        gather(&self.journal, &mut bytes);
        bytes
    }

    fn exported(&self) -> String {
        let said = run(["journal", "export", "--journal"]).arg(&self.journal).said();
        assert_eq!(said.code, 0, "{said:?}");
        said.stdout
    }

    #[track_caller]
    fn is_whole(&self) {
        let said = run(["journal", "verify", "--journal"]).arg(&self.journal).said();
        assert_eq!(said.code, 0, "{said:?}");
    }
}

fn holds(bytes: &[u8], text: &str) -> bool {
    bytes.windows(text.len()).any(|window| window == text.as_bytes())
}

/// The code of a refusal.
#[track_caller]
fn refused<'s>(said: &'s Said, code: &str) -> &'s str {
    let stderr = said.is_refused();
    assert!(stderr.contains(&format!("[{code}]")), "{code}: {said:?}");
    stderr
}
