//! What was decided is kept and read: looking writes nothing, and what runs goes on whatever has become of its formulary.

use countersign::journal::Of;
use rusqlite::Connection;

use super::{IDOWU, OKORO, TAMM, Theatre, changed, first, second};

fn kinds(theatre: &Theatre) -> Vec<String> {
    let cases = theatre.cases();
    let events = cases.journal().events(Of::All).expect("whole");
    events.iter().map(|event| event.kind().to_owned()).collect()
}

fn code_on(card: &str) -> String {
    let line = card.lines().find(|line| line.starts_with("Case  ")).expect("the card names its case");
    line.split_whitespace().last().expect("a code").to_owned()
}

fn good(theatre: &Theatre, clock: &str, typed: &[&str], words: &[&str]) -> String {
    let said = theatre.says(clock, typed, words);
    assert_eq!(said.code, 0, "{words:?}: {said:?}");
    said.stdout
}

// hazard: H-RECORD
#[test]
fn looking_at_a_card_writes_nothing() {
    let theatre = Theatre::new("card-looked-at");
    let code = theatre.agreed();
    let before = kinds(&theatre);
    assert_eq!(before.iter().filter(|kind| *kind == "decision").count(), 1, "{before:?}");
    for format in ["text", "html", "svg", "json"] {
        good(&theatre, "07:50", &[], &["case", "card", &code, "--format", format]);
    }
    assert_eq!(kinds(&theatre), before);
}

/// The bytes of every formulary that was kept are damaged: nothing that runs needs them.
// hazard: H-RECORD
#[test]
fn what_runs_needs_no_formulary() {
    let theatre = Theatre::new("without-a-formulary");
    let code = theatre.agreed();
    let set_up = format!("{code}/1");
    let card = good(&theatre, "07:50", &[], &["case", "card", &code]);
    good(&theatre, "08:00", &[IDOWU.1], &["record", "start", &set_up, "--as", IDOWU.0]);
    let database = Connection::open(theatre.journal.join("journal.db")).expect("SQLite");
    let damage = "DROP TRIGGER event_is_not_changed; UPDATE event SET bytes = x'7b7d' WHERE kind = 'formulary-kept'";
    database.execute_batch(damage).expect("SQLite");
    drop(database);

    let list = good(&theatre, "08:10", &[], &["case", "list"]);
    assert!(list.contains("running since 2026-03-14 08:00") && list.contains("noradrenaline, 80 mcg/mL"), "{list}");
    assert!(good(&theatre, "08:10", &[], &["record", "show", &set_up]).contains("0.08076 mcg/kg/min"));
    let running = good(&theatre, "08:10", &[], &["case", "card", &code]);
    let proved =
        |card: &str| card.lines().skip_while(|line| !line.starts_with("CODE,")).map(str::to_owned).collect::<Vec<_>>();
    assert_eq!(proved(&running), proved(&card), "the same code proves the same card");
    let shown = ["5.1 mL/h", "0 mL"];
    good(&theatre, "08:11", &[IDOWU.1, shown[0], shown[1], ""], &["case", "readback", &set_up, "--as", IDOWU.0]);
    for (clock, words) in [
        ("08:12", vec!["record", "rate", &set_up, "6 mL/h"]),
        ("08:13", vec!["record", "pause", &set_up]),
        ("08:14", vec!["record", "resume", &set_up]),
        ("08:15", vec!["record", "bolus", &set_up, "1 mL", "--even-so", "--reason", "pressure fell"]),
        ("08:16", vec!["record", "stop", &set_up]),
        (
            "08:17",
            vec![
                "record",
                "close",
                &set_up,
                "--left",
                "46 mL",
                "--in-line",
                "0.9 mL",
                "--discarded",
                "0 mL",
                "--reason",
                "as found",
            ],
        ),
    ] {
        good(&theatre, clock, &[IDOWU.1], &[&words[..], &["--as", IDOWU.0]].concat());
    }
    // A mark of a limit is found in what was decided.
    let list = good(&theatre, "08:20", &[], &["case", "list", "--all"]);
    assert!(list.contains("closed"), "{list}");
}

