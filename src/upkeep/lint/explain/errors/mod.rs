//! The errors of the readers, explained: what the readers themselves say is one sentence.

mod files;
mod formulary;
mod numbers;

use crate::upkeep::lint::rule::Code;

/// Every error that a file of a formulary can have.
pub(super) fn every() -> impl Iterator<Item = &'static Code> {
    formulary::ERRORS.iter().chain(numbers::ERRORS).chain(files::ERRORS)
}

/// One block an error: what it means, why it matters, what to do, an example.
macro_rules! errors {
    ($($id:literal: $means:literal, $matters:literal, $to_do:literal, $example:literal;)+) => {
        /// Each with its explanation.
        pub(super) static ERRORS: &[crate::upkeep::lint::rule::Code] = &[$(crate::upkeep::lint::rule::Code {
            id: $id,
            level: crate::diagnostic::Level::Error,
            means: $means,
            matters: $matters,
            to_do: $to_do,
            example: $example,
        }),+];
    };
}
use errors;
