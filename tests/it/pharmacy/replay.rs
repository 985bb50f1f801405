//! Past set-ups against a proposed formulary: what is counted is what each entry says when it is checked alone.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value;

use crate::common::{folder, run, tools::thorough};
use crate::pharmacy::house::House;

const NORADRENALINE: &str = "drugs/noradrenaline.yaml";
const AT: &str = "2026-01-15T08:05:00+00:00";

/// The demonstration with one limit narrowed: noradrenaline in adult theatre, maintenance, soft from 0.35 to 0.21.
fn narrowed() -> House {
    let old = House::demonstration();
    let text = old.text(NORADRENALINE);
    let narrowed = text
        .replacen(
            "usual: {from: 0.02 mcg/kg/min, to: 0.3 mcg/kg/min,",
            "usual: {from: 0.02 mcg/kg/min, to: 0.2 mcg/kg/min,",
            1,
        )
        .replacen(
            "soft: {from: 0.01 mcg/kg/min, to: 0.35 mcg/kg/min,",
            "soft: {from: 0.01 mcg/kg/min, to: 0.21 mcg/kg/min,",
            1,
        );
    assert_eq!(text.len(), narrowed.len());
    assert_ne!(text, narrowed);
    House::demonstration().with(NORADRENALINE, narrowed)
}

fn sampled(count: &str) -> String {
    run(["formulary", "sample", count, "--seed", "11", "--formulary", "demonstration"]).said().stdout
}

fn written(place: &Path, lines: &str) -> PathBuf {
    let file = place.join("past.jsonl");
    fs::write(&file, lines).expect("our own folder");
    file
}

fn replay(proposed: &Path, file: &Path, more: &[&str]) -> crate::common::Said {
    let said =
        run(["formulary", "replay"]).arg(proposed).arg(file).arg("--against").arg("demonstration").arg("--at").arg(AT);
    let said = more.iter().fold(said, |run, word| run.arg(word)).said();
    assert_eq!((said.code, said.stderr.as_str()), (0, ""), "{said:?}");
    said
}

/// Every line checked alone, one after the other.
fn checked(formulary: &str, lines: &str) -> Vec<Value> {
    let said = run(["check", "--batch", "-", "--formulary", formulary, "--at", AT]).stdin(lines).said();
    assert_eq!(said.code, 0);
    said.lines()
}

fn codes(answer: &Value) -> Vec<(String, String)> {
    let findings = answer["findings"].as_array().expect("a list");
    let text = |value: &Value| value.as_str().expect("a text").to_owned();
    findings.iter().map(|finding| (text(&finding["code"]), text(&finding["severity"]))).collect()
}

fn verdict(answer: &Value) -> &'static str {
    match codes(answer) {
        found if found.iter().any(|(_, severity)| severity == "stop") => "stopped",
        found if found.iter().any(|(_, severity)| severity == "justify") => "reason needed",
        _ => "passed",
    }
}

// hazard: H-LIMITS
#[test]
fn counts_are_those_of_each_entry_checked_alone() {
    let place = folder("counts");
    let proposed = narrowed().into_folder(place.join("proposed"));
    let lines = sampled("1500");
    let with_faults = format!("{lines}not an entry\n{{\"drug\": \"noradrenaline\"}}\n");
    let data = replay(&proposed, &written(&place, &with_faults), &["--format", "json"]).json();
    assert_eq!((data["set_ups"].as_u64(), data["unreadable"].as_u64()), (Some(1500), Some(2)));

    let now = checked("demonstration", &lines);
    let then = checked(proposed.to_str().expect("a plain path"), &lines);
    let mut verdicts: BTreeMap<(String, String), u64> = BTreeMap::new();
    let mut rules: BTreeMap<String, (u64, u64)> = BTreeMap::new();
    for (now, then) in now.iter().zip(&then) {
        *verdicts.entry((verdict(now).to_owned(), verdict(then).to_owned())).or_default() += 1;
        codes(now).into_iter().for_each(|(code, _)| rules.entry(code).or_default().0 += 1);
        codes(then).into_iter().for_each(|(code, _)| rules.entry(code).or_default().1 += 1);
    }
    let text = |value: &Value| value.as_str().expect("a text").to_owned();
    let number = |value: &Value| value.as_u64().expect("a number");
    let found: BTreeMap<(String, String), u64> = data["verdicts"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|one| ((text(&one["now"]), text(&one["proposed"])), number(&one["set_ups"])))
        .collect();
    assert_eq!(found, verdicts);
    let found: BTreeMap<String, (u64, u64)> = data["rules"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|one| (text(&one["code"]), (number(&one["now"]), number(&one["proposed"]))))
        .collect();
    assert_eq!(found, rules);
}

