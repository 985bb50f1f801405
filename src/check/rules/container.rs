//! The driver takes this syringe, the pump this bag.

use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::infusion::Computed;

static NOT_TAKEN: Code = Code::beyond("container-not-taken");

pub(super) const RULE: Rule = Rule { codes: &[&NOT_TAKEN], judges: Judges::Entry, check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let (Some(container), Some(driver)) = (computed.names().container, computed.names().driver) else { return };
    if !driver.takes(container) {
        let message = format!("the {} `{}` does not take a {}", driver.kind, driver.key, container.key);
        findings.add(NOT_TAKEN.found("container", message).help(format!("it takes: {}", driver.accepts.join(", "))));
    }
}
