//! The rate is one that a syringe of this size gives steadily.

use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::delivery::sticks_and_slips;
use crate::infusion::Computed;

static UNSTEADY: Code = Code::note("rate-unsteady");

pub(super) const RULE: Rule = Rule { codes: &[&UNSTEADY], judges: Judges::Rate, check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let (Ok(sum), Some(container)) = (computed.sum(), computed.names().container) else { return };
    if sticks_and_slips(container, sum.set) {
        let message = format!(
            "so slow, a syringe of {} sticks and slips: for hours far less than the rate was measured (Neal & Lin 2009)",
            container.size
        );
        findings.add(UNSTEADY.found("container", message).help("a smaller syringe, or a weaker solution"));
    }
}
