//! Two checked entries in; agreed, differing, stopped or without reasons out.
//!
//! Comparison happens once, when both entries are sealed, by meaning and exactly. What differs is named by its field;
//! no value of either person leaves this module before both agree.

mod compared;
mod diagnosis;
mod ordered;

use crate::check::{Checked, Finding, RunningInfusion, Severity, Verdict, of_a_pair};
use crate::entry::Identifiers;
use crate::infusion::{Computed, Sum};

pub use compared::{COMPARED, Compared};
pub use diagnosis::Diagnosis;
pub use ordered::{OrderCompared, OrderDifference, compare_order};

/// What came of holding two entries against each other.
#[derive(Debug)]
pub enum Outcome<'f> {
    /// Both read the same, and nothing stands in the way.
    Agreed(Box<Agreed<'f>>),
    /// They read something differently.
    Differ(Differ),
    /// Both read the same, and it stops.
    Stopped(Box<Pair<'f>>),
    /// Both read the same, and a written reason is missing.
    ReasonsMissing(Box<Pair<'f>>),
}

/// Two entries that say the same.
#[derive(Debug)]
pub struct Pair<'f> {
    first: Checked<'f>,
    second: Checked<'f>,
    /// What only shows beside each other.
    pair_findings: Vec<Finding>,
}

/// Two entries that say the same, with nothing in the way: the only way to a card.
#[derive(Debug)]
pub struct Agreed<'f> {
    pair: Pair<'f>,
    sum: Sum,
}

/// The fields that two entries read differently.
#[derive(Debug, PartialEq, Eq)]
pub struct Differ {
    fields: Vec<&'static str>,
    diagnoses: Vec<Diagnosis>,
}

/// Two forms that may not be compared at all.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotComparable {
    /// One person entered both.
    #[error("both entries are by the same person")]
    SamePerson,
    /// No identifier of one patient is one of the other.
    #[error("the two entries are for two patients: no identifier is in both")]
    TwoPatients,
    /// Two entries that say the same gave two rates: a fault of the program.
    #[error("two entries that say the same gave different rates: a fault of the program")]
    RatesDiffer,
}

impl NotComparable {
    /// What to do about it.
    #[must_use]
    pub const fn help(&self) -> &'static str {
        match self {
            Self::SamePerson => {
                "a second person reads the order, the label and the line, without seeing the first entry"
            }
            Self::TwoPatients => "look at both wristbands: these entries do not belong together",
            Self::RatesDiffer => "do not use any number of this run",
        }
    }
}

/// Holds two checked entries against each other.
///
/// # Errors
/// [`NotComparable`] when they may not be compared.
pub fn agree<'f>(first: Checked<'f>, second: Checked<'f>) -> Result<Outcome<'f>, NotComparable> {
    agree_beside(first, second, None)
}

/// The same for the next syringe of an infusion that runs: where both say the same, it is held against what runs.
///
/// # Errors
/// [`NotComparable`] when they may not be compared.
pub fn agree_beside<'f>(
    first: Checked<'f>,
    second: Checked<'f>,
    runs: Option<&RunningInfusion>,
) -> Result<Outcome<'f>, NotComparable> {
    agree_with_order(first, second, runs, None)
}

/// The same with what an electronic order says otherwise, where both have read it again already.
///
/// # Errors
/// [`NotComparable`] when they may not be compared.
pub fn agree_with_order<'f>(
    first: Checked<'f>,
    second: Checked<'f>,
    runs: Option<&RunningInfusion>,
    order: Option<Finding>,
) -> Result<Outcome<'f>, NotComparable> {
    let (one, other) = (first.computed().entry(), second.computed().entry());
    if crate::formulary::is_same_person(one.name(), other.name()) {
        return Err(NotComparable::SamePerson);
    }
    if two_patients(&one.patient().identifiers, &other.patient().identifiers) {
        return Err(NotComparable::TwoPatients);
    }
    let fields = fields_that_differ(first.computed(), second.computed());
    if !fields.is_empty() {
        let diagnoses = diagnosis::of(&fields, first.computed(), second.computed());
        return Ok(Outcome::Differ(Differ { fields, diagnoses }));
    }
    let pair_findings = of_a_pair(&first, &second, runs).into_iter().chain(order).collect();
    let pair = Pair { first, second, pair_findings };
    Ok(match pair.verdict() {
        Verdict::Stop => Outcome::Stopped(Box::new(pair)),
        Verdict::Justify => Outcome::ReasonsMissing(Box::new(pair)),
        Verdict::Proceed => Outcome::Agreed(Box::new(Agreed::of(pair)?)),
    })
}

