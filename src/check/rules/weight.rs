//! The weight lies within the limits of area and indication.

use crate::check::cause;
use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::formulary::{Band, Side};
use crate::infusion::Computed;
use crate::quantity::{BodyMass, Quantity};

static HARD: Code = Code::beyond("weight-beyond-hard-limit");
static SOFT: Code = Code::justify("weight-beyond-soft-limit");

pub(super) const RULE: Rule = Rule { codes: &[&HARD, &SOFT], judges: Judges::Entry, check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let names = computed.names();
    let area = names.area.map(|area| (area.name.as_str(), &area.weight));
    let indication = names.indication.as_ref().ok().map(|one| (one.name.as_str(), &one.weight));
    let weight = computed.entry().patient().weight;
    for (code, hard) in [(&HARD, true), (&SOFT, false)] {
        for (what, limits) in [area, indication].into_iter().flatten() {
            let band = if hard { limits.hard.as_ref() } else { limits.soft.as_ref() };
            if let Some(finding) = band.and_then(|band| outside(code, what, weight, band)) {
                findings.add(finding);
                return;
            }
        }
    }
}

fn outside(
    code: &'static Code,
    what: &str,
    weight: Quantity<BodyMass>,
    band: &Band<Quantity<BodyMass>>,
) -> Option<crate::check::finding::Finding> {
    let outside = band.outside(weight.value())?;
    let side = match outside.side {
        Side::Below => "below",
        Side::Above => "above",
    };
    let slip = cause::of_weight(weight.value(), |kg| band.outside(kg).is_none());
    let slip = slip.map(|slip| format!(". Perhaps {slip}")).unwrap_or_default();
    let message = format!("the weight of {weight} is {side} the limit of {} for `{what}`{slip}", outside.limit);
    Some(
        code.found("patient.weight", message)
            .help("look at the scales again, in kg; or choose the area for this patient")
            .origin(outside.origin),
    )
}
