//! The changes as a page to be printed and signed.

use super::{Change, Risk, counted};
use crate::pharmacy::report::{Cell, Report, Section, Table};

/// The page.
#[must_use]
pub fn page(old: &str, new: &str, changes: &[Change], notice: Option<&str>) -> String {
    let text = |value: Option<&String>| Cell::Text(value.cloned().unwrap_or_else(|| "nothing".to_owned()));
    let section = |risk: Risk| {
        let changes = changes.iter().filter(|change| change.risk == risk);
        let rows: Vec<Vec<Cell>> = changes
            .map(|change| {
                let factor = Cell::Text(change.factor.clone().unwrap_or_default());
                let (place, what) = (Cell::Text(change.place.clone()), Cell::Text(change.what.clone()));
                let file = Cell::Text(change.file.clone());
                vec![place, what, text(change.old.as_ref()), text(change.new.as_ref()), factor, file]
            })
            .collect();
        let heading = format!("{} ({})", risk.says(), rows.len());
        let table = Table { heads: vec!["where", "what", "was", "is", "factor", "file"], rows };
        (!table.rows.is_empty()).then(|| Section { heading, table, ..Section::default() })
    };
    let report = Report {
        title: "Changes of the formulary".to_owned(),
        says: vec![
            format!("From {old} to {new}: {}, the most dangerous first.", counted(changes.len())),
            "Not a medical device. A pharmacist answers for every number; verify against the sources.".to_owned(),
        ],
        sections: Risk::ALL.into_iter().filter_map(section).collect(),
    };
    report.page(notice, &["Author", "Second pharmacist"])
}
