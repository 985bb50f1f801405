//! The doses as one row for each phase, to be worked in: the limits of a phase stand side by side. In: the rows of a whole
//! formulary. Out: CSV; and from CSV and the rows of the formulary that it was written from, all rows again.

use super::table::records;
use super::{BETWEEN, BadRow, SheetRow, SheetValue};

/// The places of a phase, from its own on.
const LIMITS: [[&str; 2]; 9] = [
    ["usual", "from"],
    ["usual", "to"],
    ["usual", "source"],
    ["soft", "from"],
    ["soft", "to"],
    ["soft", "source"],
    ["hard", "from"],
    ["hard", "to"],
    ["hard", "source"],
];

const HELP: &str = "let the sheet have the rows and columns that `formulary export --phases` writes";

fn head() -> Vec<String> {
    let names = ["file", "area", "use", "phase"].map(str::to_owned);
    names.into_iter().chain(LIMITS.map(|limit| limit.join(" "))).collect()
}

/// File, area, use and phase, where a row is one of a phase's limits.
fn phase_of(row: &SheetRow) -> Option<[&str; 4]> {
    let steps: Vec<&str> = row.place.split(BETWEEN).collect();
    match steps.as_slice() {
        ["areas", area, name, "phases", phase, limit, side] if LIMITS.contains(&[*limit, *side]) => {
            Some([&row.file, area, name, phase])
        }
        _ => None,
    }
}

fn place([_, area, name, phase]: [&str; 4], limit: [&str; 2]) -> String {
    ["areas", area, name, "phases", phase, limit[0], limit[1]].join(BETWEEN)
}

/// Every phase, in the order of the files.
fn phases(rows: &[SheetRow]) -> Vec<[&str; 4]> {
    let mut phases: Vec<[&str; 4]> = rows.iter().filter_map(phase_of).collect();
    phases.dedup();
    phases
}

/// The doses, one row a phase.
#[must_use]
pub fn to_phases(rows: &[SheetRow]) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(head()).expect("it is written into memory");
    for phase in phases(rows) {
        let of_phase: Vec<&SheetRow> = rows.iter().filter(|row| phase_of(row) == Some(phase)).collect();
        let cell = |limit| {
            let place = place(phase, limit);
            of_phase.iter().find(|row| row.place == place).map_or("", |row| row.value.as_str())
        };
        let record = phase.into_iter().chain(LIMITS.map(cell));
        writer.write_record(record).expect("it is written into memory");
    }
    String::from_utf8(writer.into_inner().expect("it is written into memory")).expect("every field is UTF-8")
}

/// The rows of `base` with the doses of the sheet in the place of its own. An empty cell takes a limit away.
///
/// # Errors
/// Every row at fault: each phase of `base` stands in the sheet once, and no other.
pub fn from_phases(text: &str, base: &[SheetRow]) -> Result<Vec<SheetRow>, Vec<BadRow>> {
    let known = phases(base);
    let (mut sheet, mut bad) = (Vec::<(Vec<String>, usize)>::new(), Vec::new());
    let mut last = 1;
    for (at, record) in records(text).enumerate() {
        let row = at + 1;
        last = row;
        let mut refuse = |code, message: String| bad.push(BadRow { row, code, message, help: HELP });
        match record {
            Err(message) => refuse("sheet-unreadable", message),
            Ok(fields) if at == 0 => {
                if fields != head() {
                    refuse("sheet-head", format!("the columns are `{}`", fields.join(", ")));
                    return Err(bad);
                }
            }
            Ok(fields) if fields.len() != head().len() => {
                refuse("sheet-columns", format!("the row has {} columns", fields.len()));
            }
            Ok(fields) if !known.iter().any(|phase| phase.iter().zip(&fields).all(|(one, other)| one == other)) => {
                refuse("sheet-place", format!("{} is no phase of the formulary", fields[..4].join(", ")));
            }
            Ok(fields) if sheet.iter().any(|(other, _)| other[..4] == fields[..4]) => {
                refuse("sheet-twice", format!("{} stands here twice", fields[..4].join(", ")));
            }
            Ok(fields) => sheet.push((fields, row)),
        }
    }
    let is_there =
        |phase: &[&str; 4]| sheet.iter().any(|(fields, _)| phase.iter().zip(fields).all(|(one, other)| one == other));
    if bad.is_empty()
        && let Some(missing) = known.iter().find(|phase| !is_there(phase))
    {
        let message = format!("{} is missing", missing.join(", "));
        bad.push(BadRow { row: last, code: "sheet-short", message, help: HELP });
    }
    if !bad.is_empty() {
        return Err(bad);
    }
    let mut rows = Vec::with_capacity(base.len());
    let mut done: Option<[&str; 4]> = None;
    for row in base {
        let Some(phase) = phase_of(row) else {
            rows.push(row.clone());
            continue;
        };
        if done == Some(phase) {
            continue;
        }
        done = Some(phase);
        let fields = sheet.iter().find(|(fields, _)| phase.iter().zip(fields).all(|(one, other)| one == other));
        for (limit, value) in LIMITS.iter().zip(fields.iter().flat_map(|(fields, _)| &fields[4..])) {
            if !value.is_empty() {
                let (file, place) = (row.file.clone(), place(phase, *limit));
                rows.push(SheetRow { file, place, value: value.clone(), what: SheetValue::Value });
            }
        }
    }
    Ok(rows)
}
