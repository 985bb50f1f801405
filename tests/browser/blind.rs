//! What reaches the second person's browser, byte by byte, is the same whatever the first person entered.

use crate::between::Between;
use crate::browser::{Drivers, NOT_ASKED};
use crate::common::tools::{BROWSER, missing};
use crate::served::Served;
use crate::shift::opens_a_case;
use crate::ward::{IDOWU, READ, TAMM, Ward, with};

/// Everything that came to the second person's browser until their own entry was typed and judged, not sealed.
async fn second_browsers_traffic(name: &str, first: &[(&str, &str)]) -> Vec<String> {
    let ward = Ward::new(name);
    let (served, drivers) = (Served::new(&ward), Drivers::start());
    let idowu = drivers.person(served.address, false).await;
    idowu.sign_in(IDOWU).await;
    let case = opens_a_case(&idowu).await;
    idowu.press("Enter a set-up").await;
    idowu.enter(first).await;
    idowu.leave().await;
    let between = Between::listen(served.address).await;
    let tamm = drivers.person(between.address, false).await;
    tamm.sign_in(TAMM).await;
    tamm.sees("a second person enters next").await;
    for path in ["", "/1/card", "/1/record", "/1/readback"] {
        tamm.go(&format!("{case}{path}")).await;
        // Long enough for what is pushed.
        tokio::time::sleep(std::time::Duration::from_secs(2)).await;
    }
    tamm.go(&format!("{case}/1/enter/second")).await;
    for (path, answer) in READ.iter().filter(|(path, _)| !NOT_ASKED.contains(path)) {
        tamm.answer(path, answer).await;
    }
    tamm.to_the_end().await;
    tamm.press("Check what I have typed").await;
    tamm.sees("Not sealed yet").await;
    tamm.leave().await;
    between.heard(case.trim_start_matches("/case/"))
}

// hazard: H-INDEPENDENCE
#[tokio::test(flavor = "multi_thread")]
async fn the_second_browser_is_sent_the_same_whatever_the_first_person_entered() {
    if missing(&BROWSER) {
        return;
    }
    let one = second_browsers_traffic("browser-blind-one", READ).await;
    let planted =
        [("patient.identifiers[1]", "ZZ-PLANTED"), ("dose", "0.0731 mcg/kg/min"), ("patient.weight", "91.7 kg")];
    let other = second_browsers_traffic("browser-blind-other", &with(READ, &planted)).await;
    assert!(one.len() > 30, "{} answers", one.len());
    for (only, than) in [(&one, &other), (&other, &one)] {
        let more: Vec<&String> = only.iter().filter(|answer| !than.contains(answer)).collect();
        assert_eq!(more, [""; 0]);
    }
    for (_, text) in planted {
        let number = text.split(' ').next().unwrap_or(text);
        assert!(!other.iter().any(|answer| answer.contains(number)), "{text} was sent");
    }
}
