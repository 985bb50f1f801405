//! `delivery` as people use it, through the real program.

use crate::common::run;
use insta::assert_snapshot;
use rstest::rstest;

const LINE: [&str; 8] = [
    "delivery",
    "--container",
    "syringe 50 mL",
    "--line",
    "narrow-150",
    "--driver",
    "bench",
    "--formulary=demonstration",
];

fn says(words: &[&str]) -> String {
    let said = run(LINE).args(words.iter().copied()).said();
    assert_eq!(said.code, 0, "{said:?}");
    said.stdout
}

fn answers(words: &[&str]) -> serde_json::Value {
    serde_json::from_str(&says(&[words, &["--format", "json"]].concat())).expect("one JSON object")
}

fn edges(answer: &serde_json::Value, key: &str) -> (f64, f64) {
    let all = answer["answers"].as_array().expect("a list");
    let one = all.iter().find(|one| one["key"] == key).unwrap_or_else(|| panic!("{key} in {answer}"));
    let edge = |name: &str| one[name].as_str().and_then(|text| text.parse().ok()).expect("a number");
    (edge("low"), edge("high"))
}

// Eur J Pediatr 2014;173:69 (PubMed 23933669): 2 mL/h through a catheter of 0.3 mL; of the dose 0, 0, 13, 28, 70 and 100 %
// in windows of 3 min. Its mean arrival is 11.67 min (computed from these), and half of the rate came between 10.5 and
// 13.5 min, the middles of the windows around it. End to end: equipment, options, physics, words.
// hazard: H-ARRIVAL
#[test]
fn a_measured_arrival_lies_in_what_the_command_says() {
    let answer = answers(&["--rate", "2 mL/h", "--beyond", "0.3 mL", "--access", "central"]);
    let (low, high) = edges(&answer, "arrived-50");
    assert!(low <= 10.5 * 60.0 && high >= 13.5 * 60.0, "{low} {high}");
    let (earliest, _) = edges(&answer, "earliest");
    assert!(earliest > 3.0 * 60.0 && earliest < 6.0 * 60.0, "nothing came in the first six minutes: {earliest}");
    // By volume over flow alone it is 9 min, and said to be too early.
    let (low, high) = edges(&answer, "transit");
    assert!(low < 9.0 * 60.0 && high > 9.0 * 60.0, "{low} {high}");
    assert!(answer.to_string().contains("too early rather than too late"));
}

// hazard: H-ARRIVAL
#[test]
fn everything_that_is_asked() {
    let words = [
        "--rate",
        "2 mL/h",
        "--beyond",
        "0.3 mL",
        "--carrier",
        "10 mL/h",
        "--carrier-becomes",
        "50 mL/h",
        "--lowered",
        "50 cm",
        "--taken-for-bore",
        "2.8 cm",
        "--bore",
        "1.9 cm",
        "--sources",
    ];
    assert_snapshot!("delivery-all", says(&words));
}

// hazard: H-ARRIVAL
#[test]
fn an_entry_is_taken_as_it_is() {
    let said = run([
        "delivery",
        "examples/adult-vasopressor/first.yaml",
        "--formulary",
        "demonstration",
        "--at",
        "2026-03-14T07:50:00+00:00",
    ])
    .said();
    assert_eq!(said.code, 0, "{said:?}");
    assert_snapshot!("delivery-entry", said.stdout);
}

// hazard: H-ARRIVAL
#[test]
fn where_nothing_is_known_it_says_why() {
    assert_snapshot!(
        "delivery-slow",
        says(&["--rate", "0.3 mL/h", "--purged", "not", "--valve", "--solution", "emulsion"])
    );
}

// hazard: H-ARRIVAL
#[rstest]
#[case(&["--rate", "2 mL/h", "--line", "narrow-15"], "equipment-unknown")]
#[case(&["--rate", "2"], "unit-missing")]
#[case(&[], "rate-missing")]
#[case(&["--rate", "2 mL/h", "--container", "bag 50 mL"], "driver-does-not-take-container")]
#[case(&["--rate", "2 mL/h", "--line-filled", "half"], "word-unknown")]
#[case(&["--rate", "2 mL/h", "--air", "a bit"], "number-missing")]
fn what_is_not_known_is_refused(#[case] words: &[&str], #[case] code: &str) {
    let kept: Vec<&str> = match words.iter().position(|word| LINE.contains(word) && word.starts_with("--")) {
        Some(at) => {
            let option = LINE.iter().position(|word| *word == words[at]).expect("it is there");
            LINE.iter()
                .enumerate()
                .filter(|(place, _)| *place != option && *place != option + 1)
                .map(|(_, word)| *word)
                .collect()
        }
        None => LINE.to_vec(),
    };
    let said = run(kept).args(words.iter().copied()).said();
    assert!(said.code == 2 && said.stderr.contains(&format!("error[{code}]")), "{said:?}");
}
