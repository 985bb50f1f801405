//! The rate itself lies within the limits of the use.

use crate::check::finding::{Code, Finding};
use crate::check::rule::{Findings, Judges, Rule};
use crate::formulary::{Band, Driver, Side};
use crate::infusion::{Computed, beyond_flow};
use crate::quantity::{FlowRate, Ratio, exact_or_about};

static HARD: Code = Code::beyond("flow-beyond-hard-limit");
static SOFT: Code = Code::justify("flow-beyond-soft-limit");

pub(super) const RULE: Rule = Rule { codes: &[&HARD, &SOFT], judges: Judges::Entry, check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let names = computed.names();
    let (Ok(sum), Ok(indication), Some(driver)) = (computed.sum(), names.indication.as_ref(), names.driver) else {
        return;
    };
    let limits = &indication.flow;
    let hard = limits.hard.as_ref().and_then(|band| outside(&HARD, "hard", sum.set, band, driver));
    if let Some(finding) =
        hard.or_else(|| limits.soft.as_ref().and_then(|band| outside(&SOFT, "soft", sum.set, band, driver)))
    {
        findings.add(finding);
    }
}

/// The numbers are in the working, since a card shows one rate only.
fn outside(code: &'static Code, kind: &str, set: Ratio, band: &Band<FlowRate>, driver: &Driver) -> Option<Finding> {
    let outside = beyond_flow(set, band, kind == "hard", driver)?;
    let side = match outside.side {
        Side::Below => "below",
        Side::Above => "above",
    };
    let message = format!("the rate is {side} the {kind} limit that this use sets on the rate itself");
    let help = if kind == "hard" {
        "go back to the order and the label: is the dose or the strength a slip?"
    } else {
        "go back to the order and the label; if it is meant, write the reason"
    };
    let working = format!("{} mL/h against {}", exact_or_about(set), outside.limit);
    Some(code.found("dose", message).help(help).working(working).origin(outside.origin))
}
