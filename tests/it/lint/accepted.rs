//! What the pharmacist has judged: a written reason in the drug's own file.

use countersign::upkeep::lint::Counts;

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
