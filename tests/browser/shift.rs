//! What happens on a shift, by two people at two browsers.

use crate::browser::{Drivers, NOT_ASKED, Person};
use crate::common::tools::{BROWSER, missing};
use crate::looked_at::looked_at;
use crate::served::Served;
use crate::ward::{IDOWU, READ, TAMM, Ward, with};

/// Opens a case at the list; its path.
pub(crate) async fn opens_a_case(person: &Person) -> String {
    person.go("/").await;
    person.press("Open a case").await;
    person.sees("Enter a set-up").await;
    person.path().await
}

// hazard: H-INDEPENDENCE
#[tokio::test(flavor = "multi_thread")]
async fn two_people_agree_read_back_and_keep_the_record_to_its_close() {
    if missing(&BROWSER) {
        return;
    }
    let ward = Ward::new("browser-agree");
    let (served, drivers) = (Served::new(&ward), Drivers::start());
    let (idowu, tamm) = (drivers.person(served.address, false).await, drivers.person(served.address, true).await);
    idowu.go("/sign-in").await;
    looked_at(&idowu, "sign-in").await;
    idowu.sign_in(IDOWU).await;
    looked_at(&idowu, "no-cases").await;
    let case = opens_a_case(&idowu).await;
    idowu.press("Enter a set-up").await;
    looked_at(&idowu, "entry-empty").await;
    idowu.answer("dose", "0.08 mcg/kg/mim").await;
    idowu.sees("Look again").await;
    idowu.answer("dose", "").await;
    idowu.enter(READ).await;
    idowu.sees("a second person enters next").await;
    looked_at(&idowu, "case-waits").await;
    // The first person's page follows by itself what the second one does.
    tamm.sign_in(TAMM).await;
    tamm.sees("a second person enters next").await;
    looked_at(&tamm, "list-dark").await;
    tamm.go(&format!("{case}/1/enter/second")).await;
    tamm.enter(READ).await;
    idowu.sees("agreed").await;
    looked_at(&idowu, "case-agreed").await;
    tamm.go(&format!("{case}/1/card")).await;
    tamm.sees("5.1 mL/h").await;
    looked_at(&tamm, "card").await;

    let back = format!("{case}/1/readback");
    tamm.go(&back).await;
    looked_at(&tamm, "read-back").await;
    tamm.write("[name=\"shown.rate\"]", "51 mL/h").await;
    tamm.press("Read back").await;
    tamm.sees("THE DISPLAY DIFFERS").await;
    looked_at(&tamm, "read-back-differs-dark").await;
    tamm.write("[name=\"shown.rate\"]", "5.1 mL/h").await;
    tamm.press("Read back").await;
    tamm.sees("WHAT WAS COMPARED IS RIGHT").await;

    idowu.go(&format!("{case}/1/record")).await;
    idowu.press("Start").await;
    idowu.sees("Left to infuse").await;
    idowu.write("#rate-value", "6 mL/h").await;
    idowu.press("Change rate").await;
    idowu.sees("rate changed to 6 mL/h").await;
    // The one who takes over reads the driver without the record; the other one signs what differs.
    idowu.go(&case).await;
    idowu.sees("RUNNING").await;
    idowu.sees("All drivers together: 6 mL/h").await;
    looked_at(&idowu, "board").await;
    tamm.go(&format!("{case}/round")).await;
    looked_at(&tamm, "round-dark").await;
    for (field, typed) in [("drug", "noradrenaline"), ("strength", "80 mcg/mL"), ("rate", "7 mL/h")] {
        tamm.write(&format!("#{field}-1"), typed).await;
    }
    tamm.press("Sign the round").await;
    tamm.sees("runs at 7 mL/h; recorded 6 mL/h").await;
    looked_at(&tamm, "round-differs-dark").await;
    idowu.go(&format!("{case}/round")).await;
    idowu.press("Countersign the round").await;
    idowu.sees("Both have signed the round").await;
    idowu.go(&case).await;
    idowu.sees("its display is not as recorded").await;
    looked_at(&idowu, "board-differs").await;
    idowu.go(&format!("{case}/1/record")).await;
    idowu.write("#rate-value", "seven").await;
    idowu.press("Change rate").await;
    idowu.sees("Not done").await;
    looked_at(&idowu, "record").await;
    idowu.press("Pause").await;
    idowu.sees("paused").await;
    idowu.press("Stop").await;
    idowu.sees("Now: stopped").await;
    idowu.press("Account for what was drawn up").await;
    looked_at(&idowu, "close").await;
    for (field, volume) in [("in_line", "1 mL"), ("left", "0 mL"), ("discarded", "49 mL")] {
        idowu.write(&format!("[name=\"{field}\"]"), volume).await;
    }
    idowu.press("Close it").await;
    idowu.sees("Both sides are the same").await;
    looked_at(&idowu, "closed").await;
    for (path, name) in
        [("/", "list"), (case.as_str(), "case-closed"), ("/journal", "journal"), ("/formulary/lint", "lint")]
    {
        idowu.go(path).await;
        looked_at(&idowu, name).await;
    }
    idowu.go(&format!("{case}/weight")).await;
    looked_at(&idowu, "weight").await;
    idowu.go("/").await;
    idowu.press("Hand over the tablet").await;
    idowu.sees("Sign in").await;
    idowu.leave().await;
    tamm.leave().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn two_people_differ_and_read_it_again() {
    if missing(&BROWSER) {
        return;
    }
    let ward = Ward::new("browser-differ");
    let (served, drivers) = (Served::new(&ward), Drivers::start());
    let (idowu, tamm) = (drivers.person(served.address, false).await, drivers.person(served.address, true).await);
    idowu.sign_in(IDOWU).await;
    tamm.sign_in(TAMM).await;
    let case = opens_a_case(&idowu).await;
    idowu.press("Enter a set-up").await;
    idowu.enter(&with(READ, &[("dose", "0.09 mcg/kg/min")])).await;
    tamm.go(&format!("{case}/1/enter/second")).await;
    tamm.enter(READ).await;
    for (person, turn) in [(&idowu, "first"), (&tamm, "second")] {
        person.sees("the entries differ").await;
        assert!(!person.text().await.contains("0.09"), "fields are named, values are not");
        looked_at(person, &format!("case-differs-{turn}")).await;
        person.go(&format!("{case}/1/enter/{turn}")).await;
        person.sees("To be read again").await;
        looked_at(person, &format!("entry-again-{turn}")).await;
        person.enter(&[("dose", "0.08 mcg/kg/min")]).await;
    }
    tamm.sees("agreed").await;
    tamm.go(&format!("{case}/1/card")).await;
    tamm.sees("5.1 mL/h").await;
    idowu.leave().await;
    tamm.leave().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_emergency_is_entered_alone_and_its_second_check_is_owed() {
    if missing(&BROWSER) {
        return;
    }
    let ward = Ward::new("browser-emergency");
    let (served, drivers) = (Served::new(&ward), Drivers::start());
    let person = drivers.person(served.address, false).await;
    person.go("/sign-in").await;
    person.press("Emergency entry, without a PIN").await;
    looked_at(&person, "emergency").await;
    person.press("Another syringe: the whole form").await;
    looked_at(&person, "emergency-whole").await;
    person.write("#by", "A. Idowu").await;
    person
        .page
        .find(fantoccini::Locator::Css("[name=\"role\"][value=\"anaesthetist\"]"))
        .await
        .expect("a role")
        .click()
        .await
        .expect("a touch");
    // Without the script that judges each field, the questions follow from one look to the next.
    let mut asked = std::collections::BTreeSet::new();
    for _ in 0..READ.len() {
        let mut more = false;
        for (path, answer) in READ.iter().filter(|(path, _)| !NOT_ASKED.contains(path)) {
            if !asked.contains(path)
                && person.page.find(fantoccini::Locator::Css(&format!("[data-question=\"{path}\"]"))).await.is_ok()
            {
                person.answer(path, answer).await;
                asked.insert(*path);
                more = true;
            }
        }
        if !more {
            break;
        }
        person.press("Check what I have typed").await;
        person.sees("Emergency entry").await;
    }
    assert_eq!(asked.len() + NOT_ASKED.len(), READ.len(), "{asked:?}");
    looked_at(&person, "emergency-filled").await;
    person.press("Make the emergency card").await;
    person.sees("NOT DOUBLE-CHECKED").await;
    person.sees("5.1 mL/h").await;
    looked_at(&person, "emergency-card").await;
    person.sign_in(IDOWU).await;
    person.sees("[second-check]").await;
    looked_at(&person, "list-owed").await;
    person.leave().await;
}

/// By the keyboard alone: no pointer touches the page.
#[tokio::test(flavor = "multi_thread")]
async fn the_keyboard_alone_is_enough() {
    if missing(&BROWSER) {
        return;
    }
    use fantoccini::key::Key;
    let ward = Ward::new("browser-keyboard");
    let (served, drivers) = (Served::new(&ward), Drivers::start());
    let person = drivers.person(served.address, false).await;
    person.go("/sign-in").await;
    let keys = |text: String| {
        let page = person.page.clone();
        async move { page.active_element().await.expect("a place").send_keys(&text).await.expect("keys") }
    };
    let focused = || async {
        let said = person
            .page
            .execute("const at = document.activeElement; return at.id || at.name || at.innerText", Vec::new())
            .await;
        said.expect("a place").as_str().unwrap_or_default().to_owned()
    };
    let to = async |what: &str| {
        for _ in 0..200 {
            if focused().await == what {
                return;
            }
            keys(Key::Tab.to_string()).await;
        }
        panic!("{what} is not reached by Tab");
    };
    to("name").await;
    keys(IDOWU.0.to_owned()).await;
    to("pin").await;
    keys(format!("{}{}", IDOWU.1, char::from(Key::Enter))).await;
    person.sees("Open a case").await;
    to("Open a case").await;
    keys(char::from(Key::Enter).to_string()).await;
    person.sees("Enter a set-up").await;
    to("Enter a set-up").await;
    keys(char::from(Key::Enter).to_string()).await;
    person.sees("First entry").await;
    // A choice is made by moving to it and pressing the space bar.
    to("area").await;
    keys(" ".to_owned()).await;
    person.judged().await;
    assert!(
        person
            .page
            .execute("return document.querySelector('[name=area]:checked') !== null", Vec::new())
            .await
            .expect("an answer")
            .as_bool()
            == Some(true)
    );
    person.leave().await;
}

/// Digits for gloved fingers; and a tablet that was handed over shows nothing of what was on it, not by going back either.
#[tokio::test(flavor = "multi_thread")]
async fn the_keypad_writes_what_its_keys_say_and_going_back_after_hand_over_shows_nothing() {
    if missing(&BROWSER) {
        return;
    }
    let ward = Ward::new("browser-keypad");
    let (served, drivers) = (Served::new(&ward), Drivers::start());
    let person = drivers.person(served.address, false).await;
    person.sign_in(IDOWU).await;
    let case = opens_a_case(&person).await;
    person.press("Enter a set-up").await;
    let field = "[name=\"fill\"]";
    person.answer("label.amount", "4 mg").await;
    person.turn_to("[data-question=\"fill\"]", false).await;
    person.write(field, "").await;
    for key in ["5", "0", "5", "Back"] {
        person.press(key).await;
    }
    person.page.find(fantoccini::Locator::Css(field)).await.expect("the field").send_keys(" mL").await.expect("keys");
    let value = person.page.execute("return document.querySelector('[name=\"fill\"]').value", Vec::new()).await;
    assert_eq!(value.expect("a value"), "50 mL");
    looked_at(&person, "keypad").await;
    tokio::time::sleep(std::time::Duration::from_secs(2)).await;
    person.go(&case).await;
    person.press("Hand over the tablet").await;
    person.sees("An emergency entry makes a card").await;
    for _ in 0..3 {
        person.page.back().await.expect("it goes back");
        person.sees("An emergency entry makes a card").await;
        let kept = person.page.execute("return localStorage.length + sessionStorage.length", Vec::new()).await;
        assert_eq!(kept.expect("a number"), 0);
        assert!(!person.page.source().await.expect("a page").contains("50 mL"));
    }
    // For the same person it is still there.
    person.sign_in(IDOWU).await;
    person.go(&format!("{case}/enter")).await;
    person.sees("What you had typed is still here").await;
    person.leave().await;
}
