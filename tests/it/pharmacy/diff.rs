//! Changes in clinical words, by risk; the way a number is written is none.

use countersign::document::{DRUG_LIMIT, Node, Value, read_yaml};
use countersign::pharmacy::diff::{Risk, diff};
use rstest::rstest;

use crate::pharmacy::house::House;

const NORADRENALINE: &str = "drugs/noradrenaline.yaml";
const KETAMINE: &str = "drugs/ketamine.yaml";

fn lines(old: &House, new: &House) -> Vec<(Risk, String)> {
    let changes = diff(&old.formulary(), &new.formulary()).expect("both can be read");
    changes.iter().map(|change| (change.risk, change.line())).collect()
}

// hazard: H-LIMITS
#[test]
fn the_most_dangerous_change_comes_first() {
    let old = House::small();
    let new = House::small()
        .change(KETAMINE, "hard: {to: 100 mL/h, source: handbook}", "hard: {to: 90 mL/h, source: handbook}")
        .change(KETAMINE, "      longest: {to: 24 h, source: handbook}\n", "")
        .change(KETAMINE, "from: 40 mcg/kg/min, to: 60 mcg/kg/min", "from: 40 mcg/kg/min, to: 65 mcg/kg/min")
        .change(KETAMINE, "class: induction agent", "class: anaesthetic")
        .change(KETAMINE, "{ampoules: 1, of: 500 mg in 10 mL,", "{ampoules: 2, of: 250 mg in 5 mL,")
        .change(KETAMINE, "dose_unit: mg/kg\n", "dose_unit: mcg/kg\n")
        .change(KETAMINE, "usual: {from: 0.5 mg/kg, to: 2 mg/kg", "usual: {from: 500 mcg/kg, to: 2000 mcg/kg")
        .change(KETAMINE, "soft: {from: 0.5 mg/kg, to: 2 mg/kg", "soft: {from: 500 mcg/kg, to: 2000 mcg/kg")
        .change(KETAMINE, "hard: {to: 4 mg/kg", "hard: {to: 4000 mcg/kg")
        .change("formulary.yaml", "version: \"3\"", "version: \"4\"")
        .without("drugs/adrenaline.yaml");
    let found = lines(&old, &new);
    let risks: Vec<Risk> = found.iter().map(|(risk, _)| *risk).collect();
    assert_eq!(
        risks,
        [
            Risk::DoseUnit,
            Risk::Strength,
            Risk::LimitRemoved,
            Risk::LimitWidened,
            Risk::LimitNarrowed,
            Risk::Removed,
            Risk::Other,
            Risk::Other,
        ]
    );
    let says: Vec<&str> = found.iter().map(|(_, line)| line.as_str()).collect();
    assert_eq!(says[0], "ketamine, adult theatre, anaesthesia, bolus: dose unit mg/kg -> mcg/kg");
    assert_eq!(says[2], "ketamine, adult theatre, anaesthesia: duration: upper limit 24 h -> nothing");
    assert_eq!(says[3], "ketamine, adult theatre, anaesthesia, load: usual upper limit 60 -> 65 mcg/kg/min, x ≈ 1.083");
    assert_eq!(says[4], "ketamine, adult theatre, anaesthesia: hard, rate: upper limit 100 -> 90 mL/h, x 0.9");
    assert_eq!(says[5], "adrenaline: drug adrenaline -> nothing");
}

#[test]
fn limits_that_count_something_else_are_changes_of_the_unit() {
    let old = House::small();
    let per_kg = old.text(KETAMINE);
    let not_per_kg = per_kg.replace("mcg/kg/min", "mcg/min").replace("      dosing_weights: [actual]\n", "");
    let found = lines(&old, &House::small().with(KETAMINE, not_per_kg));
    let of_unit = found.iter().filter(|(risk, _)| *risk == Risk::DoseUnit).count();
    // The unit, and the ten limits beneath it.
    assert_eq!(of_unit, 11, "{found:#?}");
    assert_eq!(found[0].1, "ketamine, adult theatre, anaesthesia: dose unit mcg/kg/min -> mcg/min");
}

#[test]
fn a_new_drug_is_shown_by_its_values_and_one_that_is_gone_is_said_once() {
    let with = House::small();
    let without = House::small().without(NORADRENALINE);
    let found = lines(&without, &with);
    assert!(found.iter().all(|(risk, _)| *risk == Risk::Added), "{found:#?}");
    let new = "noradrenaline, adult theatre, vasopressor, maintenance: hard upper limit nothing -> 2 mcg/kg/min";
    assert!(found.iter().any(|(_, says)| says == new), "{found:#?}");
    assert!(found.len() > 20, "{found:#?}");
    assert_eq!(lines(&with, &without).len(), 1);
}

