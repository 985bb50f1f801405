//! The infusion is not planned for longer than its use allows.

use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::formulary::Side;
use crate::infusion::Computed;

static TOO_LONG: Code = Code::justify("planned-too-long");
static TOO_SHORT: Code = Code::justify("planned-too-short");

pub(super) const RULE: Rule = Rule { codes: &[&TOO_LONG, &TOO_SHORT], judges: Judges::Entry, check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let (Ok(indication), Some(planned)) = (computed.names().indication.as_ref(), computed.entry().planned_for()) else {
        return;
    };
    let Some(outside) = indication.longest.as_ref().and_then(|band| band.outside(planned.value())) else { return };
    let (code, side) = match outside.side {
        Side::Below => (&TOO_SHORT, "less"),
        Side::Above => (&TOO_LONG, "more"),
    };
    let message = format!("{planned} is planned, {side} than {} for this use", outside.limit);
    findings.add(
        code.found("planned_for", message)
            .help("go back to the order; if it is meant, write the reason")
            .origin(outside.origin),
    );
}
