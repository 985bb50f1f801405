//! What the bedside page asks of fingers: touches, letters of the system's keyboard, and answers, counted in the browser.
//! `cargo test --test browser counts -- --nocapture` prints the figures that `docs/measurements.md` keeps.

use crate::browser::{Counts, Drivers, NOT_ASKED, Person};
use crate::common::tools::{BROWSER, missing};
use crate::served::Served;
use crate::shift::opens_a_case;
use crate::ward::{IDOWU, READ, TAMM, Ward, with};

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
    person.write("#by", "A. Idowu").await;
    person.touch("[name=\"role\"][value=\"anaesthetist\"]").await;
    let known =
        with(READ, &[("patient.weight", "80 kg"), ("dose", "0.05 mcg/kg/min"), ("made_from.ampoules", "not seen")]);
    let left_out = ["patient.born", "patient.identifiers[1]", "made_from.of", "made_from.how", "made_from.diluent"];
    let mut asked = std::collections::BTreeSet::new();
    for _ in 0..4 {
        for (path, answer) in known.iter().filter(|(path, _)| !NOT_ASKED.contains(path) && !left_out.contains(path)) {
            let answer = if *path == "patient.identifiers[0]" { "pending" } else { answer };
            let there = format!("[data-question=\"{path}\"]");
            if !asked.contains(path) && person.page.find(fantoccini::Locator::Css(&there)).await.is_ok() {
                person.answer(path, answer).await;
                asked.insert(*path);
            }
        }
        person.press("Check what I have typed").await;
        person.sees("Emergency entry").await;
    }
    person.press("Make the emergency card").await;
    person.sees("NOT DOUBLE-CHECKED").await;
    person.sees("3 mL/h").await;
    at_most("an emergency on a phone", person.counts(), counts(26, 84, 18));
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
    first.enter(READ).await;
    at_most("a first set-up, the first person", first.counts(), counts(25, 115, 23));
    let second = drivers.person(served.address, false).await;
    second.sign_in(TAMM).await;
    second.go(&case).await;
    second.counts();
    second.press("Do the second check").await;
    second.enter(READ).await;
    at_most("a first set-up, the second person", second.counts(), counts(25, 115, 23));
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
