//! The card: the same bytes whenever it is printed, and bound to the journal it came from.

use super::{Theatre, first, run, second};

fn head_on(card: &str) -> String {
    let mut lines = card.lines().skip_while(|line| !line.starts_with("Its head then"));
    let (label, below) = (lines.next().expect("the card names it"), lines.next().expect("a line below"));
    let text = label.strip_prefix("Its head then").expect("it begins so").trim();
    if text.is_empty() { below.trim().to_owned() } else { text.to_owned() }
}

// hazard: H-CHANGED
#[test]
fn a_card_is_the_same_byte_for_byte_whenever_it_is_printed() {
    let theatre = Theatre::new("same-card");
    let code = theatre.agreed();
    let card = theatre.says("07:50", &[], &["case", "card", &code]);
    assert_eq!(card.code, 0, "{card:?}");
    for clock in ["07:50", "08:00", "12:30"] {
        // Other things are written meanwhile.
        theatre.case();
        assert_eq!(theatre.says(clock, &[], &["case", "card", &format!("{code}/1")]).stdout, card.stdout);
    }
    let data = |clock: &str| theatre.data(clock, &[], &["case", "card", &code]);
    assert_eq!(data("07:51"), data("15:00"));
    theatre.is_whole();
}

// hazard: H-RECORD
#[test]
fn the_head_on_a_card_is_in_the_journal_and_finds_one_that_was_cut() {
    let theatre = Theatre::new("head");
    let code = theatre.agreed();
    let head = head_on(&theatre.says("07:50", &[], &["case", "card", &code]).stdout);
    let verify = |journal: &std::path::Path, head: &str| {
        run(["journal", "verify", "--head", head, "--journal"]).arg(journal).said()
    };
    let said = verify(&theatre.journal, &head);
    assert!(said.code == 0 && said.stdout.contains("Held against 1 head from elsewhere."), "{said:?}");
    // In a journal that has not come so far, or has come elsewhere, it is not found.
    let other = Theatre::new("head-other");
    assert_eq!(verify(&other.journal, &head).code, 4);
    other.agree(&other.case(), &first(), &second());
    assert_eq!(verify(&other.journal, &head).code, 4);
}

#[test]
fn a_card_as_data_says_what_the_printed_one_says() {
    let theatre = Theatre::new("card-data");
    let code = theatre.agreed();
    let text = theatre.says("07:50", &[], &["case", "card", &code]).stdout;
    let data = theatre.data("07:50", &[], &["case", "card", &code]);
    assert_eq!(data["set_up"], format!("{code}/1"));
    assert_eq!(data["double_checked"], true);
    let card = data["card"].to_string();
    for word in ["5.1", "A. Idowu", "M. Tamm", "QM-30417", &head_on(&text)] {
        assert!(text.contains(word) && card.contains(word), "{word}: {card}");
    }
    // One number in mL/h, once.
    assert_eq!(text.matches("mL/h").count(), 1, "{text}");
}

/// What was given out before was another card: one of the two is wrong, and neither is printed.
// hazard: H-CHANGED
#[test]
fn a_card_that_differs_from_the_one_given_out_is_a_fault() {
    use countersign::case::CaseCode;
    use countersign::journal::{Draft, JournalError};
    let given_out_by = |theatre: &Theatre, program: &str| {
        let code = theatre.agreed();
        let scope = Some(CaseCode::parse(&code).expect("a code").scope());
        let card = serde_json::json!({"hash": "0".repeat(64), "program": program, "emergency": false});
        let body = serde_json::json!({"set_up": 1, "reading": 1, "card": card});
        let draft = Draft { kind: "card-given", scope, by: None, body, introduces: None };
        let mut cases = theatre.cases();
        let written = cases.journal_mut().write(super::moment("07:51"), |_| Ok::<_, JournalError>((vec![draft], ())));
        written.expect("room");
        theatre.says("07:52", &[], &["case", "card", &code])
    };
    // Another version of the program may draw it otherwise.
    assert_eq!(given_out_by(&Theatre::new("card-of-another-version"), "0.0.1").code, 0);
    let said = given_out_by(&Theatre::new("card-differs"), concat!(env!("CARGO_PKG_VERSION"), " card 2"));
    assert_eq!((said.code, said.stdout.as_str()), (70, ""), "{said:?}");
    assert!(said.stderr.contains("is not the one that was given out before"), "{said:?}");
}
