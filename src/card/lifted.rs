//! The name of the limits, large: where somebody chose a use or a phase that lifts one, it is the first thing to be read.

use crate::formulary::{Drug, Indication, Phase};
use crate::infusion::Computed;

use super::build::in_capitals;

/// The name of the limits, where a choice lifts one: a later use of the drug in this area whose doses may be higher, or a phase
/// that is chosen.
pub(super) fn name(computed: &Computed<'_>, drug: &Drug, indication: &Indication) -> Option<String> {
    let phase = computed.entry().phase();
    let top = |one: &Indication| {
        let limits = one.limits(phase).or_else(|| one.limits(Phase::Maintenance))?;
        limits.beyond.soft.as_ref()?.to
    };
    let highest = top(indication);
    let mut before =
        drug.indications.iter().take_while(|one| one.area != indication.area || one.name != indication.name);
    let higher = before.any(|one| {
        one.area == indication.area
            && one.dose_unit == indication.dose_unit
            && one.age == indication.age
            && top(one).zip(highest).is_some_and(|(other, own)| own.number() > other.number())
    });
    let chosen = matches!(phase, Phase::Weaning | Phase::Load);
    let use_and_phase = if chosen { format!("{}, {phase}", indication.name) } else { indication.name.clone() };
    (higher || chosen).then(|| format!("LIMITS FOR {}", in_capitals(&use_and_phase)))
}
