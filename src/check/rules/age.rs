//! The limits are meant for patients of this age.

use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::formulary::{Band, Side};
use crate::infusion::Computed;
use crate::quantity::Age;

static OUTSIDE: Code = Code::beyond("age-outside");
static NOT_GIVEN: Code = Code::note("age-not-given");
static BEFORE_BIRTH: Code = Code::impossible("age-before-birth");

pub(super) const RULE: Rule = Rule { codes: &[&OUTSIDE, &NOT_GIVEN, &BEFORE_BIRTH], judges: Judges::Entry, check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let (names, entry) = (computed.names(), computed.entry());
    let area = names.area.and_then(|area| area.age.as_ref().map(|band| (area.name.as_str(), band)));
    let indication =
        names.indication.as_ref().ok().and_then(|one| one.age.as_ref().map(|band| (one.name.as_str(), band)));
    let patient = entry.patient();
    let days = patient.age_in_days(entry.entered_at().date());
    if patient.age.is_some() && days.is_none() {
        let help = "look at the date of birth and at the clock";
        findings.add(BEFORE_BIRTH.found("patient.born", "the date of birth lies after this entry").help(help));
        return;
    }
    for (what, band) in [area, indication].into_iter().flatten() {
        let Some(days) = days else {
            let message = format!("`{what}` is for {}, and no age is given", shown(band));
            findings.add(
                NOT_GIVEN
                    .found("patient.born", message)
                    .help("give the date of birth, or make sure by asking")
                    .origin(&band.origin),
            );
            return;
        };
        if let Some(outside) = band.outside(days) {
            let side = match outside.side {
                Side::Below => "younger",
                Side::Above => "older",
            };
            let message = format!("`{what}` is for {}, and this patient is {side}", shown(band));
            findings.add(
                OUTSIDE
                    .found("patient.born", message)
                    .help("choose the area and indication for this patient")
                    .origin(outside.origin),
            );
        }
    }
}

fn shown(band: &Band<Age>) -> String {
    match (band.from, band.to) {
        (Some(from), Some(to)) => format!("patients from {from} to {to}"),
        (Some(from), None) => format!("patients from {from}"),
        (None, Some(to)) => format!("patients up to {to}"),
        (None, None) => "patients of any age".to_owned(),
    }
}
