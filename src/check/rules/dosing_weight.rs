//! The weight by which the dose is counted is one that the formulary offers.

use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::infusion::Computed;

static NOT_OFFERED: Code = Code::beyond("dosing-weight-not-local");

pub(super) const RULE: Rule = Rule { codes: &[&NOT_OFFERED], judges: Judges::Entry, check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    if let (Some(typed), Ok(indication)) = (computed.entry().dosing_weight(), computed.names().indication.as_ref())
        && !indication.dosing_weights.contains(&typed)
    {
        let offered: Vec<&str> = indication.dosing_weights.iter().map(|one| one.word()).collect();
        let finding = if offered.is_empty() {
            let message = format!("`{typed}` is named, and this dose is not counted by weight");
            NOT_OFFERED.found("dosing_weight", message).help("leave `dosing_weight` out")
        } else {
            let message = format!("this dose is not counted by the {typed} weight here");
            let finding =
                NOT_OFFERED.found("dosing_weight", message).help("go back to the order: which weight is meant?");
            finding.expected(format!("it is counted by one of: {}", offered.join(", ")))
        };
        findings.add(finding.origin(&indication.origin));
    }
}
