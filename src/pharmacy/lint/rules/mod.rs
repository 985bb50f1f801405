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
mod hard_height;
mod uses_differ;
mod same_numbers;
mod bands;
mod peripheral;
mod unreachable;
mod driver_reach;
mod run_time;
mod bolus_reach;
mod area_weight;
mod area_equipment;
mod priming;
mod known_words;
mod vasoactive;
mod house_rules;
mod pounds;
mod times;
mod per_kg_key;
mod survey_stops;
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
    hard_height::RULE,
    uses_differ::RULE,
    same_numbers::RULE,
    bands::RULE,
    peripheral::RULE,
    unreachable::RULE,
    driver_reach::RULE,
    run_time::RULE,
    bolus_reach::RULE,
    area_weight::RULE,
    area_equipment::RULE,
    priming::RULE,
    known_words::RULE,
    vasoactive::RULE,
    house_rules::RULE,
    pounds::RULE,
    times::RULE,
    per_kg_key::RULE,
    survey_stops::RULE,
    accepted::RULE,
];
