//! Every number of the demonstration formulary, changed alone: exactly that number is named, in the right words.

use std::sync::LazyLock;

use countersign::document::{DRUG_LIMIT, Node, Value, read_yaml};
use countersign::pharmacy::diff::{Risk, diff};
use rust_decimal::Decimal;

use crate::house::House;
use crate::tools::thorough;

/// Fields that hold words, in which a number is no value of its own.
const WORDS: [&str; 14] = [
    "sources",
    "accepted",
    "exceptions",
    "title",
    "version",
    "more_than_two",
    "source",
    "review",
    "issued",
    "drug",
    "class",
    "standard_equipment",
    "accepts",
    "clinical_reasons",
];

/// A number that stands in a scalar.
struct Number {
    keys: Vec<String>,
    text: String,
    /// Where the number is in the file.
    range: std::ops::Range<usize>,
}

/// What must be said of a change.
#[derive(Debug, PartialEq)]
struct Said {
    place: String,
    what: String,
    risk: Risk,
}

// hazard: H-LIMITS
#[test]
fn a_change_of_any_one_number_names_exactly_that_number() {
    let whole = House::demonstration();
    let (mut changed, mut fixed) = (0, Vec::new());
    for (path, text) in whole.files() {
        let house = if path.starts_with("drugs/") { whole.only(path) } else { whole.only("drugs/noradrenaline.yaml") };
        let old = house.formulary();
        for number in numbers(text).into_iter().step_by(thorough(1, 8)) {
            let tried = tries(&number.text).into_iter().find_map(|(new, larger)| {
                let mut text = text.clone();
                text.replace_range(number.range.clone(), &new);
                let proposed = old.with_text(path, text).ok()?;
                proposed.load_all().ok()?;
                Some((proposed, new, larger))
            });
            let Some((proposed, new, larger)) = tried else {
                fixed.push(format!("{path} {}", number.keys.join(".")));
                continue;
            };
            let changes = diff(&old, &proposed).expect("both can be read");
            let said: Vec<Said> = changes
                .iter()
                .map(|one| Said { place: one.place.clone(), what: one.what.clone(), risk: one.risk })
                .collect();
            let name = format!("{path} {}: {} -> {new}", number.keys.join("."), number.text);
            assert_eq!(said, [expected(path, &number.keys, larger)], "{name}");
            let (was, is) = (changes[0].old.as_deref(), changes[0].new.as_deref());
            assert!(holds(was, &number.text) && holds(is, &new), "{name}: {was:?} {is:?}");
            changed += 1;
        }
    }
    assert!(changed > thorough(1200, 150), "{changed} numbers were changed");
    // Amount, volume and recipe of a strength follow from each other, and the reader refuses one of them alone.
    fixed.retain(|number| !number.contains(" strengths."));
    // The others lie between two neighbours that they equal.
    assert!(fixed.len() <= 22, "numbers that cannot be changed alone: {fixed:#?}");
}

// hazard: H-STRENGTH
#[test]
fn a_strength_that_is_made_otherwise_is_named_with_its_recipe() {
    let whole = House::demonstration();
    let recipe = regex::Regex::new(
        r"(?m)^(  [^:\n]+: \{amount: )(\d+(?:\.\d+)?)( [^,]+, volume: )(\d+(?:\.\d+)?)( mL, .*recipe: \{ampoules: )(\d+(?:\.\d+)?)(, .*how: made up to.*)$",
    );
    let recipe = recipe.expect("it is one");
    let mut changed = 0;
    for (path, text) in whole.files().iter().filter(|(path, _)| path.starts_with("drugs/")) {
        let house = whole.only(path);
        let old = house.formulary();
        for line in recipe.captures_iter(text) {
            let doubled = |at: usize| twice(&line[at]);
            let new =
                format!("{}{}{}{}{}{}{}", &line[1], doubled(2), &line[3], &line[4], &line[5], doubled(6), &line[7]);
            let Ok(proposed) = old.with_text(path, text.replacen(&line[0], &new, 1)) else { continue };
            if proposed.load_all().is_err() {
                continue;
            }
            let changes = diff(&old, &proposed).expect("both can be read");
            let key = line[1].trim().split(':').next().expect("there is a first");
            let said: Vec<&str> = changes.iter().map(|one| one.what.as_str()).collect();
            assert_eq!(said, [format!("recipe of strength `{key}`"), format!("strength `{key}`")], "{path} {new}");
            assert!(changes.iter().all(|one| one.risk == Risk::Strength), "{path} {new}");
            changed += 1;
        }
    }
    assert!(changed >= 30, "{changed} strengths were doubled");
}

