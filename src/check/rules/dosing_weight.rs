//! The weight by which the dose is counted is one that the formulary offers.

use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::infusion::Computed;

static NOT_OFFERED: Code = Code::beyond("dosing-weight-not-local");
static CAPPED: Code = Code::note("dosing-weight-capped");
static DERIVED: Code = Code::note("dosing-weight-derived");

pub(super) const RULE: Rule = Rule { codes: &[&NOT_OFFERED, &CAPPED, &DERIVED], judges: Judges::Entry, check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    if let (Some(typed), Ok(indication)) = (computed.entry().dosing_weight(), computed.names().indication.as_ref())
        && !indication.dosing_weights.contains(&typed)
    {
        let offered: Vec<&str> = indication.dosing_weights.iter().map(|one| one.word()).collect();
        let (message, help) = if offered.is_empty() {
            (
                format!("`{typed}` is named, and this dose is not counted by weight"),
                "leave `dosing_weight` out".to_owned(),
            )
        } else {
            (
                format!("this dose is not counted by the {typed} weight here"),
                format!("write one of: {}", offered.join(", ")),
            )
        };
        findings.add(NOT_OFFERED.found("dosing_weight", message).help(help).origin(&indication.origin));
    }
    let Some(derived) = computed.sum().ok().and_then(|sum| sum.derived.as_ref()) else { return };
    let code = if derived.capped { &CAPPED } else { &DERIVED };
    findings.add(
        code.found("dosing_weight", derived.working.clone()).help("make sure that this weight is meant by the order"),
    );
}
