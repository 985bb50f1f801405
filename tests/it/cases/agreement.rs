//! Two blind entries and what becomes of them: agreed, different, mended, a third person, reasons, a stop.

use std::sync::Barrier;
use std::thread;

use countersign::case::{Author, CaseCode, CaseError, Cases, ReviewStage, SubmittedForm, Turn};
use countersign::formulary::Formulary;
use countersign::journal::Journal;

use super::{IDOWU, OKORO, TAMM, Theatre, Who, changed, first, moment, refused, second};
use crate::common::house::House;

const DOSE: (&str, &str) = ("\ndose: 0.08 mcg/kg/min", "\ndose: 0.06 mcg/kg/min");
const OTHER_DOSE: (&str, &str) = ("\ndose: 0.08 mcg/kg/min", "\ndose: 0.1 mcg/kg/min");

fn stands(theatre: &Theatre, code: &str) -> String {
    let status = theatre.data("08:30", &[], &["case", "status", code]);
    status["set_ups"][0]["stands"].as_str().expect("text").to_owned()
}

// hazard: H-INDEPENDENCE
#[test]
fn two_who_read_the_same_agree_and_only_then_is_there_a_card() {
    let theatre = Theatre::new("agrees");
    let code = theatre.case();
    let said = theatre.enters("07:40", IDOWU, "enter", &code, &first());
    assert_eq!(said.code, 0, "{said:?}");
    refused(&theatre.says("07:41", &[], &["case", "card", &code]), "not-agreed");
    let said = theatre.enters("07:46", TAMM, "second", &code, &second());
    assert_eq!(said.code, 0, "{said:?}");
    let card = theatre.data("07:47", &[], &["case", "card", &code]);
    assert_eq!((&card["double_checked"], &card["version"]), (&true.into(), &1.into()), "{card}");
    refused(&theatre.enters("07:48", OKORO, "second", &code, &second()), "nothing-waits");
}

// hazard: H-INDEPENDENCE
#[test]
fn a_difference_names_the_field_and_is_mended_by_that_field_alone() {
    let theatre = Theatre::new("mended");
    let code = theatre.case();
    assert_eq!(theatre.enters("07:40", IDOWU, "enter", &code, &first()).code, 0);
    let said = theatre.enters("07:46", TAMM, "second", &code, &changed(&second(), &[DOSE]));
    assert_eq!(said.code, 5, "{said:?}");
    assert!(said.stdout.contains("the entries differ; both people read again, alone: dose."), "{said:?}");
    assert!(!said.stdout.contains("0.08") && !said.stdout.contains("0.06"), "{said:?}");
    refused(&theatre.enters("07:47", OKORO, "second", &code, &second()), "not-your-turn");
    // Only the dose is asked, then whether to seal: three lines with the PIN.
    let set_up = format!("{code}/1");
    let said =
        theatre.says("07:50", &[TAMM.1, "0.08 mcg/kg/min", "seal"], &["case", "second", &set_up, "--as", TAMM.0]);
    assert_eq!(said.code, 0, "{said:?}");
    assert!(said.stderr.contains("To be read again, from the order, the label and the line: dose"), "{said:?}");
    assert!(said.stdout.contains("the first person reads again, alone: dose"), "{said:?}");
    refused(&theatre.says("07:50", &[TAMM.1], &["case", "second", &set_up, "--as", TAMM.0]), "not-your-turn");
    let said =
        theatre.says("07:51", &[IDOWU.1, "0.08 mcg/kg/min", "seal"], &["case", "enter", &set_up, "--as", IDOWU.0]);
    assert_eq!(said.code, 0, "{said:?}");
    assert!(said.stdout.contains("Now: agreed."), "{said:?}");
    assert_eq!(theatre.says("07:52", &[], &["case", "card", &code]).code, 0);
}

