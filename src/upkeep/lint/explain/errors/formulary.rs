//! What the files of a formulary may not say.

super::errors! {
    // Limits.
    "limit-missing":
        "A side of a limit that must be there is not.",
        "Without it any dose on that side passes unseen. Lower limits count as much as upper ones.",
        "write the side that the message names, `from:` or `to:`",
        "soft: {from: 0.01 mcg/kg/min, to: 0.5 mcg/kg/min, source: label}";
    "limit-empty":
        "A limit has neither `from` nor `to`.",
        "It limits nothing, and reads as if it did.",
        "write at least one side, or leave the whole limit out",
        "hard: {to: 3 mcg/kg/min, source: label}";
    "limits-out-of-order":
        "Limits do not lie inside one another: the inner one reaches further than the outer.",
        "The outer one speaks first, so the inner one never does; often a zero or a unit is wrong.",
        "keep the order hard from, soft from, usual from, usual to, soft to, hard to",
        "usual: {from: 0.02 mcg/kg/min, to: 0.3 mcg/kg/min, source: label}\nsoft: {from: 0.01 mcg/kg/min, to: 0.5 mcg/kg/min, source: label}";
    "limit-unreachable":
        "Weaning has a lower limit.",
        "On the way off the dose goes down to nothing: the limit would alarm each time.",
        "leave `from` out in `soft` and `hard` of `weaning`",
        "weaning:\n  soft: {to: 0.3 mcg/kg/min, source: label}";
    "limit-in-another-unit":
        "A limit is in another unit than the one dose unit of its indication.",
        "Limits in several units are compared by head: a factor of 60 or 1000 is easily overlooked.",
        "write every limit of an indication in its `dose_unit`",
        "dose_unit: mcg/kg/min\nhard: {to: 3 mcg/kg/min, source: label}";
    "jump-too-small":
        "The largest jump of a rate is one times or less.",
        "No change could ever be that small: each would need a reason.",
        "write by how many times a rate may be changed at once",
        "largest_jump: {times: 3, source: label}";
    "percent-too-high":
        "A percentage of the policy is higher than it can sensibly be.",
        "A label that far from its recipe is another strength.",
        "write 10 % or less",
        "per_kg_recipe_within: 1 %";
    "setting-unreachable":
        "`more_than_two` explains more strengths than there are.",
        "A setting that does nothing hides that something was forgotten.",
        "leave it out, or name the strengths",
        "strengths: [weak, single, double]\nmore_than_two: the weak one is for a peripheral line";
    // One use, one unit.
    "dose-unit-is-a-rate":
        "The dose unit is a bare volume per time.",
        "mL/h is what the driver is set to; as a dose it says nothing about the drug.",
        "write the dose as a mass, in units, or per kg",
        "dose_unit: mg/h";
    "dosing-weight-missing":
        "A dose is per kg, and no weight is named to count it by.",
        "Actual and ideal weight of one patient can be twice apart, and the dose with them.",
        "name the weights that may be used, the usual one first",
        "dosing_weights: [actual, ideal]";
    "dosing-weight-unreachable":
        "A dosing weight is named where the dose is not per kg.",
        "It can never count; perhaps the dose unit is wrong.",
        "leave `dosing_weights` out, or look at `dose_unit`",
        "dose_unit: units/h   # without dosing_weights";
    "body-surface":
        "A dose is per m2 without a formula for the body surface, or a formula stands where no dose is per m2.",
        "The formulas differ by up to a tenth; which one counts is a decision.",
        "write `body_surface:` for a dose per m2, and only there",
        "dose_unit: mg/m2/h\nbody_surface: mosteller";
    "area-unknown":
        "A drug names an area that is not in areas.yaml.",
        "Its limits would never be asked.",
        "write the area as areas.yaml does, or add it there",
        "areas:\n  adult theatre:";
    "word-unknown":
        "A word stands where only a few are known.",
        "What is not understood must not be guessed.",
        "write one of the words that the message lists",
        "mass_shown_as: mcg";
    "count-unknown":
        "A count is not a small whole number, or is 0 where at least one is needed.",
        "A patient without identifiers is anybody.",
        "write a whole number in digits",
        "identifiers_needed: 2";
    "name-not-small":
        "A name has capitals or double spaces.",
        "Names are looked up in small letters: this one would never be found.",
        "write it in small letters with single spaces",
        "other_names: [norepinephrine]";
    "drug-file-name":
        "A file is called otherwise than its drug.",
        "The file is found by the name of the drug, and the drug by the name of the file.",
        "give the file the drug's name, with - for a space and the ending .yaml",
        "drug: insulin   # in drugs/insulin.yaml";
    "name-twice":
        "One name leads to two drugs, or is written twice for one.",
        "Whoever types it gets the limits of one of them, and nobody knows which.",
        "let each name lead to one drug",
        "other_names: [epinephrine]   # in drugs/adrenaline.yaml only";
    // Strengths and recipes.
    "strength-unknown":
        "An indication names a strength that is not in the drug's list.",
        "Nothing is known of its amount and volume.",
        "write a key of `strengths`",
        "strengths: [single]";
    "strength-unused":
        "No indication uses a strength of the list.",
        "It reads as if it were stocked, and can never be chosen.",
        "name it under an indication, or take it away",
        "strengths: [single, double]";
    "strength-missing":
        "An indication names no strength.",
        "No syringe could be made up for it.",
        "name at least one key of `strengths`",
        "strengths: [single]";
    "strength-doubled":
        "Two entries of the list are the same strength.",
        "When one of them is changed, the other stays.",
        "keep one of them",
        "strengths:\n  single: {amount: 4 mg, volume: 50 mL, source: label}";
    "strengths-too-many":
        "More than two strengths are stocked for one use.",
        "Each further strength is a further chance to take the wrong one.",
        "name at most two, or say why there are more",
        "more_than_two: the weak one is for a peripheral line";
    "strength-amount":
        "The amount of a strength counts by something other than the syringe or the kg.",
        "No such recipe can be made up.",
        "write an amount, or an amount per kg",
        "single: {amount: 4 mg, volume: 50 mL, source: label}";
    "strength-wrong-kind":
        "A strength or a maximum counts another kind of thing than the dose or the strengths do.",
        "Units are not a mass, and no rate follows from them.",
        "write both as a mass, both in units, or both in mmol",
        "dose_unit: units/h   # and amount: 50 units";
    "recipe-contradicts":
        "The ampoules of a recipe do not give the amount and volume of its strength.",
        "Whoever follows the recipe makes another strength than the label says.",
        "look at the number of ampoules, at what each holds, and at the volume: it is the final one",
        "{amount: 4 mg, volume: 50 mL, source: label, recipe: {ampoules: 4, of: 1 mg in 1 mL, diluent: glucose 5 %, how: made up to}}";
    "equivalent-contradicts":
        "An equivalent says of a substance that it holds itself, or more than it weighs.",
        "The two sides are exchanged, or a salt is taken for its base: amounts are wrong by the ratio of the two.",
        "write what is held before the colon, and in `amount` and `of` the substance that holds it",
        "magnesium: {amount: 1 g, of: magnesium sulfate heptahydrate, holds: 4.06 mmol, source: label}";
    // Sources and review.
    "source-unknown":
        "A value names a source that the file does not have.",
        "Nobody could check the value.",
        "write a key of `sources`, or add the source there",
        "sources:\n  label: {title: Prescribing information, section: Dosage, year: 2020}";
    "source-unused":
        "Nothing in the file rests on a source.",
        "It reads as if values had been checked against it.",
        "name it beside a value, or take it away",
        "usual: {from: 1 mg/h, to: 5 mg/h, source: label}";
    "demonstration-value":
        "A value that was chosen for a demonstration stands in a formulary for patients.",
        "Nobody has read it anywhere, and nobody answers for it.",
        "write the value that counts in this house, with its source",
        "source: label   # not: demonstration value";
    "review-out-of-order":
        "A reason is asked for before the review is due.",
        "Every set-up would alarm although nothing is overdue.",
        "write a `justify_from` that is not before `by`",
        "review: {by: 2027-06-30, justify_from: 2027-09-30}";
    "approval-by-one":
        "An approval is signed twice by one person.",
        "A limit that one person mistyped and approved is seen by nobody else.",
        "let another pharmacist read the changes in their sources and approve them",
        "countersign formulary approve --as NAME";
    "approval-unreadable":
        "A key, a signature, a sum or a name in approval.yaml is none.",
        "Who approved these limits cannot be told.",
        "take the file from where `countersign formulary approve` wrote it, or let it be approved anew",
        "countersign formulary sign --as NAME";
    // Equipment.
    "equipment-unknown":
        "A container, line or driver is named that equipment.yaml does not have.",
        "Nothing is known of its volume or its steps.",
        "write a key of equipment.yaml, or add it there",
        "standard_equipment: {container: syringe 50 mL, line: narrow-150, driver: bench}";
    "driver-does-not-take-container":
        "A driver is paired with a container that does not go into it.",
        "A syringe driver takes syringes, a volumetric pump takes bags.",
        "name a driver whose `accepts` holds the container",
        "accepts: [syringe 20 mL, syringe 50 mL]";
    "driver-steps":
        "The rates of a driver and its steps do not fit together.",
        "A rate would be rounded to a number that cannot be set.",
        "sort the bands, end the last at the largest rate, and let each `up_to` be a multiple of its `step`",
        "steps:\n  - {up_to: 99.9 mL/h, step: 0.1 mL/h}\n  - {up_to: 999 mL/h, step: 1 mL/h}";
    "shows-no-rate":
        "The rate is not among what a driver shows.",
        "Nothing that matters would be read back from its display.",
        "write `rate` in `shows`, beside what else the display shows",
        "shows: [rate, volume given, time left]";
    "container-overfull":
        "More of a container is usable than it holds.",
        "Run times would be too long.",
        "write the most that may be filled in, at most its size",
        "syringe 50 mL: {kind: syringe, size: 50 mL, usable: 50 mL, stays_behind: 0.1 mL}";
    "container-holds-nothing":
        "All of the usable volume stays behind.",
        "Nothing could be infused from it.",
        "write the volume that cannot be pushed out",
        "stays_behind: 0.1 mL";
}
