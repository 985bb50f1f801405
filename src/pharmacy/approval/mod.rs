//! What the second pharmacist reads before a formulary is approved. In: the formulary that was approved before, and the
//! proposed one. Out: every place whose value is otherwise, to be typed from its source without seeing the author's; and
//! whether what was typed comes to the same. Words (titles, names, sections) are read, not typed.

mod blank;
#[cfg(feature = "journal")]
mod progress;
#[cfg(feature = "journal")]
mod signing;
mod typing;

use std::collections::BTreeMap;
use std::sync::OnceLock;

use crate::formulary::Formulary;

use super::diff::diff;
use super::sheet::{self, SheetRow, SheetValue};

pub use blank::{Answers, blank, filled};
#[cfg(feature = "journal")]
pub use progress::{FileProgress, Progress, shares_in_words};
#[cfg(feature = "journal")]
pub use signing::{ApprovalError, Proposal};
pub use typing::{fault_of, in_words};

/// What stands at no place is typed so.
pub const NONE: &str = "none";

/// Everything that differs in a proposed formulary.
#[derive(Debug)]
pub struct Changes {
    /// To be typed, in the order of the files.
    pub typed: Vec<TypedPlace>,
    /// To be read.
    pub words: Vec<Words>,
    rows: Vec<SheetRow>,
    /// For each file: it and what it rests on as proposed, read when a value of it is first typed in other letters.
    read: BTreeMap<String, OnceLock<Option<Formulary>>>,
}

/// A place whose value is typed anew. Shows neither the old value nor the new one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TypedPlace {
    /// The file, from the formulary folder on.
    pub file: String,
    /// Keys from the top of the file on: `areas > adult theatre > vasopressor > dose_unit`.
    pub place: String,
    /// What it rests on, where the file says so.
    pub source: Option<String>,
    proposed: Option<(String, SheetValue)>,
}

/// Words that were changed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Words {
    /// The file, from the formulary folder on.
    pub file: String,
    /// Keys from the top of the file on.
    pub place: String,
    /// As they were; nothing where they are new.
    pub old: Option<String>,
    /// As they are; nothing where they are gone.
    pub new: Option<String>,
}

impl Changes {
    /// Every value that differs from the formulary that was approved before; every value, where none was.
    ///
    /// # Errors
    /// A message, when a file cannot be taken apart.
    pub fn between(old: Option<&Formulary>, new: &Formulary) -> Result<Self, String> {
        let key = |row: &SheetRow| (row.file.clone(), row.place.clone());
        let rows = sheet::rows(new.texts())?;
        let before: BTreeMap<_, SheetRow> = match old {
            Some(old) => sheet::rows(old.texts())?.into_iter().map(|row| (key(&row), row)).collect(),
            None => BTreeMap::new(),
        };
        let now: BTreeMap<_, &SheetRow> = rows.iter().map(|row| (key(row), row)).collect();
        let (mut typed, mut words) = (Vec::new(), Vec::new());
        let mut otherwise = |row: &SheetRow, old: Option<&SheetRow>, new: Option<&SheetRow>| {
            if is_words(&row.place) {
                let shown = |row: &SheetRow| {
                    if row.what == SheetValue::Value { row.value.clone() } else { row.what.word().to_owned() }
                };
                let (old, new) = (old.map(shown), new.map(shown));
                words.push(Words { file: row.file.clone(), place: row.place.clone(), old, new });
            } else {
                let proposed = new.map(|row| (row.value.clone(), row.what));
                typed.push(TypedPlace { file: row.file.clone(), place: row.place.clone(), source: None, proposed });
            }
        };
        for row in &rows {
            match before.get(&key(row)) {
                Some(old) if old.value == row.value && old.what == row.what => {}
                old => otherwise(row, old, Some(row)),
            }
        }
        for (key, row) in &before {
            if !now.contains_key(key) {
                otherwise(row, Some(row), None);
            }
        }
        let mut values: BTreeMap<(&str, &str), &str> = BTreeMap::new();
        for row in rows.iter().chain(before.values()) {
            values.entry((&row.file, &row.place)).or_insert(&row.value);
        }
        for place in &mut typed {
            place.source = source_of(place, &values);
        }
        let read = rows.iter().map(|row| (row.file.clone(), OnceLock::new())).collect();
        Ok(Self { typed, words, rows, read })
    }

