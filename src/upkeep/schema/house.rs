//! The files that every set-up needs: areas, equipment and house rules, as their readers accept them.
#![expect(dead_code, reason = "the structs say what a file may hold; the readers fill others")]

use schemars::JsonSchema;

use super::texts::{
    Age, Count, Day, Flow, Length, Named, Percent, Time, Volume, Weight, Words, WordsOrNumber, YesOrNo,
};
use crate::formulary::{ContainerKind, DriverKind, LineKind};

/// Places of work, by the name that people type.
#[derive(JsonSchema)]
#[schemars(transparent, title = "areas file")]
pub(super) struct Areas(Named<Area>);

/// A place of work, with its patients and its usual equipment.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Area {
    weight: Option<WeightLimits>,
    age: Option<AgeLimits>,
    standard_equipment: StandardEquipment,
    /// How long an entry that was not started stays good.
    unstarted_entry_expires: Time,
}

/// Limits on the weight of patients.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct WeightLimits {
    /// Beyond it: a written reason.
    soft: Option<Limit<Weight>>,
    /// Beyond it: stop.
    hard: Option<Limit<Weight>>,
}

/// The ages that are meant; at least one side.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct AgeLimits {
    from: Option<Age>,
    to: Option<Age>,
}

/// An interval; at least one side.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct Limit<T> {
    /// Itself allowed.
    from: Option<T>,
    /// Itself allowed.
    to: Option<T>,
    /// A key of the file's `sources`, or: demonstration value.
    source: Words,
}

/// Keys of equipment.yaml.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
struct StandardEquipment {
    container: Words,
    line: Words,
    driver: Words,
}

/// Containers, lines and drivers, by the name that people type.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields, title = "equipment file")]
pub(super) struct Equipment {
    containers: Named<Container>,
    lines: Named<Line>,
    drivers: Named<Driver>,
}

/// A syringe or a bag.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Container {
    kind: ContainerKind,
    /// Its nominal size.
    size: Volume,
    /// The most that may be filled in.
    usable: Volume,
    /// What cannot be pushed out.
    stays_behind: Volume,
}

/// A line from the container to the patient.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Line {
    kind: LineKind,
    length: Length,
    /// What fills it.
    priming_volume: Volume,
}

/// A syringe driver or a volumetric pump.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Driver {
    kind: DriverKind,
    /// Keys of `containers`.
    accepts: Vec<Words>,
    smallest_rate: Flow,
    largest_rate: Flow,
    /// In rising order; the last ends at the largest rate.
    steps: Vec<StepBand>,
    /// The fastest bolus.
    bolus_rate: Flow,
    /// Which values its display shows; `rate` among them.
    #[schemars(extend("contains" = {"const": "rate"}))]
    shows: Vec<Words>,
}

/// Rates up to a limit, and the step in which they are set.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
struct StepBand {
    /// A multiple of the step.
    up_to: Flow,
    step: Flow,
}

/// What a formulary says of itself, and every threshold of the checks.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields, title = "formulary file")]
pub(super) struct Formulary {
    title: Words,
    version: WordsOrNumber,
    /// Whether its limits are for demonstration only.
    demonstration: YesOrNo,
    issued: Day,
    policy: Policy,
}

/// Every threshold of the checks.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Policy {
    rounding: Rounding,
    /// Less than this cannot be drawn up accurately.
    smallest_drawn_up: Volume,
    /// Dead space that takes longer than this at the set rate is noted.
    slow_arrival: Time,
    /// A blocked line that may be alarmed at later than this is noted.
    late_alarm: Time,
    /// How far a label may lie from the weight times a recipe per kg.
    per_kg_recipe_within: Percent,
    /// So long before a review is due, the lint says so.
    review_near: Time,
    /// How many identifiers a patient needs.
    identifiers_needed: Count,
    /// Reasons that a clinician may pick.
    clinical_reasons: Option<Vec<Words>>,
}

/// How much rounding to the driver's step may change the rate.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Rounding {
    /// Above it: a note.
    note_above: Percent,
    /// Above it: a written reason.
    justify_above: Percent,
}
