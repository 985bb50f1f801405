//! The card: the same bytes whenever it is printed, and bound to the journal it came from.

use countersign::case::ReportedAction;
use countersign::quantity::FlowRate;

use super::{Theatre, first, refused, run, second};

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
    // The rate once, and the head of the table of other doses.
    assert_eq!((text.matches("5.1 mL/h").count(), text.matches("mL/h").count()), (1, 2), "{text}");
}

/// What is written in the largest letters of an SVG.
fn largest(svg: &str) -> String {
    let sized = regex::Regex::new(r#"font-size="([0-9.]+)"[^>]*>([^<]+)<"#).expect("a pattern");
    let size = |found: &regex::Captures<'_>| found[1].parse::<f64>().expect("a number");
    let all = sized.captures_iter(svg).max_by(|one, other| size(one).total_cmp(&size(other)));
    all.expect("a text")[2].to_owned()
}

/// The text of a card in every format, without line breaks.
fn in_every_format(theatre: &Theatre, clock: &str, code: &str) -> Vec<(&'static str, String)> {
    let drawn = ["text", "html", "svg", "json"].map(|format| {
        let said = theatre.says(clock, &[], &["case", "card", code, "--format", format]);
        assert_eq!(said.code, 0, "{said:?}");
        (format, said.stdout.split_whitespace().collect::<Vec<_>>().join(" "))
    });
    drawn.into_iter().collect()
}

// hazard: H-CHANGED
#[test]
fn the_card_of_a_running_infusion_says_in_every_format_that_it_runs_and_how_fast() {
    let theatre = Theatre::new("card-runs");
    let code = theatre.agreed();
    let set_up = format!("{code}/1");
    let before = theatre.data("07:50", &[], &["case", "card", &code]);
    assert!(before["runs"].is_null(), "nothing runs yet: {before}");
    theatre.records("08:00", &set_up, &ReportedAction::Started(None, Default::default()));
    for (format, says) in in_every_format(&theatre, "08:01", &code) {
        assert!(says.contains("RUNNING NOW, AT THE RATE OF THIS CARD"), "{format}: {says}");
    }
    theatre.records("08:10", &set_up, &ReportedAction::RateChanged(FlowRate::parse("6.4 mL/h").expect("a rate")));
    for (format, says) in in_every_format(&theatre, "08:11", &code) {
        for tells in ["RUNNING NOW, NOT AT THE RATE OF THIS CARD", "since 2026-03-14 08:10"] {
            assert!(says.contains(tells), "{format}: {tells}: {says}");
        }
        match format {
            // The frame holds what runs, and what was agreed stands among the facts.
            "text" => {
                let framed: Vec<&str> = says.split('|').map(str::trim).filter(|part| part.ends_with("mL/h")).collect();
                assert_eq!(framed, ["6.4 mL/h"], "{says}");
                assert!(says.contains("5.1 mL/h, when the card was made: NOT the rate that runs"), "{says}");
            }
            "html" => {
                assert!(says.contains("<strong>6.4</strong> mL/h") && !says.contains("<strong>5.1</strong>"), "{says}");
            }
            "json" => assert!(says.contains("\"rate\":\"6.4 mL/h\""), "{says}"),
            // The agreed rate is left in the table of doses, and marked no more.
            _ => assert!(largest(&says) == "6.4" && !says.contains("(set)"), "{says}"),
        }
    }
    theatre.records("08:20", &set_up, &ReportedAction::Paused);
    for (format, says) in in_every_format(&theatre, "08:21", &code) {
        assert!(says.contains("PAUSED: NOTHING RUNS"), "{format}: {says}");
    }
    // What was agreed, and what is signed, has not changed by it.
    let paused = theatre.data("08:22", &[], &["case", "card", &code]);
    assert_eq!((&paused["card"], &paused["code"]), (&before["card"], &before["code"]));
    assert!(paused["runs"]["rate"].is_null(), "{paused}");
    theatre.records("08:30", &set_up, &ReportedAction::Stopped);
    super::refused(&theatre.says("08:31", &[], &["case", "card", &code]), "set-up-over");
}

/// The code as it is printed, without the card's data: it says whose card it is, and what it does not prove.
// hazard: H-CHANGED
#[test]
fn the_printed_code_alone_is_verified_and_says_what_it_does_not_prove() {
    let theatre = Theatre::new("code-alone");
    let code = theatre.agreed();
    let data = theatre.data("07:50", &[], &["case", "card", &code]);
    let printed = data["code"].as_str().expect("a code");
    let verify = |text: &str| run(["case", "verify", text, "--journal"]).arg(&theatre.journal).said();
    let said = verify(printed);
    assert!(
        said.code == 0 && said.stdout.contains("THE CODE IS SIGNED") && said.stdout.contains("Not proven"),
        "{said:?}"
    );
    assert!(!said.stdout.contains("WHOLE"), "{said:?}");
    let other = printed.replacen(&format!("{code}/1:"), &format!("{code}/2:"), 1);
    assert_ne!(other, printed);
    let said = verify(&other);
    assert!(said.code != 0 && said.stdout.contains("ALTERED: do not use this card"), "{said:?}");
    refused(&verify(&format!("{printed}A")), "code-not-a-card-code");
}
