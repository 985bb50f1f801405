//! The questions of an entry, at a real pseudo-terminal, as a person answers them.
#![cfg(all(unix, feature = "journal"))]

use std::fs::File;
use std::io::{Read as _, Write as _};
use std::os::fd::OwnedFd;
use std::path::{Path, PathBuf};
use std::process::{Child, Command};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::thread;
use std::time::{Duration, Instant};

use crate::common::{Said, example, folder, run};
use regex::Regex;
use rustix::fs::{Mode, OFlags};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{Winsize, tcsetwinsize};

const IDOWU: (&str, &str) = ("A. Idowu", "281940");
const TAMM: (&str, &str) = ("M. Tamm", "391857");

/// A demonstration journal in which two people may sign, and a case.
struct Theatre {
    journal: PathBuf,
    code: String,
}

impl Theatre {
    fn new(name: &str) -> Self {
        let mut theatre = Self { journal: folder(name).join("journal"), code: String::new() };
        let made = run(["journal", "create", "--demonstration", "--at", "2026-03-14T06:00:00+00:00"]);
        assert_eq!(made.arg(&theatre.journal).said().code, 0);
        let added = theatre.says(&[IDOWU.1, IDOWU.1], &["people", "add", IDOWU.0, "--role", "anaesthetist"]);
        assert_eq!(added.code, 0, "{added:?}");
        let words = ["people", "add", TAMM.0, "--role", "nurse anaesthetist", "--as", IDOWU.0];
        let added = theatre.says(&[IDOWU.1, TAMM.1, TAMM.1], &words);
        assert_eq!(added.code, 0, "{added:?}");
        let opened = theatre.says(&[IDOWU.1], &["case", "open", "--as", IDOWU.0]);
        opened.stdout.lines().next().expect("its code").clone_into(&mut theatre.code);
        theatre
    }

    /// With the first entry of the example, sealed.
    fn with_first_entry(name: &str) -> Self {
        let theatre = Self::new(name);
        let form: String = example("adult-vasopressor/first.yaml")
            .lines()
            .filter(|line| !line.starts_with("entered_"))
            .map(|line| format!("{line}\n"))
            .collect();
        let file = theatre.journal.with_file_name("first.yaml");
        std::fs::write(&file, form).expect("ours");
        let words = ["case", "enter", &theatre.code, "--as", IDOWU.0, "--from", &file.display().to_string()];
        let said = theatre.says(&[IDOWU.1], &words);
        assert_eq!(said.code, 0, "{said:?}");
        theatre
    }

    fn says(&self, typed: &[&str], words: &[&str]) -> Said {
        let typed: String = typed.iter().map(|line| format!("{line}\n")).collect();
        run(words).args(self.last_words()).stdin(typed).said()
    }

    fn last_words(&self) -> Vec<String> {
        let journal = self.journal.display().to_string();
        ["--journal", &journal, "--at", "2026-03-14T07:46:00+00:00"].map(str::to_owned).to_vec()
    }

    fn at_terminal(&self, words: &[&str]) -> Terminal {
        let mut command = Command::new(env!("CARGO_BIN_EXE_countersign"));
        command.args(words).args(self.last_words()).current_dir(env!("CARGO_MANIFEST_DIR"));
        command.env("TERM", "xterm-256color").env("TZ", "UTC").env("NO_COLOR", "1");
        for name in ["COUNTERSIGN_FORMULARY", "COUNTERSIGN_JOURNAL", "COUNTERSIGN_STORE_KEY"] {
            command.env_remove(name);
        }
        Terminal::of(command)
    }

