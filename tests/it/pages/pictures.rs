//! The pictures: what they say to those who do not see them, in every kind of set-up, and that no shade stands without its
//! name.

use scraper::{Html, Selector};
use serde_json::Value;

use super::{AGREED, agreed};
use crate::common::{AT, example, folder, run};

/// The pictures of a page, in words.
fn said_of_pictures(page: &str) -> Vec<String> {
    let html = Html::parse_document(page);
    let pictures = Selector::parse("svg").expect("a selector");
    html.select(&pictures).map(|one| one.attr("aria-label").unwrap_or_default().to_owned()).collect()
}

/// The first example, changed in both entries.
fn changed(name: &str, changes: &[(&str, &str)], format: &str) -> String {
    changed_pair("adult-vasopressor/", name, changes, format)
}

fn changed_pair(pair: &str, name: &str, changes: &[(&str, &str)], format: &str) -> String {
    let folder = folder(name);
    let mut words = vec!["agree".to_owned()];
    for who in ["first", "second"] {
        let mut form = example(&format!("{pair}{who}.yaml"));
        for (from, to) in changes {
            form = form
                .lines()
                .map(|line| if line.starts_with(from) { (*to).to_owned() } else { line.to_owned() } + "\n")
                .collect();
        }
        let path = folder.join(who).with_extension("yaml");
        std::fs::write(&path, form).expect("room");
        words.push(path.to_str().expect("a path").to_owned());
    }
    let all = words.iter().map(String::as_str).chain(["--format", format, "--at", AT, "--formulary", "formulary"]);
    let said = run(all).said();
    assert_eq!(said.code, 0, "{said:?}");
    said.stdout
}

#[test]
fn every_picture_says_in_words_what_it_shows() {
    let mut all = String::new();
    for pair in AGREED {
        let said = said_of_pictures(&agreed(pair, "html").stdout);
        assert_eq!(said.len(), 2, "{said:?}");
        assert!(said.iter().all(|one| !one.is_empty()));
        all.push_str(&format!("{pair}\n  {}\n", said.join("\n  ")));
    }
    insta::with_settings!({ prepend_module_to_snapshot => false, omit_expression => true }, {
        insta::assert_snapshot!("pictures-in-words", all);
    });
}

