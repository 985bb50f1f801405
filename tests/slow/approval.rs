//! What the second pharmacist types is held against the file value by value.

use std::collections::HashMap;

use countersign::formulary::Formulary;
use countersign::pharmacy::approval::{Answers, Changes, NONE, TypedPlace};
use countersign::pharmacy::sheet::{self, SheetValue};

use crate::house::House;
use crate::tools::thorough;

fn demonstration() -> Formulary {
    Formulary::demonstration().expect("the one inside the program")
}

/// What the file says at a place.
fn proposed(formulary: &Formulary) -> impl Fn(&TypedPlace) -> String {
    let rows = sheet::rows(formulary.texts()).expect("files without a fault");
    let rows: HashMap<_, _> = rows.into_iter().map(|row| ((row.file.clone(), row.place.clone()), row)).collect();
    move |place| {
        let row = rows.get(&(place.file.clone(), place.place.clone())).expect("it was asked for");
        if row.what == SheetValue::Value { row.value.clone() } else { row.what.word().to_owned() }
    }
}

// hazard: H-LIMITS
#[test]
fn every_value_of_the_demonstration_is_asked_for_and_comes_to_itself() {
    let formulary = demonstration();
    let changes = Changes::between(None, &formulary).expect("it can be taken apart");
    let value = proposed(&formulary);
    let answers = right(&changes, value);
    assert!(changes.differ(&answers).is_empty());
    // Whatever holds a digit and is no word: the numbers that somebody answers for.
    assert!(changes.typed.len() > 1500, "{}", changes.typed.len());
    let numbers =
        changes.words.iter().filter(|words| words.place.ends_with(" > to") || words.place.ends_with(" > from"));
    assert_eq!(numbers.count(), 0);
}

/// The first digit that is not zero becomes the next one.
fn otherwise(value: &str) -> Option<String> {
    let at = value.bytes().position(|byte| byte.is_ascii_digit() && byte != b'0')?;
    let digit = value.as_bytes()[at];
    let other = if digit == b'9' { '8' } else { char::from(digit + 1) };
    Some(format!("{}{other}{}", &value[..at], &value[at + 1..]))
}

/// Everything typed as the file says it.
fn right(changes: &Changes, value: impl Fn(&TypedPlace) -> String) -> Answers {
    let mut right = Answers::default();
    changes.typed.iter().for_each(|place| right.put(place, &value(place)));
    right
}

// hazard: H-LIMITS
#[test]
fn every_number_typed_otherwise_is_seen() {
    let whole = House::demonstration();
    let (mut places, mut tried) = (Vec::new(), 0);
    for (path, _) in whole.files() {
        // A file rests on the three that every set-up needs, and on no other drug.
        let formulary = whole.only(path).formulary();
        let changes = Changes::between(None, &formulary).expect("it can be taken apart");
        let value = proposed(&formulary);
        let mut answers = right(&changes, &value);
        for place in changes.typed.iter().filter(|place| place.file == *path).step_by(thorough(1, 8)) {
            for typed in [otherwise(&value(place)), Some(NONE.to_owned())].into_iter().flatten() {
                answers.put(place, &typed);
                assert_eq!(changes.differ(&answers), [place], "{place:?} typed as {typed:?}");
                tried += 1;
            }
            answers.put(place, &value(place));
            places.push(place.clone());
        }
    }
    let all = Changes::between(None, &demonstration()).expect("it can be taken apart").typed;
    if thorough(true, false) {
        assert_eq!(places, all, "each place was typed otherwise");
    }
    assert!(tried > thorough(2500, 250), "{tried}");
}

// hazard: H-LIMITS
#[test]
fn many_numbers_typed_otherwise_are_each_seen() {
    let formulary = demonstration();
    let changes = Changes::between(None, &formulary).expect("it can be taken apart");
    let value = proposed(&formulary);
    for every_other in [0, 1] {
        let mut answers = right(&changes, &value);
        let wrong: Vec<&TypedPlace> = changes.typed.iter().skip(every_other).step_by(2).collect();
        for place in &wrong {
            answers.put(place, &otherwise(&value(place)).unwrap_or_else(|| NONE.to_owned()));
        }
        assert_eq!(changes.differ(&answers), wrong);
    }
}

#[test]
fn no_source_that_is_shown_tells_the_value() {
    let formulary = demonstration();
    let changes = Changes::between(None, &formulary).expect("it can be taken apart");
    let value = proposed(&formulary);
    let named = changes.typed.iter().filter_map(|place| Some((place, place.source.clone()?)));
    let mut shown = 0;
    for (place, source) in named {
        let proposed = value(place);
        let tells =
            proposed.contains(' ') && proposed.contains(|c: char| c.is_ascii_digit()) && source.contains(&proposed);
        assert!(!tells, "{place:?} is {proposed:?}, and its source says so");
        shown += 1;
    }
    assert!(shown > 900, "{shown}");
}
