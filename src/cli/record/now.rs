//! What a set-up gives now, by its record: for every answer that says so.

use std::fmt::Write as _;

use crate::case::Owed;
use crate::case::data::GivenNow;

use super::words::paragraph;

/// The last line of whatever is said about now.
pub(in crate::cli) const BY_THE_RECORD: &str = "By the record, not read off the driver.";

/// What is owed, a line each.
pub(super) fn owed_in_words(out: &mut String, owed: &[Owed]) {
    for one in owed {
        paragraph(out, "Outstanding: ", &format!("{} [{}]", one.says, one.code));
    }
}

/// What is given now, for people.
pub(super) fn now_in_words(out: &mut String, now: Option<&GivenNow>) {
    match now {
        Some(now) => paragraph(out, "Now: ", &format!("{}.", now.says)),
        None => {
            let _ = writeln!(out, "Now: not started.");
        }
    }
}