// hazard: H-LIMITS
#[test]
fn a_narrowed_limit_shows_exactly_the_entries_beyond_it() {
    let place = folder("narrowed");
    let proposed = narrowed().into_folder(place.join("proposed"));
    let lines = sampled("8000");
    let beyond = lines
        .lines()
        .map(|line| serde_json::from_str::<Value>(line).expect("an entry"))
        .filter(|entry| {
            let is = |field: &str, word: &str| entry[field] == word;
            let dose = entry["dose"].as_str().and_then(|dose| dose.split(' ').next()).expect("a dose");
            let dose: rust_decimal::Decimal = dose.parse().expect("a number");
            is("drug", "noradrenaline")
                && is("area", "adult theatre")
                && is("phase", "maintenance")
                && dose > rust_decimal::Decimal::new(21, 2)
                && dose <= rust_decimal::Decimal::new(35, 2)
        })
        .count();
    assert!(beyond > 2, "the sample has {beyond}");
    let data = replay(&proposed, &written(&place, &lines), &["--format", "json"]).json();
    let rules = data["rules"].as_array().expect("a list");
    let rule = rules.iter().find(|rule| rule["code"] == "dose-above-soft-limit").expect("the sample goes beyond it");
    assert_eq!(rule["newly_said"].as_u64(), Some(beyond as u64), "{rule}");
    assert_eq!(rule["no_longer_said"].as_u64(), Some(0), "{rule}");
    for example in rule["examples"].as_array().expect("a list") {
        assert!(example.as_str().is_some_and(|text| text.contains("soft limit of 0.21 mcg/kg/min")), "{example}");
    }
    // Nothing else is said of any dose; a coincidence of numbers is said beside a finding about the dose only.
    let beside = ["dose-above-soft-limit", "same-number-twice"];
    for rule in rules.iter().filter(|rule| beside.iter().all(|code| rule["code"] != *code)) {
        assert_eq!((&rule["newly_said"], &rule["no_longer_said"]), (&0.into(), &0.into()), "{rule}");
    }
}

fn entry(dose: &str, reason: bool) -> String {
    let lines = sampled("2000");
    let found = lines.lines().map(|line| serde_json::from_str::<Value>(line).expect("an entry")).find(|entry| {
        entry["drug"] == "noradrenaline" && entry["area"] == "adult theatre" && entry["phase"] == "maintenance"
    });
    let mut entry = found.expect("the sample has one");
    entry["dose"] = dose.into();
    entry["access"] = "central".into();
    entry.as_object_mut().expect("a map").remove("reasons");
    if reason {
        entry["reasons"] = serde_json::json!({"dose-above-soft-limit": "poor heart function"});
    }
    format!("{entry}\n")
}

// hazard: H-ALARMS
#[test]
fn a_limit_that_is_always_overridden_is_named() {
    let place = folder("overridden");
    let overridden = |file: &Path| {
        let data = replay(Path::new("demonstration"), file, &["--format", "json"]).json();
        data["always_overridden"].as_array().expect("a list").clone()
    };
    let five = entry("0.6 mcg/kg/min", true).repeat(5);
    let found = overridden(&written(&place, &five));
    assert_eq!(found.len(), 1, "{found:?}");
    let says = found[0].as_str().expect("a text");
    assert!(says.contains("noradrenaline.yaml line") && says.contains("5 times"), "{says}");
    // Four are no habit, and one that stayed without a reason breaks it.
    assert!(overridden(&written(&place, &entry("0.6 mcg/kg/min", true).repeat(4))).is_empty());
    let six = five + &entry("0.6 mcg/kg/min", false);
    assert!(overridden(&written(&place, &six)).is_empty());
}

// hazard: H-ALARMS
#[test]
fn a_limit_that_never_fired_is_named_with_the_set_ups_it_judged() {
    let place = folder("never");
    let never = |lines: &str| {
        let data = replay(Path::new("demonstration"), &written(&place, lines), &["--format", "json"]).json();
        let list = data["never_fired"].as_array().expect("a list").clone();
        let at = |what: &str| {
            let place = format!("noradrenaline, adult theatre, vasopressor, maintenance: {what}");
            list.iter()
                .find(|one| one["limit"].as_str().is_some_and(|text| text.starts_with(&place)))
                .map(|one| one["set_ups"].as_u64().expect("a number"))
        };
        (at("soft upper limit"), at("hard upper limit"), at("soft lower limit"))
    };
    assert_eq!(never(&entry("0.1 mcg/kg/min", false).repeat(3)), (Some(3), Some(3), Some(3)));
    assert_eq!(never(&entry("0.6 mcg/kg/min", false).repeat(3)), (None, Some(3), Some(3)));
    assert_eq!(never(&entry("0.005 mcg/kg/min", false)), (Some(1), Some(1), None));
    assert_eq!(never(&entry("4 mcg/kg/min", false)), (Some(1), None, Some(1)));
}

#[test]
fn the_answer_does_not_depend_on_the_cores() {
    let place = folder("threads");
    let proposed = narrowed().into_folder(place.join("proposed"));
    let file = written(&place, &sampled(thorough("4000", "800")));
    for format in ["text", "json"] {
        let one = replay(&proposed, &file, &["--format", format, "--threads", "1"]).stdout;
        assert_eq!(one, replay(&proposed, &file, &["--format", format, "--threads", "2"]).stdout);
        assert_eq!(one, replay(&proposed, &file, &["--format", format, "--threads", "5"]).stdout);
    }
}

#[test]
fn nothing_to_replay_is_refused() {
    let said = run(["formulary", "replay", "demonstration", "--against", "demonstration"]).said();
    assert!(said.is_refused().contains("no past set-ups are named"), "{said:?}");
}
