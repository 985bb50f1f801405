//! The rules, one per file, in the order in which a person would look. A new one is named in both lists.

mod formulary_standing;
mod names;
mod identifiers;
mod age;
mod gestation;
mod weight;
mod build;
mod weight_source;
mod dosing_weight;
mod computable;
mod dose_unit;
mod dose_limits;
mod titration;
mod bolus;
mod label;
mod preparation;
pub(super) mod strength_stocked;
mod access;
mod container;
mod fill;
mod line;
mod arrival;
mod slow_rate;
mod driver_range;
mod flow;
mod rounding;
pub(super) mod order;
pub(super) mod running;
mod duration;
mod life;
mod stale;
mod coincidences;

use super::finding::Finding;
use super::rule::Rule;
use crate::infusion::Computed;

/// Every rule.
pub(super) static RULES: &[Rule] = &[
    formulary_standing::RULE,
    names::RULE,
    identifiers::RULE,
    age::RULE,
    gestation::RULE,
    weight::RULE,
    build::RULE,
    weight_source::RULE,
    dosing_weight::RULE,
    computable::RULE,
    dose_unit::RULE,
    dose_limits::RULE,
    titration::RULE,
    bolus::RULE,
    label::RULE,
    preparation::RULE,
    strength_stocked::RULE,
    access::RULE,
    container::RULE,
    fill::RULE,
    line::RULE,
    arrival::RULE,
    slow_rate::RULE,
    driver_range::RULE,
    flow::RULE,
    rounding::RULE,
    duration::RULE,
    life::RULE,
    stale::RULE,
    // Last of what is judged of an entry: it speaks beside others only.
    coincidences::RULE,
];

/// What only shows beside the other entry.
pub(super) fn of_a_pair(
    first: &Computed<'_>,
    second: &Computed<'_>,
    runs: Option<&running::RunningInfusion>,
) -> Vec<Finding> {
    let own = |one: &Computed<'_>| stale::of_a_pair(one, one).is_some();
    let late = stale::of_a_pair(first, second).filter(|_| !own(first) && !own(second));
    let far = runs.and_then(|runs| running::far(first, runs));
    life::of_a_pair(first, second).into_iter().chain(late).chain(far).collect()
}
