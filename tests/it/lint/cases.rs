//! For each kind of remark a slip that makes it once, and a near miss that does not; both are one replacement in the small
//! house.

const FORMULARY: &str = "formulary.yaml";
const AREAS: &str = "areas.yaml";
const EQUIPMENT: &str = "equipment.yaml";
const NORADRENALINE: &str = "drugs/noradrenaline.yaml";
const ADRENALINE: &str = "drugs/adrenaline.yaml";
const KETAMINE: &str = "drugs/ketamine.yaml";
/// Where the only use of its area begins.
const BANDS: &str = "  paediatric theatre:\n    vasopressor:\n      dose_unit: mcg/kg/min\n";

/// What stands in a file, what makes the remark in its place, and what does not.
pub(crate) struct Case {
    pub(crate) code: &'static str,
    /// The words with which the line begins that is marked.
    pub(crate) line: &'static str,
    pub(crate) file: &'static str,
    pub(crate) from: &'static str,
    pub(crate) bad: &'static str,
    pub(crate) good: &'static str,
}

macro_rules! cases {
    ($($code:literal, $line:literal in $file:expr, $from:expr => bad $bad:literal, good $good:literal;)+) => {
        &[$(Case { code: $code, line: $line, file: $file, from: $from, bad: $bad, good: $good }),+]
    };
}

