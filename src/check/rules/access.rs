//! A peripheral vein gets no stronger solution than the formulary allows.

use crate::check::finding::{Code, Finding};
use crate::check::rule::{Findings, Judges, Rule};
use crate::entry::Access;
use crate::formulary::Band;
use crate::infusion::Computed;
use crate::quantity::{Concentration, Strength};

static HARD: Code = Code::beyond("peripheral-above-hard-maximum");
static SOFT: Code = Code::justify("peripheral-above-soft-maximum");

pub(super) const RULE: Rule = Rule { codes: &[&HARD, &SOFT], judges: Judges::Entry, check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let (entry, Ok(drug)) = (computed.entry(), computed.names().drug.as_ref()) else { return };
    if entry.access() != Access::Peripheral {
        return;
    }
    let label = entry.label();
    let found = label.content.concentration();
    let maximum = &drug.peripheral_maximum;
    let hard =
        maximum.hard.as_ref().and_then(|band| above(&HARD, found, band, "use a central vein, or a weaker solution"));
    let soft = || {
        maximum
            .soft
            .as_ref()
            .and_then(|band| above(&SOFT, found, band, "use a central vein or a weaker solution, or write the reason"))
    };
    if let Some(finding) = hard.or_else(soft) {
        findings.add(finding);
    }
}

fn above(code: &'static Code, found: Concentration, band: &Band<Strength>, help: &str) -> Option<Finding> {
    let most = band.to?;
    let limit = most.concentration();
    if found.kind != limit.kind || found.per_ml <= limit.per_ml {
        return None;
    }
    let message =
        format!("{} is above the maximum of {most} for a peripheral vein", found.shown_in(most.amount_unit()));
    Some(code.found("access", message).help(help).origin(&band.origin))
}
