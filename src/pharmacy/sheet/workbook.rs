//! The same rows as a workbook: every cell is text, so that no spreadsheet makes a date or a number of a value.

use std::io::Cursor;

use calamine::{Data, Reader as _, Xlsx};
use rust_xlsxwriter::{Format, Workbook};

use super::table::of_records;
use super::{BadRow, SheetRow};

/// The bytes of a workbook with one sheet.
///
/// # Errors
/// A message, when a value is longer than a cell may be, or there are too many.
pub fn to_xlsx(rows: &[SheetRow]) -> Result<Vec<u8>, String> {
    let mut workbook = Workbook::new();
    let text = Format::new().set_num_format("@");
    let sheet = workbook.add_worksheet();
    let say = |error: rust_xlsxwriter::XlsxError| error.to_string();
    sheet.set_name("formulary").map_err(say)?;
    let head = ["file", "place", "value", "what"].map(str::to_owned);
    let lines =
        rows.iter().map(|row| [row.file.clone(), row.place.clone(), row.value.clone(), row.what.word().to_owned()]);
    for (at, line) in std::iter::once(head).chain(lines).enumerate() {
        let at = u32::try_from(at).map_err(|error| error.to_string())?;
        for (column, cell) in (0..).zip(line) {
            sheet.write_string_with_format(at, column, cell, &text).map_err(say)?;
        }
    }
    workbook.save_to_buffer().map_err(say)
}

/// The rows of the first sheet of a workbook. A cell that is not text was made into something else by a spreadsheet.
///
/// # Errors
/// Every row at fault.
pub fn from_xlsx(bytes: Vec<u8>) -> Result<Vec<SheetRow>, Vec<BadRow>> {
    let unreadable = |message: String| {
        vec![BadRow {
            row: 1,
            code: "sheet-unreadable",
            message,
            help: "write it with `formulary export --sheet FILE.xlsx`",
        }]
    };
    let mut workbook: Xlsx<_> = calamine::open_workbook_from_rs(Cursor::new(bytes))
        .map_err(|error: calamine::XlsxError| unreadable(error.to_string()))?;
    let sheet = workbook.worksheet_range_at(0).ok_or_else(|| unreadable("it has no sheet".to_owned()))?;
    let sheet = sheet.map_err(|error| unreadable(error.to_string()))?;
    of_records(sheet.rows().map(|cells| cells.iter().map(cell).collect()))
}

fn cell(cell: &Data) -> Result<String, String> {
    match cell {
        Data::String(text) => Ok(text.clone()),
        Data::Empty => Ok(String::new()),
        other => {
            Err(format!("the cell `{other}` is no text any more: a spreadsheet has made a number or a date of it"))
        }
    }
}