fn differs_twice(theatre: &Theatre) -> String {
    let code = theatre.case();
    assert_eq!(theatre.enters("07:40", IDOWU, "enter", &code, &first()).code, 0);
    for _ in 0..2 {
        let said = theatre.enters("07:46", TAMM, "second", &code, &changed(&second(), &[DOSE]));
        assert_eq!(said.code, 5, "{said:?}");
        if said.stdout.contains("differ twice") {
            break;
        }
        let said = theatre.enters("07:47", IDOWU, "enter", &format!("{code}/1"), &first());
        assert_eq!(said.code, 0, "{said:?}");
    }
    assert!(
        stands(theatre, &code).starts_with("the entries differ twice; a third person goes back to the order: dose")
    );
    code
}

// hazard: H-INDEPENDENCE
#[test]
fn after_two_disagreements_a_third_person_decides_for_the_first_or_the_second() {
    let theatre = Theatre::new("third");
    for (form, dose, with) in [
        (second(), "0.08 mcg/kg/min", "A. Idowu, anaesthetist"),
        (changed(&second(), &[DOSE]), "0.06 mcg/kg/min", "M. Tamm, nurse anaesthetist"),
    ] {
        let code = differs_twice(&theatre);
        for who in [IDOWU, TAMM] {
            refused(&theatre.enters("08:00", who, "second", &code, &form), "same-person");
        }
        let said = theatre.enters("08:00", OKORO, "second", &code, &form);
        assert_eq!(said.code, 0, "{said:?}");
        let card = theatre.says("08:01", &[], &["case", "card", &code]).stdout;
        assert!(card.contains(&format!("Dose            {dose}")), "{card}");
        assert!(card.contains(with) && card.contains("B. Okoro, physician"), "{card}");
        assert!(card.contains("each signed under their own PIN"), "{card}");
    }
}

#[test]
fn where_three_read_three_things_there_is_no_card() {
    let theatre = Theatre::new("none-of-three");
    let code = differs_twice(&theatre);
    let said = theatre.enters("08:00", OKORO, "second", &code, &changed(&second(), &[OTHER_DOSE]));
    assert_eq!(said.code, 5, "{said:?}");
    assert!(said.stdout.contains("three people read it, and no two agree: dose"), "{said:?}");
    refused(&theatre.says("08:01", &[], &["case", "card", &code]), "not-agreed");
    // From the start, by anybody: another reading of the same set-up.
    let set_up = format!("{code}/1");
    assert_eq!(theatre.enters("08:10", OKORO, "enter", &set_up, &first()).code, 0);
    assert_eq!(theatre.enters("08:11", IDOWU, "second", &set_up, &second()).code, 0);
    assert_eq!(theatre.says("08:12", &[], &["case", "card", &code]).code, 0);
}

/// Beyond the soft limit of 0.5: each writes a reason of their own.
#[test]
fn missing_reasons_are_asked_of_each_person_and_both_stand_on_the_card() {
    let theatre = Theatre::new("reasons");
    let high = |form: &str| {
        changed(
            form,
            &[("\ndose: 0.08 mcg/kg/min", "\ndose: 0.6 mcg/kg/min"), ("to: 0.3 mcg/kg/min", "to: 0.7 mcg/kg/min")],
        )
    };
    let code = theatre.case();
    let said = theatre.enters("07:40", IDOWU, "enter", &code, &high(&first()));
    assert_eq!(said.code, 0, "{said:?}");
    assert!(said.stdout.contains("[dose-above-soft-limit]"), "{said:?}");
    let said = theatre.enters("07:46", TAMM, "second", &code, &high(&second()));
    assert_eq!(said.code, 3, "{said:?}");
    assert!(
        said.stdout.replace('\n', " ").contains("reasons are missing; both people write theirs, alone"),
        "{said:?}"
    );
    let set_up = format!("{code}/1");
    let words = ["case", "enter", &set_up, "--as", IDOWU.0];
    // Twice: the dose and the upper end of the ordered range.
    let said = theatre.says("07:50", &[IDOWU.1, "septic shock, noradrenaline rising", "septic shock", "seal"], &words);
    assert_eq!(said.code, 0, "{said:?}");
    assert!(said.stdout.replace('\n', " ").contains("the second person writes theirs, alone"), "{said:?}");
    // What was found is said once.
    assert_eq!(said.stderr.matches("[dose-above-soft-limit]").count(), 1, "{said:?}");
    let words = ["case", "second", &set_up, "--as", TAMM.0];
    // A dot is no reason, and nothing is written for it.
    let before = theatre.events();
    assert!(theatre.says("07:51", &[TAMM.1, "."], &words).is_refused().contains("[reason-empty]"));
    assert_eq!(theatre.events(), before);
    let typed = [TAMM.1, "confirmed with B. Okoro", "confirmed with B. Okoro", "seal"];
    let said = theatre.says("07:52", &typed, &words);
    assert_eq!(said.code, 0, "{said:?}");
    let card = theatre.says("07:53", &[], &["case", "card", &code]).stdout;
    assert!(card.contains("reason of A. Idowu: septic shock, noradrenaline rising"), "{card}");
    assert!(card.contains("reason of M. Tamm: confirmed with B. Okoro"), "{card}");
}