fn twice(number: &str) -> String {
    let number: Decimal = number.parse().expect("a number");
    (number * Decimal::TWO).normalize().to_string()
}

fn holds(shown: Option<&str>, number: &str) -> bool {
    let digits = |text: &str| text.replace(' ', "");
    shown.is_some_and(|shown| digits(shown).contains(&digits(number)))
}

fn numbers(text: &str) -> Vec<Number> {
    let mut faults = Vec::new();
    let root = read_yaml(text, DRUG_LIMIT, &mut faults).expect("a file of the demonstration");
    let mut found = Vec::new();
    collect(&root, &mut Vec::new(), &mut found);
    found
}

fn collect(node: &Node<'_>, keys: &mut Vec<String>, found: &mut Vec<Number>) {
    match &node.value {
        Value::Map(members) => {
            for member in members.iter().filter(|member| !WORDS.contains(&&*member.key)) {
                keys.push(member.key.to_string());
                collect(&member.node, keys, found);
                keys.pop();
            }
        }
        Value::List(nodes) => {
            for (at, node) in nodes.iter().enumerate() {
                keys.push(at.to_string());
                collect(node, keys, found);
                keys.pop();
            }
        }
        Value::Text(text) => {
            static NUMBER: LazyLock<regex::Regex> =
                LazyLock::new(|| regex::Regex::new(r"(?:^| )(\d+(?:\.\d+)?)(?: |$)").expect("it is one"));
            let key = keys.iter().map(String::as_str).rev().find(|key| key.parse::<usize>().is_err());
            // Keys and names may hold numbers too.
            if matches!(
                key,
                Some(
                    "strengths"
                        | "other_names"
                        | "looks_like"
                        | "codes"
                        | "diluent"
                        | "shows"
                        | "indications"
                        | "of"
                        | "what"
                )
            ) && !keys.iter().any(|key| key == "recipe")
            {
                return;
            }
            for captures in NUMBER.captures_iter(text) {
                let one = captures.get(1).expect("the group is not optional");
                let start = node.range.start + one.start();
                let range = start..start + one.as_str().len();
                found.push(Number { keys: keys.clone(), text: one.as_str().to_owned(), range });
            }
        }
        Value::Nothing | Value::Bare => {}
    }
}

/// Other numbers near this one, and whether each is larger.
fn tries(text: &str) -> Vec<(String, bool)> {
    let number: Decimal = text.parse().expect("a number");
    let factors = [102, 98, 110, 90, 125, 80, 150, 50, 200, 20, 400, 1000].map(|percent| Decimal::new(percent, 2));
    let near = factors.into_iter().map(|factor| number * factor);
    let next = [number + Decimal::ONE, number - Decimal::ONE];
    let tries = near.chain(next).filter(|one| *one > Decimal::ZERO && *one != number);
    tries.map(|one| (one.normalize().to_string(), one > number)).collect()
}

