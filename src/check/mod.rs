//! A computed entry in; findings and a verdict out. One rule per file in `rules/`; to add one: write the file and name
//! it in `rules/mod.rs`.

pub(crate) mod cause;
mod checked;
mod finding;
mod rule;
mod rules;

pub use checked::{Checked, Verdict, codes};
pub use finding::{Code, Finding, Severity, Stop};
pub use rule::Rule;
