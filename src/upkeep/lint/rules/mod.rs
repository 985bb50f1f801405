//! The rules, one per file, in the order in which a person would look. A new one is named in both lists.

mod names_alike;
mod look_alikes;
mod review;
mod source_detail;
mod number_form;
mod unit_spelling;
mod strengths_alike;
mod container_size;
mod recipe_volume;
mod dose_unit;
mod lower_limit;
mod range_width;
mod unreachable;
mod driver_reach;
mod run_time;
mod bolus_reach;
mod area_weight;
mod area_equipment;
mod priming;
mod accepted;

use super::rule::Rule;

/// Every rule.
pub(super) static RULES: &[Rule] = &[
    names_alike::RULE,
    look_alikes::RULE,
    review::RULE,
    source_detail::RULE,
    number_form::RULE,
    unit_spelling::RULE,
    strengths_alike::RULE,
    container_size::RULE,
    recipe_volume::RULE,
    dose_unit::RULE,
    lower_limit::RULE,
    range_width::RULE,
    unreachable::RULE,
    driver_reach::RULE,
    run_time::RULE,
    bolus_reach::RULE,
    area_weight::RULE,
    area_equipment::RULE,
    priming::RULE,
    accepted::RULE,
];
