//! Rows as CSV (RFC 4180). What a spreadsheet does to a file is understood: a byte order mark, line ends of two
//! characters, semicolons for commas.

use super::{BadRow, SheetRow, SheetValue};

const HEAD: [&str; 4] = ["file", "place", "value", "what"];

/// The rows with a head, as a spreadsheet opens them.
#[must_use]
pub fn to_csv(rows: &[SheetRow]) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(HEAD).expect("it is written into memory");
    for row in rows {
        let record = [&row.file, &row.place, &row.value, row.what.word()];
        writer.write_record(record).expect("it is written into memory");
    }
    let bytes = writer.into_inner().expect("it is written into memory");
    String::from_utf8(bytes).expect("every field is UTF-8")
}

/// The rows of a file.
///
/// # Errors
/// Every row at fault.
pub fn from_csv(text: &str) -> Result<Vec<SheetRow>, Vec<BadRow>> {
    of_records(records(text))
}

/// The rows of fields, whatever they hold.
pub(in crate::pharmacy) fn records(text: &str) -> impl Iterator<Item = Result<Vec<String>, String>> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let head = text.lines().next().unwrap_or_default();
    let delimiter = if head.contains(';') && !head.contains(',') { b';' } else { b',' };
    let reader =
        csv::ReaderBuilder::new().has_headers(false).flexible(true).delimiter(delimiter).from_reader(text.as_bytes());
    reader.into_records().map(|record| {
        record
            .map(|fields| fields.iter().map(str::to_owned).collect::<Vec<String>>())
            .map_err(|error| error.to_string())
    })
}

/// The rows of records, the first of which is the head.
pub(super) fn of_records(
    records: impl Iterator<Item = Result<Vec<String>, String>>,
) -> Result<Vec<SheetRow>, Vec<BadRow>> {
    const HELP: &str = "let the sheet have the columns file, place, value, what, as `formulary export` writes them";
    let (mut rows, mut bad) = (Vec::new(), Vec::new());
    let mut headed = false;
    for (at, record) in records.enumerate() {
        let row = at + 1;
        let mut refuse = |code, message: String| bad.push(BadRow { row, code, message, help: HELP });
        let fields = match record {
            Ok(fields) => fields,
            Err(message) => {
                refuse("sheet-unreadable", message);
                continue;
            }
        };
        if at == 0 {
            headed = fields.iter().map(String::as_str).eq(HEAD);
            if !headed {
                refuse("sheet-head", format!("the columns are `{}`", fields.join(", ")));
                break;
            }
            continue;
        }
        match fields.as_slice() {
            [file, place, value, what] => match SheetValue::ALL.into_iter().find(|known| known.word() == what) {
                Some(what) if what == SheetValue::Value || value.is_empty() => {
                    rows.push(SheetRow { file: file.clone(), place: place.clone(), value: value.clone(), what });
                }
                Some(what) => refuse("sheet-what", format!("a value stands in a row of `{}`", what.word())),
                None => refuse(
                    "sheet-what",
                    format!("`{}` is none of value, empty list, empty map, nothing", crate::quantity::clip(what)),
                ),
            },
            other => refuse("sheet-columns", format!("the row has {} columns", other.len())),
        }
    }
    if !headed && bad.is_empty() {
        bad.push(BadRow { row: 1, code: "sheet-head", message: "the sheet is empty".to_owned(), help: HELP });
    }
    if bad.is_empty() { Ok(rows) } else { Err(bad) }
}
