//! The lines of a record in words.

use crate::card::wrapped;
use crate::case::Mark;

/// A paragraph; the sign for "about" is not parted from its number.
pub(in crate::cli) fn paragraph(out: &mut String, first: &str, text: &str) {
    wrapped(out, first, &text.replace("≈ ", "≈\u{a0}"));
}

/// The marks beneath a line.
pub(in crate::cli) fn marks_in_words(out: &mut String, indent: &str, marks: &[Mark]) {
    for mark in marks {
        let head = match mark {
            mark if mark.is_hard_limit() => "BEYOND A HARD LIMIT",
            mark if mark.needs_even_so() => "NOT AS AGREED",
            _ => "marked",
        };
        paragraph(out, indent, &format!("{head}: {} [{}]", mark.says, mark.code));
    }
}
