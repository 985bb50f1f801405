//! Rounding to the driver's step does not change the dose much.

use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::infusion::{Computed, Sum};
use crate::quantity::{Ratio, exact_or_about, percent};

static LARGE: Code = Code::justify("rounding-large");

pub(super) const RULE: Rule = Rule { codes: &[&LARGE], judges: Judges::Rate, check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let Ok(sum) = computed.sum() else { return };
    let policy = computed.formulary().policy();
    let titrated = computed.names().indication.as_ref().is_ok_and(|indication| indication.titrated_to_effect);
    // The card says how far off the dose is, whatever the size.
    if titrated || sum.off <= policy.rounding_justify.value() {
        return;
    }
    let dose = computed.entry().dose();
    let message = format!(
        "rounded to the driver's step, {} {} is given instead of {dose}: {} off",
        exact_or_about(sum.given),
        dose.unit(),
        percent(sum.off)
    );
    let cure = cure(computed, sum);
    let (help, expected) = match cure {
        Some(Cure::Driver(key)) => {
            ("another driver here has a finer step", Some(format!("the driver `{key}` has a finer step")))
        }
        Some(Cure::Strength(stocked)) => {
            ("another stocked strength comes nearer", Some(format!("{stocked} comes nearer")))
        }
        None => ("no stocked strength or driver here comes nearer", None),
    };
    let finding = LARGE.found("dose", message).help(format!("{help}; or write the reason")).origin(&policy.origin);
    findings.add(match expected {
        Some(expected) => finding.expected(expected),
        None => finding,
    });
}

/// What would make the rounding small.
enum Cure {
    Driver(String),
    Strength(String),
}

/// A stocked strength or another driver with which the rounding would not be noted.
fn cure(computed: &Computed<'_>, sum: &Sum) -> Option<Cure> {
    let names = computed.names();
    let (drug, indication, driver) = (names.drug.as_ref().ok()?, names.indication.as_ref().ok()?, names.driver?);
    let small = computed.formulary().policy().rounding_note.value();
    let off = |exact: Ratio, set: Ratio| exact.apart(set).and_then(|apart| apart.times(Ratio::whole(100))?.over(exact));
    let container = names.container?;
    for other in &computed.formulary().equipment().drivers {
        let Ok((set, _)) = other.nearest(sum.exact) else { continue };
        let fits = set >= other.smallest.value() && set <= other.largest.value();
        if fits && other.takes(container) && off(sum.exact, set).is_ok_and(|off| off <= small) {
            return Some(Cure::Driver(other.key.clone()));
        }
    }
    let weight = computed.entry().patient().weight.value();
    for stocked in indication.strengths.iter().filter_map(|index| drug.strengths.get(*index)) {
        let Some(concentration) = stocked.concentration(weight) else { continue };
        // The rate goes as the inverse of the strength.
        let Ok(exact) =
            sum.exact.times(sum.strength.concentration().per_ml).and_then(|amount| amount.over(concentration.per_ml))
        else {
            continue;
        };
        let Ok((set, _)) = driver.nearest(exact) else { continue };
        let fits = set >= driver.smallest.value() && set <= driver.largest.value();
        if fits && off(exact, set).is_ok_and(|off| off <= small) {
            return Some(Cure::Strength(stocked.to_string()));
        }
    }
    None
}
