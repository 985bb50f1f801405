//! The sheet that the second pharmacist fills: every place to be typed with its source, and an empty column for the value.

use std::collections::BTreeMap;

use crate::pharmacy::sheet::{BadRow, records};

use super::TypedPlace;

/// What was typed, by file and place.
#[derive(Debug, Default)]
pub struct Answers(BTreeMap<String, BTreeMap<String, String>>);

const HEAD: [&str; 4] = ["file", "place", "source", "value"];

impl Answers {
    /// Writes down what was typed at a place, in the stead of what was typed there before.
    pub fn put(&mut self, place: &TypedPlace, typed: &str) {
        self.0.entry(place.file.clone()).or_default().insert(place.place.clone(), typed.trim().to_owned());
    }

    /// What was typed at a place.
    #[must_use]
    pub fn of(&self, place: &TypedPlace) -> Option<&str> {
        self.0.get(&place.file)?.get(&place.place).map(String::as_str)
    }
}

/// The sheet as CSV (RFC 4180): the values are left empty.
#[must_use]
pub fn blank(due: &[&TypedPlace]) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(HEAD).expect("it is written into memory");
    for place in due {
        let source = place.source.as_deref().unwrap_or_default();
        writer.write_record([&place.file, &place.place, source, ""]).expect("it is written into memory");
    }
    String::from_utf8(writer.into_inner().expect("it is written into memory")).expect("every field is UTF-8")
}

/// The values of a filled sheet. Every place has one, and there is no place that is not asked for.
///
/// # Errors
/// Every row at fault, and every place that is left empty.
pub fn filled(text: &str, due: &[&TypedPlace]) -> Result<Answers, Vec<BadRow>> {
    const HELP: &str = "let the sheet have the columns file, place, source, value, as --blank writes them";
    let (mut answers, mut bad) = (Answers::default(), Vec::new());
    let (mut last, mut strays) = (1, 0);
    for (at, record) in records(text).enumerate() {
        let row = at + 1;
        last = row;
        let mut refuse = |code, message: String, help| bad.push(BadRow { row, code, message, help });
        let fields = match record {
            Ok(fields) => fields,
            Err(message) => {
                refuse("sheet-unreadable", message, HELP);
                continue;
            }
        };
        if at == 0 {
            if !fields.iter().map(String::as_str).eq(HEAD) {
                refuse("sheet-head", format!("the columns are `{}`", fields.join(", ")), HELP);
                return Err(bad);
            }
            continue;
        }
        let [file, name, _, value] = fields.as_slice() else {
            refuse("sheet-columns", format!("the row has {} columns", fields.len()), HELP);
            continue;
        };
        let Some(place) = due.iter().find(|place| place.file == *file && place.place == *name) else {
            // A sheet of another edition is said once, not in every row.
            strays += 1;
            if strays == 1 {
                let message = format!("{} is not asked for", crate::quantity::clip(&format!("{file}, {name}")));
                refuse("sheet-place", message, "write a new sheet for these files with --blank");
            }
            continue;
        };
        if value.trim().is_empty() {
            refuse("sheet-empty", format!("{file}, {name}: nothing is typed"), EMPTY);
        } else if answers.of(place).is_some() {
            refuse("sheet-twice", format!("{file}, {name} stands here twice"), "leave one of the two rows");
        } else {
            answers.put(place, value);
        }
    }
    if strays > 1
        && let Some(first) = bad.iter_mut().find(|bad| bad.code == "sheet-place")
    {
        let wanted = due.len();
        first.message += &format!(
            ", and neither are {} other rows: the sheet is of another edition, and {wanted} values are asked for",
            strays - 1
        );
    }
    let named = |place: &&&TypedPlace| answers.of(place).is_none();
    if bad.is_empty()
        && let Some(missing) = due.iter().find(named)
    {
        let message = format!("{}, {} is missing", missing.file, missing.place);
        bad.push(BadRow { row: last, code: "sheet-short", message, help: EMPTY });
    }
    if bad.is_empty() { Ok(answers) } else { Err(bad) }
}

const EMPTY: &str = "type the value as its source gives it, or none";
