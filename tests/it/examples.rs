//! Every file of the folder `examples` through the real program: what a person sees is kept as a snapshot, and everything
//! printed keeps to the rules for writing numbers and units.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::sync::LazyLock;

use crate::common::{AT, Said, at, example, run};
use regex::Regex;
use rstest::rstest;
use serde_json::Value;

const SCENARIOS: &[&str] = &["adult-vasopressor", "child-sedation", "insulin"];
/// Each pair of a scenario, and how it ends.
const PAIRS: &[(&str, i32)] = &[("", 0), ("disagree-", 5), ("reasons-missing-", 3), ("reasons-", 0), ("stopped-", 4)];
const BATCHES: &[(&str, &str)] = &[("check", "many.jsonl"), ("agree", "pairs.jsonl")];

#[rstest]
fn every_pair_is_answered(
    #[values("adult-vasopressor", "child-sedation", "insulin")] scenario: &str,
    #[values("", "disagree-", "reasons-missing-", "reasons-", "stopped-")] pair: &str,
    #[values("text", "json")] format: &str,
) {
    let said = agree(scenario, pair, format);
    let expected = PAIRS.iter().find(|(name, _)| *name == pair).map(|(_, code)| *code);
    assert_eq!(Some(said.code), expected, "{said:?}");
    snapshot(&format!("agree-{scenario}-{pair}{format}"), &said, format);
}

#[rstest]
fn every_first_entry_is_checked(
    #[values("adult-vasopressor", "child-sedation", "insulin")] scenario: &str,
    #[values("", "disagree-", "reasons-missing-", "reasons-", "stopped-")] pair: &str,
    #[values("text", "json")] format: &str,
) {
    let said = at(&format!("check examples/{scenario}/{pair}first.yaml --format {format}")).said();
    // Alone, an entry disagrees with nobody.
    let expected = PAIRS.iter().find(|(name, _)| *name == pair).map(|(_, code)| if *code == 5 { 0 } else { *code });
    assert_eq!(Some(said.code), expected, "{said:?}");
    snapshot(&format!("check-{scenario}-{pair}{format}"), &said, format);
}

#[rstest]
#[case("check", "many.jsonl")]
#[case("agree", "pairs.jsonl")]
fn both_batches_are_answered_line_by_line(#[case] command: &str, #[case] file: &str) {
    let said = at(&format!("{command} --batch examples/{file}")).said();
    assert_eq!((said.code, said.stderr.as_str()), (0, ""), "{said:?}");
    assert_eq!(said.lines().len(), example(file).lines().count());
    snapshot(&format!("batch-{command}"), &said, "json");
}

#[test]
fn every_file_is_used() {
    let mut named: BTreeSet<String> = ["README.md".to_owned()].into();
    named.extend(BATCHES.iter().map(|(_, file)| (*file).to_owned()));
    for scenario in SCENARIOS {
        for (pair, _) in PAIRS {
            named.extend(["first", "second"].map(|who| format!("{scenario}/{pair}{who}.yaml")));
        }
    }
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    let mut found = BTreeSet::new();
    walk(&root, &root, &mut found);
    assert_eq!(found, named);
}

/// What the text beside the examples says about them.
#[test]
fn the_readme_names_every_scenario_pair_and_batch_with_its_exit_code() {
    let readme = example("README.md");
    for scenario in SCENARIOS {
        assert!(readme.contains(&format!("**`{scenario}/`**")), "{scenario}");
    }
    for (pair, code) in PAIRS {
        let row = readme.lines().find(|line| line.starts_with(&format!("| `{pair}first`, `{pair}second` |")));
        assert!(row.is_some_and(|row| row.ends_with(&format!("| {code} |"))), "{pair}: {row:?}");
    }
    let commands: Vec<String> = readme
        .replace("\\\n", " ")
        .lines()
        .filter_map(|line| line.strip_prefix("countersign "))
        .map(|line| line.split_whitespace().collect::<Vec<_>>().join(" "))
        .collect();
    assert_eq!(commands.len(), 9, "{commands:?}");
    for command in &commands {
        let mut words: Vec<&str> = command.split(' ').collect();
        if !words.contains(&"--at") && !words.contains(&"--list") {
            words.extend(["--at", AT]);
        }
        let said = run(&words).said();
        assert_ne!(said.code, 2, "{command}: {said:?}");
        said.did_not_fall_over();
    }
}