    /// The places where what was typed does not come to what is proposed. `0.5 mg` and `500 mcg` are the same.
    #[must_use]
    pub fn differ(&self, answers: &Answers) -> Vec<&TypedPlace> {
        self.typed.iter().filter(|place| !self.agrees(place, answers)).collect()
    }

    /// Whether what was typed at a place comes to what is proposed.
    #[must_use]
    pub fn agrees(&self, place: &TypedPlace, answers: &Answers) -> bool {
        answers.of(place).is_some_and(|typed| self.comes_to_the_same(place, typed))
    }

    /// A file as proposed, with those that it rests on.
    fn proposed(&self, file: &str) -> Option<&Formulary> {
        let read = || {
            let needed = |row: &&SheetRow| row.file == file || !row.file.starts_with("drugs/");
            let rows: Vec<SheetRow> = self.rows.iter().filter(needed).cloned().collect();
            Formulary::kept("approval", sheet::files(&rows).ok()?).ok()
        };
        self.read.get(file)?.get_or_init(read).as_ref()
    }

    /// Reads the file once more with what was typed at the one place, and looks whether anything became otherwise.
    fn comes_to_the_same(&self, place: &TypedPlace, typed: &str) -> bool {
        let Some((value, what)) = &place.proposed else { return typed == NONE };
        let written = if *what == SheetValue::Value { value } else { what.word() };
        if typed == written.trim() {
            return true;
        }
        // A value for what is none, and none for a value, are never the same.
        if typed == NONE || *what != SheetValue::Value {
            return false;
        }
        let as_typed = |row: &SheetRow| {
            let is_it = row.place == place.place;
            SheetRow { value: if is_it { typed.to_owned() } else { row.value.clone() }, ..row.clone() }
        };
        let rows: Vec<SheetRow> = self.rows.iter().filter(|row| row.file == place.file).map(as_typed).collect();
        let no_change = || {
            let proposed = self.proposed(&place.file)?;
            let (path, text) = sheet::files(&rows).ok()?.pop()?;
            let typed = proposed.with_text(&path, text).ok()?;
            Some(diff(proposed, &typed).ok()?.is_empty())
        };
        no_change() == Some(true)
    }
}

/// Keys of what is read rather than typed: it names things, and no number rests on it.
const WORDS: [&str; 15] = [
    "title",
    "version",
    "issued",
    "section",
    "year",
    "source",
    "drug",
    "class",
    "other_names",
    "looks_like",
    "codes",
    "clinical_reasons",
    "by",
    "justify_from",
    "reason",
];

/// Whether what stands at a place is words.
fn is_words(place: &str) -> bool {
    place.rsplit(sheet::BETWEEN).find(|step| !step.starts_with('#')).is_some_and(|key| WORDS.contains(&key))
}

/// The nearest source above a place, in full where the file lists it.
fn source_of(place: &TypedPlace, values: &BTreeMap<(&str, &str), &str>) -> Option<String> {
    let at = |wanted: &str| values.get(&(place.file.as_str(), wanted)).map(|value| (*value).to_owned());
    let mut above = place.place.as_str();
    let label = loop {
        above = above.rsplit_once(sheet::BETWEEN)?.0;
        if let Some(label) = at(&format!("{above}{}source", sheet::BETWEEN)) {
            break label;
        }
    };
    let part = |part: &str| at(&["sources", &label, part].join(sheet::BETWEEN));
    // Of a section authors write what they found in it: only which publication it is, is shown.
    let full: Vec<String> = [part("title"), part("year")].into_iter().flatten().collect();
    Some(if full.is_empty() { label } else { full.join(", ") })
}
