//! What the pharmacist has judged: a written reason in the drug's own file.

use countersign::pharmacy::lint::Counts;

use crate::lint::small::{Small, remarks};

const FILE: &str = "drugs/noradrenaline.yaml";

fn too_small() -> Small {
    Small::new().change(FILE, "{ampoules: 4, of: 1 mg in 1 mL", "{ampoules: 0.1, of: 40 mg in 1 mL")
}

fn with_reason(house: Small) -> Small {
    house.change(FILE, "class:", "accepted:\n  recipe-too-small-to-draw-up: a finer syringe is kept for it\nclass:")
}

// hazard: H-LIMITS
#[test]
fn an_accepted_remark_is_shown_with_its_reason_and_counts_no_more() {
    let before = too_small().lint();
    assert_eq!(before.counts(), Counts { warnings: 1, ..Counts::default() });
    let after = with_reason(too_small()).lint();
    assert_eq!(after.counts(), Counts { accepted: 1, ..Counts::default() });
    let shown = after.text(countersign::diagnostic::terminal::Palette::Plain);
    assert!(shown.starts_with("note[recipe-too-small-to-draw-up]: accepted: "), "{shown}");
    assert!(shown.contains("a finer syringe is kept for it"), "{shown}");
}

// A reason in one drug's file says nothing about another's.
#[test]
fn a_reason_counts_in_its_own_file_only() {
    let file = "drugs/ketamine.yaml";
    let house = too_small().change(file, "class:", "accepted: {recipe-too-small-to-draw-up: not this one}\nclass:");
    let found = remarks(&house.lint());
    assert_eq!(found, [("accepted-unused", file.to_owned()), ("recipe-too-small-to-draw-up", FILE.to_owned())]);
}

// hazard: H-LIMITS
#[test]
fn an_error_cannot_be_accepted() {
    let house = Small::new().change(FILE, "class:", "accepted: {limits-out-of-order: it is right}\nclass:");
    assert_eq!(remarks(&house.lint()), [("accepted-unknown", FILE.to_owned())]);
    let house = house.change(FILE, "to: 120 mL/h", "to: 12 mL/h");
    assert_eq!(house.lint().counts().errors, 1);
}

#[test]
fn a_reason_has_words() {
    for reason in ["", "\"\"", "\" \"", "[]", "~"] {
        let house =
            Small::new().change(FILE, "class:", &format!("accepted:\n  recipe-too-small-to-draw-up: {reason}\nclass:"));
        assert_eq!(house.lint().counts().errors, 1, "{reason}");
    }
}

const ADRENALINE: &str = "drugs/adrenaline.yaml";

/// A soft range so wide that ten times a dose is silent, and what is written under `exceptions`.
fn tenfold(to: &str, exception: &str) -> countersign::pharmacy::lint::Report {
    let wide = format!("soft: {{from: 0.05 mcg/kg/min, to: {to} mcg/kg/min");
    let house = Small::new().change(ADRENALINE, "soft: {from: 0.05 mcg/kg/min, to: 0.45 mcg/kg/min", &wide);
    house.change(ADRENALINE, "class:", &format!("{exception}class:")).lint()
}

fn exception(at: &str, value: &str) -> String {
    format!(
        "exceptions:\n  - {{code: soft-range-tenfold, at: {at}, value: {value}, by: P. Sol, why: so it is ordered}}\n"
    )
}

// Another value at the same place, and the same value at another place, are errors again.
// hazard: H-LIMITS
#[test]
fn an_exception_answers_one_value_at_one_place() {
    let here = "areas.paediatric theatre.vasopressor.phases.maintenance";
    assert_eq!(tenfold("0.5", "").counts(), Counts { errors: 1, ..Counts::default() });
    let answered = tenfold("0.5", &exception(here, "0.5 mcg/kg/min"));
    assert_eq!(answered.counts(), Counts { accepted: 1, ..Counts::default() });
    let shown = answered.text(countersign::diagnostic::terminal::Palette::Plain);
    assert!(shown.contains("so it is ordered (P. Sol)"), "{shown}");
    let unanswered = Counts { errors: 1, notes: 1, ..Counts::default() };
    for (to, at, value) in [
        ("0.6", here, "0.5 mcg/kg/min"),
        ("0.5", here, "5 mcg/kg/min"),
        ("0.5", here, "0.5 mcg"),
        ("0.5", "areas.adult theatre.vasopressor.phases.maintenance", "0.5 mcg/kg/min"),
        ("0.5", "areas.paediatric theatre.vaso", "0.5 mcg/kg/min"),
    ] {
        assert_eq!(tenfold(to, &exception(at, value)).counts(), unanswered, "{to} {at} {value}");
    }
    let by_code_alone = tenfold("0.5", "accepted: {soft-range-tenfold: so it is ordered}\n");
    assert_eq!(by_code_alone.counts(), Counts { errors: 1, warnings: 1, ..Counts::default() });
}

#[test]
fn an_exception_has_a_place_a_value_a_name_and_a_reason() {
    let whole = exception("areas", "0.5 mcg/kg/min");
    for field in ["code: soft-range-tenfold, ", "at: areas, ", "value: 0.5 mcg/kg/min, ", "by: P. Sol, "] {
        assert_eq!(whole.matches(field).count(), 1, "{whole}");
        let faults = tenfold("0.45", &whole.replace(field, ""));
        assert!(faults.files.iter().any(|file| !file.faults.is_empty()), "{field}");
    }
}