/// Who keeps one of these cards in the hand finds on it what it must hold, and one rate only.
// hazard: H-CARD
#[rstest]
fn every_card_holds_one_rate_and_what_it_must(
    #[values("adult-vasopressor", "child-sedation", "insulin")] scenario: &str,
    #[values("", "reasons-")] pair: &str,
) {
    let card = agree(scenario, pair, "text").stdout;
    assert!(card.starts_with("DEMONSTRATION LIMITS, NOT FOR PATIENTS\n"), "{card}");
    // One rate in its frame, the only number there; those of an ordered range and of a bolus stand in a table apart, whose
    // unit is in its head alone.
    let data = agree(scenario, pair, "json").json();
    let tables = usize::from(data["card"]["ladder"].is_object());
    assert_eq!(card.matches("mL/h").count(), 1 + tables, "{card}");
    let heads = card.lines().filter(|line| line.starts_with("rate mL/h  ") && line.matches("mL/h").count() == 1);
    assert_eq!(heads.count(), tables, "{card}");
    let framed = |line: &&str| line.trim_start().starts_with('|');
    assert_eq!(card.lines().filter(framed).count(), 1, "{card}");
    let rates = [&data["card"]["ladder"]["rows"], &data["card"]["rate"]["value"]];
    let marked = rates[0].as_array().into_iter().flatten().filter(|row| row["set"] == true);
    assert!(marked.clone().count() <= 1 && marked.into_iter().all(|row| row["rate"] == *rates[1]), "{data}");
    for line in card.lines() {
        assert!(line.chars().count() <= 80, "{line}");
        assert_eq!(line.trim_end(), line, "no blanks at the end");
    }
    for who in ["first", "second"] {
        let entry = example(&format!("{scenario}/{pair}{who}.yaml"));
        let name =
            entry.split_once("name: ").and_then(|(_, rest)| rest.split([',', '}', '\n']).next()).expect("a name");
        assert!(card.contains(name), "{name}: {card}");
    }
    let fingerprint = run(["formulary", "fingerprint", "--format", "json"]).said().json();
    let fingerprint = fingerprint["fingerprint"].as_str().expect("a text");
    assert!(fingerprint.len() == 64 && card.lines().any(|line| line.ends_with(fingerprint)), "{card}");
    for row in ["Dose", "Weight", "Patient", "For", "Syringe", "Line", "Dead space", "Change by", "Limits"] {
        assert!(value(&card, row).is_some_and(|value| !value.is_empty()), "{row}: {card}");
    }
    for step in ["Draw up ", "Load and lock;", "Prime: ", "Programme the rate", "Trace the line", "Stop: wristband"] {
        assert!(card.lines().any(|line| line.starts_with(&format!("[ ] {step}"))), "{step}: {card}");
    }
    let strength = data["card"]["syringe"]["strength"].as_str().expect("a text");
    let drug = format!("{} {strength}", data["card"]["order"]["drug"].as_str().expect("a text"));
    assert!(card.lines().any(|line| line.starts_with(&drug)), "{drug}: {card}");
    let lasts = value(&card, "Run time").unwrap_or_default();
    assert!(lasts.starts_with(|c: char| c.is_ascii_digit()) && lasts.contains(" h"), "{card}");
    // The numbers of the card as data are those of the card on paper.
    let rate = format!(
        "{} {}",
        data["rate"]["value"].as_str().expect("a text"),
        data["rate"]["unit"].as_str().expect("a text")
    );
    let framed = card.lines().find(framed).expect("counted above");
    assert_eq!(framed.trim_matches([' ', '|']), rate);
}