/// Somebody starts what two people have not agreed on: it is recorded by their own words, and stays what it is.
// hazard: H-INDEPENDENCE
#[test]
fn what_was_started_before_an_agreement_is_never_double_checked() {
    let theatre = Theatre::new("started-before");
    let code = theatre.case();
    let set_up = format!("{code}/1");
    assert_eq!(theatre.enters("07:40", IDOWU, "enter", &code, &first()).code, 0);
    let start = ["record", "start", &set_up, "--as", OKORO.0, "--rate", "5 mL/h"];
    let said = ["--drug", "noradrenaline", "--strength", "80 mcg/mL"];
    let refused = theatre.says("07:42", &[OKORO.1], &[&start[..], &said].concat());
    assert_eq!(refused.code, 2, "{refused:?}");
    let help = &["--even-so", "--reason", "pressure fell"];
    good(&theatre, "07:42", &[OKORO.1], &[&start[..], &said, help].concat());
    let list = good(&theatre, "07:43", &[], &["case", "list"]);
    for says in ["noradrenaline", "80 mcg/mL", "NOT DOUBLE-CHECKED", "5 mL/h"] {
        assert!(list.contains(says), "{says}: {list}");
    }
    let sealed = theatre.enters("07:46", TAMM, "second", &code, &second());
    assert!(sealed.stdout.contains("started before two people agreed"), "{sealed:?}");
    let data = theatre.data("07:50", &[], &["case", "card", &code]);
    assert_eq!((&data["double_checked"], &data["checked_afterwards_by"]), (&false.into(), &TAMM.0.into()));
    let card = good(&theatre, "07:50", &[], &["case", "card", &code]).split_whitespace().collect::<Vec<_>>().join(" ");
    for says in [
        "NOT DOUBLE-CHECKED: STARTED BEFORE TWO PEOPLE AGREED, CHECKED AFTERWARDS BY M. Tamm, WHO COULD HAVE SEEN THE RATE",
        "RUNNING NOW, NOT AT THE RATE OF THIS CARD",
        "the later one could have seen the rate at which it was started",
    ] {
        assert!(card.contains(says), "{says}: {card}");
    }
}

/// A percentage is a strength, and keeps its words: the list, the card and the stop go on.
// hazard: H-RECORD
#[test]
fn a_strength_in_percent_that_was_read_at_the_start_locks_nothing() {
    let theatre = Theatre::new("said-percent");
    let code = theatre.case();
    let set_up = format!("{code}/1");
    assert_eq!(theatre.enters("07:40", IDOWU, "enter", &code, &first()).code, 0);
    let start = ["record", "start", &set_up, "--as", OKORO.0, "--rate", "5.1 mL/h", "--even-so", "--strength", "1 %"];
    good(&theatre, "07:42", &[OKORO.1], &start);
    assert_eq!(theatre.enters("07:46", TAMM, "second", &code, &second()).code, 5);
    for looks in [vec!["case", "list"], vec!["case", "card", &code]] {
        assert!(good(&theatre, "07:47", &[], &looks).contains("drug not said, 1 %"), "{looks:?}");
    }
    good(&theatre, "07:48", &[OKORO.1], &["record", "stop", &set_up, "--as", OKORO.0]);
}

/// While the entries of an emergency differ, what runs still has its card, which says so.
// hazard: H-EMERGENCY
#[test]
fn a_running_emergency_whose_entries_differ_keeps_its_card_and_says_so() {
    let theatre = Theatre::new("emergency-runs-and-differs");
    let form = theatre.file("emergency.yaml", &first());
    let made = theatre.says("07:40", &[], &["case", "emergency", "--by", "A. Idowu", "--from", &form]);
    assert_eq!(made.code, 0, "{made:?}");
    let code = code_on(&made.stdout);
    good(&theatre, "07:41", &[IDOWU.1], &["record", "start", &code, "--as", IDOWU.0]);
    let differs =
        theatre.enters("07:50", TAMM, "second", &code, &changed(&second(), &[("\ndose: 0.08", "\ndose: 0.06")]));
    assert_eq!(differs.code, 5, "{differs:?}");
    let card = good(&theatre, "07:51", &[], &["case", "card", &code]);
    assert!(card.contains("THE ENTRIES DIFFER: dose."), "{card}");
    let list = good(&theatre, "07:51", &[], &["case", "list"]);
    assert!(list.contains("the entries differ") && list.contains("dose"), "{list}");
}

