//! The patient is known by as many identifiers as the house asks for.

use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::entry::Identifiers;
use crate::infusion::Computed;

static PENDING: Code = Code::note("identifiers-pending");
static TOO_FEW: Code = Code::beyond("identifiers-too-few");

pub(super) const RULE: Rule = Rule { codes: &[&PENDING, &TOO_FEW], judges: Judges::Entry, check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let needed = computed.formulary().policy().identifiers_needed;
    match &computed.entry().patient().identifiers {
        Identifiers::Pending => findings.add(
            PENDING
                .found("patient.identifiers", "the identifiers are pending")
                .help(format!("read {needed} identifiers off the wristband before the start")),
        ),
        Identifiers::Known(known) => {
            let different = Identifiers::different(known);
            if different < needed {
                let message = format!("{different} different identifiers are given, and {needed} are needed");
                let help = "write name and date of birth or number, as on the wristband";
                findings.add(
                    TOO_FEW
                        .found("patient.identifiers", message)
                        .help(help)
                        .origin(&computed.formulary().policy().origin),
                );
            }
        }
    }
}