/// What is needed at the bedside is read without turning a page: the rate near the top, all of it on one screen of text.
// hazard: H-CARD
#[rstest]
fn a_card_as_text_is_short_and_its_rate_is_near_the_top(
    #[values("adult-vasopressor", "child-sedation", "insulin")] scenario: &str,
    #[values("", "reasons-")] pair: &str,
) {
    let card = agree(scenario, pair, "text").stdout;
    let lines: Vec<&str> = card.lines().collect();
    let rate = lines.iter().position(|line| line.contains("mL/h")).expect("a rate");
    assert!(rate < 12, "line {}: {card}", rate + 1);
    // Findings and reasons are as long as they must be.
    let findings = lines.iter().position(|line| line.starts_with("Findings ---"));
    let after = lines.iter().position(|line| line.starts_with("Cautions: ")).expect("cautions");
    let apart = findings.map_or(0, |from| after - from);
    assert_eq!(apart > 0, pair == "reasons-", "{card}");
    assert!(lines.len() - apart <= 45, "{} lines: {card}", lines.len() - apart);
}

#[test]
fn a_bolus_stands_on_the_card_as_volume_time_and_rate() {
    let card = agree("child-sedation", "", "text").stdout;
    // 100 mcg/kg x 18 kg = 1800 mcg, in 1 mg/mL; 1.8 mL in 5 min are 21.6 mL/h.
    assert!(card.contains("dose       bolus 100 mcg/kg = 1800 mcg, 1.8 mL over 5 min\n"), "{card}");
    let rate = card.lines().find(|line| line.starts_with("rate mL/h")).expect("a table");
    assert_eq!(rate.split_whitespace().collect::<Vec<_>>(), ["rate", "mL/h", "21.6"]);
}

#[test]
fn both_reasons_stand_on_the_card() {
    for scenario in SCENARIOS {
        let card = agree(scenario, "reasons-", "text").stdout;
        assert_eq!(card.matches("reason of ").count(), 2, "{card}");
    }
}

/// A stop shows no rate, in no form.
#[test]
fn a_stop_shows_no_rate() {
    for scenario in SCENARIOS {
        let data = agree(scenario, "stopped-", "json").json();
        assert!(data["rate"].is_null() && data.get("exact").is_none() && data.get("card").is_none(), "{data}");
        // The only flow left is a limit, never the sum.
        let entry = example(&format!("{scenario}/stopped-first.yaml"));
        for said in
            [agree(scenario, "stopped-", "text"), at(&format!("check examples/{scenario}/stopped-first.yaml")).said()]
        {
            assert!(said.stdout.contains("STOP: no rate is shown"), "{said:?}");
            assert!(!said.stdout.contains("\n         sum:"), "{said:?}");
            for rate in ["5052 mL/h", "21.6 mL/h", "0.3 mL/h"] {
                assert!(!said.stdout.contains(rate), "{rate} of {entry}: {said:?}");
            }
        }
    }
}

/// The rules of the trade for writing numbers and units, over everything that any example prints.
// hazard: H-CARD
#[test]
fn everything_printed_keeps_to_the_rules_of_writing() {
    let mut texts = Vec::new();
    for scenario in SCENARIOS {
        for (pair, _) in PAIRS {
            for format in ["text", "json"] {
                for said in [
                    agree(scenario, pair, format),
                    at(&format!("check examples/{scenario}/{pair}first.yaml --format {format}")).said(),
                ] {
                    texts.extend(strings(&said, format));
                }
            }
        }
    }
    for (command, file) in BATCHES {
        texts.extend(strings(&at(&format!("{command} --batch examples/{file}")).said(), "json"));
    }
    assert!(texts.len() > 1000, "{}", texts.len());
    for text in &texts {
        keeps_the_rules(text);
    }
}

/// The patterns find what they are for.
#[rstest]
#[case("5 µg")]
#[case("5 μg")]
#[case("50 U in 50 mL")]
#[case("50 IU")]
#[case("50U")]
#[case("5.0 mg")]
#[case("0.50")]
#[case("give .5 mg")]
#[case("(.5)")]
#[case("1,000 mg")]
#[case("10000 units")]
#[case("5 cc")]
#[case("5 ml/h")]
#[case("5 ug")]
#[case("5mg")]
#[case("5 ng")]
#[case("about 5\n      mL are left")]
#[should_panic(expected = "is not to be written")]
fn the_rules_of_writing_can_fail(#[case] text: &str) {
    keeps_the_rules(text);
}

