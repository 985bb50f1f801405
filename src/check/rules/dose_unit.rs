//! The dose is in the one unit of this drug, area and indication.

use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::infusion::Computed;
use crate::quantity::Ratio;

static NOT_LOCAL: Code = Code::beyond("dose-unit-not-local");

pub(super) const RULE: Rule = Rule { codes: &[&NOT_LOCAL], judges: Judges::Entry, check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let Ok(indication) = computed.names().indication else { return };
    let dose = computed.entry().dose();
    if dose.unit() == indication.dose_unit {
        return;
    }
    let message = format!(
        "the dose is in {}; for {} in {} it is ordered in {} only",
        dose.unit(),
        indication.name,
        indication.area,
        indication.dose_unit
    );
    // The same digits under the local unit: a usual dose there means that only the unit was misread.
    let digits: Ratio = dose.number().ratio();
    let usual = computed.names().limits.map(|limits| &limits.usual);
    let fits = usual.is_some_and(|usual| usual.outside(digits).is_none());
    let help = if fits {
        format!("go back to the order: {} {} would be usual", dose.number(), indication.dose_unit)
    } else {
        format!("go back to the order, and write the dose in {}", indication.dose_unit)
    };
    findings.add(NOT_LOCAL.found("dose", message).help(help).origin(&indication.origin));
}
