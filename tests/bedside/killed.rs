//! The server is killed in the middle of somebody's work, and started again.

use crate::browser::{Drivers, NOT_ASKED};
use crate::served::Served;
use crate::shift::opens_a_case;
use crate::ward::{IDOWU, READ, Ward};

#[tokio::test(flavor = "multi_thread")]
async fn what_was_typed_is_still_in_the_form_and_the_session_has_ended() {
    let ward = Ward::new("browser-killed");
    let (mut served, drivers) = (Served::new(&ward), Drivers::start());
    let idowu = drivers.person(served.address, false).await;
    idowu.sign_in(IDOWU).await;
    let case = opens_a_case(&idowu).await;
    idowu.press("Enter another set-up").await;
    let (half, rest) = READ.split_at(READ.iter().position(|(path, _)| *path == "label.amount").expect("it is read"));
    for (path, answer) in half.iter().filter(|(path, _)| !NOT_ASKED.contains(path)) {
        idowu.answer(path, answer).await;
    }
    // Half typed, the field not left.
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
