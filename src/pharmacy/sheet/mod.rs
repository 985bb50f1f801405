//! A formulary as rows of a spreadsheet, one for each value, and back. In: the files of a formulary. Out: rows of file,
//! place, value as typed; and from rows, files that read to the same trees. Comments of the files are not kept.

mod phases;
mod table;
mod tree;
#[cfg(feature = "xlsx")]
mod workbook;
mod yaml;

use std::fmt;

use crate::document::{DRUG_LIMIT, Node, Value, read_yaml};
use crate::formulary::Files;

pub use phases::{from_phases, to_phases};
pub(super) use table::records;
pub use table::{from_csv, to_csv};
#[cfg(feature = "xlsx")]
pub use workbook::{from_xlsx, to_xlsx};

/// One value of a formulary.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SheetRow {
    /// The file, from the formulary folder on: `drugs/heparin.yaml`.
    pub file: String,
    /// Keys from the top of the file on, `areas > adult theatre > vasopressor > dose_unit`; `#1` is the first of a list.
    pub place: String,
    /// As typed.
    pub value: String,
    /// What stands there.
    pub what: SheetValue,
}

/// What stands at a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SheetValue {
    /// A value.
    Value,
    /// A list without anything in it.
    EmptyList,
    /// A map without anything in it.
    EmptyMap,
    /// Nothing after the key.
    Nothing,
}

/// Rows that make no formulary: each fault with the row it is in, counted as a spreadsheet counts, the head being row 1.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("row {row}: {message}")]
pub struct BadRow {
    /// Which row.
    pub row: usize,
    /// Kebab-case, stable.
    pub code: &'static str,
    /// What was found.
    pub message: String,
    /// What to write instead.
    pub help: &'static str,
}

impl SheetValue {
    const ALL: [Self; 4] = [Self::Value, Self::EmptyList, Self::EmptyMap, Self::Nothing];

    /// As a row says it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Value => "value",
            Self::EmptyList => "empty list",
            Self::EmptyMap => "empty map",
            Self::Nothing => "nothing",
        }
    }
}

/// Every value of every file but the approval, which names other bytes than those that come back.
///
/// # Errors
/// A message, when a file is not YAML, or a key cannot stand in a place.
pub fn rows(files: &Files) -> Result<Vec<SheetRow>, String> {
    let mut rows = Vec::new();
    for (path, text) in files.iter().filter(|(path, _)| *path != "approval.yaml") {
        let mut faults = Vec::new();
        let root = read_yaml(text, DRUG_LIMIT, &mut faults);
        let Some(root) = root.filter(|_| faults.is_empty()) else {
            let why = faults.first().map(|fault| fault.message.clone()).unwrap_or_default();
            return Err(format!("{path}: {why}"));
        };
        collect(path, &root, &mut Vec::new(), &mut rows)?;
    }
    Ok(rows)
}

/// The files that rows make: path and text. Each text is read back and held against its rows before it is given out.
///
/// # Errors
/// Every row at fault.
pub fn files(rows: &[SheetRow]) -> Result<Vec<(String, String)>, Vec<BadRow>> {
    let trees = tree::of_rows(rows)?;
    let texts: Vec<(String, String)> = trees.iter().map(|(path, tree)| (path.clone(), yaml::text(tree))).collect();
    for (path, text) in &texts {
        let mut faults = Vec::new();
        let read = read_yaml(text, DRUG_LIMIT, &mut faults);
        let mut found = Vec::new();
        let again = read.filter(|_| faults.is_empty()).map(|root| collect(path, &root, &mut Vec::new(), &mut found));
        let mut meant: Vec<&SheetRow> = rows.iter().filter(|row| row.file == *path).collect();
        let mut got: Vec<&SheetRow> = found.iter().collect();
        meant.sort_by_key(|row| &row.place);
        got.sort_by_key(|row| &row.place);
        if !matches!(again, Some(Ok(()))) || meant != got {
            let row = rows.iter().position(|row| row.file == *path).map_or(1, |at| at + 2);
            return Err(vec![BadRow {
                row,
                code: "sheet-not-kept",
                message: format!("{path} would not read back as its rows say"),
                help: "look at the values of this file for letters that cannot be written, or for a file that is too long",
            }]);
        }
    }
    Ok(texts)
}

/// One step of a place.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
enum PathStep {
    Key(String),
    /// Counted from 1.
    Item(usize),
}

/// Between the steps of a place.
pub(super) const BETWEEN: &str = " > ";

impl fmt::Display for PathStep {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Key(key) => f.write_str(key),
            Self::Item(number) => write!(f, "#{number}"),
        }
    }
}

fn collect(path: &str, node: &Node<'_>, steps: &mut Vec<PathStep>, rows: &mut Vec<SheetRow>) -> Result<(), String> {
    let row = |steps: &[PathStep], value: &str, what| SheetRow {
        file: path.to_owned(),
        place: steps.iter().map(PathStep::to_string).collect::<Vec<_>>().join(BETWEEN),
        value: value.to_owned(),
        what,
    };
    match &node.value {
        Value::Map(members) if members.is_empty() => rows.push(row(steps, "", SheetValue::EmptyMap)),
        Value::List(items) if items.is_empty() => rows.push(row(steps, "", SheetValue::EmptyList)),
        Value::Map(members) => {
            for member in members {
                if member.key.starts_with('#') || member.key.contains('>') || member.key.trim() != member.key {
                    return Err(format!("{path}: the key `{}` cannot stand in a sheet", member.key));
                }
                steps.push(PathStep::Key(member.key.to_string()));
                collect(path, &member.node, steps, rows)?;
                steps.pop();
            }
        }
        Value::List(items) => {
            for (at, item) in items.iter().enumerate() {
                steps.push(PathStep::Item(at + 1));
                collect(path, item, steps, rows)?;
                steps.pop();
            }
        }
        Value::Text(text) => rows.push(row(steps, text, SheetValue::Value)),
        Value::Nothing => rows.push(row(steps, "", SheetValue::Nothing)),
        Value::Bare => return Err(format!("{path}: a value without quotes")),
    }
    Ok(())
}