    /// Every file of the journal, by name and content.
    fn files(&self) -> Vec<(PathBuf, Vec<u8>)> {
        fn gather(folder: &Path, into: &mut Vec<(PathBuf, Vec<u8>)>) {
            for item in std::fs::read_dir(folder).expect("it was made") {
                let path = item.expect("it can be listed").path();
                if path.is_dir() {
                    gather(&path, into);
                } else {
                    let bytes = std::fs::read(&path).expect("it can be read");
                    into.push((path, bytes));
                }
            }
        }
        let mut files = Vec::new();
        gather(&self.journal, &mut files);
        // The log and the index beside the database come and go with whoever reads it; a lock is empty.
        files.retain(|(path, _)| {
            let name = path.file_name().and_then(|name| name.to_str()).unwrap_or_default();
            !name.ends_with("-wal") && !name.ends_with("-shm") && !name.ends_with(".lock")
        });
        files.sort();
        files
    }
}

/// A program on a terminal of 80 columns.
struct Terminal {
    child: Child,
    keyboard: File,
    drawn: Receiver<Vec<u8>>,
    /// Everything drawn so far, without the signs that move the cursor.
    text: String,
    raw: Vec<u8>,
    /// How much of the text was waited for already.
    seen: usize,
    questions: usize,
    keystrokes: usize,
}

impl Terminal {
    fn of(mut command: Command) -> Self {
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).expect("there are pseudo-terminals");
        grantpt(&master).expect("it is ours");
        unlockpt(&master).expect("it is ours");
        let size = Winsize { ws_row: 50, ws_col: 80, ws_xpixel: 0, ws_ypixel: 0 };
        tcsetwinsize(&master, size).expect("it is a terminal");
        let name = ptsname(&master, Vec::new()).expect("it has a name");
        let open = || -> OwnedFd {
            rustix::fs::open(&name, OFlags::RDWR | OFlags::NOCTTY, Mode::empty()).expect("it is unlocked")
        };
        command.stdin(open()).stdout(open()).stderr(open());
        let child = command.spawn().expect("the program is built");
        // The command keeps its ends of the terminal open.
        drop(command);
        let keyboard = File::from(master);
        let mut screen = keyboard.try_clone().expect("a file");
        let (send, drawn) = channel();
        thread::spawn(move || {
            let mut part = [0; 4096];
            while let Ok(read @ 1..) = screen.read(&mut part) {
                if send.send(part[..read].to_vec()).is_err() {
                    return;
                }
            }
        });
        let (text, raw) = (String::new(), Vec::new());
        Self { child, keyboard, drawn, text, raw, seen: 0, questions: 0, keystrokes: 0 }
    }

    /// Waits until this stands on the screen, after what was waited for before.
    #[track_caller]
    fn wait_for(&mut self, text: &str) {
        let begun = Instant::now();
        loop {
            if let Some(at) = self.text[self.seen..].find(text) {
                self.seen += at + text.len();
                return;
            }
            assert!(begun.elapsed() < Duration::from_secs(20), "no {text:?}: {}", &self.text[self.seen..]);
            self.look();
        }
    }

    /// Takes in what was drawn; whether more may come.
    fn look(&mut self) -> bool {
        match self.drawn.recv_timeout(Duration::from_millis(50)) {
            Ok(part) => self.raw.extend(part),
            Err(RecvTimeoutError::Timeout) => return true,
            Err(RecvTimeoutError::Disconnected) => return false,
        }
        while let Ok(part) = self.drawn.try_recv() {
            self.raw.extend(part);
        }
        self.text = plain(&String::from_utf8_lossy(&self.raw));
        true
    }

    fn press(&mut self, keys: &str) {
        self.keyboard.write_all(keys.as_bytes()).expect("the program reads");
    }

    /// Waits for a question, types an answer and Enter.
    #[track_caller]
    fn answer(&mut self, question: &str, typed: &str) {
        self.wait_for(question);
        self.questions += 1;
        self.keystrokes += typed.chars().count() + 1;
        self.press(&format!("{typed}\r"));
    }

    /// To its end: exit code and everything that was drawn.
    #[track_caller]
    fn end(mut self) -> (i32, String) {
        let begun = Instant::now();
        let code = loop {
            self.look();
            if let Some(status) = self.child.try_wait().expect("it is our child") {
                break status.code().expect("it ended by itself");
            }
            if begun.elapsed() > Duration::from_secs(20) {
                self.child.kill().expect("it is our child");
                panic!("it does not end: {}", self.text);
            }
        };
        // What it drew last may still be on its way.
        while self.look() && begun.elapsed() < Duration::from_secs(20) {}
        (code, self.text)
    }
}

