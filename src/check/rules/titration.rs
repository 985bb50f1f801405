//! Both ends of an ordered range of doses, and the dose within it.

use super::dose_limits::{Codes, against};
use crate::check::finding::{Code, Finding};
use crate::check::rule::{Findings, Judges, Rule};
use crate::entry::Titration;
use crate::infusion::{Computed, beyond_flow};
use crate::quantity::{DoseRate, Ratio};

static ABOVE_HARD: Code = Code::beyond("titration-above-hard-limit");
static BELOW_HARD: Code = Code::beyond("titration-below-hard-limit");
static ABOVE_SOFT: Code = Code::justify("titration-above-soft-limit");
static BELOW_SOFT: Code = Code::justify("titration-below-soft-limit");
static UNITS_DIFFER: Code = Code::impossible("titration-in-another-unit");
static OUT_OF_ORDER: Code = Code::impossible("titration-out-of-order");
static DOSE_OUTSIDE: Code = Code::beyond("dose-outside-titration");
static STEP_TOO_LARGE: Code = Code::justify("titration-step-too-large");
static OUTSIDE_FLOW: Code = Code::justify("titration-beyond-flow-limit");
static OUTSIDE_DRIVER: Code = Code::justify("titration-outside-driver");

pub(super) const RULE: Rule = Rule {
    codes: &[
        &ABOVE_HARD,
        &BELOW_HARD,
        &ABOVE_SOFT,
        &BELOW_SOFT,
        &UNITS_DIFFER,
        &OUT_OF_ORDER,
        &DOSE_OUTSIDE,
        &STEP_TOO_LARGE,
        &OUTSIDE_DRIVER,
        &OUTSIDE_FLOW,
    ],
    judges: Judges::Entry,
    check,
};

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let entry = computed.entry();
    let (dose, Some(range)) = (entry.dose(), entry.titration()) else { return };
    let all = [Some(range.from), Some(range.to), range.step];
    if let Some(other) = all.into_iter().flatten().find(|one| one.unit() != dose.unit()) {
        let message = format!("the range is in {}, and the dose is in {}", other.unit(), dose.unit());
        findings.add(UNITS_DIFFER.found("titrate", message).help("write both in the unit of the order"));
        return;
    }
    if range.from.number() > range.to.number() {
        let message = format!("the range begins at {} and ends at {}", range.from, range.to);
        findings.add(OUT_OF_ORDER.found("titrate", message).help("write the smaller dose in `from`"));
        return;
    }
    if dose.number() < range.from.number() || dose.number() > range.to.number() {
        let message = format!("the dose of {dose} lies outside the ordered range, {} to {}", range.from, range.to);
        findings.add(DOSE_OUTSIDE.found("dose", message).help("go back to the order"));
    }
    if let Some(finding) = range.step.and_then(|step| too_large(step, dose, range)) {
        findings.add(finding);
    }
    let codes =
        Codes { above_hard: &ABOVE_HARD, below_hard: &BELOW_HARD, above_soft: &ABOVE_SOFT, below_soft: &BELOW_SOFT };
    for (field, end) in [("titrate.from", range.from), ("titrate.to", range.to)] {
        if let Some(finding) = against(computed, field, end, &codes) {
            findings.add(finding);
        }
        driver(computed, field, end, findings);
    }
}

/// A step wider than the range; or one of half of it or more that would more than double the dose.
fn too_large(step: DoseRate, dose: DoseRate, range: Titration) -> Option<Finding> {
    let measure = |dose: DoseRate| dose.number().ratio();
    let width = measure(range.to).less(measure(range.from)).ok()?;
    let (from, to) = (range.from, range.to);
    let message = if measure(step) > width {
        format!("a step of {step} is wider than the range from {from} to {to}")
    } else if measure(step) > measure(dose) && measure(step).times(Ratio::whole(2)).ok()? >= width {
        format!("a step of {step} would more than double the dose of {dose}")
    } else {
        return None;
    };
    let help = "go back to the order: is the step a slip? If it is meant, write the reason";
    Some(STEP_TOO_LARGE.found("titrate.step", message).help(help))
}

fn driver(computed: &Computed<'_>, field: &'static str, end: DoseRate, findings: &mut Findings) {
    let (Some(driver), Some((exact, set))) = (computed.names().driver, computed.rates_of(end)) else { return };
    let flow = computed.names().indication.as_ref().ok().map(|indication| &indication.flow);
    let beyond = flow.and_then(|flow| {
        let hard = flow.hard.as_ref().and_then(|band| beyond_flow(set, band, true, driver));
        hard.or_else(|| flow.soft.as_ref().and_then(|band| beyond_flow(set, band, false, driver)))
    });
    if let Some(outside) = beyond {
        let message = format!("{end} would need a rate beyond a limit that this use sets on the rate itself");
        let help = "look at the upper end and at the strength; if it is meant, write the reason";
        let working = format!("{end} is {} mL/h against {}", crate::quantity::exact_or_about(exact), outside.limit);
        findings.add(OUTSIDE_FLOW.found(field, message).help(help).working(working).origin(outside.origin));
    }
    let below = set < driver.smallest.value();
    if below || set > driver.largest.value() {
        let side =
            if below { "lower than the driver's smallest rate" } else { "higher than the driver's largest rate" };
        let message = format!("{end} would need a rate {side}");
        let finding = OUTSIDE_DRIVER
            .found(field, message)
            .help("another strength or another driver; if it is meant, write the reason");
        findings.add(finding.working(format!("{end} is {} mL/h", crate::quantity::exact_or_about(exact))));
    }
}
