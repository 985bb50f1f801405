//! Faults with their places: what was found in a text, where, and what to write instead.
//!
//! In: nothing but text and byte ranges. Out: one neutral form, [`Fault`], and its renderers, one file each.

use std::ops::Range;

/// One thing wrong with a file that a person wrote.
///
/// A fault is about the text; a finding (see `check`) is about the set-up; an error is about the program.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Stable, kebab-case: `number-leading-zero-missing`.
    pub code: &'static str,
    /// Where in the document, as keys: `patient.weight`, `strengths[1].amount`. Empty for the whole file.
    pub field: String,
    /// What was found and why it cannot stand, in one sentence.
    pub message: String,
    /// What to write instead.
    pub help: Option<String>,
    /// Byte range in the source text, where one is known.
    pub range: Option<Range<usize>>,
}
