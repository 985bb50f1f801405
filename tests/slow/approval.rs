//! What the second pharmacist types is held against the file value by value.

use countersign::formulary::Formulary;
use countersign::upkeep::approval::{Answers, Changes, NONE, Place};
use countersign::upkeep::sheet::{self, What};

fn demonstration() -> Formulary {
    Formulary::demonstration().expect("the one inside the program")
}

/// What the file says at a place.
fn proposed(formulary: &Formulary) -> impl Fn(&Place) -> String {
    let rows = sheet::rows(formulary.texts()).expect("files without a fault");
    move |place| {
        let row = rows.iter().find(|row| row.file == place.file && row.place == place.place).expect("it was asked for");
        if row.what == What::Value { row.value.clone() } else { row.what.word().to_owned() }
    }
}

// hazard: H-LIMITS
#[test]
fn every_value_of_the_demonstration_is_asked_for_and_comes_to_itself() {
    let formulary = demonstration();
    let changes = Changes::between(None, &formulary).expect("it can be taken apart");
    let value = proposed(&formulary);
    let mut answers = Answers::default();
    changes.typed.iter().for_each(|place| answers.put(place, &value(place)));
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

// hazard: H-LIMITS
#[test]
fn every_number_typed_otherwise_is_seen() {
    let formulary = demonstration();
    let changes = Changes::between(None, &formulary).expect("it can be taken apart");
    let value = proposed(&formulary);
    let mut right = Answers::default();
    changes.typed.iter().for_each(|place| right.put(place, &value(place)));
    let mut tried = 0;
    for place in &changes.typed {
        for typed in [otherwise(&value(place)), Some(NONE.to_owned())].into_iter().flatten() {
            right.put(place, &typed);
            assert_eq!(changes.differ(&right), [place], "{place:?} typed as {typed:?}");
            tried += 1;
        }
        right.put(place, &value(place));
    }
    assert!(tried > 2500, "{tried}");
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
