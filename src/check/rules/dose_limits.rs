//! The dose as typed lies within the limits of its phase.

use crate::check::cause;
use crate::check::finding::{Code, Finding};
use crate::check::rule::{Findings, Judges, Rule};
use crate::formulary::{Band, DoseLimits, Side};
use crate::infusion::Computed;
use crate::quantity::{DoseRate, Ratio};

static ABOVE_HARD: Code = Code::beyond("dose-above-hard-limit");
static BELOW_HARD: Code = Code::beyond("dose-below-hard-limit");
static ABOVE_SOFT: Code = Code::justify("dose-above-soft-limit");
static BELOW_SOFT: Code = Code::justify("dose-below-soft-limit");

static FAR_BELOW: Code = Code::beyond("dose-far-below");

pub(super) const RULE: Rule =
    Rule { codes: &[&ABOVE_HARD, &BELOW_HARD, &FAR_BELOW, &ABOVE_SOFT, &BELOW_SOFT], judges: Judges::Entry, check };

/// A dose this many times below the soft lower limit is a slip. Chosen; a hard lower limit of the house goes before it.
const FAR: u64 = 10;

/// The four codes of one dose that is held against limits.
pub(super) struct Codes {
    pub(super) above_hard: &'static Code,
    pub(super) below_hard: &'static Code,
    pub(super) above_soft: &'static Code,
    pub(super) below_soft: &'static Code,
}

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let codes =
        Codes { above_hard: &ABOVE_HARD, below_hard: &BELOW_HARD, above_soft: &ABOVE_SOFT, below_soft: &BELOW_SOFT };
    let found = far_below(computed).or_else(|| against(computed, "dose", computed.entry().dose(), &codes));
    if let Some(finding) = found {
        findings.add(finding);
    }
}

fn far_below(computed: &Computed<'_>) -> Option<Finding> {
    let (dose, names) = (computed.entry().dose(), computed.names());
    let (indication, limits) = (names.indication.as_ref().ok()?, names.limits?);
    let hard = limits.beyond.hard.as_ref().and_then(|band| band.from);
    let soft = limits.beyond.soft.as_ref()?;
    let from = soft.from.filter(|_| hard.is_none() && dose.unit() == indication.dose_unit)?;
    if measure(dose) >= measure(from) {
        return None;
    }
    let tenfold = measure(dose).times(Ratio::whole(FAR)).ok()?;
    if tenfold >= measure(from) {
        return None;
    }
    let slip = limits.usual.from.zip(limits.usual.to).and_then(|(from, to)| {
        let weight = computed.sum().ok().and_then(|sum| sum.body.weight);
        cause::of_dose(measure(dose), measure(from), measure(to), dose.unit().time(), weight)
    });
    let slip = slip.map(|slip| format!(". Perhaps {slip}")).unwrap_or_default();
    let phase = computed.entry().phase();
    let message = format!("{dose} is less than a tenth of {from}, the soft lower limit for {phase}{slip}");
    Some(FAR_BELOW.found("dose", message).help("go back to the order").origin(&soft.origin))
}

/// Holds one dose of an entry against the limits of its phase; nothing where the unit is another one.
pub(super) fn against(computed: &Computed<'_>, field: &'static str, dose: DoseRate, codes: &Codes) -> Option<Finding> {
    let names = computed.names();
    let (indication, limits) = (names.indication.as_ref().ok()?, names.limits?);
    if dose.unit() != indication.dose_unit {
        return None;
    }
    let hard = limits.beyond.hard.as_ref().map(|band| (band, codes.below_hard, codes.above_hard));
    let soft = limits.beyond.soft.as_ref().map(|band| (band, codes.below_soft, codes.above_soft));
    [hard, soft]
        .into_iter()
        .flatten()
        .find_map(|(band, below, above)| outside(computed, field, dose, band, below, above, limits))
}

fn outside(
    computed: &Computed<'_>,
    field: &'static str,
    dose: DoseRate,
    band: &Band<DoseRate>,
    below: &'static Code,
    above: &'static Code,
    limits: &DoseLimits,
) -> Option<Finding> {
    let outside = band.outside(dose.number().ratio())?;
    let (code, side) = match outside.side {
        Side::Below => (below, "below"),
        Side::Above => (above, "above"),
    };
    let kind = if matches!(code.severity, crate::check::Severity::Justify) { "soft" } else { "hard" };
    let phase = computed.entry().phase();
    let usual = (limits.usual.from, limits.usual.to);
    let (expected, slip) = match usual {
        (Some(from), Some(to)) => {
            let weight = computed.sum().ok().and_then(|sum| sum.body.weight);
            let slip = cause::of_dose(dose.number().ratio(), measure(from), measure(to), dose.unit().time(), weight);
            (Some(format!("usual is {} to {to}", from.number())), slip)
        }
        _ => (None, None),
    };
    let slip = slip.map(|slip| format!(". Perhaps {slip}")).unwrap_or_default();
    let message = format!("{dose} is {side} the {kind} limit of {} for {phase}{slip}", outside.limit);
    let help =
        if kind == "hard" { "go back to the order" } else { "go back to the order; if it is meant, write the reason" };
    let found = code.found(field, message).help(help).origin(outside.origin);
    Some(match expected {
        Some(expected) => found.expected(expected),
        None => found,
    })
}

fn measure(dose: DoseRate) -> Ratio {
    dose.number().ratio()
}
