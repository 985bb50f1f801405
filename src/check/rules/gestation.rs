//! Weeks of pregnancy at birth count while a child is small.

use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::infusion::Computed;
use crate::quantity::Ratio;

static TOO_OLD: Code = Code::impossible("gestation-too-old");

pub(super) const RULE: Rule = Rule { codes: &[&TOO_OLD], judges: Judges::Entry, check };

/// Two years of 365.25 days: until then an age is corrected for a preterm birth (common practice, no source).
fn until() -> Ratio {
    Ratio::new(1461, 2).expect("a small fraction")
}

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let entry = computed.entry();
    let patient = entry.patient();
    let days = patient.age_in_days(entry.entered_at().date());
    if patient.gestation.is_some() && days.is_some_and(|days| days > until()) {
        let message = "`gestation` is given, and the patient is older than 2 years: a weight is no longer judged by it";
        let help = "leave `gestation` out; or read the date of birth again";
        findings.add(TOO_OLD.found("patient.gestation", message).help(help));
    }
}
