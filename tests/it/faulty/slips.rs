//! Slips of a pharmacist, each one replacement in the demonstration: every kind of fault of the reader.

pub(crate) const NORADRENALINE: &str = "drugs/noradrenaline.yaml";
pub(crate) const DOBUTAMINE: &str = "drugs/dobutamine.yaml";
pub(crate) const INSULIN: &str = "drugs/insulin.yaml";
pub(crate) const ESMOLOL: &str = "drugs/esmolol.yaml";

/// A fault made by one replacement: its code, its field, and the words with which its line begins.
pub(crate) struct Slip {
    pub(crate) code: &'static str,
    pub(crate) field: &'static str,
    pub(crate) line: &'static str,
    pub(crate) file: &'static str,
    pub(crate) from: &'static str,
    pub(crate) to: &'static str,
}

macro_rules! slips {
    ($($code:literal $field:literal, $line:literal in $file:expr, $from:literal => $to:literal;)+) => {
        &[$(Slip { code: $code, field: $field, line: $line, file: $file, from: $from, to: $to }),+]
    };
}

pub(crate) const SLIPS: &[Slip] = slips! {
    // What a file may hold.
    "field-unknown" "policy.idntifiers_needed", "idntifiers_needed" in "formulary.yaml", "identifiers_needed" => "idntifiers_needed";
    "field-missing" "class", "" in INSULIN, "class: miscellaneous\n" => "";
    "field-doubled" "class", "class: other" in INSULIN, "high_alert" => "class: other\nhigh_alert";
    "field-empty" "class", "class:" in INSULIN, "class: miscellaneous" => "class:";
    "word-unknown" "mass_shown_as", "mass_shown_as" in INSULIN, "mass_shown_as: mcg" => "mass_shown_as: mg";
    "word-unknown" "high_alert", "high_alert" in INSULIN, "high_alert: true" => "high_alert: yes";
    "word-unknown" "controlled", "controlled" in INSULIN, "high_alert: true" => "high_alert: true\ncontrolled: maybe";
    "word-unknown" "demonstration", "demonstration" in "formulary.yaml", "demonstration: true" => "demonstration: no";
    "word-unknown" "areas.adult theatre.variable rate.phases.running", "running" in INSULIN, "phases:\n        maintenance:\n" => "phases:\n        running:\n";
    "percent-too-high" "policy.per_kg_recipe_within", "per_kg_recipe_within" in "formulary.yaml", "per_kg_recipe_within: 1 %" => "per_kg_recipe_within: 11 %";
    "field-not-map" "drivers.fine.steps[0]", "- 0.01 mL/h" in "equipment.yaml", "{up_to: 9.99 mL/h, step: 0.01 mL/h}" => "0.01 mL/h";
    "field-not-list" "drivers.fine.steps", "steps" in "equipment.yaml", "steps:\n      - {up_to: 9.99 mL/h, step: 0.01 mL/h}\n" => "steps: 0.01 mL/h\n    further:\n";
    "container-overfull" "containers.bag 50 mL.usable", "bag 50 mL" in "equipment.yaml", "size: 50 mL, usable: 50 mL, stays_behind: 3 mL" => "size: 50 mL, usable: 500 mL, stays_behind: 3 mL";
    "count-unknown" "policy.identifiers_needed", "identifiers_needed" in "formulary.yaml", "identifiers_needed: 2" => "identifiers_needed: two";
    "count-unknown" "policy.identifiers_needed", "identifiers_needed" in "formulary.yaml", "identifiers_needed: 2" => "identifiers_needed: 0";
    "text-control-character" "class", "class" in INSULIN, "class: miscellaneous" => "class: \"miscella\\tneous\"";
    "drug-code-form" "codes[0]", "codes" in INSULIN, "class: miscellaneous" => "class: miscellaneous\ncodes: [\"insulin\"]";
    // Dimensions and units.
    "unit-wrong-kind" "life_after_drawing_up.time", "life_after" in INSULIN, "time: 24 h" => "time: 24 mL";
    "unit-misread" "areas.adult theatre.variable rate.dose_unit", "dose_unit" in INSULIN, "dose_unit: units/h" => "dose_unit: IU/h";
    "dose-unit-is-a-rate" "areas.adult theatre.variable rate.dose_unit", "dose_unit" in INSULIN, "dose_unit: units/h" => "dose_unit: mL/h";
    "dose-time-missing" "areas.adult theatre.variable rate.dose_unit", "dose_unit" in INSULIN, "dose_unit: units/h" => "dose_unit: units";
    "number-leading-point" "areas.adult theatre.variable rate.phases.maintenance.soft.from", "soft" in INSULIN, "from: 0.4 units/h" => "from: .4 units/h";
    "number-trailing-zero" "areas.adult theatre.variable rate.phases.maintenance.hard.to", "hard" in INSULIN, "to: 20 units/h" => "to: 20.0 units/h";
    "unit-missing" "policy.smallest_drawn_up", "smallest_drawn_up" in "formulary.yaml", "smallest_drawn_up: 0.2 mL" => "smallest_drawn_up: 0.2";
    "moment" "review.by", "review" in INSULIN, "{by: 2099-12-31" => "{by: 31-12-2099";
    "strength-wrong-kind" "areas.adult theatre.variable rate.strengths[0]", "strengths" in INSULIN, "      dose_unit: units/h" => "      dose_unit: mg/h";
    "strength-wrong-kind" "peripheral_maximum", "peripheral_maximum" in NORADRENALINE, "{soft: 10 mcg/mL, hard: 20 mcg/mL" => "{soft: 10 units/mL, hard: 20 units/mL";
    "limit-in-another-unit" "areas.adult theatre.variable rate.phases.maintenance.hard.to", "hard" in INSULIN, "to: 20 units/h" => "to: 20 units/min";
    "limit-in-another-unit" "areas.adult theatre.heart rate control.bolus.hard.to", "hard" in ESMOLOL, "hard: {to: 1000 mcg/kg" => "hard: {to: 1 mg/kg";
    // Limits: present, in order, reachable.
    "limit-missing" "areas.adult theatre.variable rate.phases.maintenance.usual", "usual" in INSULIN, "usual: {from: 0.5 units/h, to" => "usual: {to";
    "limit-missing" "areas.adult theatre.variable rate.phases.maintenance.usual", "usual" in INSULIN, "from: 0.5 units/h, to: 6 units/h" => "from: 0.5 units/h";
    "limit-missing" "areas.adult theatre.variable rate.phases.maintenance.soft", "soft" in INSULIN, "soft: {from: 0.4 units/h, to" => "soft: {to";
    "limit-missing" "areas.adult theatre.variable rate.phases.maintenance.soft", "soft" in INSULIN, "from: 0.4 units/h, to: 10 units/h" => "from: 0.4 units/h";
    "limit-missing" "areas.adult theatre.variable rate.phases.maintenance.hard", "hard" in INSULIN, "hard: {to: 20" => "hard: {from: 0.1";
    "limit-missing" "areas.adult theatre.heart rate control.bolus.hard", "hard" in ESMOLOL, "hard: {to: 1000 mcg/kg" => "hard: {from: 100 mcg/kg";
    "limit-empty" "areas.adult theatre.variable rate.phases.maintenance.hard.to", "hard" in INSULIN, "hard: {to: 20 units/h, source" => "hard: {source";
    "limit-empty" "adult theatre.age.to", "age" in "areas.yaml", "age: {from: 16 years}\n  standard_equipment: {container: syringe 50 mL, line: narrow-150, driver: bench" => "age: {}\n  standard_equipment: {container: syringe 50 mL, line: narrow-150, driver: bench";
    "limit-empty" "peripheral_maximum.hard", "peripheral_maximum" in NORADRENALINE, "{soft: 10 mcg/mL, hard: 20 mcg/mL, source" => "{source";
    "limit-empty" "areas.adult theatre.variable rate.phases", "phases" in INSULIN, "      phases:\n        maintenance:\n          usual: {from: 0.5 units/h, to: 6 units/h, source: demonstration value}\n          soft: {from: 0.4 units/h, to: 10 units/h, source: demonstration value}\n          hard: {to: 20 units/h, source: demonstration value}" => "      phases: {}";
    "limits-out-of-order" "areas.adult theatre.variable rate.phases.maintenance.usual.from", "usual" in INSULIN, "from: 0.5 units/h" => "from: 6.1 units/h";
    "limits-out-of-order" "areas.adult theatre.variable rate.phases.maintenance.soft", "soft" in INSULIN, "from: 0.4 units/h" => "from: 0.6 units/h";
    "limits-out-of-order" "areas.adult theatre.variable rate.phases.maintenance.soft", "soft" in INSULIN, "to: 10 units/h" => "to: 5.9 units/h";
    "limits-out-of-order" "areas.adult theatre.variable rate.phases.maintenance.hard", "hard" in INSULIN, "hard: {to: 20" => "hard: {from: 0.45 units/h, to: 20";
    "limits-out-of-order" "areas.adult theatre.variable rate.phases.maintenance.hard", "hard" in INSULIN, "hard: {to: 20" => "hard: {to: 9.9";
    "limits-out-of-order" "areas.adult theatre.variable rate.phases.maintenance.hard", "hard" in INSULIN, "hard: {to: 20" => "hard: {to: 0.1";
    "limits-out-of-order" "areas.adult theatre.heart rate control.bolus.hard", "hard" in ESMOLOL, "hard: {to: 1000 mcg/kg" => "hard: {to: 499 mcg/kg";
    "limits-out-of-order" "areas.adult theatre.heart rate control.bolus.soft", "soft" in ESMOLOL, "from: 250 mcg/kg" => "from: 500.1 mcg/kg";
    "limits-out-of-order" "adult theatre.weight.hard", "hard" in "areas.yaml", "{from: 30 kg" => "{from: 41 kg";
    "limits-out-of-order" "adult theatre.weight.hard", "hard" in "areas.yaml", "to: 250 kg" => "to: 149 kg";
    "limits-out-of-order" "adult theatre.age.from", "age" in "areas.yaml", "age: {from: 16 years}\n  standard_equipment: {container: syringe 50 mL, line: narrow-150, driver: bench" => "age: {from: 16 years, to: 15 years}\n  standard_equipment: {container: syringe 50 mL, line: narrow-150, driver: bench";
    "limits-out-of-order" "peripheral_maximum.soft", "peripheral_maximum" in NORADRENALINE, "{soft: 10 mcg/mL, hard: 20 mcg/mL" => "{soft: 21 mcg/mL, hard: 20 mcg/mL";
    "limits-out-of-order" "areas.adult theatre.vasopressor.flow.hard", "hard" in NORADRENALINE, "to: 120 mL/h" => "to: 59 mL/h";
    "limits-out-of-order" "policy.rounding.note_above", "rounding" in "formulary.yaml", "note_above: 5 %" => "note_above: 11 %";
    "review-out-of-order" "review.justify_from", "review" in INSULIN, "justify_from: 2099-12-31" => "justify_from: 2099-12-30";
    "jump-too-small" "areas.adult theatre.variable rate.largest_jump.times", "largest_jump" in INSULIN, "dose_unit: units/h\n      strengths: [single]" => "dose_unit: units/h\n      largest_jump: {times: 1, source: icu-sheet}\n      strengths: [single]";
    // One use, one unit, and what it is counted by.
    "area-unknown" "areas.ward", "ward" in INSULIN, "  adult theatre:\n" => "  ward:\n";
    "dosing-weight-missing" "areas.adult theatre.heart rate control.dosing_weights", "" in ESMOLOL, "  adult theatre:\n    heart rate control:\n      dose_unit: mcg/kg/min\n      dosing_weights: [actual]\n" => "  adult theatre:\n    heart rate control:\n      dose_unit: mcg/kg/min\n";
    "dosing-weight-unreachable" "areas.adult theatre.variable rate.dosing_weights", "dosing_weights" in INSULIN, "dose_unit: units/h\n      strengths: [single]" => "dose_unit: units/h\n      dosing_weights: [actual]\n      strengths: [single]";
    "body-surface" "areas.adult theatre.variable rate.body_surface", "body_surface" in INSULIN, "dose_unit: units/h\n      strengths: [single]" => "dose_unit: units/h\n      body_surface: mosteller\n      strengths: [single]";
    "body-surface" "areas.adult theatre.variable rate.body_surface", "" in INSULIN, "      dose_unit: units/h" => "      dose_unit: units/m2/h";
    // Strengths and sources.
    "strength-unknown" "areas.adult theatre.variable rate.strengths[0]", "strengths" in INSULIN, "units/h\n      strengths: [single]" => "units/h\n      strengths: [double]";
    "strength-missing" "areas.adult theatre.variable rate.strengths", "strengths" in INSULIN, "units/h\n      strengths: [single]" => "units/h\n      strengths: []";
    "strength-unused" "strengths", "" in DOBUTAMINE, "strengths: [newborn]" => "strengths: [single]";
    "strength-doubled" "strengths", "" in DOBUTAMINE, "weak: {amount: 50 mg" => "weak: {amount: 250 mg";
    "strengths-too-many" "areas.adult theatre.inotrope.strengths", "strengths" in DOBUTAMINE, "strengths: [weak, single]" => "strengths: [weak, single, weak]";
    "setting-unreachable" "areas.adult theatre.inotrope.more_than_two", "more_than_two" in DOBUTAMINE, "strengths: [weak, single]" => "strengths: [weak, single]\n      more_than_two: for the sake of it";
    "strength-amount" "strengths.single.amount", "single" in INSULIN, "amount: 50 units" => "amount: 50 units/m2";
    "source-unknown" "strengths.single.source", "single" in INSULIN, "source: icu-sheet, recipe" => "source: icu-sheat, recipe";
    "source-unused" "sources", "" in INSULIN, "source: icu-sheet, recipe" => "source: demonstration value, recipe";
    "equivalent-contradicts" "equivalents.dobutamine base.holds", "dobutamine base" in DOBUTAMINE, "amount: 1.12 mcg, of: dobutamine hydrochloride, holds: 1 mcg" => "amount: 1 mcg, of: dobutamine hydrochloride, holds: 1.12 mcg";
    "equivalent-contradicts" "equivalents.dobutamine base.of", "dobutamine base" in DOBUTAMINE, "of: dobutamine hydrochloride" => "of: dobutamine base";
    "strength-wrong-kind" "equivalents.dobutamine base.amount", "dobutamine base" in DOBUTAMINE, "amount: 1.12 mcg, of: dobutamine hydrochloride, holds: 1 mcg" => "amount: 1.12 units, of: dobutamine hydrochloride, holds: 1 mmol";
    "field-missing" "equivalents.dobutamine base.source", "dobutamine base" in DOBUTAMINE, "holds: 1 mcg, source: salt}" => "holds: 1 mcg}";
    "source-unknown" "equivalents.dobutamine base.source", "dobutamine base" in DOBUTAMINE, "source: salt}" => "source: pepper}";
    "unit-wrong-kind" "equivalents.dobutamine base.holds", "dobutamine base" in DOBUTAMINE, "holds: 1 mcg" => "holds: 1 mL";
    "name-not-small" "drug", "drug" in INSULIN, "drug: insulin" => "drug: Insulin";
    "name-not-small" "other_names[0]", "other_names" in INSULIN, "[soluble insulin]" => "[Soluble insulin]";
    "drug-file-name" "drug", "drug" in INSULIN, "drug: insulin" => "drug: insuline";
    "name-twice" "", "" in INSULIN, "[soluble insulin]" => "[epinephrine]";
    // Recipes.
    "recipe-contradicts" "strengths.single.recipe", "single" in INSULIN, "ampoules: 0.05" => "ampoules: 0.5";
    "recipe-contradicts" "strengths.single.recipe", "single" in INSULIN, "of: 1000 units in 10 mL" => "of: 100 units/mL";
    "recipe-contradicts" "strengths.single.recipe", "single" in INSULIN, "of: 1000 units in 10 mL" => "of: 1000 units in 1001 mL";
    "recipe-contradicts" "strengths.single.recipe", "single" in INSULIN, "of: 1000 units in 10 mL, diluent: sodium chloride 0.9 %, how: made up to" => "of: 1000 units in 1000 mL, diluent: sodium chloride 0.9 %, how: added to";
    "recipe-contradicts" "strengths.single.recipe", "single" in INSULIN, "diluent: sodium chloride 0.9 %, how: made up to" => "how: undiluted";
    "recipe-contradicts" "strengths.single.recipe.diluent", "single" in INSULIN, "how: made up to" => "how: undiluted";
    "field-missing" "strengths.single.recipe.diluent", "single" in INSULIN, "diluent: sodium chloride 0.9 %, " => "";
    "recipe-contradicts" "strengths.per kg.recipe", "per kg" in NORADRENALINE, "source: newborn-guide}\n# The listed" => "source: newborn-guide, recipe: {ampoules: 1, of: 1 mg in 1 mL, how: undiluted}}\n# The listed";
    // Equipment.
    "container-holds-nothing" "containers.syringe 3 mL.stays_behind", "syringe 3 mL" in "equipment.yaml", "usable: 3 mL" => "usable: 0.05 mL";
    "equipment-unknown" "drivers.bag pump.accepts[0]", "accepts" in "equipment.yaml", "[bag 50 mL" => "[bag 51 mL";
    "driver-does-not-take-container" "drivers.bag pump.accepts[0]", "accepts" in "equipment.yaml", "[bag 50 mL" => "[syringe 50 mL, bag 50 mL";
    "equipment-unknown" "paediatric theatre.standard_equipment.driver", "standard_equipment" in "areas.yaml", "narrow-150, driver: fine" => "narrow-150, driver: finer";
    "equipment-unknown" "paediatric theatre.standard_equipment.line", "standard_equipment" in "areas.yaml", "line: narrow-150, driver: fine" => "line: narrow-151, driver: fine";
    "equipment-unknown" "paediatric theatre.standard_equipment.container", "standard_equipment" in "areas.yaml", "container: syringe 50 mL, line: narrow-150, driver: fine" => "container: syringe 51 mL, line: narrow-150, driver: fine";
    "driver-does-not-take-container" "paediatric theatre.standard_equipment.driver", "standard_equipment" in "areas.yaml", "narrow-150, driver: fine" => "narrow-150, driver: bag pump";
    "shows-no-rate" "drivers.fine.shows", "shows" in "equipment.yaml", "shows: [rate, volume given, time left, pressure]" => "shows: [volume given, time left, pressure]";
    "shows-no-rate" "drivers.fine.shows", "shows" in "equipment.yaml", "shows: [rate, volume given, time left, pressure]" => "shows: [Rate, volume given]";
    "field-missing" "drivers.fine.shows", "kind: syringe driver" in "equipment.yaml", "    shows: [rate, volume given, time left, pressure]\n" => "";
    "driver-steps" "drivers.fine.smallest_rate", "smallest_rate" in "equipment.yaml", "syringe 50 mL]\n    smallest_rate: 0.1" => "syringe 50 mL]\n    smallest_rate: 999";
    "driver-steps" "drivers.fine.steps", "- {up_to" in "equipment.yaml", "{up_to: 9.99 mL/h, step" => "{up_to: 99.9 mL/h, step";
    "driver-steps" "drivers.fine.steps", "- {up_to" in "equipment.yaml", "{up_to: 9.99 mL/h, step: 0.01 mL/h}" => "{up_to: 9.99 mL/h, step: 0.04 mL/h}";
    "driver-steps" "drivers.fine.steps", "- {up_to" in "equipment.yaml", "syringe 50 mL]\n    smallest_rate: 0.1 mL/h\n    largest_rate: 999" => "syringe 50 mL]\n    smallest_rate: 0.1 mL/h\n    largest_rate: 1000";
};
