//! A computed entry in; findings and a verdict out. One rule per file in `rules/`; to add one: write the file and name
//! it in `rules/mod.rs`.

pub(crate) mod cause;
mod checked;
mod finding;
pub(crate) mod growth;
mod rule;
mod rules;
pub mod strengths;

pub use checked::{Checked, codes};
pub use finding::{Audience, Code, Finding, Severity, Stop, Verdict};
pub use rule::Rule;
pub use rules::order::{OrderPassed, order_differs};
pub use rules::running::RunningInfusion;

/// Whether the syringe was made for the patient's weight, by a recipe per kg.
#[must_use]
pub fn made_for_weight(computed: &crate::infusion::Computed<'_>) -> bool {
    rules::strength_stocked::stocked(computed).is_some_and(crate::formulary::Stocked::is_per_kilogram)
}

/// What only shows when two entries that say the same are held against each other, and against what runs.
#[must_use]
pub fn of_a_pair(first: &Checked<'_>, second: &Checked<'_>, runs: Option<&RunningInfusion>) -> Vec<Finding> {
    rules::of_a_pair(first.computed(), second.computed(), runs)
}
