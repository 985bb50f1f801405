//! The dose is in the one unit of this drug, area and indication.

use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::infusion::Computed;
use crate::quantity::DoseRateUnit;

static NOT_LOCAL: Code = Code::beyond("dose-unit-not-local");

pub(super) const RULE: Rule = Rule { codes: &[&NOT_LOCAL], judges: Judges::Entry, check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let Ok(indication) = computed.names().indication else { return };
    let dose = computed.entry().dose();
    if dose.unit() == indication.dose_unit {
        return;
    }
    let asks = slip(dose.unit(), indication.dose_unit);
    let message = format!(
        "the dose is in {}, and for {} in {} it is ordered in another unit. Perhaps {asks}?",
        dose.unit(),
        indication.name,
        indication.area
    );
    let finding = NOT_LOCAL.found("dose", message).help("go back to the order, and read the unit again");
    findings
        .add(finding.expected(format!("it is ordered in {} only", indication.dose_unit)).origin(&indication.origin));
}

/// Which parts of the unit are other ones, in words that say nothing of the right one.
fn slip(typed: DoseRateUnit, local: DoseRateUnit) -> String {
    let parts = [
        (typed.time() != local.time(), "per min, per h or per day"),
        (typed.dose().per() != local.dose().per(), "per kg, per m2 or per patient"),
        (typed.dose().amount() != local.dose().amount(), "the amount in it (g, mg, mcg, nanogram, units)"),
    ];
    let differing: Vec<&str> = parts.into_iter().filter(|(differs, _)| *differs).map(|(_, says)| says).collect();
    differing.join("; and ")
}
