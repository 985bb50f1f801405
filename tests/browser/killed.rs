//! The server is killed in the middle of somebody's work, and started again.

use crate::browser::{Drivers, NOT_ASKED};
use crate::caller::Caller;
use crate::common::tools::{BROWSER, missing};
use crate::served::Served;
use crate::shift::opens_a_case;
use crate::ward::{IDOWU, READ, TAMM, Ward};

#[tokio::test(flavor = "multi_thread")]
async fn what_was_typed_is_still_in_the_form_and_the_session_has_ended() {
    if missing(&BROWSER) {
        return;
    }
    let ward = Ward::new("browser-killed");
    let (mut served, drivers) = (Served::new(&ward), Drivers::start());
    let idowu = drivers.person(served.address, false).await;
    idowu.sign_in(IDOWU).await;
    let case = opens_a_case(&idowu).await;
    idowu.press("Enter a set-up").await;
    let (half, rest) = READ.split_at(READ.iter().position(|(path, _)| *path == "label.amount").expect("it is read"));
    for (path, answer) in half.iter().filter(|(path, _)| !NOT_ASKED.contains(path)) {
        idowu.answer(path, answer).await;
    }
    // Half typed, the field not left.
    idowu.turn_to("[data-question=\"label.amount\"]", false).await;
    idowu.write("[name=\"label.amount\"]", "4 m").await;
    tokio::time::sleep(std::time::Duration::from_secs(2)).await;
    served.kill();
    let served = Served::at(&ward, served.address);
    // The page finds out by itself, and leaves the screen.
    idowu.sees("Sign in").await;
    idowu.sign_in(IDOWU).await;
    idowu.go(&format!("{case}/enter")).await;
    idowu.sees("What you had typed is still here").await;
    let value = idowu.page.execute("return document.querySelector('[name=\"label.amount\"]').value", Vec::new()).await;
    assert_eq!(value.expect("a value"), "4 m");
    let value = idowu.page.execute("return document.querySelector('[name=\"dose\"]').value", Vec::new()).await;
    assert_eq!(value.expect("a value"), "0.08 mcg/kg/min");
    idowu.enter(rest).await;
    idowu.sees("a second person enters next").await;
    idowu.leave().await;
    drop(served);
}

/// Many people write at once, and the server is killed among them, several times: whatever was answered is there.
// hazard: H-RECORD
#[tokio::test(flavor = "multi_thread")]
async fn nothing_that_was_acknowledged_is_lost() {
    use std::sync::atomic::{AtomicBool, Ordering};
    use std::sync::{Arc, Mutex};
    use std::time::Duration;

    let ward = Ward::new("killed-writes");
    let acknowledged = Arc::new(Mutex::new(Vec::new()));
    for round in 0..4_u64 {
        let mut served = Served::new(&ward);
        let stop = Arc::new(AtomicBool::new(false));
        let mut people = Vec::new();
        for person in 0..6 {
            let caller = Caller::signed_in(served.address, if person % 2 == 0 { IDOWU } else { TAMM }).await;
            let (acknowledged, stop) = (Arc::clone(&acknowledged), Arc::clone(&stop));
            people.push(tokio::spawn(async move {
                while !stop.load(Ordering::Relaxed) {
                    let Ok(list) = caller.get("/").await else { return };
                    let Some(once) = list.once("/") else { return };
                    let Ok(opened) = caller.post("/", &format!("once={once}")).await else { return };
                    acknowledged.lock().expect("nobody panicked").extend(opened.location);
                }
            }));
        }
        tokio::time::sleep(Duration::from_millis(300 + 170 * round)).await;
        served.kill();
        stop.store(true, Ordering::Relaxed);
        for person in people {
            person.await.expect("nobody panics");
        }
    }
    let journal = countersign::journal::Journal::open(&ward.journal).expect("the journal");
    journal.verify(&[], &mut |_, _| {}).expect("each event is as it was written");
    let events = journal.events(countersign::journal::Of::Kind("case-opened")).expect("events");
    let code = |scope: &str| countersign::case::CaseCode::parse(scope).expect("a code");
    let there: Vec<String> =
        events.iter().filter_map(|event| event.scope()).map(|scope| format!("/case/{}", code(scope))).collect();
    let acknowledged = acknowledged.lock().expect("nobody panicked").clone();
    assert!(acknowledged.len() > 20, "{} were acknowledged", acknowledged.len());
    for case in &acknowledged {
        assert!(there.contains(case), "{case} was acknowledged and is lost");
    }
}
