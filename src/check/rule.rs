//! What a rule is: it looks at a computed entry and adds what it finds.

use crate::infusion::Computed;

use super::finding::{Code, Finding};

/// Every finding of a rule goes in here.
#[derive(Debug, Default)]
pub(crate) struct Findings(Vec<Finding>);

impl Findings {
    pub(super) fn add(&mut self, finding: Finding) {
        self.0.push(finding);
    }

    pub(super) fn iter(&self) -> impl Iterator<Item = &Finding> {
        self.0.iter()
    }

    pub(super) fn into_inner(self) -> Vec<Finding> {
        self.0
    }
}

/// One rule: the kinds of finding that it can make, and how it looks.
#[derive(Debug)]
pub struct Rule {
    /// Every kind of finding that it can make.
    pub codes: &'static [&'static Code],
    pub(super) judges: Judges,
    pub(super) check: fn(&Computed<'_>, &mut Findings),
}

/// What a rule is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Judges {
    /// What was entered.
    Entry,
    /// What follows from the rate: silent where something else stops, since nothing follows from a wrong rate.
    Rate,
}