#[test]
fn what_both_read_and_the_limits_stop_has_no_card() {
    let theatre = Theatre::new("stopped");
    let ten = |form: &str| {
        changed(
            form,
            &[("\ndose: 0.08 mcg/kg/min", "\ndose: 8 mcg/kg/min"), ("to: 0.3 mcg/kg/min", "to: 9 mcg/kg/min")],
        )
    };
    let code = theatre.case();
    let said = theatre.enters("07:40", IDOWU, "enter", &code, &ten(&first()));
    assert!(said.stdout.contains("THIS ENTRY STOPS: there will be no card from it"), "{said:?}");
    let said = theatre.enters("07:46", TAMM, "second", &code, &ten(&second()));
    assert_eq!(said.code, 4, "{said:?}");
    assert!(said.stdout.contains("[dose-above-hard-limit]") && !said.stdout.contains("mL/h"), "{said:?}");
    refused(&theatre.says("07:47", &[], &["case", "card", &code]), "not-agreed");
}

// hazard: H-INDEPENDENCE
#[test]
fn nobody_is_their_own_second() {
    let theatre = Theatre::new("same-person");
    let code = theatre.case();
    assert_eq!(theatre.enters("07:40", IDOWU, "enter", &code, &first()).code, 0);
    for name in ["A. Idowu", "a idowu", "Dr. Idowu A"] {
        refused(&theatre.enters("07:46", Who(name, IDOWU.1), "second", &code, &second()), "same-person");
    }
    // A form that names somebody else does not make them the one who signs.
    let named = format!("entered_by: {{name: B. Okoro, role: physician}}\n{}", second());
    refused(&theatre.enters("07:46", TAMM, "second", &code, &named), "entered-by-another");
}