/// The bytes of one picture of each kind, so that a change of it is seen.
#[test]
fn the_sheet_as_svg() {
    let fingerprint = regex::Regex::new("[0-9a-f]{20,}").expect("a pattern");
    let width = regex::Regex::new(" textLength=\"[0-9.]+\"").expect("a pattern");
    let svg = agreed("adult-vasopressor/", "svg").stdout.replace("><", ">\n<");
    let svg = fingerprint.replace_all(&svg, "[fingerprint]").into_owned();
    let svg = width.replace_all(&svg, |found: &regex::Captures<'_>| found[0].to_owned()).into_owned();
    let kept: String =
        svg.lines().filter(|line| !line.contains("[fingerprint]")).map(|line| format!("{line}\n")).collect();
    insta::with_settings!({ prepend_module_to_snapshot => false, omit_expression => true }, {
        insta::assert_snapshot!("sheet-svg", kept);
    });
}

/// Without a start there is no clock: the picture counts from the start, whenever that is.
#[test]
fn without_a_start_it_counts_from_the_start() {
    let page = changed("no-start", &[("starts_at", "")], "html");
    let said = said_of_pictures(&page);
    assert!(
        said[1].starts_with("Left in the syringe, after the start")
            && said[1].contains("Change over: after 9 h 36 min, when the syringe is empty"),
        "{}",
        said[1]
    );
}

/// The syringe is changed when the solution is discarded, where that comes before it is empty.
#[test]
fn a_solution_that_ends_first_marks_the_change_over() {
    let bought = "use_before: 2026-03-14T12:30:00+00:00";
    let page = changed("discarded", &[("drawn_up_at", bought), ("made_from", "")], "html");
    let said = said_of_pictures(&page);
    assert!(said[1].contains("Change over: by 2026-03-14 12:30 +00:00, when the solution is discarded"), "{}", said[1]);
}

/// When the drug arrives is an estimate that nobody acts on at the bedside: it stands in the data alone.
#[test]
fn arrival_stands_in_the_data_alone() {
    // Diluent in the line, whose diffusion is known: a band, later than with the drug in it.
    let band = |filled: &str, name: &str| -> Value {
        let data = changed(name, &[("line_filled", &format!("line_filled: {filled}"))], "json");
        let data: Value = serde_json::from_str(&data).expect("JSON");
        data["card"]["arrives"].clone()
    };
    let full = band("from this syringe", "band-full");
    let diluent = band("with diluent", "band-diluent");
    assert!(full["band"]["none_before"].is_string() && full["not_said"].is_null(), "{full}");
    assert!(diluent["band"]["none_before"].is_string(), "{diluent}");
    assert_ne!(full["band"], diluent["band"]);
    let assumed = full["taken_for_granted"].as_array().expect("a list");
    assert!(assumed.len() > 4, "{assumed:?}");
    for format in ["text", "html", "svg"] {
        let said = changed(&format!("band-said-{format}"), &[], format);
        assert!(!said.contains("of the full rate") && !said.contains("\nAssumed"), "{format}: {said}");
    }
    // Too slow for its syringe: no band, and no second number in mL/h is said.
    let dose = [("dose:", "dose: 18 mcg/kg/h")];
    let slow = changed_pair("child-sedation/reasons-", "slow", &dose, "json");
    let slow: Value = serde_json::from_str(&slow).expect("JSON");
    let why = slow["card"]["arrives"]["not_said"].as_str().expect("a reason");
    assert!(why.contains("sticks and slips") && !why.contains("mL/h"), "{why}");
}

// A number that is cut off at an edge reads as another one.
// hazard: H-CARD
#[rstest::rstest]
#[case::a_bolus_per_kg("off-sheet-child", "child-sedation/", &[("bolus:", "bolus: {dose: 112.5 mcg/kg, over: 7.5 min}")])]
#[case::as_it_is("off-sheet-child-plain", "child-sedation/", &[])]
#[case::a_range("off-sheet-adult", "adult-vasopressor/", &[])]
#[case::insulin("off-sheet-insulin", "insulin/reasons-", &[])]
fn every_word_lies_on_its_side_of_the_sheet(#[case] name: &str, #[case] pair: &str, #[case] changes: &[(&str, &str)]) {
    let svg = changed_pair(pair, name, changes, "svg");
    let word = regex::Regex::new(r#"<text x="(-?[0-9.]+)" [^>]*?>"#).expect("a pattern");
    let long = regex::Regex::new(r#"textLength="([0-9.]+)""#).expect("a pattern");
    let hundredths = |text: &str| -> i64 {
        let number: rust_decimal::Decimal = text.parse().expect("a number");
        (number * rust_decimal::Decimal::ONE_HUNDRED).round().try_into().expect("a sheet")
    };
    let mut seen = 0;
    for found in word.captures_iter(&svg) {
        let tag = &found[0];
        let (x, length) = (hundredths(&found[1]), long.captures(tag).map_or(0, |one| hundredths(&one[1])));
        let from = match tag {
            _ if tag.contains("text-anchor=\"end\"") => x - length,
            _ if tag.contains("text-anchor=\"middle\"") => x - length / 2,
            _ => x,
        };
        let to = from + length;
        // A5 with margins of 5 mm, and the second side beside it; half a millimetre is no letter.
        let lies = [(450, 14_350), (15_250, 29_150)].iter().any(|(least, most)| from >= *least && to <= *most);
        assert!(lies, "{from} to {to} of a hundredth of a mm: {tag}");
        seen += 1;
    }
    assert!(seen > 80, "{seen}");
}