/// Read off the keys of the file, as a person would say it.
fn expected(path: &str, keys: &[String], larger: bool) -> Said {
    let keys: Vec<&str> = keys.iter().map(String::as_str).collect();
    let limit = |place: String, what: &str, side: &str| {
        let widened = (side == "to") == larger;
        let risk = if widened { Risk::LimitWidened } else { Risk::LimitNarrowed };
        let side = if side == "to" { "upper" } else { "lower" };
        Said { place, what: format!("{what} {side} limit"), risk }
    };
    let alone = |place: String, what: &str, upper: bool| {
        let risk = if upper == larger { Risk::LimitWidened } else { Risk::LimitNarrowed };
        Said { place, what: what.to_owned(), risk }
    };
    let plain = |place: String, what: String, risk| Said { place, what, risk };
    if let Some(drug) = path.strip_prefix("drugs/").and_then(|file| file.strip_suffix(".yaml")) {
        let drug = drug.replace('-', " ");
        return match keys[..] {
            ["life_after_drawing_up", _] => alone(drug, "life after drawing up", true),
            ["equivalents", ..] => plain(drug, "equivalents".to_owned(), Risk::Strength),
            ["strengths", key, "recipe", _] => plain(drug, format!("recipe of strength `{key}`"), Risk::Strength),
            ["strengths", key, _] => plain(drug, format!("strength `{key}`"), Risk::Strength),
            ["peripheral_maximum", kind] => limit(drug, &format!("peripheral maximum, {kind}"), "to"),
            ["areas", area, use_of, ref rest @ ..] => {
                let place = format!("{drug}, {area}, {use_of}");
                match *rest {
                    ["weight", kind, side] => limit(place, &format!("{kind}, weight:"), side),
                    ["age", side] => limit(place, "age:", side),
                    ["phases", phase, kind, side] => limit(format!("{place}, {phase}"), kind, side),
                    ["bolus", "over", side] => limit(format!("{place}, bolus"), "time:", side),
                    ["bolus", kind, side] => limit(format!("{place}, bolus"), kind, side),
                    ["flow", kind, side] => limit(place, &format!("{kind}, rate:"), side),
                    ["longest", side] => limit(place, "duration:", side),
                    ["largest_jump", "times"] => alone(place, "largest jump", true),
                    ref other => panic!("a number at {other:?} of {place}"),
                }
            }
            ref other => panic!("a number at {other:?} of {drug}"),
        };
    }
    match (path, &keys[..]) {
        ("areas.yaml", [area, "weight", kind, side]) => {
            limit(format!("area {area}"), &format!("{kind}, weight:"), side)
        }
        ("areas.yaml", [area, "age", side]) => limit(format!("area {area}"), "age:", side),
        ("areas.yaml", [area, _]) => alone(format!("area {area}"), "unstarted entry expires after", true),
        ("equipment.yaml", ["containers", key, field]) => {
            plain(format!("container {key}"), field.replace('_', " "), Risk::Other)
        }
        ("equipment.yaml", ["lines", key, field]) => plain(format!("line {key}"), field.replace('_', " "), Risk::Other),
        ("equipment.yaml", ["drivers", key, "steps", at, _]) => {
            let number = at.parse::<usize>().expect("a place in a list") + 1;
            plain(format!("driver {key}"), format!("step {number}"), Risk::Other)
        }
        ("equipment.yaml", ["drivers", key, field]) => {
            let (what, upper) = match *field {
                "smallest_rate" => ("smallest rate", false),
                "largest_rate" => ("largest rate", true),
                _ => ("fastest bolus", true),
            };
            alone(format!("driver {key}"), what, upper)
        }
        ("formulary.yaml", ["policy", rest @ ..]) => {
            let place = "house rules".to_owned();
            match rest {
                ["rounding", "note_above"] => alone(place, "rounding noted above", true),
                ["rounding", _] => alone(place, "rounding needs a reason above", true),
                ["smallest_drawn_up"] => alone(place, "smallest volume drawn up", false),
                ["slow_arrival"] => alone(place, "arrival noted after", true),
                ["late_alarm"] => alone(place, "late alarm noted after", true),
                ["next_syringe_times"] => alone(place, "next syringe within", true),
                ["per_kg_recipe_within"] => alone(place, "amount per kg within", true),
                ["review_near"] => plain(place, "review near".to_owned(), Risk::Other),
                ["identifiers_needed"] => alone(place, "identifiers needed", false),
                other => panic!("a number at {other:?} of the house rules"),
            }
        }
        other => panic!("a number at {other:?}"),
    }
}
