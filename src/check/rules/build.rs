//! The weight is one that a patient of this age, sex and height may have. Asks for a reason only where hardly anybody weighs
//! so much or so little, or where a slip would make of it what most weigh.
#![expect(clippy::float_arithmetic, reason = "statistics of growth; no dose is made of them")]

use crate::check::finding::Code;
use crate::check::growth::{z_score, z_scores_after};
use crate::check::rule::{Findings, Judges, Rule};
use crate::entry::{Patient, Sex};
use crate::infusion::Computed;

static AGE: Code = Code::justify("weight-unlikely-for-age");
static HEIGHT: Code = Code::justify("weight-unlikely-for-height");

pub(super) const RULE: Rule = Rule { codes: &[&AGE, &HEIGHT], judges: Judges::Entry, check };

/// Beyond this hardly anybody lies: one in some ten thousand.
const FAR: f64 = 4.0;
/// Beyond this a weight is unusual, and within it usual: 1 in 160 lies beyond, 95 in 100 within.
const UNUSUAL: f64 = 2.5;
const USUAL: f64 = 2.0;

/// Slips that are made with weights, as what the right weight is multiplied by (Pa Patient Saf Advis 2016;13:50: pounds
/// taken for kg the most frequent).
const SLIPS: [(f64, &str); 5] = [
    (0.453_592_37, "pounds taken for kg?"),
    (2.204_622_6, "converted from pounds once too often?"),
    (0.1, "10 times: a point misplaced, or a zero too many?"),
    (10.0, "10 times: a point misplaced, or a zero too few?"),
    (0.001, "g taken for kg?"),
];

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let entry = computed.entry();
    let patient = entry.patient();
    let days = patient.age_in_days(entry.entered_at().date()).map(|days| days.approximate());
    let weight = patient.weight.value().approximate();
    let of_age = days.and_then(|days| by_age(patient, days, weight));
    if let Some(slip) = of_age {
        let born = patient.gestation.map(|weeks| format!(", born after {weeks} of pregnancy,")).unwrap_or_default();
        let message = format!("hardly anybody of this age{born} weighs {}{slip}", patient.weight);
        let infant = days.is_some_and(|days| days <= INFANT_DAYS);
        let help = if infant && patient.gestation.is_none() { HELP_OF_AN_INFANT } else { HELP };
        findings.add(AGE.found("patient.weight", message).help(help));
        return;
    }
    if let Some(slip) = by_height(patient, days, weight) {
        let message = format!("hardly anybody of this height weighs {}{slip}", patient.weight);
        findings.add(HEIGHT.found("patient.weight", message).help(HELP));
    }
}

const HELP: &str = "look at the scales again, in kg, and at the date of birth; if it is right, write the reason";

/// A preterm birth makes a difference for two years.
const INFANT_DAYS: f64 = 730.5;
const HELP_OF_AN_INFANT: &str = "look at the scales again, in kg, and at the date of birth; after a preterm birth write the weeks of pregnancy in `gestation`; if it is right, write the reason";

/// By the published figures for the age. Where the sex is not given, only what holds for both; after a preterm birth, only
/// what holds for every set of figures.
fn by_age(patient: &Patient, days: f64, weight: f64) -> Option<String> {
    let sexes: &[Sex] = match patient.sex {
        Some(Sex::Female) => &[Sex::Female],
        Some(Sex::Male) => &[Sex::Male],
        None => &[Sex::Female, Sex::Male],
    };
    let pregnancy = patient.gestation.map(|weeks| weeks.days().approximate());
    let scores = |weight: f64| -> Vec<f64> {
        let of_sex = |sex: &Sex| match pregnancy {
            Some(pregnancy) => z_scores_after(*sex, pregnancy, days, weight),
            None => z_score(*sex, days, weight).into_iter().collect(),
        };
        sexes.iter().flat_map(of_sex).collect()
    };
    let found = scores(weight);
    let beyond = |most: f64| !found.is_empty() && found.iter().all(|z| z.abs() > most);
    if !beyond(UNUSUAL) {
        return None;
    }
    let within = |weight: f64| scores(weight).iter().any(|z| z.abs() <= USUAL);
    let slip = SLIPS.iter().find(|(by, _)| within(weight * by)).map(|(_, says)| format!(". Perhaps {says}"));
    (beyond(FAR) || slip.is_some()).then(|| slip.unwrap_or_default())
}

/// By the body-mass index of adults, from 20 years on (WHO: 18.5 to 25 usual). Chosen: nobody is asked between 13 and 60, and
/// where a slip would make it usual, between 15 and 50.
fn by_height(patient: &Patient, days: Option<f64>, weight: f64) -> Option<String> {
    const ADULT_DAYS: f64 = 20.0 * 365.25;
    let height = patient.height?.value().approximate() / 100.0;
    days.filter(|days| *days >= ADULT_DAYS)?;
    let index = |weight: f64| weight / (height * height);
    let found = index(weight);
    if (15.0..=50.0).contains(&found) {
        return None;
    }
    let slip = SLIPS.iter().find(|(by, _)| (18.5..=30.0).contains(&index(weight * by)));
    let slip = slip.map(|(_, says)| format!(". Perhaps {says}"));
    let far = !(13.0..=60.0).contains(&found);
    (far || slip.is_some()).then(|| slip.unwrap_or_default())
}