/// Two send the second entry in the same instant: one is taken, the other is told, and nothing is written for them.
// hazard: H-INDEPENDENCE
#[test]
fn of_two_second_entries_in_the_same_instant_one_is_taken() {
    const REPEATS: usize = 25;
    let theatre = Theatre::new("same-instant");
    let formulary = Formulary::demonstration().expect("it has no fault");
    let people = [IDOWU, TAMM, OKORO].map(|who| theatre.unlocked("07:30", who));
    let now = moment("07:46");
    let form = |text: String| SubmittedForm { name: "the form".to_owned(), text, json: false, dose_again: None };
    for _ in 0..REPEATS {
        let mut cases = theatre.cases();
        let code = cases.open(moment("07:30"), Some(&people[0].1)).expect("room");
        let author = Author::Signed(&people[0].0, &people[0].1);
        let task = cases.task((code, None), Turn::First { anew: false }, &author, now).expect("their turn");
        cases.seal(&task, &form(first()), &author, &formulary, now).expect("it is taken");
        let before = theatre.events();
        let barrier = Barrier::new(2);
        let sends = |at: usize| {
            let (person, signer) = &people[at];
            let author = Author::Signed(person, signer);
            let mut cases = Cases::of(Journal::open(&theatre.journal).expect("it was made"));
            let task = cases.task((code, None), Turn::Second, &author, now).expect("nobody was second yet");
            barrier.wait();
            cases.seal(&task, &form(second()), &author, &formulary, now)
        };
        let (tamm, okoro) = thread::scope(|scope| {
            let (tamm, okoro) = (scope.spawn(|| sends(1)), scope.spawn(|| sends(2)));
            (tamm.join().expect("no panic"), okoro.join().expect("no panic"))
        });
        let told = match (tamm, okoro) {
            (Ok(_), Err(told)) | (Err(told), Ok(_)) => told,
            both => panic!("one of the two: {both:?}"),
        };
        assert!(matches!(&told, CaseError::Refused(refusal) if refusal.code == "somebody-was-first"), "{told:?}");
        // The entry that was taken, and what followed from it.
        assert_eq!(theatre.events(), before + 2);
        assert!(is_agreed(&cases, code));
    }
}

/// Two begin the same new set-up: the slower one is told, and their entry does not become another set-up in silence.
#[test]
fn of_two_first_entries_the_slower_is_told() {
    let theatre = Theatre::new("two-firsts");
    let formulary = Formulary::demonstration().expect("it has no fault");
    let people = [IDOWU, TAMM].map(|who| theatre.unlocked("07:30", who));
    let mut cases = theatre.cases();
    let code = cases.open(moment("07:30"), Some(&people[0].1)).expect("room");
    let now = moment("07:40");
    let form = SubmittedForm { name: "the form".to_owned(), text: first(), json: false, dose_again: None };
    let tasks = people.each_ref().map(|(person, signer)| {
        let author = Author::Signed(person, signer);
        cases.task((code, None), Turn::First { anew: false }, &author, now).expect("nobody was first yet")
    });
    let mut send = |at: usize| {
        let author = Author::Signed(&people[at].0, &people[at].1);
        cases.seal(&tasks[at], &form, &author, &formulary, now)
    };
    assert!(send(0).is_ok());
    let told = send(1).expect_err("somebody was first");
    assert!(matches!(&told, CaseError::Refused(refusal) if refusal.code == "somebody-was-first"), "{told:?}");
}

/// The same through two processes.
#[test]
fn of_two_second_entries_of_two_processes_one_is_taken() {
    let theatre = Theatre::new("two-processes");
    let file = theatre.file("second.yaml", &second());
    for _ in 0..3 {
        let code = theatre.case();
        assert_eq!(theatre.enters("07:40", IDOWU, "enter", &code, &first()).code, 0);
        let sends =
            |who: Who| theatre.says("07:46", &[who.1], &["case", "second", &code, "--as", who.0, "--from", &file]);
        let mut codes = thread::scope(|scope| {
            let both = [scope.spawn(|| sends(TAMM)), scope.spawn(|| sends(OKORO))];
            both.map(|one| one.join().expect("no panic").code)
        });
        codes.sort_unstable();
        assert_eq!(codes, [0, 2]);
        assert_eq!(stands(&theatre, &code), "noradrenaline 80 mcg/mL: agreed, not started");
    }
    theatre.is_whole();
}

fn is_agreed(cases: &Cases, code: CaseCode) -> bool {
    let case = cases.case(code).expect("it was opened");
    let reading = case.set_up(1).expect("it was entered").latest().expect("one");
    matches!(case.standing(reading).stage, ReviewStage::Agreed(_))
}

