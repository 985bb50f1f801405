//! The syringe lasts until the planned end, or the next one is thought of.

use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::infusion::Computed;
use crate::quantity::duration;

static RUNS_EMPTY: Code = Code::note("runs-empty-early");

pub(super) const RULE: Rule = Rule { codes: &[&RUNS_EMPTY], judges: Judges::Rate, check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let (Ok(sum), Some(planned)) = (computed.sum(), computed.entry().planned_for()) else { return };
    let Some(containers) = sum.run.containers.filter(|count| *count > 1) else { return };
    let message = format!(
        "it runs empty after {}, and {planned} is planned: {containers} syringes or bags",
        duration(sum.run.lasts)
    );
    findings
        .add(RUNS_EMPTY.found("planned_for", message).help("have the next one ready in time, in the same strength"));
}
