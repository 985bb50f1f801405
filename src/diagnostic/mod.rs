//! Faults with their places: what was found in a text, where, and what to write instead.
//!
//! In: nothing but text and byte ranges. Out: one neutral form, [`Fault`], and its renderers, one file each.

use std::ops::Range;

pub mod explained;
pub mod json;
mod private;
mod source;
pub mod terminal;
mod visible;

pub use source::{Place, Source};

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

/// How much a fault weighs. Ordered: an error weighs most.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Level {
    /// To be known.
    Note,
    /// To be mended, or judged by a person.
    Warning,
    /// The text cannot be used.
    Error,
}

impl Level {
    /// One word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Note => "note",
            Self::Warning => "warning",
            Self::Error => "error",
        }
    }
}

impl Fault {
    /// A fault of the whole file, with no place and no help yet.
    #[must_use]
    pub fn new(code: &'static str, message: impl Into<String>) -> Self {
        Self { code, field: String::new(), message: message.into(), help: None, range: None }
    }

    /// The same fault, in the field of this path.
    #[must_use]
    pub fn in_field(mut self, field: impl Into<String>) -> Self {
        self.field = field.into();
        self
    }

    /// The same fault, at these bytes of the source text.
    #[must_use]
    pub fn at(mut self, range: Range<usize>) -> Self {
        self.range = Some(range);
        self
    }

    /// The same fault, saying what to write instead.
    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }

    /// Whether this is about a patient: such a fault is never shown with the line it was found on.
    #[must_use]
    pub fn is_about_a_patient(&self) -> bool {
        self.field.split(['.', '[']).any(|key| key == PATIENT)
    }
}

/// The field that holds everything a person could be recognised by.
const PATIENT: &str = "patient";

#[cfg(test)]
mod tests {
    use rstest::rstest;

    use super::Fault;

    #[rstest]
    #[case("patient", true)]
    #[case("patient.weight", true)]
    #[case("patient[0].weight", true)]
    #[case("first.patient.weight", true)]
    #[case("entries[3].patient", true)]
    #[case("", false)]
    #[case("drug", false)]
    #[case("patients", false)]
    #[case("inpatient.drug", false)]
    fn a_fault_inside_a_patient_block_is_known_by_its_path(#[case] field: &str, #[case] expected: bool) {
        assert_eq!(Fault::new("any", "any").in_field(field).is_about_a_patient(), expected);
    }
}
