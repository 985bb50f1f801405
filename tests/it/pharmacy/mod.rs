//! What the pharmacist keeps a formulary with: changes between two, past set-ups replayed, tables, the book, the sheet.

mod book;
mod diff;
mod diff_command;
mod house;
#[cfg(feature = "journal")]
mod kept;
mod new;
mod replay;
mod sample;
mod sheet;
mod table;