/// Two people find that an emergency runs at ten times the dose that is ordered: every answer says so first.
// hazard: H-EMERGENCY
#[test]
fn what_runs_at_another_rate_than_was_agreed_afterwards_stands_first() {
    let theatre = Theatre::new("runs-otherwise");
    let form = theatre.file("emergency.yaml", &changed(&first(), &[("\ndose: 0.08", "\ndose: 0.8")]));
    let words = ["case", "emergency", "--by", "A. Idowu", "--dose-again", "0.8 mcg/kg/min", "--from", &form];
    let made = theatre.says("07:40", &[], &words);
    assert_eq!(made.code, 0, "{made:?}");
    let code = code_on(&made.stdout);
    good(&theatre, "07:41", &[IDOWU.1], &["record", "start", &code, "--as", IDOWU.0]);
    assert_eq!(theatre.enters("07:50", TAMM, "second", &code, &second()).code, 5);
    let dose = [OKORO.1, "0.08 mcg/kg/min", "seal"];
    assert_eq!(theatre.enters("07:51", OKORO, "enter", &code, &first()).code, 0);
    let again = theatre.says("07:52", &[TAMM.1, dose[1], dose[2]], &["case", "second", &code, "--as", TAMM.0]);
    assert!(again.code == 5 && again.stdout.contains("RUNS AT 50.5 mL/h"), "{again:?}");
    let says = "AND TWO PEOPLE AGREED AFTERWARDS ON 5.1 mL/h";
    let words = |text: String| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let list = words(good(&theatre, "07:53", &[], &["case", "list"]));
    assert!(list.contains(says) && list.contains("RUNS AT 50.5 mL/h"), "{list}");
    let card = words(good(&theatre, "07:53", &[], &["case", "card", &code]));
    assert!(card.contains(says) && card.contains("times"), "{card}");
    let rate = ["record", "rate", &code, "5.1 mL/h", "--as", IDOWU.0];
    let said = theatre.says("07:54", &[IDOWU.1], &[&rate[..], &["--even-so", "--reason", "a slip of a zero"]].concat());
    assert_eq!(said.code, 0, "{said:?}");
    let list = words(good(&theatre, "07:55", &[], &["case", "list"]));
    assert!(!list.contains(says), "{list}");
}

/// Every decision is worked out once more, and comes to the same.
#[test]
fn every_decision_comes_to_the_same_again() {
    let theatre = Theatre::new("decisions-again");
    let code = theatre.agreed();
    theatre.enters("07:50", IDOWU, "enter", &format!("{code}/1"), &first());
    let verify = ["journal", "verify", "--decisions", "--format", "json", "--journal"];
    let audited = crate::common::run(verify).arg(&theatre.journal).said().json();
    assert_eq!(audited["decisions"], serde_json::json!({"same": 1, "differ": [], "not_recomputed": []}), "{audited}");
}

/// What the person who started it read on the syringe is not what two people agree on afterwards: that stands first until
/// somebody gives the reason, and the record keeps the words.
// hazard: H-INDEPENDENCE
#[test]
fn what_was_read_at_the_start_is_not_dropped_when_two_people_agree_on_something_else() {
    let theatre = Theatre::new("said-otherwise");
    let code = theatre.case();
    let set_up = format!("{code}/1");
    assert_eq!(theatre.enters("07:40", IDOWU, "enter", &code, &first()).code, 0);
    let start = ["record", "start", &set_up, "--as", OKORO.0, "--rate", "5.1 mL/h", "--even-so"];
    let said = ["--drug", "norepinephrine", "--strength", "0.16 mg/mL"];
    good(&theatre, "07:42", &[OKORO.1], &[&start[..], &said].concat());
    let waits = good(&theatre, "07:43", &[], &["case", "list"]);
    assert!(waits.contains("a second person enters it"), "{waits}");
    let sealed = theatre.enters("07:46", TAMM, "second", &code, &second());
    assert_eq!(sealed.code, 5, "{sealed:?}");
    let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let says = "RECORDED WHEN IT WAS PUT IN: norepinephrine, 0.16 mg/mL; TWO PEOPLE AGREED AFTERWARDS ON noradrenaline, 80 mcg/mL";
    assert!(words(&sealed.stdout).contains(says), "{sealed:?}");
    for looks in [vec!["case", "list"], vec!["case", "card", &code]] {
        assert!(words(&good(&theatre, "07:47", &[], &looks)).contains(says), "{looks:?}");
    }
    let shown = good(&theatre, "07:47", &[], &["record", "show", &set_up]);
    assert!(words(&shown).contains("in the syringe, as read then: norepinephrine, 0.16 mg/mL"), "{shown}");
    let event = shown.lines().find_map(|line| line.split_once("  2026-03-14 07:42")).expect("the start").0.trim();
    let reason = ["record", "reason", &set_up, "--event", event, "--reason", "misread", "--as", OKORO.0];
    good(&theatre, "07:48", &[OKORO.1], &reason);
    assert!(!words(&good(&theatre, "07:49", &[], &["case", "list"])).contains(says));
}