/// Without the signs that move the cursor or change a colour.
fn plain(drawn: &str) -> String {
    let signs = Regex::new("\u{1b}\\[[0-9;?]*[A-Za-z]|\u{1b}[78]|\r").expect("a pattern");
    signs.replace_all(drawn, "").into_owned()
}

/// What the second person reads off order, wristband, label and line: every question of a usual entry, in order.
const SECOND: &[(&str, &str)] = &[
    ("Area:", "adult theatre"),
    ("Drug, as the order says:", "norepinephrine"),
    ("First identifier, off the wristband, or pending:", "QM-30417"),
    ("Second identifier, off the wristband:", "1959-08-02"),
    ("Weight:", "84.2 kg"),
    ("Where the weight comes from:", "measured"),
    ("Date of birth:", "1959-08-02"),
    ("Height:", "164 cm"),
    ("Phase:", "maintenance"),
    ("Dose, with its unit, as the order says:", "0.08 mcg/kg/min"),
    ("Ordered range, from:", "0.02 mcg/kg/min"),
    ("Ordered range, to:", "0.3 mcg/kg/min"),
    ("Ordered step:", "0.02 mcg/kg/min"),
    ("Amount, off the syringe's label:", "4 mg"),
    ("Volume, off the syringe's label:", "50 mL"),
    ("Strength, off the syringe's label:", "80 mcg/mL"),
    ("How many ampoules it was made from, or not seen, or bought in:", "not seen"),
    ("Drawn up at:", "07:35"),
    ("To be used before, as the syringe says:", ""),
    ("Access:", "central"),
    ("Syringe or bag:", "syringe 50 mL"),
    ("standard or other:", "standard"),
    ("Volume in the syringe, before the line is filled:", "50 mL"),
    ("With what the line is filled:", "from this syringe"),
    ("Dead space beyond the line:", "0.3 mL"),
];

/// What the first person is asked besides.
const PLANNED: [(&str, &str); 2] = [("Planned start:", ""), ("Planned for:", "")];

// hazard: H-INDEPENDENCE
// hazard: H-UNIT
#[test]
fn a_second_entry_is_typed_with_one_slip_and_agrees() {
    let theatre = Theatre::with_first_entry("second");
    let mut terminal = theatre.at_terminal(&["case", "second", &theatre.code, "--as", TAMM.0]);
    terminal.answer("PIN of M. Tamm:", TAMM.1);
    terminal.wait_for(&format!("Second entry for {}/1. Esc leaves it, and nothing is written.", theatre.code));
    for (question, typed) in SECOND {
        if question.starts_with("Dose,") {
            // A slip: refused in the words of the form, and asked again in an empty field.
            terminal.answer(question, ".08 mcg/kg/min");
            terminal.wait_for("! ");
            terminal.wait_for("0.08");
        }
        if *question == "Weight:" {
            // What is typed next is never added to what was refused: 8 and 84.2 kg are not 884.2 kg.
            terminal.answer(question, "8");
            terminal.wait_for("! ");
        }
        terminal.answer(question, typed);
        if *question == "Drawn up at:" {
            terminal.wait_for("read as 2026-03-14T07:35:00");
        }
    }
    terminal.answer("seal, or the field that is to be read again:", "seal");
    let (questions, keystrokes) = (terminal.questions, terminal.keystrokes);
    let (code, drawn) = terminal.end();
    assert_eq!(code, 0, "{drawn}");
    assert!(drawn.contains("Now: agreed."), "{drawn}");
    assert!(!drawn.contains(TAMM.1), "the PIN is on the screen: {drawn}");
    // The equipment is one look and one word, and it was named to be looked at.
    assert!(drawn.replace('\n', "").contains("Look at it: line narrow-150, driver bench?"), "{drawn}");
    assert_eq!(theatre.says(&[], &["case", "card", &theatre.code]).code, 0);
    // It was drawn up at a known time: the other time may be left empty, and that is said.
    assert!(drawn.replace('\n', "").contains("; empty where it is not known"), "{drawn}");
    // What a second entry costs: a change of these is seen here.
    assert_eq!((questions, keystrokes), (29, 287));
}

