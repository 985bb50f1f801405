//! What the pharmacist keeps a formulary with: changes between two, past set-ups replayed, tables, the book, the sheet.

#[path = "../common/mod.rs"]
mod common;
mod house;
#[path = "../published/mod.rs"]
mod published;

mod approval;
mod book;
mod diff;
mod diff_command;
mod every_number;
#[cfg(feature = "journal")]
mod kept;
mod replay;
mod sample;
mod sheet;
mod table;