/// What is never to be written, and the pattern that finds it.
static NEVER: LazyLock<Vec<(&str, Regex)>> = LazyLock::new(|| {
    let patterns = [
        ("a micro sign", "[µμ]"),
        ("U for units", r"(^|[ 0-9])I?U( |$|/)"),
        ("a trailing zero", r"\d+\.\d*0($|[^0-9.])"),
        ("a leading point", r"(^|[^0-9.])\.\d"),
        ("a comma in a number", r"\d,\d"),
        ("five digits ungrouped", r"(^|[ (])\d{5,} ?(mL|mcg|mg|g|units|kg|nanogram)"),
        ("a wrong unit", r"\b(cc|ml|ML|Mg|MG|ug|ng|hr|hrs|IU|mL/hr|gm|grams)\b"),
        ("a number stuck to its unit", r"\d(mL|mcg|mg|kg|units|nanogram)\b"),
        ("a number parted from its unit", r"\d\n *(mL|mcg|mg|kg|units?|nanogram|h|min|s|%)\b"),
    ];
    patterns.map(|(what, pattern)| (what, Regex::new(pattern).expect("a pattern"))).into()
});

fn keeps_the_rules(text: &str) {
    for (what, pattern) in NEVER.iter() {
        let found = pattern.find(text).map(|found| found.as_str());
        assert_eq!(found, None, "{what} is not to be written: {text}");
    }
}

fn agree(scenario: &str, pair: &str, format: &str) -> Said {
    let folder = format!("examples/{scenario}/{pair}");
    at(&format!("agree {folder}first.yaml {folder}second.yaml --format {format}")).said()
}

/// The value of a row of a card; its first line.
fn value<'c>(card: &'c str, row: &str) -> Option<&'c str> {
    let line = card.lines().find(|line| line.get(..16).is_some_and(|label| label.trim_end() == row))?;
    Some(line[16..].trim())
}

/// Everything a person reads: each line with the one after it, or each text of the data.
fn strings(said: &Said, format: &str) -> Vec<String> {
    if format == "text" {
        let lines: Vec<&str> = said.stdout.lines().collect();
        return lines.windows(2).map(|two| two.join("\n")).collect();
    }
    let mut texts = Vec::new();
    said.lines().iter().for_each(|line| gather(line, &mut texts));
    texts
}

fn gather(value: &Value, texts: &mut Vec<String>) {
    match value {
        Value::String(text) => texts.push(text.clone()),
        Value::Array(items) => items.iter().for_each(|item| gather(item, texts)),
        Value::Object(members) => members.values().for_each(|member| gather(member, texts)),
        _ => {}
    }
}

fn walk(root: &Path, folder: &Path, found: &mut BTreeSet<String>) {
    for item in fs::read_dir(folder).expect("a folder of examples") {
        let path = item.expect("a readable folder").path();
        if path.is_dir() {
            walk(root, &path, found);
        } else {
            let name = path.strip_prefix(root).expect("below the root");
            found.insert(name.display().to_string().replace('\\', "/"));
        }
    }
}

/// Data is spread over lines, so that a change of it can be read; the fingerprint follows every word of the formulary
/// and has a test of its own.
fn snapshot(name: &str, said: &Said, format: &str) {
    let spread = |value: &Value| serde_json::to_string_pretty(value).expect("it was read from text");
    let stdout = match format {
        "json" => said.lines().iter().map(|line| spread(line) + "\n").collect(),
        _ => said.stdout.clone(),
    };
    let text = format!("exit {}\n--- stdout\n{stdout}--- stderr\n{}", said.code, said.stderr);
    let mut settings = insta::Settings::clone_current();
    settings.set_prepend_module_to_snapshot(false);
    settings.set_omit_expression(true);
    settings.add_filter("[0-9a-f]{64}", format!("{:-^64}", " fingerprint "));
    settings.bind(|| insta::assert_snapshot!(name, text));
}