// hazard: H-ALARMS
#[test]
fn a_syringe_that_was_bought_in_needs_the_time_before_which_it_is_used() {
    let theatre = Theatre::with_first_entry("bought-in");
    let mut terminal = theatre.at_terminal(&["case", "second", &theatre.code, "--as", TAMM.0]);
    terminal.answer("PIN of M. Tamm:", TAMM.1);
    for (question, typed) in SECOND {
        match *question {
            "How many ampoules it was made from, or not seen, or bought in:" => terminal.answer(question, "bought in"),
            "Drawn up at:" => terminal.answer(question, ""),
            "To be used before, as the syringe says:" => {
                // Nothing says how old the solution is: an empty answer is none.
                terminal.answer(question, "");
                terminal.wait_for("this needs an answer");
                terminal.answer(question, "2026-03-15 06:15");
                terminal.wait_for("read as 2026-03-15T06:15:00");
            }
            _ => terminal.answer(question, typed),
        }
    }
    terminal.answer("seal, or the field that is to be read again:", "seal");
    let (code, drawn) = terminal.end();
    // It is sealed. The first person saw four ampoules, so the two do not agree.
    assert_eq!(code, 5, "{drawn}");
}

/// Where the patient was agreed on before, a set-up that is not titrated takes half of that.
// hazard: H-ALARMS
#[test]
fn a_second_set_up_asks_nothing_of_the_patient() {
    let theatre = Theatre::with_first_entry("next-set-up");
    let lines: Vec<&str> =
        std::iter::once(TAMM.1).chain(SECOND.iter().map(|(_, typed)| *typed)).chain(["seal"]).collect();
    let said = theatre.says(&lines, &["case", "second", &theatre.code, "--as", TAMM.0]);
    assert_eq!(said.code, 0, "{said:?}");
    let mut terminal = theatre.at_terminal(&["case", "enter", &theatre.code, "--as", IDOWU.0]);
    terminal.answer("PIN of A. Idowu:", IDOWU.1);
    let patient = ["First identifier", "Second identifier", "Weight:", "Where the weight", "Date of birth", "Height:"];
    let asked = SECOND.iter().filter(|(question, _)| !patient.iter().any(|one| question.starts_with(one)));
    for (question, typed) in asked.chain(&PLANNED) {
        terminal.answer(question, typed);
    }
    terminal.answer("seal, or the field that is to be read again:", "seal");
    assert_eq!(terminal.questions, 23);
    let (code, drawn) = terminal.end();
    assert!(code == 0 && drawn.contains(&format!("Sealed for {}/2.", theatre.code)), "{drawn}");
}

// hazard: H-INDEPENDENCE
#[test]
fn leaving_with_escape_or_control_c_writes_nothing() {
    let theatre = Theatre::with_first_entry("leaving");
    for (key, after) in [("\u{1b}", 0), ("\u{3}", 0), ("\u{1b}", 9), ("\u{3}", 20), ("\u{3}", 24)] {
        let before = theatre.files();
        let mut terminal = theatre.at_terminal(&["case", "second", &theatre.code, "--as", TAMM.0]);
        terminal.answer("PIN of M. Tamm:", TAMM.1);
        for (question, typed) in &SECOND[..after] {
            terminal.answer(question, typed);
        }
        terminal.wait_for(SECOND.get(after).map_or("seal, or the field", |(question, _)| question));
        terminal.press(key);
        let (code, drawn) = terminal.end();
        assert_eq!(code, 2, "{drawn}");
        assert!(drawn.contains("left before the end: nothing was written"), "{drawn}");
        assert_eq!(theatre.files(), before, "after {after} questions");
    }
    // At the PIN too, and in an emergency, which opens its case with the entry.
    for words in [vec!["case", "second", &theatre.code, "--as", TAMM.0], vec!["case", "emergency", "--by", "A. Idowu"]]
    {
        let before = theatre.files();
        let mut terminal = theatre.at_terminal(&words);
        terminal.wait_for(if words[1] == "second" { "PIN of M. Tamm:" } else { "Area:" });
        terminal.press("\u{3}");
        let (code, drawn) = terminal.end();
        assert_eq!(code, 2, "{drawn}");
        assert_eq!(theatre.files(), before);
    }
}

