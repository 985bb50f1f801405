//! Where the weight comes from, where the dose depends on it.

use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::entry::WeightFrom;
use crate::infusion::Computed;
use crate::quantity::Per;

static ESTIMATED: Code = Code::note("weight-estimated");
static PROVISIONAL: Code = Code::note("weight-provisional");

pub(super) const RULE: Rule = Rule { codes: &[&ESTIMATED, &PROVISIONAL], judges: Judges::Entry, check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let entry = computed.entry();
    let per_patient = |per| per == Per::Patient;
    let bolus = entry.bolus().map(|bolus| bolus.dose.unit().per());
    if per_patient(entry.dose().unit().dose().per()) && bolus.is_none_or(per_patient) {
        return;
    }
    match entry.patient().weight_from {
        WeightFrom::Measured | WeightFrom::Stated => {}
        WeightFrom::Estimated => findings.add(
            ESTIMATED
                .found("patient.weight_from", "the dose depends on the weight, and the weight is estimated")
                .help("weigh the patient as soon as that is possible"),
        ),
        WeightFrom::Provisional => findings.add(
            PROVISIONAL
                .found("patient.weight_from", "the dose depends on the weight, and the weight is provisional")
                .help("confirm the weight before the start: another weight voids this card"),
        ),
    }
}
