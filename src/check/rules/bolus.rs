//! A bolus from the driver: allowed, in its unit, within its limits, and deliverable.

use crate::check::finding::{Code, Finding};
use crate::check::rule::{Findings, Judges, Rule};
use crate::entry::Bolus;
use crate::formulary::{Band, BolusLimits, Side};
use crate::infusion::Computed;
use crate::quantity::BolusDose;

static NOT_ALLOWED: Code = Code::beyond("bolus-not-allowed");
static UNIT: Code = Code::beyond("bolus-unit-not-local");
static ABOVE_HARD: Code = Code::beyond("bolus-above-hard-limit");
static BELOW_HARD: Code = Code::beyond("bolus-below-hard-limit");
static ABOVE_SOFT: Code = Code::justify("bolus-above-soft-limit");
static BELOW_SOFT: Code = Code::justify("bolus-below-soft-limit");
static TOO_FAST: Code = Code::beyond("bolus-too-fast");
static TOO_SLOW: Code = Code::justify("bolus-too-slow");
static OUTSIDE_DRIVER: Code = Code::beyond("bolus-outside-driver");
static MORE_THAN_LEFT: Code = Code::beyond("bolus-more-than-left");

pub(super) const RULE: Rule = Rule {
    codes: &[
        &NOT_ALLOWED,
        &UNIT,
        &ABOVE_HARD,
        &BELOW_HARD,
        &ABOVE_SOFT,
        &BELOW_SOFT,
        &TOO_FAST,
        &TOO_SLOW,
        &OUTSIDE_DRIVER,
        &MORE_THAN_LEFT,
    ],
    judges: Judges::Entry,
    check,
};

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let Some(bolus) = computed.entry().bolus() else { return };
    deliverable(computed, bolus, findings);
    let Ok(indication) = computed.names().indication else { return };
    let Some(limits) = &indication.bolus else {
        let message = format!("for {} in {} no bolus is given from the driver", indication.name, indication.area);
        findings.add(
            NOT_ALLOWED
                .found("bolus", message)
                .help("leave the bolus out, or ask the pharmacist")
                .origin(&indication.origin),
        );
        return;
    };
    if bolus.dose.unit() != limits.unit {
        let message = format!("the bolus is in {}, and here it is ordered in another unit", bolus.dose.unit());
        let finding = UNIT.found("bolus.dose", message).help("go back to the order, and read the unit again");
        findings.add(finding.expected(format!("it is ordered in {} only", limits.unit)).origin(&limits.over.origin));
    } else if let Some(finding) = amount(bolus.dose, limits) {
        findings.add(finding);
    }
    if let Some(outside) = limits.over.outside(bolus.over.value()) {
        let (code, side, help) = match outside.side {
            Side::Below => (&TOO_FAST, "less than", "go back to the order: too fast is another dose"),
            Side::Above => (&TOO_SLOW, "more than", "go back to the order; if it is meant, write the reason"),
        };
        let message = format!("the bolus is given over {}, {side} {}", bolus.over, outside.limit);
        findings.add(code.found("bolus.over", message).help(help).origin(outside.origin));
    }
}

fn amount(dose: BolusDose, limits: &BolusLimits) -> Option<Finding> {
    let hard = limits.beyond.hard.as_ref().map(|band| (band, "hard", &BELOW_HARD, &ABOVE_HARD));
    let soft = limits.beyond.soft.as_ref().map(|band| (band, "soft", &BELOW_SOFT, &ABOVE_SOFT));
    [hard, soft].into_iter().flatten().find_map(|(band, kind, below, above)| outside(dose, band, kind, below, above))
}

fn outside(
    dose: BolusDose,
    band: &Band<BolusDose>,
    kind: &str,
    below: &'static Code,
    above: &'static Code,
) -> Option<Finding> {
    let outside = band.outside(dose.number().ratio())?;
    let (code, side) = match outside.side {
        Side::Below => (below, "below"),
        Side::Above => (above, "above"),
    };
    let message = format!("a bolus of {dose} is {side} the {kind} limit of {}", outside.limit);
    let help =
        if kind == "hard" { "go back to the order" } else { "go back to the order; if it is meant, write the reason" };
    Some(code.found("bolus.dose", message).help(help).origin(outside.origin))
}

fn deliverable(computed: &Computed<'_>, bolus: Bolus, findings: &mut Findings) {
    let (Ok(sum), Some(driver)) = (computed.sum(), computed.names().driver) else { return };
    let Some(found) = sum.bolus else { return };
    if found.volume > sum.run.left {
        let message = format!("a bolus of {} is more than is left to infuse", bolus.dose);
        findings.add(MORE_THAN_LEFT.found("bolus.dose", message).help("go back to the order, or fill more"));
    }
    if found.volume.over(found.over).is_ok_and(|rate| rate > driver.bolus_rate.value()) {
        let message = format!(
            "{} over {} is faster than this driver gives a bolus ({})",
            bolus.dose, bolus.over, driver.bolus_rate
        );
        findings.add(
            OUTSIDE_DRIVER.found("bolus.over", message).help("a longer time, a stronger solution, or another driver"),
        );
    }
}
