//! Numbers that are the same by chance, or because one of them stands in the wrong field. Said only beside another finding: alone,
//! it would be said too often of nothing.

use crate::check::Severity;
use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::infusion::Computed;
use crate::quantity::Ratio;

static SAME: Code = Code::note("same-number-twice");

pub(super) const RULE: Rule = Rule { codes: &[&SAME], judges: Judges::Entry, check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    if !findings.iter().any(|finding| finding.severity() != Severity::Note) {
        return;
    }
    let entry = computed.entry();
    let patient = entry.patient();
    let weight = patient.weight.number().ratio();
    let years = patient.age_in_days(entry.entered_at().date()).and_then(|days| {
        let years = days.over(Ratio::new(1461, 4).ok()?).ok()?;
        Ratio::new(years.numerator() / years.denominator(), 1).ok()
    });
    let height = patient.height.map(|height| height.number().ratio());
    let others = [
        (Some(entry.dose().number().ratio()), "dose", "the dose has the number of the weight"),
        (years.filter(|years| !years.is_zero()), "patient.weight", "the weight has the number of the age"),
        (height, "patient.weight", "the weight has the number of the height"),
    ];
    for (other, field, says) in others {
        if other == Some(weight) {
            let help = "look whether a number stands in the wrong field";
            findings.add(SAME.found(field, says).help(help));
            return;
        }
    }
}
