//! A journal for patients, with the formulary of an invented hospital that two of its pharmacists approved.

use std::collections::HashMap;
use std::path::PathBuf;
use std::sync::LazyLock;

use countersign::case::{Cases, Person, unlock};
use countersign::journal::{Journal, Signer};
use countersign::pharmacy::approval::Proposal;
use countersign::quantity::Moment;

use super::{IDOWU, Said, TAMM, Who, folder, run};
use crate::common::{self, approving, house::House};

/// The pharmacists and their PINs.
pub(super) const ACHTERBERG: Who = Who("R. Achterberg", "551907");
pub(super) const NAIDOO: Who = Who("S. Naidoo", "260483");
pub(super) const OKORO: Who = Who("T. Okoro", "739205");

pub(super) struct Ward {
    pub(super) journal: PathBuf,
    pub(super) house: House,
}

/// Who keep the people of the house.
const RUIZ: Who = Who("K. Ruiz", "603917");
const LINDQVIST: Who = Who("J. Lindqvist", "417093");

impl Ward {
    /// With the formulary approved.
    pub(super) fn new(name: &str) -> Self {
        let ward = Self::without_approval(name);
        assert_eq!(ward.signs(ACHTERBERG).code, 0);
        ward.typed_and_approved(NAIDOO);
        ward
    }

    /// Every value typed as the file says it, one after the other.
    pub(super) fn typed_and_approved(&self, who: Who) {
        self.at_the_desk(who, approving::approves);
    }

    pub(super) fn at_the_desk<T>(
        &self,
        who: Who,
        what: impl FnOnce(&Proposal, &mut Cases, Moment, (&Person, &Signer)) -> T,
    ) -> T {
        let (mut cases, now) = (Cases::of(Journal::open(&self.journal).expect("the journal")), Moment::now());
        let (person, signer) = unlock(cases.journal_mut(), now, who.0, who.1).expect("a PIN");
        let proposal = Proposal::of(&cases, self.house.folder(), self.house.opened()).expect("whole");
        what(&proposal, &mut cases, now, (&person, &signer))
    }

    /// A third pharmacist.
    pub(super) fn hires(&self, who: Who) {
        let words = ["people", "add", who.0, "--role", "pharmacist", "--as", RUIZ.0, "--and", LINDQVIST.0];
        let said = self.says(&[RUIZ.1, LINDQVIST.1, who.1, who.1], &words);
        assert_eq!(said.code, 0, "{said:?}");
    }

    pub(super) fn without_approval(name: &str) -> Self {
        // One journal is made for all tests and copied for each: a PIN takes long to check.
        static MADE: LazyLock<PathBuf> = LazyLock::new(|| Ward::made(folder("made-once").join("journal")).journal);
        let journal = folder(name).join("journal");
        common::copy(&MADE, &journal);
        Self { journal, house: House::hospital() }
    }

    fn made(journal: PathBuf) -> Self {
        let typed: String = [RUIZ, LINDQVIST].iter().map(|who| format!("{}\n{0}\n", who.1)).collect();
        let words = ["journal", "create", "--administrator", RUIZ.0, "--administrator", LINDQVIST.0];
        let made = run(words).arg(&journal).stdin(typed).said();
        assert_eq!(made.code, 0, "{made:?}");
        let ward = Self { journal, house: House::hospital() };
        for (person, role) in
            [(IDOWU, "anaesthetist"), (TAMM, "nurse"), (ACHTERBERG, "pharmacist"), (NAIDOO, "pharmacist")]
        {
            let words = ["people", "add", person.0, "--role", role, "--as", RUIZ.0, "--and", LINDQVIST.0];
            let said = ward.says(&[RUIZ.1, LINDQVIST.1, person.1, person.1], &words);
            assert_eq!(said.code, 0, "{said:?}");
        }
        ward
    }

    pub(super) fn signs(&self, who: Who) -> Said {
        self.says(&[who.1], &["formulary", "sign", "--as", who.0])
    }

    /// By a filled sheet: what stands in the files, or what `typed` makes of it. Words are said to be read.
    pub(super) fn approves(&self, who: Who, sheet: &str, typed: impl Fn(&str, &str) -> String) -> Said {
        let path = |name: String| self.journal.with_file_name(name).display().to_string();
        let (blank, filled, all) =
            (path(format!("{sheet}-blank.csv")), path(format!("{sheet}.csv")), path(format!("{sheet}-all.csv")));
        assert_eq!(self.says(&[], &["formulary", "approve", "--blank", &blank]).code, 0);
        assert_eq!(
            run(["formulary", "export", "--sheet", &all]).arg("--formulary").arg(self.house.folder()).said().code,
            0
        );
        let key = |row: &csv::StringRecord| (row[0].to_owned(), row[1].to_owned());
        let values: HashMap<_, _> = rows(&all).iter().map(|row| (key(row), row[2].to_owned())).collect();
        let mut writer = csv::Writer::from_path(&filled).expect("ours");
        writer.write_record(["file", "place", "source", "value"]).expect("ours");
        for row in rows(&blank) {
            assert_eq!(&row[3], "", "a blank shows no value");
            let value = values.get(&key(&row)).map_or("none", String::as_str);
            writer.write_record([&row[0], &row[1], &row[2], &*typed(&row[1], value)]).expect("ours");
        }
        writer.flush().expect("ours");
        self.says(&[who.1, "read"], &["formulary", "approve", "--as", who.0, "--typed", &filled])
    }

    /// Whether any file of the journal holds this text.
    pub(super) fn holds(&self, text: &str) -> bool {
        let files = std::fs::read_dir(&self.journal).expect("ours").map(|file| file.expect("ours").path());
        let bytes = files.filter(|path| path.is_file()).map(|path| std::fs::read(path).expect("ours"));
        bytes.into_iter().any(|bytes| bytes.windows(text.len()).any(|window| window == text.as_bytes()))
    }

    pub(super) fn run(&self, typed: &[&str], words: &[&str]) -> common::Run {
        let typed: String = typed.iter().map(|line| format!("{line}\n")).collect();
        run(words).arg("--journal").arg(&self.journal).stdin(typed)
    }

    pub(super) fn says(&self, typed: &[&str], words: &[&str]) -> Said {
        self.run(typed, words).env("COUNTERSIGN_FORMULARY", &self.house.folder().display().to_string()).said()
    }
}

fn rows(path: &str) -> Vec<csv::StringRecord> {
    csv::Reader::from_path(path).expect("ours").records().map(|row| row.expect("just written")).collect()
}
