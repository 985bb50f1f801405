//! A drug that is titrated to effect arrives soon at this rate: while nothing arrives, the next step up is taken too early.

use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::infusion::Computed;
use crate::quantity::{Ratio, duration, exact_or_about};

static SLOW: Code = Code::note("arrival-slow");

pub(super) const RULE: Rule = Rule { codes: &[&SLOW], judges: Judges::Rate, check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let Ok(sum) = computed.sum() else { return };
    let slow = computed.formulary().policy().slow_arrival;
    // Chosen: below half an hour the card's own line is enough, whatever a house set before.
    let titrated = computed.names().indication.as_ref().is_ok_and(|indication| indication.titrated_to_effect);
    let half_an_hour = Ratio::new(1, 2).unwrap_or(Ratio::ONE);
    if titrated && sum.run.arrives_after >= slow.value().max(half_an_hour) {
        let message = format!(
            "the first drug takes {} through {} mL of dead space that does not hold it yet",
            duration(sum.run.arrives_after),
            exact_or_about(sum.run.empty_of_drug)
        );
        let help = "fill the dead space with the drug, or expect the effect that late; the end is as late";
        findings.add(SLOW.found("line_filled", message).help(help).origin(&computed.formulary().policy().origin));
    }
}