/// Names of the compared fields that two readings have otherwise, in the order of the form: no value, and of nobody.
#[must_use]
pub fn fields_that_differ(first: &Computed<'_>, second: &Computed<'_>) -> Vec<&'static str> {
    // What one of the two never read is the same as nothing.
    let assumed = |field: &str| first.entry().assumes(field) || second.entry().assumes(field);
    let differs = |field: &&Compared| assumed(field.name) || !(field.same)(first, second);
    COMPARED.iter().filter(differs).map(|field| field.name).collect()
}

impl<'f> Pair<'f> {
    /// The first entry.
    #[must_use]
    pub const fn first(&self) -> &Checked<'f> {
        &self.first
    }

    /// The second entry.
    #[must_use]
    pub const fn second(&self) -> &Checked<'f> {
        &self.second
    }

    /// The findings of both, each once, what stops first. They differ only where times or plans do.
    #[must_use]
    pub fn findings(&self) -> Vec<&Finding> {
        let mut findings: Vec<&Finding> = self.first.findings().iter().collect();
        let known = |finding: &Finding| {
            self.first.findings().iter().any(|one| one.code == finding.code && one.field == finding.field)
        };
        findings.extend(self.second.findings().iter().filter(|finding| !known(finding)));
        findings.extend(&self.pair_findings);
        findings.sort_by_key(|finding| std::cmp::Reverse(finding.severity()));
        findings
    }

    /// The graver verdict of the two, where a finding of either needs the reasons of both.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        let stops = self.findings().iter().any(|finding| matches!(finding.severity(), Severity::Stop(_)));
        match (stops, self.unreasoned().is_empty()) {
            (true, _) => Verdict::Stop,
            (false, false) => Verdict::Justify,
            (false, true) => Verdict::Proceed,
        }
    }

    /// Findings that need a written reason of each person, and lack one.
    #[must_use]
    pub fn unreasoned(&self) -> Vec<&Finding> {
        let (first, second) = (self.first.computed().entry(), self.second.computed().entry());
        let lacks =
            |finding: &&Finding| first.reason(finding.code.id).is_none() || second.reason(finding.code.id).is_none();
        self.findings().into_iter().filter(|finding| finding.severity() == Severity::Justify).filter(lacks).collect()
    }
}

impl<'f> Agreed<'f> {
    fn of(pair: Pair<'f>) -> Result<Self, NotComparable> {
        let (Ok(first), Ok(second)) = (pair.first.computed().sum(), pair.second.computed().sum()) else {
            return Err(NotComparable::RatesDiffer);
        };
        if (first.exact, first.set) != (second.exact, second.set) {
            return Err(NotComparable::RatesDiffer);
        }
        let sum = first.clone();
        Ok(Self { pair, sum })
    }

    /// The two entries alone.
    #[must_use]
    pub fn into_pair(self) -> Pair<'f> {
        self.pair
    }

    /// Both entries.
    #[must_use]
    pub const fn pair(&self) -> &Pair<'f> {
        &self.pair
    }

    /// The numbers that both entries lead to.
    #[must_use]
    pub const fn sum(&self) -> &Sum {
        &self.sum
    }
}

impl Differ {
    /// Names of the fields, in the order of the form. Nothing else may be shown before both re-enter them.
    #[must_use]
    pub fn fields(&self) -> &[&'static str] {
        &self.fields
    }

    /// What probably happened, for the record: to be shown only when both entries are final.
    #[must_use]
    pub fn diagnoses(&self) -> &[Diagnosis] {
        &self.diagnoses
    }
}

fn two_patients(first: &Identifiers, second: &Identifiers) -> bool {
    match (first, second) {
        (Identifiers::Known(first), Identifiers::Known(second)) => {
            let (first, second) = (Identifiers::folded(first), Identifiers::folded(second));
            !first.is_empty() && !second.is_empty() && !first.iter().any(|one| second.contains(one))
        }
        _ => false,
    }
}