/// Once it runs, the card's own times are those of the record: nothing is told that another rate before has made untrue.
// hazard: H-CHANGED
#[test]
fn a_card_that_runs_at_its_own_rate_again_tells_the_times_of_the_record() {
    let theatre = Theatre::new("card-runs-again");
    let code = theatre.agreed();
    let set_up = format!("{code}/1");
    good(&theatre, "07:50", &[IDOWU.1], &["record", "start", &set_up, "--as", IDOWU.0]);
    for (clock, rate) in [("08:00", "18 mL/h"), ("10:00", "5.1 mL/h")] {
        good(&theatre, clock, &[IDOWU.1], &["record", "rate", &set_up, rate, "--as", IDOWU.0]);
    }
    // 49 mL less 10 min at 5.1, 2 h at 18 and 5 min at 5.1 mL/h: 11.725 mL, which last until 12:22.
    let card = good(&theatre, "10:05", &[], &["case", "card", &code]);
    let card = card.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(card.contains("RUNNING NOW, AT THE RATE OF THIS CARD"), "{card}");
    assert!(card.contains("Left to infuse 11.725 mL at 2026-03-14 10:05 +00:00; empty at 2026-03-14 12:22"), "{card}");
    for stale in ["Expected run time", "Change this syringe by", "17:36", "49 mL"] {
        assert!(!card.contains(stale), "{stale}: {card}");
    }
}

/// A bolus was recorded as a mass, and two people agree afterwards that the syringe counts units: the record goes on.
// hazard: H-RECORD
#[test]
fn a_bolus_that_cannot_be_counted_any_more_locks_nothing() {
    let theatre = Theatre::new("bolus-of-another-kind");
    let form = theatre.file("emergency.yaml", &first());
    let made = theatre.says("07:40", &[], &["case", "emergency", "--by", "A. Idowu", "--from", &form]);
    let code = code_on(&made.stdout);
    good(&theatre, "07:41", &[IDOWU.1], &["record", "start", &code, "--as", IDOWU.0]);
    let bolus = ["record", "bolus", &code, "40 mcg", "--even-so", "--as", IDOWU.0];
    good(&theatre, "07:42", &[IDOWU.1], &bolus);
    let insulin = super::by_rate();
    assert_eq!(theatre.enters("07:50", TAMM, "second", &code, &insulin).code, 5);
    assert_eq!(theatre.enters("07:51", OKORO, "enter", &code, &insulin).code, 0);
    let agreed = theatre.enters("07:52", TAMM, "second", &code, &insulin);
    assert!(agreed.stdout.contains("checked afterwards"), "{agreed:?}");
    let list = good(&theatre, "07:53", &[], &["case", "list"]);
    assert!(!list.contains("CANNOT BE READ") && list.contains("insulin"), "{list}");
    assert!(list.contains("correct it to the volume"), "{list}");
    good(&theatre, "07:53", &[], &["record", "show", &code]);
    for (clock, words) in [("07:54", vec!["record", "pause", &code]), ("07:55", vec!["record", "stop", &code])] {
        good(&theatre, clock, &[IDOWU.1], &[&words[..], &["--as", IDOWU.0]].concat());
    }
}

/// Its rate stood in the record, whether or not it is taken back afterwards.
// hazard: H-INDEPENDENCE
#[test]
fn a_start_that_is_taken_back_could_be_read_all_the_same() {
    let theatre = Theatre::new("start-taken-back");
    let code = theatre.case();
    let set_up = format!("{code}/1");
    assert_eq!(theatre.enters("07:40", IDOWU, "enter", &code, &first()).code, 0);
    let start = ["record", "start", &set_up, "--rate", "5.1 mL/h", "--even-so", "--as", IDOWU.0];
    good(&theatre, "07:42", &[IDOWU.1], &start);
    let shown = good(&theatre, "07:43", &[], &["record", "show", &set_up]);
    let event = shown.lines().find_map(|line| line.split_once("  2026-03-14 07:42")).expect("the start").0.trim();
    let back = ["record", "correct", &set_up, "--event", event, "--not", "--reason", "other patient", "--as", IDOWU.0];
    good(&theatre, "07:44", &[IDOWU.1], &back);
    theatre.enters("07:46", TAMM, "second", &code, &second());
    assert_eq!(theatre.data("07:47", &[], &["case", "card", &code])["double_checked"], false);
}

/// The weight is another one while it runs: no dose, no bolus and no table of the card's own weight is left on it.
// hazard: H-CHANGED
#[test]
fn a_running_card_of_another_weight_tells_no_dose_of_its_own() {
    let theatre = Theatre::new("card-of-another-weight");
    let code = theatre.agreed();
    good(&theatre, "08:00", &[IDOWU.1], &["record", "start", &format!("{code}/1"), "--as", IDOWU.0]);
    for who in [IDOWU, TAMM] {
        good(&theatre, "08:05", &[who.1, "48.2 kg", "measured", "seal"], &["case", "weight", &code, "--as", who.0]);
    }
    let card = good(&theatre, "08:06", &[], &["case", "card", &code]);
    let card = card.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(card.contains("THE WEIGHT IS 48.2 kg NOW, AND THIS CARD COUNTED BY 84.2 kg"), "{card}");
    for stale in ["Dose given", "18.9 mL/h", "0.08076"] {
        assert!(!card.contains(stale), "{stale}: {card}");
    }
}
