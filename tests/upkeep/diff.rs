//! What changed between two formularies.

use std::fs;
use std::path::Path;

use countersign::formulary::Formulary;
use countersign::upkeep::diff::{Change, Risk, diff, page};
use regex::Regex;
use rstest::rstest;

const SMALL: [&str; 3] = ["formulary.yaml", "areas.yaml", "equipment.yaml"];

fn text(path: &str) -> String {
    fs::read_to_string(Path::new("formulary").join(path)).expect("it is in the project")
}

/// The demonstration with one drug alone, its text perhaps changed.
fn with(drug: &str, change: impl FnOnce(&str) -> String) -> Option<Formulary> {
    let path = format!("drugs/{drug}.yaml");
    let mut files: Vec<(String, String)> = SMALL.iter().map(|path| ((*path).to_owned(), text(path))).collect();
    files.push((path.clone(), change(&text(&path))));
    let formulary = Formulary::kept("a copy", files).ok()?;
    formulary.load_all().ok()?;
    Some(formulary)
}

fn changes(drug: &str, change: impl FnOnce(&str) -> String) -> Vec<Change> {
    let old = with(drug, str::to_owned).expect("the demonstration has no fault");
    let new = with(drug, change).expect("it can be read");
    diff(&old, &new).expect("both can be read")
}

fn drugs() -> Vec<String> {
    let entries = fs::read_dir("formulary/drugs").expect("a folder");
    let mut names: Vec<String> = entries
        .map(|entry| entry.expect("an entry").path().file_stem().expect("a name").to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}

// hazard: H-LIMITS
#[test]
fn one_number_that_differs_is_named_and_nothing_else() {
    let number = Regex::new(r"(from|to): ([0-9]+(?:\.[0-9]+)?) ").expect("a pattern");
    let (mut tried, mut skipped) = (0, 0);
    for drug in drugs() {
        let original = text(&format!("drugs/{drug}.yaml"));
        let old = with(&drug, str::to_owned).expect("the demonstration has no fault");
        for found in number.captures_iter(&original) {
            let typed = found.get(2).expect("the number");
            let (side, value) = (&found[1], typed.as_str().parse::<f64>().expect("a number"));
            // Up or down by a hundredth, whichever keeps the order of the limits.
            let other = [101, 99].into_iter().find_map(|percent| {
                let changed = format!("{:.7}", value * f64::from(percent) / 100.0);
                let changed = changed.trim_end_matches('0').trim_end_matches('.').to_owned();
                let text = format!("{}{changed}{}", &original[..typed.start()], &original[typed.end()..]);
                with(&drug, |_| text).map(|new| (changed, new, percent))
            });
            let Some((changed, new, percent)) = other else {
                skipped += 1;
                continue;
            };
            tried += 1;
            let changes = diff(&old, &new).expect("both can be read");
            assert_eq!(changes.len(), 1, "{drug}: {} -> {changed}: {changes:?}", typed.as_str());
            let change = &changes[0];
            let word = if side == "from" { "lower limit" } else { "upper limit" };
            assert!(change.what.ends_with(word), "{drug}: {change:?}");
            let wider = (side == "to") == (percent == 101);
            let risk = if wider { Risk::LimitWidened } else { Risk::LimitNarrowed };
            assert_eq!(change.risk, risk, "{drug}: {change:?}");
            let line = original[..typed.start()].lines().count();
            assert!(change.file.ends_with(&format!("line {line}")), "{drug}: {change:?} stands in line {line}");
            assert!(
                change.line().starts_with(&format!("{}, ", drug.replace('-', " ")))
                    || change.place == drug.replace('-', " ")
            );
        }
    }
    assert!(tried > 700, "{tried} numbers were changed");
    assert!(skipped * 20 < tried, "{skipped} could not be changed alone");
}

#[rstest]
#[case::written_otherwise("amount: 4 mg", "amount: 4000 mcg", "strength `single` 4 mg in 50 mL -> 4000 mcg in 50 mL")]
#[case::name("other_names: [norepinephrine]", "other_names: [norepinephrine, levarterenol]", "other names")]
#[case::alert("high_alert: true", "high_alert: false", "high alert yes -> no")]
fn what_is_not_a_limit_is_told_too(#[case] from: &str, #[case] to: &str, #[case] says: &str) {
    let changes = changes("noradrenaline", |text| text.replacen(from, to, 1));
    assert!(changes.iter().any(|change| change.line().contains(says)), "{changes:?}");
}

#[test]
fn a_review_date_is_told() {
    let changes =
        changes("noradrenaline", |text| text.replacen("review: {by: 2099-12-31", "review: {by: 2098-12-31", 1));
    assert_eq!(changes.len(), 1);
    assert_eq!(changes[0].line(), "noradrenaline: review by 2099-12-31 -> 2098-12-31");
}

// hazard: H-LIMITS
#[test]
fn the_most_dangerous_change_comes_first() {
    let whole = Formulary::demonstration().expect("it has no fault");
    let mut files: Vec<(String, String)> = whole.files().to_vec();
    for (path, text) in &mut files {
        match path.as_str() {
            "drugs/noradrenaline.yaml" => {
                *text = text.replacen("to: 0.5 mcg/kg/min", "to: 0.4 mcg/kg/min", 1);
                *text = text.replacen("amount: 4 mg", "amount: 5 mg", 1).replacen("ampoules: 4,", "ampoules: 5,", 1);
            }
            "drugs/esmolol.yaml" => *text = text.replacen("      flow:", "      flow_gone:", 1),
            _ => {}
        }
    }
    files.retain(|(path, _)| path != "drugs/vecuronium.yaml" && path != "approval.yaml");
    let newer = Formulary::kept("newer", files).expect("it can be read");
    let changes = diff(&whole, &newer).expect("both can be read");
    let risks: Vec<Risk> = changes.iter().map(|change| change.risk).collect();
    let mut sorted = risks.clone();
    sorted.sort_unstable();
    assert_eq!(risks, sorted);
    assert_eq!(risks.first(), Some(&Risk::Strength));
    assert!(changes.iter().any(|change| change.line() == "vecuronium: drug vecuronium -> nothing"), "{changes:?}");
    let of_gone = changes.iter().filter(|change| change.place.starts_with("vecuronium")).count();
    assert_eq!(of_gone, 1, "what belongs to a drug that is gone is said once");
    let lines: Vec<String> = changes.iter().map(Change::line).collect();
    insta::assert_snapshot!(lines.join("\n"));
}

#[test]
fn the_page_stands_alone_and_escapes_what_was_typed() {
    let changes = changes("noradrenaline", |text| text.replacen("[norepinephrine]", "[\"<b>norepinephrine\"]", 1));
    let page = page("old", "new", &changes, Some("DEMONSTRATION LIMITS, NOT FOR PATIENTS"));
    assert!(page.contains("&lt;b&gt;norepinephrine") && !page.contains("<b>norepinephrine"));
    assert!(!page.contains("<script") && !page.contains("http"), "nothing is fetched");
    insta::assert_snapshot!(page.replace('>', ">\n"));
}
