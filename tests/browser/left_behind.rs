//! What a shared tablet keeps on its disk after an entry was sealed, handed over, and the browser closed: none of what was
//! typed. A file that holds it would give the second person the first one's values.

use std::path::Path;

use crate::browser::{Drivers, NOT_ASKED};
use crate::common::folder;
use crate::common::tools::{BROWSER, missing};
use crate::served::Served;
use crate::shift::opens_a_case;
use crate::ward::{IDOWU, READ, Ward, with};

/// Every file beneath a folder that holds a text, as bytes of one or of two each.
fn holding(folder: &Path, text: &str) -> Vec<String> {
    let narrow = text.as_bytes().to_vec();
    let wide: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        let path = entry.path();
        if path.is_dir() {
            found.extend(holding(&path, text));
        } else if let Ok(bytes) = std::fs::read(&path) {
            let holds = |what: &[u8]| bytes.windows(what.len()).any(|window| window == what);
            if holds(&narrow) || holds(&wide) {
                found.push(path.display().to_string());
            }
        }
    }
    found
}

// hazard: H-INDEPENDENCE
#[tokio::test(flavor = "multi_thread")]
async fn a_browser_keeps_nothing_of_what_was_typed() {
    if missing(&BROWSER) {
        return;
    }
    let ward = Ward::new("browser-left-behind");
    let profile = folder("browser-profile").join("profile");
    let (served, drivers) = (Served::new(&ward), Drivers::start());
    let planted =
        [("patient.identifiers[1]", "QZ-PLANTED"), ("dose", "0.0731 mcg/kg/min"), ("patient.weight", "83.9 kg")];
    let person = drivers.person_with(served.address, false, Some(&profile)).await;
    person.sign_in(IDOWU).await;
    let case = opens_a_case(&person).await;
    person.press("Enter a set-up").await;
    let read = with(READ, &planted);
    for (path, answer) in read.iter().filter(|(path, _)| !NOT_ASKED.contains(path)) {
        person.answer(path, answer).await;
    }
    // A page that was sent and shown again is what a browser would keep.
    person.press("Check what I have typed").await;
    person.sees("Not sealed yet").await;
    person.enter(&[]).await;
    person.sees("a second person enters next").await;
    person.press("Hand over the tablet").await;
    person.sees("Sign in").await;
    person.leave().await;
    // Some seconds in which the browser writes its files and ends.
    tokio::time::sleep(std::time::Duration::from_secs(3)).await;
    // Where it was is kept, as browsers do: so the files are there, and are searched.
    assert!(!holding(&profile, &case).is_empty(), "{case} stands nowhere in {}", profile.display());
    for text in ["QZ-PLANTED", "0.0731", "0.0731+mcg", "83.9 kg", "83.9+kg", IDOWU.1] {
        assert_eq!(holding(&profile, text), [""; 0], "{text}");
    }
    std::fs::remove_dir_all(&profile).expect("it is ours");
}
