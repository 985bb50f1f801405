//! What the bedside page asks of fingers: touches, letters of the system's keyboard, and answers, counted in the browser.
//! `cargo test --test browser counts -- --nocapture` prints the figures that `docs/measurements.md` keeps.
#![allow(clippy::print_stdout, reason = "the figures are read by whoever asks for them")]

use crate::browser::{Counts, Drivers, Person};
use crate::common::tools::{BROWSER, missing};
use crate::looked_at::looked_at;
use crate::served::Served;
use crate::shift::opens_a_case;
use crate::ward::{Browser, IDOWU, LONG, READ, TAMM, Ward, with};

/// A phone in one hand.
const PHONE: (u32, u32) = (390, 844);

/// The work may not ask for more than this.
fn at_most(job: &str, found: Counts, most: Counts) {
    println!("{job}: {} touches, {} keys, {} answers", found.touches, found.keys, found.answers);
    let fits = found.touches <= most.touches && found.keys <= most.keys && found.answers <= most.answers;
    assert!(fits, "{job}: {found:?}, and it was {most:?} at most");
    assert!(found.touches > 0, "{job}: nothing was counted");
}

const fn counts(touches: u32, keys: u32, answers: u32) -> Counts {
    Counts { touches, keys, answers }
}

async fn on_a_phone(drivers: &Drivers, served: &Served) -> Person {
    let person = drivers.person(served.address, false).await;
    person.page.set_window_size(PHONE.0, PHONE.1).await.expect("a size");
    person
}

/// Each reading fits on the screen of a tablet.
async fn each_reading_fits(person: &Person) {
    for (path, answer) in &READ[..2] {
        person.answer(path, answer).await;
    }
    for path in ["dose", "patient.weight", "label.amount", "line"] {
        person.turn_to(&format!("[data-question=\"{path}\"]"), false).await;
        let script = "const shown = [...document.querySelectorAll('[data-screen]')].find((one) => !one.hidden); \
                      return [shown.dataset.screen, Math.ceil(shown.getBoundingClientRect().height), innerHeight]";
        let measured = person.page.execute(script, Vec::new()).await.expect("two heights");
        println!("reading, its height, the screen: {measured}");
        looked_at(person, &format!("entry-{}", measured[0].as_str().unwrap_or_default())).await;
        assert!(measured[1].as_u64() <= measured[2].as_u64(), "{measured}");
    }
}

// hazard: H-EMERGENCY
#[tokio::test(flavor = "multi_thread")]
async fn counts_of_an_emergency_on_a_phone() {
    if missing(&BROWSER) {
        return;
    }
    let ward = Ward::new("counts-emergency");
    let (served, drivers) = (Served::new(&ward), Drivers::start());
    let person = on_a_phone(&drivers, &served).await;
    person.go("/sign-in").await;
    person.counts();
    person.press("Emergency entry, without a PIN").await;
    person.touch("[name=\"area\"][value=\"adult theatre\"]").await;
    person.touch("[aria-label=\"Names with n\"]").await;
    person.touch("[name=\"drug\"][value=\"noradrenaline\"]").await;
    person.touch_keys("patient.weight", &["8", "0", "kg"]).await;
    person.touch_keys("dose", &["0", ".", "0", "5", "mcg", "/kg", "/min"]).await;
    person.touch("[name=\"strength\"][value=\"4 mg in 50 mL\"]").await;
    person.press("Make the emergency card").await;
    person.sees("NOT DOUBLE-CHECKED").await;
    person.sees("ASSUMED").await;
    person.sees("3 mL/h").await;
    at_most("an emergency on a phone", person.counts(), counts(16, 0, 5));
    looked_at(&person, "emergency-few-card").await;
    person.leave().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn counts_of_a_first_set_up_by_two_people_and_of_a_change_of_rate() {
    if missing(&BROWSER) {
        return;
    }
    let ward = Ward::new("counts-set-up");
    let (served, drivers) = (Served::new(&ward), Drivers::start());
    let first = drivers.person(served.address, false).await;
    first.sign_in(IDOWU).await;
    let case = opens_a_case(&first).await;
    first.counts();
    first.press("Enter a set-up").await;
    each_reading_fits(&first).await;
    first.go(&format!("{case}/enter")).await;
    first.counts();
    first.count_touch();
    first.enter_by_touch(READ).await;
    at_most("a first set-up, the first person", first.counts(), counts(64, 39, 23));
    let second = drivers.person(served.address, false).await;
    second.sign_in(TAMM).await;
    second.go(&case).await;
    second.counts();
    second.press("Do the second check").await;
    // A second person has not seen the ampoules.
    let ampoules = ["made_from.of", "made_from.how", "made_from.diluent"];
    let read = with(READ, &[("made_from.ampoules", "not seen")]);
    let read: Vec<_> = read.into_iter().filter(|(path, _)| !ampoules.contains(path)).collect();
    second.enter_by_touch(&read).await;
    at_most("a first set-up, the second person", second.counts(), counts(55, 28, 20));
    first.sees("agreed").await;
    first.go(&format!("{case}/1/record")).await;
    first.press("Start").await;
    first.sees("Left to infuse").await;
    first.go(&case).await;
    first.counts();
    first.press("Record").await;
    first.write("#rate-value", "6 mL/h").await;
    first.press("Change rate").await;
    first.sees("rate changed to 6 mL/h").await;
    at_most("a change of rate", first.counts(), counts(3, 6, 0));
    first.leave().await;
    second.leave().await;
}

// What is recorded was read first, and that costs one touch.
#[tokio::test(flavor = "multi_thread")]
async fn counts_of_a_step_of_the_ordered_range() {
    if missing(&BROWSER) {
        return;
    }
    let ward = Ward::new("counts-step");
    let case = {
        let router = ward.served(LONG);
        let (mut idowu, mut tamm) = (Browser::signed_in(&router, IDOWU).await, Browser::signed_in(&router, TAMM).await);
        let range = [
            ("titrate.from", "0.02 mcg/kg/min"),
            ("titrate.to", "0.3 mcg/kg/min"),
            ("titrate.step", "0.02 mcg/kg/min"),
        ];
        let (case, read) = (idowu.open_case().await, [READ, &range[..]].concat());
        idowu.seal(&format!("{case}/enter"), &read).await;
        tamm.seal(&format!("{case}/1/enter/second"), &read).await;
        let record = format!("{case}/1/record");
        let once = tamm.get(&record).await.once(&record);
        let started = tamm.post(&record, &[("once", &once), ("did", "start")]).await;
        assert_eq!(started.status.as_u16(), 303, "{}", started.text);
        case
    };
    let (served, drivers) = (Served::new(&ward), Drivers::start());
    let person = drivers.person(served.address, false).await;
    person.sign_in(IDOWU).await;
    person.go(&case).await;
    person.counts();
    person.press("Record").await;
    person.touch("button[value^=\"0.1 mcg/kg/min\"]").await;
    person.sees("Nothing is recorded yet").await;
    person.press("Record 6.3 mL/h").await;
    person.sees("for 0.1 mcg/kg/min").await;
    at_most("a change of rate by a step", person.counts(), counts(3, 0, 0));
    person.leave().await;
}
