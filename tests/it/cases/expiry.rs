//! What was agreed does not stay good for ever: entries grow old, solutions too, and a newer formulary may forbid it.

use countersign::case::ReportedAction;

use super::{IDOWU, TAMM, Theatre, changed, first, refused, second};
use crate::common::house::House;

fn stands(theatre: &Theatre, clock: &str, code: &str) -> String {
    let status = theatre.data(clock, &[], &["case", "status", code]);
    status["set_ups"][0]["stands"].as_str().expect("text").to_owned()
}

fn owed(theatre: &Theatre, clock: &str, code: &str) -> String {
    theatre.data(clock, &[], &["case", "status", code])["set_ups"][0]["owed"].to_string()
}

/// Twelve hours in this area, from the earlier of the two entries.
// hazard: H-CHANGED
#[test]
fn an_unstarted_agreement_expires_after_the_time_of_its_area() {
    let theatre = Theatre::new("expires");
    let code = theatre.agreed();
    assert_eq!(theatre.says("19:40", &[], &["case", "card", &code]).code, 0);
    let said = theatre.says("19:41", &[], &["case", "card", &code]);
    assert!(refused(&said, "entry-expired").contains("2026-03-14 19:40 +00:00"), "{said:?}");
    assert_eq!(
        stands(&theatre, "19:41", &code),
        "noradrenaline 80 mcg/mL: the entries expired at 2026-03-14 19:40 +00:00"
    );
    // What nobody may start needs no reading back.
    assert_eq!(owed(&theatre, "19:41", &code), "[]");
    // Nothing of this was written: it follows from the moment.
    assert_eq!(stands(&theatre, "19:39", &code), "noradrenaline 80 mcg/mL: agreed, not started");
    // Another reading of the same set-up, without --anew.
    let set_up = format!("{code}/1");
    assert_eq!(theatre.enters("19:45", IDOWU, "enter", &set_up, &later(&first())).code, 0);
    assert_eq!(theatre.enters("19:46", TAMM, "second", &set_up, &later(&first())).code, 0);
    assert_eq!(theatre.says("19:47", &[], &["case", "card", &code]).code, 0);
}

fn later(form: &str) -> String {
    changed(form, &[("starts_at: 2026-03-14T08:00:00+00:00", "starts_at: 2026-03-14T20:00:00+00:00")])
}

/// The evening before: a day old at 19:00, before the entries are too old.
// hazard: H-CHANGED
#[test]
fn a_solution_past_its_time_is_not_started() {
    let theatre = Theatre::new("discard");
    let code = theatre.case();
    let (form, other) = drawn_up_the_evening_before();
    theatre.agree(&code, &form, &other);
    assert_eq!(theatre.says("18:59", &[], &["case", "card", &code]).code, 0);
    let said = theatre.says("19:01", &[], &["case", "card", &code]);
    assert!(refused(&said, "solution-expired").contains("2026-03-14 19:00 +00:00"), "{said:?}");
    assert!(
        stands(&theatre, "19:01", &code).contains("discarded at 2026-03-14 19:00"),
        "{}",
        stands(&theatre, "19:01", &code)
    );
}

fn drawn_up_the_evening_before() -> (String, String) {
    let old = |form: &str, from: &str| changed(form, &[(from, "drawn_up_at: 2026-03-13T19:00:00+00:00")]);
    let first = old(&first(), "drawn_up_at: 2026-03-14T07:35:00+00:00");
    (first, old(&second(), "drawn_up_at: 2026-03-14T08:35:00+01:00"))
}

/// A formulary that stops the weight of this patient.
fn stricter() -> House {
    House::new().everywhere("areas.yaml", "soft: {from: 40 kg, to: 150 kg,", "soft: {from: 40 kg, to: 70 kg,").change(
        "areas.yaml",
        "hard: {from: 30 kg, to: 250 kg,",
        "hard: {from: 30 kg, to: 80 kg,",
    )
}

// hazard: H-LIMITS
#[test]
fn what_a_newer_formulary_would_stop_is_not_started_and_what_runs_keeps_its_own() {
    let theatre = Theatre::new("newer-formulary");
    let code = theatre.agreed();
    let (house, set_up) = (stricter(), format!("{code}/1"));
    let card = theatre.says("08:00", &[], &["case", "card", &code]);
    assert_eq!(card.code, 0, "{card:?}");
    let newer = Theatre { journal: theatre.journal.clone(), formulary: house.folder().display().to_string() };
    let said = newer.says("08:01", &[], &["case", "card", &code]);
    assert!(refused(&said, "new-formulary-stops").contains("--anew"), "{said:?}");
    assert!(owed(&newer, "08:01", &code).contains("the formulary of now stops it"), "{}", owed(&newer, "08:01", &code));
    // It runs: flagged, and its card is as it was, below what says that it runs.
    theatre.records("08:02", &set_up, &ReportedAction::Started(None, Default::default()));
    let proof =
        |card: &str| card.lines().skip_while(|line| !line.starts_with("Code,")).map(str::to_owned).collect::<Vec<_>>();
    let runs = newer.says("08:03", &[], &["case", "card", &code]).stdout;
    assert!(runs.contains("RUNNING NOW, AT THE RATE OF THIS CARD") && proof(&runs) == proof(&card.stdout), "{runs}");
    let flagged = owed(&newer, "08:03", &code);
    assert!(flagged.contains("it keeps its formulary; a newer one would stop it"), "{flagged}");
    assert!(!owed(&theatre, "08:03", &code).contains("new-formulary-stops"));
}

/// Another formulary is not to blame for a solution that its own formulary calls too old by now.
// hazard: H-ALARMS
#[test]
fn a_newer_formulary_is_not_blamed_for_what_time_has_done() {
    let theatre = Theatre::new("not-blamed");
    let code = theatre.case();
    let (form, other) = drawn_up_the_evening_before();
    theatre.agree(&code, &form, &other);
    theatre.records("08:02", &format!("{code}/1"), &ReportedAction::Started(None, Default::default()));
    let house = House::new().change("formulary.yaml", "version: demonstration 1", "version: demonstration 2");
    let newer = Theatre { journal: theatre.journal.clone(), formulary: house.folder().display().to_string() };
    let flagged = owed(&newer, "19:10", &code);
    assert!(flagged.contains("discard the solution at 2026-03-14 19:00"), "{flagged}");
    assert!(!flagged.contains("new-formulary-stops"), "{flagged}");
}