pub(crate) const CASES: &[Case] = cases! {
    "names-alike", "other_names" in NORADRENALINE, "[norepinephrine]" =>
        bad "[norepinephrine, katamine]", good "[norepinephrine, katomine]";
    "look-alike-unknown", "looks_like" in KETAMINE, "class:" =>
        bad "looks_like: [esketamine]\nclass:", good "class:";
    "look-alike-one-sided", "looks_like" in NORADRENALINE, "[adrenaline]" =>
        bad "[adrenaline, ketamine]", good "[epinephrine]";
    "review-date-past", "review" in KETAMINE, "{by: 2099-12-31" =>
        bad "{by: 2026-03-13", good "{by: 2026-05-14";
    "review-date-near", "review" in KETAMINE, "{by: 2099-12-31" =>
        bad "{by: 2026-05-13", good "{by: 2026-05-14";
    "source-title-only", "handbook" in KETAMINE, ", section: Ketamine, year: 2020}" =>
        bad "}", good ", year: 2020}";
    "source-names-a-rate", "handbook" in KETAMINE, "section: Ketamine" =>
        bad "section: 1 mL/h gives 10 mg/h", good "section: 10 mg/h";
    "trailing-zero", "single" in KETAMINE, "volume: 50 mL" =>
        bad "volume: 50.0 mL", good "volume: 50 mL";
    "digits-ungrouped", "hard" in KETAMINE, "hard: {to: 100 mL/h" =>
        bad "hard: {to: 10000 mL/h", good "hard: {to: 10 000 mL/h";
    "many-decimals", "usual" in ADRENALINE, "  adult theatre:\n    vasopressor:\n      dose_unit: mcg/kg/min\n      dosing_weights: [actual]\n      titrated_to_effect: true\n      strengths: [single]\n      phases:\n        maintenance:\n          usual: {from: 0.05 mcg" =>
        bad "  adult theatre:\n    vasopressor:\n      dose_unit: mcg/kg/min\n      dosing_weights: [actual]\n      titrated_to_effect: true\n      strengths: [single]\n      phases:\n        maintenance:\n          usual: {from: 0.0525 mcg",
        good "  adult theatre:\n    vasopressor:\n      dose_unit: mcg/kg/min\n      dosing_weights: [actual]\n      titrated_to_effect: true\n      strengths: [single]\n      phases:\n        maintenance:\n          usual: {from: 0.052 mcg";
    "unit-error-prone", "dose_unit" in KETAMINE, "dose_unit: mcg/kg/min" =>
        bad "dose_unit: µg/kg/min", good "dose_unit: microgram/kg/min";
    "unit-spelling", "smallest_drawn_up" in FORMULARY, "0.2 mL" =>
        bad "0.2 ml", good "0.2 mL";
    "strengths-tenfold", "double" in NORADRENALINE, "double: {amount: 8 mg" =>
        bad "double: {amount: 40 mg", good "double: {amount: 12 mg";
    "strengths-tenfold-apart", "weak" in ADRENALINE, "4 mg, volume: 50 mL, source: label}\nareas:\n  adult theatre:\n    vasopressor:\n      dose_unit: mcg/kg/min\n      dosing_weights: [actual]\n      titrated_to_effect: true\n      strengths: [single]" =>
        bad "4 mg, volume: 50 mL, source: label}\n  weak: {amount: 40 mg, volume: 50 mL, source: label}\nareas:\n  adult theatre:\n    vasopressor:\n      dose_unit: mcg/kg/min\n      dosing_weights: [actual]\n      titrated_to_effect: true\n      strengths: [weak]",
        good "4 mg, volume: 50 mL, source: label}\n  weak: {amount: 20 mg, volume: 50 mL, source: label}\nareas:\n  adult theatre:\n    vasopressor:\n      dose_unit: mcg/kg/min\n      dosing_weights: [actual]\n      titrated_to_effect: true\n      strengths: [weak]";
    "strengths-same-digits", "double" in NORADRENALINE, "double: {amount: 8 mg, volume: 50 mL" =>
        bad "double: {amount: 4 mg, volume: 25 mL", good "double: {amount: 5 mg, volume: 25 mL";
    "strength-fits-no-container", "double" in NORADRENALINE, "double: {amount: 8 mg, volume: 50 mL" =>
        bad "double: {amount: 50 mg, volume: 251 mL", good "double: {amount: 50 mg, volume: 250 mL";
    "recipe-too-small-to-draw-up", "single" in NORADRENALINE, "{ampoules: 4, of: 1 mg in 1 mL" =>
        bad "{ampoules: 0.1, of: 40 mg in 1 mL", good "{ampoules: 0.2, of: 20 mg in 1 mL";
    "dose-unit-differs", "dose_unit" in ADRENALINE, "  paediatric theatre:\n    vasopressor:\n      dose_unit: mcg/kg/min\n      dosing_weights: [actual]\n      titrated_to_effect: true\n      strengths: [single]\n      phases:\n        maintenance:\n          usual: {from: 0.05 mcg/kg/min, to: 0.25 mcg/kg/min, source: label}\n          soft: {from: 0.05 mcg/kg/min, to: 0.45 mcg/kg/min, source: label}\n          hard: {to: 1 mcg/kg/min, source: label}" =>
        bad "  paediatric theatre:\n    vasopressor:\n      dose_unit: mcg/kg/h\n      dosing_weights: [actual]\n      titrated_to_effect: true\n      strengths: [single]\n      phases:\n        maintenance:\n          usual: {from: 3 mcg/kg/h, to: 15 mcg/kg/h, source: label}\n          soft: {from: 3 mcg/kg/h, to: 27 mcg/kg/h, source: label}\n          hard: {to: 60 mcg/kg/h, source: label}",
        good "";
    "lower-limit-missing", "soft" in KETAMINE, "soft: {from: 30 mcg/kg/min, to" =>
        bad "soft: {to", good "soft: {from: 35 mcg/kg/min, to";
    "bolus-lower-limit-missing", "soft" in KETAMINE, "soft: {from: 0.5 mg/kg, to: 2 mg/kg, source: handbook}\n        hard" =>
        bad "soft: {to: 2 mg/kg, source: handbook}\n        hard", good "soft: {from: 0.4 mg/kg, to: 2 mg/kg, source: handbook}\n        hard";
    "soft-range-tenfold", "soft" in ADRENALINE, "soft: {from: 0.05 mcg/kg/min, to: 0.45 mcg/kg/min" =>
        bad "soft: {from: 0.05 mcg/kg/min, to: 0.5 mcg/kg/min", good "soft: {from: 0.05 mcg/kg/min, to: 0.49 mcg/kg/min";
    "soft-range-wide", "soft" in ADRENALINE, "        maintenance:\n          usual: {from: 0.05 mcg/kg/min, to: 0.25 mcg/kg/min, source: label}\n          soft: {from: 0.05 mcg/kg/min, to: 0.45 mcg/kg/min" =>
        bad "        start: {usual: {from: 0.05 mcg/kg/min, to: 0.1 mcg/kg/min, source: label}, soft: {from: 0.05 mcg/kg/min, to: 0.2 mcg/kg/min, source: label}, hard: {to: 0.9 mcg/kg/min, source: label}}\n        maintenance:\n          usual: {from: 0.05 mcg/kg/min, to: 0.25 mcg/kg/min, source: label}\n          soft: {from: 0.05 mcg/kg/min, to: 0.5 mcg/kg/min",
        good "        start: {usual: {from: 0.05 mcg/kg/min, to: 0.1 mcg/kg/min, source: label}, soft: {from: 0.05 mcg/kg/min, to: 0.5 mcg/kg/min, source: label}, hard: {to: 0.9 mcg/kg/min, source: label}}\n        maintenance:\n          usual: {from: 0.05 mcg/kg/min, to: 0.25 mcg/kg/min, source: label}\n          soft: {from: 0.05 mcg/kg/min, to: 0.5 mcg/kg/min";
    "hard-far-above-usual", "hard" in NORADRENALINE, "hard: {to: 2 mcg/kg/min" =>
        bad "hard: {to: 20 mcg/kg/min", good "hard: {to: 2.4 mcg/kg/min";
    "bolus-hard-far-above-usual", "hard" in KETAMINE, "hard: {to: 4 mg/kg" =>
        bad "hard: {to: 40 mg/kg", good "hard: {to: 19 mg/kg";
    "uses-differ-tenfold", "usual" in ADRENALINE, "usual: {from: 0.05 mcg/kg/min, to: 0.25 mcg/kg/min, source: label}\n          soft: {from: 0.05 mcg/kg/min, to: 0.45 mcg/kg/min, source: label}\n          hard: {to: 1 mcg/kg/min" =>
        bad "usual: {from: 0.5 mcg/kg/min, to: 2.5 mcg/kg/min, source: label}\n          soft: {from: 0.5 mcg/kg/min, to: 4.5 mcg/kg/min, source: label}\n          hard: {to: 10 mcg/kg/min",
        good "usual: {from: 0.2 mcg/kg/min, to: 1 mcg/kg/min, source: label}\n          soft: {from: 0.2 mcg/kg/min, to: 1.5 mcg/kg/min, source: label}\n          hard: {to: 3 mcg/kg/min";
    "same-numbers-as-another-drug", "vasopressor" in NORADRENALINE, "{amount: 4 mg, volume: 50 mL, source: label, recipe: {ampoules: 4, of: 1 mg in 1 mL, diluent: glucose 5 %, how: made up to}}\n  double: {amount: 8 mg, volume: 50 mL, source: label}\nperipheral_maximum: {soft: 10 mcg/mL, hard: 20 mcg/mL, source: demonstration value}\nareas:\n  adult theatre:\n    vasopressor:\n      dose_unit: mcg/kg/min\n      dosing_weights: [actual]\n      titrated_to_effect: true\n      strengths: [single, double]\n      weight:\n        soft: {from: 45 kg, to: 140 kg, source: label}\n        hard: {from: 35 kg, to: 200 kg, source: label}\n      age: {from: 18 years}\n      phases:\n        maintenance:\n          usual: {from: 0.04 mcg/kg/min, to: 0.25 mcg/kg/min, source: label}\n          soft: {from: 0.04 mcg/kg/min, to: 0.3 mcg/kg/min, source: label}\n          hard: {to: 2 mcg/kg/min, source: label}\n        weaning:\n          usual: {from: 0.02 mcg/kg/min, to: 0.1 mcg/kg/min, source: label}\n          soft: {from: 0.02 mcg/kg/min, to: 0.15 mcg/kg/min, source: label}\n          hard: {to: 0.5 mcg/kg/min, source: label}\n" =>
        bad "{amount: 4 mg, volume: 50 mL, source: label}\nareas:\n  adult theatre:\n    vasopressor:\n      dose_unit: mcg/kg/min\n      dosing_weights: [actual]\n      strengths: [single]\n      phases:\n        maintenance:\n          usual: {from: 0.05 mcg/kg/min, to: 0.3 mcg/kg/min, source: label}\n          soft: {from: 0.05 mcg/kg/min, to: 0.4 mcg/kg/min, source: label}\n          hard: {to: 2 mcg/kg/min, source: label}\n",
        good "{amount: 4 mg, volume: 50 mL, source: label}\nareas:\n  adult theatre:\n    vasopressor:\n      dose_unit: mcg/kg/min\n      dosing_weights: [actual]\n      strengths: [single]\n      phases:\n        maintenance:\n          usual: {from: 0.05 mcg/kg/min, to: 0.3 mcg/kg/min, source: label}\n          soft: {from: 0.05 mcg/kg/min, to: 0.4 mcg/kg/min, source: label}\n          hard: {to: 1.9 mcg/kg/min, source: label}\n";
    "bands-overlap", "age" in ADRENALINE, BANDS =>
        bad "  paediatric theatre:\n    newborn vasopressor: {dose_unit: mcg/kg/min, dosing_weights: [actual], strengths: [single], age: {to: 28 months}, phases: {maintenance: {usual: {from: 0.05 mcg/kg/min, to: 0.2 mcg/kg/min, source: label}, soft: {from: 0.05 mcg/kg/min, to: 0.2 mcg/kg/min, source: label}, hard: {to: 1 mcg/kg/min, source: label}}}}\n    vasopressor:\n      dose_unit: mcg/kg/min\n      age: {from: 28 days}\n",
        good "  paediatric theatre:\n    newborn vasopressor: {dose_unit: mcg/kg/min, dosing_weights: [actual], strengths: [single], age: {to: 28 days}, phases: {maintenance: {usual: {from: 0.05 mcg/kg/min, to: 0.2 mcg/kg/min, source: label}, soft: {from: 0.05 mcg/kg/min, to: 0.2 mcg/kg/min, source: label}, hard: {to: 1 mcg/kg/min, source: label}}}}\n    vasopressor:\n      dose_unit: mcg/kg/min\n      age: {from: 28 days}\n";
    "bands-leave-gap", "age" in ADRENALINE, BANDS =>
        bad "  paediatric theatre:\n    newborn vasopressor: {dose_unit: mcg/kg/min, dosing_weights: [actual], strengths: [single], age: {to: 28 days}, phases: {maintenance: {usual: {from: 0.05 mcg/kg/min, to: 0.2 mcg/kg/min, source: label}, soft: {from: 0.05 mcg/kg/min, to: 0.2 mcg/kg/min, source: label}, hard: {to: 1 mcg/kg/min, source: label}}}}\n    vasopressor:\n      dose_unit: mcg/kg/min\n      age: {from: 28 months}\n",
        good "  paediatric theatre:\n    newborn vasopressor: {dose_unit: mcg/kg/min, dosing_weights: [actual], strengths: [single], age: {to: 28 days}, phases: {maintenance: {usual: {from: 0.05 mcg/kg/min, to: 0.2 mcg/kg/min, source: label}, soft: {from: 0.05 mcg/kg/min, to: 0.2 mcg/kg/min, source: label}, hard: {to: 1 mcg/kg/min, source: label}}}}\n    vasopressor:\n      dose_unit: mcg/kg/min\n      age: {from: 28 days}\n";
    "weight-unlikely-for-age", "weight" in ADRENALINE, BANDS =>
        bad "  paediatric theatre:\n    vasopressor:\n      dose_unit: mcg/kg/min\n      age: {to: 28 days}\n      weight: {hard: {from: 3 kg, to: 60 kg, source: label}}\n",
        good "  paediatric theatre:\n    vasopressor:\n      dose_unit: mcg/kg/min\n      age: {to: 28 days}\n      weight: {hard: {from: 3 kg, to: 6 kg, source: label}}\n";
    "maximum-never-speaks", "peripheral_maximum" in NORADRENALINE, "{soft: 10 mcg/mL, hard: 20 mcg/mL" =>
        bad "{soft: 10 mcg/mL, hard: 20 mg/mL", good "{soft: 10 mcg/mL, hard: 1 mg/mL";
    "class-misspelled", "class" in KETAMINE, "class: induction agent" =>
        bad "class: inducton agent", good "class: hypnotic";
    "class-without-colour", "class" in KETAMINE, "class: induction agent" =>
        bad "class: dissociative", good "class: miscellaneous";
    "vasoactive-not-said", "class" in KETAMINE, "class: induction agent" =>
        bad "class: vasopressor", good "class: vasopressor\nvasoactive: true";
    "diluent-misspelled", "single" in NORADRENALINE, "diluent: glucose 5 %" =>
        bad "diluent: gluc0se 5 %", good "diluent: sodium chloride 0.9 %";
    "limit-in-pounds", "soft" in AREAS, "soft: {from: 5 kg, to: 60 kg" =>
        bad "soft: {from: 7 lb, to: 60 kg", good "soft: {from: 3500 g, to: 60 kg";
    "bolus-time-unlikely", "over" in KETAMINE, "over: {from: 2 min, to: 10 min" =>
        bad "over: {from: 10 s, to: 10 min", good "over: {from: 30 s, to: 10 min";
    "life-unlikely", "life_after_drawing_up" in KETAMINE, "life_after_drawing_up: {time: 24 h" =>
        bad "life_after_drawing_up: {time: 24 day", good "life_after_drawing_up: {time: 7 day";
    "longest-unlikely", "longest" in KETAMINE, "longest: {to: 24 h" =>
        bad "longest: {to: 96 min", good "longest: {to: 2 h";
    "strength-not-per-kg", "per kg" in ADRENALINE, "single: {amount: 4 mg, volume: 50 mL, source: label}\nareas:\n  adult theatre:\n    vasopressor:\n      dose_unit: mcg/kg/min\n      dosing_weights: [actual]\n      titrated_to_effect: true\n      strengths: [single]" =>
        bad "single: {amount: 4 mg, volume: 50 mL, source: label}\n  per kg: {amount: 0.3 mg, volume: 50 mL, source: label}\nareas:\n  adult theatre:\n    vasopressor:\n      dose_unit: mcg/kg/min\n      dosing_weights: [actual]\n      titrated_to_effect: true\n      strengths: [single, per kg]",
        good "single: {amount: 4 mg, volume: 50 mL, source: label}\n  per kg: {amount: 0.3 mg/kg, volume: 50 mL, source: label}\nareas:\n  adult theatre:\n    vasopressor:\n      dose_unit: mcg/kg/min\n      dosing_weights: [actual]\n      titrated_to_effect: true\n      strengths: [single, per kg]";
    "usual-doses-all-stopped", "strengths" in KETAMINE, "flow:\n        hard: {to: 100 mL/h" =>
        bad "flow:\n        hard: {to: 1 mL/h", good "flow:\n        hard: {to: 10 mL/h";
    "limit-never-reached", "hard" in NORADRENALINE, "hard: {from: 35 kg, to: 200 kg" =>
        bad "hard: {from: 35 kg, to: 251 kg", good "hard: {from: 35 kg, to: 250 kg";
    "use-for-nobody", "age" in NORADRENALINE, "age: {from: 18 years}" =>
        bad "age: {to: 15 years}", good "age: {from: 16 years, to: 17 years}";
    "rate-below-every-driver", "strengths" in ADRENALINE, "usual: {from: 0.05 mcg/kg/min, to: 0.25 mcg/kg/min, source: label}\n          soft: {from: 0.05" =>
        bad "usual: {from: 0.02 mcg/kg/min, to: 0.25 mcg/kg/min, source: label}\n          soft: {from: 0.02",
        good "usual: {from: 0.03 mcg/kg/min, to: 0.25 mcg/kg/min, source: label}\n          soft: {from: 0.03";
    "rate-above-every-driver", "strengths" in KETAMINE, "  single: {amount: 500 mg, volume: 50 mL, source: handbook, recipe: {ampoules: 1, of: 500 mg in 10 mL, diluent: sodium chloride 0.9 %, how: made up to}}" =>
        bad "  single: {amount: 20 mg, volume: 50 mL, source: handbook}", good "  single: {amount: 50 mg, volume: 50 mL, source: handbook}";
    "rate-coarse", "strengths" in KETAMINE, "  single: {amount: 500 mg, volume: 50 mL, source: handbook, recipe: {ampoules: 1, of: 500 mg in 10 mL, diluent: sodium chloride 0.9 %, how: made up to}}" =>
        bad "  single: {amount: 5000 mg, volume: 50 mL, source: handbook}", good "  single: {amount: 2000 mg, volume: 50 mL, source: handbook}";
    "syringe-never-lasts", "strengths" in KETAMINE, "  single: {amount: 500 mg, volume: 50 mL, source: handbook, recipe: {ampoules: 1, of: 500 mg in 10 mL, diluent: sodium chloride 0.9 %, how: made up to}}" =>
        bad "  single: {amount: 12 mg, volume: 50 mL, source: handbook}", good "  single: {amount: 13 mg, volume: 50 mL, source: handbook}";
    "syringe-lasts-short", "strengths" in KETAMINE, "  single: {amount: 500 mg, volume: 50 mL, source: handbook, recipe: {ampoules: 1, of: 500 mg in 10 mL, diluent: sodium chloride 0.9 %, how: made up to}}" =>
        bad "  single: {amount: 250 mg, volume: 50 mL, source: handbook}", good "  single: {amount: 300 mg, volume: 50 mL, source: handbook}";
    "syringe-outlives-its-life", "strengths" in KETAMINE, "life_after_drawing_up: {time: 24 h" =>
        bad "life_after_drawing_up: {time: 30 min", good "life_after_drawing_up: {time: 1 h";
    "bolus-never-in-time", "over" in KETAMINE, "over: {from: 2 min, to: 10 min" =>
        bad "over: {from: 1 s, to: 1 min", good "over: {from: 1 s, to: 2 min";
    "weight-limit-missing", "weight" in AREAS, "    soft: {from: 5 kg, to: 60 kg, source: demonstration value}\n" =>
        bad "", good "    soft: {from: 6 kg, to: 60 kg, source: demonstration value}\n";
    "standard-line-wide", "standard_equipment" in AREAS, "age: {to: 16 years}\n  standard_equipment: {container: syringe 50 mL, line: narrow-150" =>
        bad "age: {to: 16 years}\n  standard_equipment: {container: syringe 50 mL, line: standard-180", good "age: {to: 16 years}\n  standard_equipment: {container: syringe 50 mL, line: narrow-150";
    "priming-volume-unlikely", "narrow-150" in EQUIPMENT, "priming_volume: 0.90 mL" =>
        bad "priming_volume: 9 mL", good "priming_volume: 3 mL";
    "next-syringe-not-compared", "rounding" in FORMULARY, "  next_syringe_times: 2\n" =>
        bad "", good "  next_syringe_times: 3\n";
    "accepted-unknown", "strength-tenfold" in KETAMINE, "class:" =>
        bad "accepted:\n  strength-tenfold: kept apart\nclass:", good "class:";
    "accepted-unused", "accepted" in KETAMINE, "class:" =>
        bad "accepted: {strengths-tenfold: kept apart}\nclass:", good "class:";
};