// hazard: H-LIMITS
#[test]
fn both_entries_are_held_against_the_same_formulary() {
    let mut theatre = Theatre::new("one-formulary");
    let code = theatre.case();
    assert_eq!(theatre.enters("07:40", IDOWU, "enter", &code, &first()).code, 0);
    let house = House::new().change("formulary.yaml", "version: demonstration 1", "version: demonstration 2");
    theatre = theatre.with_formulary(house.folder());
    let said = theatre.enters("07:46", TAMM, "second", &code, &second());
    assert!(refused(&said, "formulary-changed").contains("--anew"), "{said:?}");
    // Under the new one from the start.
    let set_up = format!("{code}/1");
    let said = theatre.enters_with("07:50", IDOWU, &["case", "enter", &set_up, "--anew"], &first());
    assert_eq!(said.code, 0, "{said:?}");
    let said = theatre.enters("07:51", TAMM, "second", &set_up, &second());
    assert_eq!(said.code, 0, "{said:?}");
    let card = theatre.says("07:52", &[], &["case", "card", &code]).stdout;
    assert!(card.contains("demonstration 2"), "{card}");
}

#[test]
fn an_entry_under_way_is_not_left_by_mistake() {
    let theatre = Theatre::new("under-way");
    let code = theatre.case();
    let set_up = format!("{code}/1");
    assert_eq!(theatre.enters("07:40", IDOWU, "enter", &code, &first()).code, 0);
    let said = theatre.enters("07:41", OKORO, "enter", &set_up, &first());
    assert!(refused(&said, "entry-under-way").contains("--anew"), "{said:?}");
    assert_eq!(theatre.enters("07:46", TAMM, "second", &code, &second()).code, 0);
    refused(&theatre.enters("07:47", IDOWU, "enter", &set_up, &first()), "entry-under-way");
}

/// An entry that claims to be made later would not expire when it should.
#[test]
fn a_form_from_the_future_is_refused() {
    let theatre = Theatre::new("future");
    let code = theatre.case();
    let before = theatre.events();
    let form = format!("entered_at: 2026-03-15T07:40:00+00:00\n{}", first());
    refused(&theatre.enters("07:40", IDOWU, "enter", &code, &form), "entered-after-now");
    assert_eq!(theatre.events(), before);
}

#[test]
fn every_fault_of_a_form_is_told_and_nothing_of_the_patient_repeated() {
    let theatre = Theatre::new("faults");
    let code = theatre.case();
    let before = theatre.events();
    let form = changed(
        &first(),
        &[
            ("\ndose: 0.08 mcg/kg/min", "\ndose: .08 mcg/kg/min"),
            ("weight: 84.2 kg", "weight: 185 lb"),
            ("fill: 50 mL", "fill: 50 cc"),
        ],
    );
    let said = theatre.enters("07:40", IDOWU, "enter", &code, &form);
    for code in ["number-leading-point", "weight-in-pounds", "cc"] {
        assert!(said.is_refused().contains(code), "{said:?}");
    }
    assert!(!said.stderr.contains("185") && !said.stderr.contains("30417"), "{said:?}");
    assert_eq!(theatre.events(), before);
}

// hazard: H-PATIENT
#[test]
fn a_misread_code_is_told_and_opens_nothing_else() {
    let theatre = Theatre::new("misread");
    let code = theatre.case();
    let swapped: String = {
        let mut letters: Vec<char> = code.chars().collect();
        let at = [0, 1, 4, 5].into_iter().find(|at| letters[*at] != letters[at + 1]).expect("not all six are alike");
        letters.swap(at, at + 1);
        letters.into_iter().collect()
    };
    let said = theatre.says("07:40", &[], &["case", "status", &swapped]);
    assert!(refused(&said, "code-misread").contains("letter by letter"), "{said:?}");
    refused(&theatre.says("07:40", &[], &["case", "status", "K7M"]), "code-not-a-code");
    refused(&theatre.says("07:40", &[], &["case", "card", &format!("{code}/0")]), "code-not-a-code");
    refused(&theatre.says("07:40", &[], &["case", "card", &format!("{code}/1")]), "set-up-unknown");
    // As it is said aloud.
    let heard = code.to_lowercase().replace('-', " ");
    assert_eq!(theatre.says("07:40", &[], &["case", "status", &heard]).code, 0);
}
