//! A drug file, as its reader accepts it.
#![expect(dead_code, reason = "the structs say what a file may hold; the readers fill others")]

use schemars::JsonSchema;

use super::house::{AgeLimits, Limit, WeightLimits};
use super::texts::{
    Amount, Bolus, Day, DoseRate, DoseRateUnit, DoseUnit, Flow, Named, Number, SmallName, Strength, Time, Volume,
    Words, WordsOrNumber, YesOrNo,
};
use crate::formulary::{DosingWeight, HowMade, Microgram, SurfaceFormula, ThroughTheLine};

/// One drug of a formulary: its strengths, and its limits by area, indication and phase.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields, title = "drug file")]
pub(super) struct Drug {
    /// The name by which it is shown and typed; the file is called so, with - for a space.
    drug: SmallName,
    /// Other generic names by which it may be typed; each leads to one drug.
    other_names: Option<Vec<SmallName>>,
    /// Names of drugs that are taken for this one; shown on the card.
    looks_like: Option<Vec<Words>>,
    /// The class of its user-applied label, in words (ISO 26825).
    class: Words,
    /// Whether a slip is likely to do lasting harm.
    high_alert: Option<YesOrNo>,
    /// Whether it is kept under the rules for controlled drugs.
    controlled: Option<YesOrNo>,
    /// How it goes through a line: arrivals are told of what is dissolved and small alone.
    in_the_line: Option<ThroughTheLine>,
    /// What the amounts count, where salt and base differ.
    amounts_as: Option<Words>,
    /// How micrograms are shown.
    mass_shown_as: Microgram,
    /// How long it may be used after drawing up.
    life_after_drawing_up: Life,
    /// When the pharmacist looks at it again.
    review: Review,
    /// What amounts of it hold, under the name of what is held.
    equivalents: Option<Named<Equivalent>>,
    /// Published sources, under keys that values name.
    sources: Option<Named<Source>>,
    /// The drug's one list of strengths, under keys that indications name.
    strengths: Named<Stocked>,
    /// The strongest solution for a peripheral line.
    peripheral_maximum: Option<PeripheralMaximum>,
    /// What it is used for: indications by area.
    areas: Named<Named<Indication>>,
    /// Codes of remarks of the lint that were judged, each with the reason why it may stand.
    accepted: Option<Named<Words>>,
}

/// How long a solution may be used.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Life {
    time: Time,
    /// A key of `sources`, or: demonstration value.
    source: Words,
}

/// The dates of a review.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Review {
    /// After this day: a note.
    by: Day,
    /// From this day on: a written reason.
    justify_from: Day,
}

/// How much of one substance an amount of another holds.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Equivalent {
    /// How much of the substance in `of`.
    amount: Amount,
    /// A substance, with its salt and water.
    of: Words,
    /// How much is in it.
    holds: Amount,
    /// A key of `sources`, or: demonstration value.
    source: Words,
}

/// A published source.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Source {
    title: Words,
    /// Where in it the value stands.
    section: Option<WordsOrNumber>,
    year: Option<WordsOrNumber>,
}

/// A strength that is stocked.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Stocked {
    amount: Amount,
    /// The final volume, drug and diluent together.
    volume: Volume,
    /// A key of `sources`, or: demonstration value.
    source: Words,
    /// How it is made up; not for an amount per kg.
    recipe: Option<Recipe>,
}

/// How a strength is made up.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Recipe {
    ampoules: Number,
    /// What one ampoule holds, as amount in volume.
    of: Strength,
    /// Left out where it is undiluted.
    diluent: Option<Words>,
    how: HowMade,
}

/// The strongest solution for a peripheral line; at least one of the two sides.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
struct PeripheralMaximum {
    /// Above it: a written reason.
    soft: Option<Strength>,
    /// Above it: stop.
    hard: Option<Strength>,
    /// A key of `sources`, or: demonstration value.
    source: Words,
}

/// What a drug is used for in one area, with exactly one dose unit.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Indication {
    /// The one unit in which the dose is ordered, and every limit written.
    dose_unit: DoseRateUnit,
    /// Where the dose is per kg: the weights it may be counted by, the usual one first.
    dosing_weights: Option<Vec<DosingWeight>>,
    /// Where the dose is per m2, and only there.
    body_surface: Option<SurfaceFormula>,
    /// Whether the dose follows its effect, so that a coarse step matters less.
    titrated_to_effect: Option<YesOrNo>,
    /// Keys of `strengths`; more than two need `more_than_two`.
    #[schemars(length(min = 1))]
    strengths: Vec<Words>,
    /// Why there are more than two strengths.
    more_than_two: Option<Words>,
    /// Whether any other strength is stopped.
    listed_only: Option<YesOrNo>,
    /// Narrower than the area's.
    weight: Option<WeightLimits>,
    age: Option<AgeLimits>,
    phases: Phases,
    /// Where a bolus from the driver is allowed.
    bolus: Option<BolusLimits>,
    /// Limits on the rate itself.
    flow: Option<FlowLimits>,
    /// By how many times a rate may be changed at once.
    largest_jump: Option<Jump>,
    /// The longest duration: above it a written reason.
    longest: Option<Limit<Time>>,
}

/// A factor above one.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
struct Jump {
    times: Number,
    /// A key of `sources`, or: demonstration value.
    source: Words,
}

/// Limits by phase; at least one.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields, extend("minProperties" = 1))]
struct Phases {
    start: Option<DoseLimits>,
    maintenance: Option<DoseLimits>,
    /// On the way off: no lower limit in `soft` and `hard`.
    weaning: Option<DoseLimits>,
    load: Option<DoseLimits>,
}

/// In the order hard from, soft from, usual from, usual to, soft to, hard to.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
struct DoseLimits {
    /// What is usually given: both sides.
    usual: Limit<DoseRate>,
    /// Beyond it: a written reason.
    soft: Limit<DoseRate>,
    /// Beyond it: stop.
    hard: Limit<DoseRate>,
}

/// Limits of a bolus from the driver.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
struct BolusLimits {
    dose_unit: DoseUnit,
    usual: Option<Limit<Bolus>>,
    /// Beyond it: a written reason.
    soft: Limit<Bolus>,
    /// Beyond it: stop.
    hard: Limit<Bolus>,
    /// The shortest and the longest time over which it is given; the shortest must be there.
    over: Limit<Time>,
}

/// Limits on the rate itself.
#[derive(JsonSchema)]
#[schemars(deny_unknown_fields)]
struct FlowLimits {
    /// Beyond it: a written reason.
    soft: Option<Limit<Flow>>,
    /// Beyond it: stop.
    hard: Option<Limit<Flow>>,
}
