//! The rate can be worked out truthfully.

use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::infusion::rate::RateError;
use crate::infusion::{ComputeError, Computed};

static KINDS_DIFFER: Code = Code::impossible("dose-and-strength-differ-in-kind");
static MISSING: Code = Code::impossible("size-missing");
static ROUNDS_TO_NOTHING: Code = Code::impossible("rate-rounds-to-nothing");
static TOO_FAR_APART: Code = Code::impossible("numbers-too-far-apart");
static NOTHING_LEFT: Code = Code::impossible("nothing-left-to-infuse");

pub(super) const RULE: Rule = Rule {
    codes: &[&KINDS_DIFFER, &MISSING, &ROUNDS_TO_NOTHING, &TOO_FAR_APART, &NOTHING_LEFT],
    judges: Judges::Entry,
    check,
};

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let problem = match computed.sum() {
        Ok(sum) => {
            if sum.run.left.is_zero() {
                let message = "after filling the line and leaving what cannot be pushed out, nothing is left to infuse";
                findings.add(NOTHING_LEFT.found("fill", message).help("fill more, or use a line that holds less"));
            }
            return;
        }
        Err(problem) => problem,
    };
    let (rate, field) = match problem {
        ComputeError::NameUnknown => return,
        ComputeError::Size(size) => {
            findings.add(MISSING.found(size.field(), size.to_string()).help(size.help()));
            return;
        }
        ComputeError::Rate(rate) => (rate, "dose"),
        ComputeError::Bolus(rate) => (rate, "bolus.dose"),
    };
    let code = match rate {
        RateError::KindsDiffer { .. } | RateError::StrengthMissing { .. } => &KINDS_DIFFER,
        RateError::WeightMissing { .. } | RateError::SurfaceMissing { .. } => &MISSING,
        RateError::RoundsToNothing { .. } => &ROUNDS_TO_NOTHING,
        // A disagreement of the two routes never comes here: it ends the program.
        RateError::TooLarge(_) | RateError::RoutesDiffer(_) => &TOO_FAR_APART,
    };
    findings.add(code.found(field, rate.to_string()).help(rate.help()));
}
