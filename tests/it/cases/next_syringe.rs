//! The next syringe of an infusion that runs asks for what is in the hand; what two people agreed on is carried, and said.

use countersign::case::ReportedAction;

use super::{IDOWU, TAMM, Theatre, refused};

/// Drug, dose, amount, volume, drawn up at, syringe.
const SIX: [&str; 6] = ["noradrenaline", "0.08 mcg/kg/min", "4 mg", "50 mL", "10:30", "syringe 50 mL"];

fn running(name: &str) -> (Theatre, String) {
    let theatre = Theatre::new(name);
    let set_up = format!("{}/1", theatre.agreed());
    theatre.records("08:00", &set_up, &ReportedAction::Started(None, Default::default()));
    (theatre, set_up)
}

fn typed<'t>(pin: &'t str, answers: &[&'t str]) -> Vec<&'t str> {
    [&[pin], answers, &["seal"]].concat()
}

// hazard: H-CHANGED
#[test]
fn six_answers_of_each_make_the_card_of_a_like_syringe_that_says_what_was_carried() {
    let (theatre, set_up) = running("next-like");
    let first = theatre.says("10:40", &typed(IDOWU.1, &SIX), &["case", "enter", &set_up, "--as", IDOWU.0]);
    assert_eq!(first.code, 0, "{first:?}");
    assert!(first.stderr.contains("Line: narrow-150"), "{first:?}");
    for hidden in ["80 mcg/mL", "mcg/kg/min"] {
        assert!(!first.stderr.contains(hidden), "{hidden}: {first:?}");
    }
    let other = ["norepinephrine", "0.08 mcg/kg/min", "4000 mcg", "50 mL", "10:30", "syringe 50 mL"];
    let second = theatre.says("10:45", &typed(TAMM.1, &other), &["case", "second", &set_up, "--as", TAMM.0]);
    assert!(second.code == 0 && second.stdout.contains("Now: agreed."), "{second:?}");
    let card = theatre.says("10:50", &[], &["case", "card", &set_up]);
    for says in ["CARRIED", "line full of it", "the next syringe like the one before"] {
        assert!(card.stdout.contains(says), "{says}: {card:?}");
    }
    theatre.is_whole();
}

#[test]
fn a_syringe_of_another_strength_or_drug_is_not_taken_as_a_like_one() {
    let (theatre, set_up) = running("next-other");
    let enters = |answers: &[&str]| {
        theatre.says("10:40", &typed(IDOWU.1, answers), &["case", "enter", &set_up, "--as", IDOWU.0])
    };
    for answers in [["noradrenaline", "0.08 mcg/kg/min", "8 mg", "50 mL"], ["adrenaline", "", "", ""]] {
        assert!(refused(&enters(&answers), "syringe-not-alike").contains("runs in this driver"));
    }
}

#[test]
fn a_file_carries_nothing_but_what_was_agreed() {
    let (theatre, set_up) = running("next-file");
    let whole = super::without_patient(&super::first());
    let said = theatre.enters("08:10", IDOWU, "enter", &set_up, &format!("{whole}carried: [driver, line_filled]\n"));
    refused(&said, "answer-not-carried");
    let said = theatre.enters("08:10", IDOWU, "enter", &set_up, &format!("{whole}carried: [dose]\n"));
    refused(&said, "answer-not-carried");
    let said = theatre.enters("08:10", IDOWU, "enter", &set_up, &whole);
    assert_eq!(said.code, 0, "{said:?}");
}

#[test]
fn with_read_all_everything_is_asked() {
    let (theatre, set_up) = running("next-all");
    let words = ["case", "enter", &set_up, "--read-all", "--as", IDOWU.0];
    let said = theatre.says("10:40", &typed(IDOWU.1, &SIX), &words);
    assert!(!said.stderr.contains("Carried from"), "{said:?}");
    said.is_refused();
}