// hazard: H-LIMITS
#[rstest]
#[case("hard: {to: 2 mcg/kg/min", "hard: {to: 20 mcg/kg/min", "2 -> 20 mcg/kg/min, x 10")]
#[case("{amount: 4 mg, volume: 50 mL", "{amount: 4 mg, volume: 500 mL", "x 0.1")]
#[case("{amount: 8 mg, volume: 50 mL", "{amount: 16 mg, volume: 100 mL", "16 mg in 100 mL")]
fn each_changed_number_has_its_factor(#[case] from: &str, #[case] to: &str, #[case] ends: &str) {
    let found = lines(&House::small(), &House::small().change(NORADRENALINE, from, to));
    assert!(found.iter().any(|(_, says)| says.ends_with(ends)), "{found:#?}");
}

#[rstest]
#[case::ampoules_of_another_size(
    "{ampoules: 1, of: 500 mg in 10 mL,",
    "{ampoules: 2, of: 250 mg in 5 mL,",
    "recipe of strength `single`"
)]
#[case::a_larger_syringe_of_the_same(
    "{amount: 500 mg, volume: 50 mL, source: handbook, recipe: {ampoules: 1,",
    "{amount: 250 mg, volume: 25 mL, source: handbook, recipe: {ampoules: 0.5,",
    "strength `single`"
)]
fn the_same_strength_made_otherwise_is_a_change(#[case] from: &str, #[case] to: &str, #[case] what: &str) {
    let found = lines(&House::small(), &House::small().change(KETAMINE, from, to));
    assert!(found.iter().any(|(risk, line)| *risk == Risk::Strength && line.contains(what)), "{found:#?}");
}

#[test]
fn a_number_written_in_another_way_is_no_change() {
    let old = House::demonstration();
    let (mut new, mut rewritten) = (old.clone(), 0);
    for (path, text) in old.files() {
        let (text, changes) = in_other_units(text);
        rewritten += changes;
        new = new.with(path, text);
    }
    assert!(rewritten > 150, "{rewritten} numbers were written in another way");
    assert_eq!(lines(&old, &new), []);
}

#[test]
fn a_formulary_is_as_it_is() {
    assert_eq!(lines(&House::demonstration(), &House::demonstration()), []);
}

/// Grams as milligrams, minutes as seconds, metres for centimetres: wherever the unit is the writer's choice.
fn in_other_units(text: &str) -> (String, usize) {
    let mut faults = Vec::new();
    let root = read_yaml(text, DRUG_LIMIT, &mut faults).expect("a file of the demonstration");
    let mut places = Vec::new();
    collect(&root, "", &mut places);
    places.sort_by_key(|(range, _)| std::cmp::Reverse(range.start));
    let mut text = text.to_owned();
    for (range, new) in &places {
        text.replace_range(range.clone(), new);
    }
    (text, places.len())
}

fn collect(node: &Node<'_>, key: &str, places: &mut Vec<(std::ops::Range<usize>, String)>) {
    match &node.value {
        Value::Map(members) => {
            let prose = ["sources", "accepted", "title", "more_than_two"];
            for member in members.iter().filter(|member| !prose.contains(&&*member.key)) {
                collect(&member.node, &member.key, places);
            }
        }
        Value::List(nodes) => nodes.iter().for_each(|node| collect(node, key, places)),
        Value::Text(text) => places.extend(rewritten(text, key).map(|new| (node.range.clone(), new))),
        Value::Nothing | Value::Bare => {}
    }
}

fn rewritten(text: &str, key: &str) -> Option<String> {
    let (number, unit) = text.split_once(' ')?;
    let number: rust_decimal::Decimal = number.parse().ok()?;
    let (factor, unit) = match (unit, key) {
        ("mg", "amount") => (1000, "mcg"),
        ("g", "amount") => (1000, "mg"),
        ("h", _) => (60, "min"),
        ("min", _) => (60, "s"),
        ("kg", "from" | "to") => (1000, "g"),
        _ => return None,
    };
    let new = (number * rust_decimal::Decimal::from(factor)).normalize().to_string();
    Some(format!("{} {unit}", grouped(&new)))
}

/// Five digits and more by threes, as they must be written.
fn grouped(digits: &str) -> String {
    if digits.len() < 5 || digits.contains('.') {
        return digits.to_owned();
    }
    let mut out = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            out.push(' ');
        }
        out.push(digit);
    }
    out
}