// hazard: H-INDEPENDENCE
#[test]
fn no_question_shows_what_the_first_person_entered() {
    let theatre = Theatre::with_first_entry("blind");
    let mut terminal = theatre.at_terminal(&["case", "second", &theatre.code, "--as", TAMM.0]);
    terminal.answer("PIN of M. Tamm:", TAMM.1);
    // Another patient, and everything otherwise: what the first one typed could only come from the first entry.
    let otherwise: &[(&str, &str)] = &[
        ("Area:", "adult intensive care"),
        ("Drug, as the order says:", "noradrenaline"),
        ("First identifier, off the wristband, or pending:", "LK-90021"),
        ("Second identifier, off the wristband:", "1970-01-09"),
        ("Weight:", "71 kg"),
        ("Where the weight comes from:", "stated"),
        ("Date of birth:", ""),
        ("Age:", "56 years"),
        ("Height:", "171 cm"),
        ("Phase:", "start"),
        ("Dose, with its unit, as the order says:", "0.07 mcg/kg/min"),
        ("Ordered range, from:", ""),
        ("Amount, off the syringe's label:", "8 mg"),
        ("Volume, off the syringe's label:", "50 mL"),
        ("Strength, off the syringe's label:", "160 mcg/mL"),
        ("How many ampoules it was made from, or not seen, or bought in:", "not seen"),
        ("Drawn up at:", "07:20"),
        ("To be used before, as the syringe says:", ""),
        ("Access:", "central"),
        ("Syringe or bag:", "syringe 50 mL"),
        ("standard or other:", "other"),
        ("Line:", "narrow-200"),
        ("Driver or pump:", "fine"),
        ("Volume in the syringe, before the line is filled:", "48 mL"),
        ("With what the line is filled:", "already full"),
        ("Dead space beyond the line:", ""),
    ];
    for (question, typed) in otherwise {
        terminal.answer(question, typed);
    }
    terminal.answer("seal, or the field that is to be read again:", "seal");
    let (code, drawn) = terminal.end();
    assert_eq!(code, 5, "{drawn}");
    // The examples of the questions are of nobody.
    for (typed, why) in [
        ("84.2", "weight"),
        ("QM-30417", "identifier"),
        ("1959-08-02", "birth"),
        ("0.08 mcg", "dose"),
        ("07:35", "time"),
    ] {
        assert!(!drawn.contains(typed), "the {why} of the first entry: {drawn}");
    }
}

#[test]
fn a_field_is_changed_before_it_is_sealed() {
    let theatre = Theatre::with_first_entry("change");
    let mut terminal = theatre.at_terminal(&["case", "second", &theatre.code, "--as", TAMM.0]);
    terminal.answer("PIN of M. Tamm:", TAMM.1);
    for (question, typed) in SECOND {
        // A dose that is ten times too high, and stops.
        terminal.answer(question, if question.starts_with("Dose,") { "8 mcg/kg/min" } else { typed });
    }
    terminal.wait_for("THIS ENTRY STOPS: there will be no card from it");
    terminal.wait_for("[dose-above-hard-limit]");
    terminal.answer("seal, or the field that is to be read again:", "dosage");
    terminal.wait_for("neither seal nor a field");
    terminal.answer("seal, or the field that is to be read again:", "dose");
    terminal.answer("Dose, with its unit, as the order says:", "0.08 mcg/kg/min");
    terminal.answer("seal, or the field that is to be read again:", "seal");
    let (code, drawn) = terminal.end();
    assert!(code == 0 && drawn.contains("Now: agreed."), "{drawn}");
}
