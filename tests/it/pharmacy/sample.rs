//! Invented entries: the same for the same seed, readable, and of every kind.

use std::collections::{BTreeMap, BTreeSet};

use crate::common::run;

fn sample(count: &str, seed: &str) -> String {
    let said = run(["formulary", "sample", count, "--seed", seed, "--formulary", "demonstration"]).said();
    assert_eq!((said.code, said.stderr.as_str()), (0, ""));
    said.stdout
}

#[test]
fn the_same_seed_gives_the_same_entries() {
    let (one, same, other) = (sample("200", "7"), sample("200", "7"), sample("200", "8"));
    assert_eq!(one, same);
    assert_ne!(one, other);
    assert_eq!(one.lines().count(), 200);
    assert!(sample("300", "7").starts_with(&one));
}

#[test]
fn most_entries_are_usual_and_some_of_every_kind() {
    let lines = sample("3000", "1");
    let said = run(["check", "--batch", "-", "--formulary", "demonstration", "--at", "2026-01-15T08:05:00+00:00"])
        .stdin(lines.clone())
        .said();
    assert_eq!(said.code, 0);
    let mut verdicts: BTreeMap<String, usize> = BTreeMap::new();
    for answer in said.lines() {
        *verdicts.entry(answer["verdict"].as_str().unwrap_or_default().to_owned()).or_default() += 1;
    }
    let of = |verdict: &str| verdicts.get(verdict).copied().unwrap_or_default();
    assert_eq!(of("refused"), 0, "{verdicts:?}");
    assert!(of("proceed") > 1500, "{verdicts:?}");
    assert!(of("justify") > 150 && of("stop") > 60, "{verdicts:?}");
    let entries: Vec<serde_json::Value> =
        lines.lines().map(|line| serde_json::from_str(line).expect("an entry")).collect();
    let values = |field: &str| -> BTreeSet<String> { entries.iter().map(|entry| entry[field].to_string()).collect() };
    assert!(values("drug").len() >= 39, "{:?}", values("drug"));
    assert_eq!(values("area").len(), 6);
    assert!(values("phase").len() >= 3);
    assert!(values("dose").len() > 500);
    assert!(entries.iter().filter(|entry| entry.get("reasons").is_some()).count() > 200);
}
