use std::ops::Range;

use proptest::prelude::*;
use rstest::rstest;

use super::{ENTRY_LIMIT, Node, Value, read_json, read_yaml};
use crate::diagnostic::Source;
use crate::diagnostic::terminal::{Palette, render};

#[rstest]
#[case::block("drug: x\npatient:\n  weight: 84 kg\n  born: 1959\ndose: 1\n", &["patient:\n  weight: 84 kg\n  born: 1959"])]
#[case::flow("{drug: x, patient: {weight: 84 kg}, dose: 1}", &["patient: {weight: 84 kg}"])]
#[case::nested("first: {patient: {a: 1}}\nsecond:\n  patient:\n    a: 2\n", &["patient: {a: 1}", "patient:\n    a: 2"])]
#[case::twice("patient: a\npatient: b\n", &["patient: a", "patient: b"])]
#[case::in_a_list("- patient: a\n- {b: 1}\n", &["patient: a"])]
#[case::empty("patient:\ndose: 1\n", &["patient"])]
#[case::absent("drug: x\n", &[])]
fn every_place_of_a_key_is_found(#[case] text: &str, #[case] expected: &[&str]) {
    let root = read_yaml(text, ENTRY_LIMIT, &mut Vec::new()).expect("the test's file can be read");
    let places: Vec<_> = root.places_of("patient").into_iter().map(|range| &text[range]).collect();
    assert_eq!(places, expected);
}

/// Asserts that every range lies in the text, on whole characters, in order and inside its parent, and that a text which
/// is borrowed stands where its range says.
pub(super) fn assert_ranges_hold(text: &str, node: &Node<'_>) {
    let written = text.get(node.range.clone()).expect("a range is inside the text, on whole characters");
    match &node.value {
        Value::Text(std::borrow::Cow::Borrowed(typed)) => {
            let unquoted = written.get(1..written.len().saturating_sub(1));
            assert!(written == *typed || unquoted == Some(typed), "{written:?} is not {typed:?}");
        }
        Value::Text(_) | Value::Bare => assert!(!written.is_empty() || *text == *""),
        Value::Nothing => assert!(matches!(written, "" | "~" | "null" | "Null" | "NULL"), "{written:?}"),
        Value::List(nodes) => {
            let mut last = node.range.start;
            for inner in nodes {
                follows(&mut last, &inner.range);
                assert_ranges_hold(text, inner);
            }
            assert!(last <= node.range.end);
        }
        Value::Map(members) => {
            let mut last = node.range.start;
            for member in members {
                follows(&mut last, &member.key_range);
                assert!(text.get(member.key_range.clone()).is_some());
                follows(&mut last, &member.node.range);
                assert_ranges_hold(text, &member.node);
            }
            assert!(last <= node.range.end);
        }
    }
}

fn follows(last: &mut usize, range: &Range<usize>) {
    assert!(*last <= range.start, "{range:?} begins before {last}");
    *last = range.end;
}

/// Pieces of which YAML and JSON are made more often than of letters.
fn pieces() -> impl Strategy<Value = String> {
    const PIECES: [&str; 50] = [
        "a: ", "b:\n", "- ", "  ", "\n", "\n  ", "\"", "'", "[", "]", "{", "}", ", ", ": ", "? ", "&x ", "*x", "!t ",
        "<<: ", "#c", " #", "|", ">-\n", "---", "...", "~", "null", "5.0", "µg", "世", "\\", "\\u0064", "\t", "\r\n",
        "%", "@", "\u{feff}", "\0", "true", "-1e9", "patient", "\"a\": ", "\"b\"", "{\"a\":", "]}", "}}", "1e400", "é",
        " ", "\u{85}",
    ];
    prop::collection::vec(prop::sample::select(&PIECES[..]), 0..40).prop_map(|pieces| pieces.concat())
}

proptest! {
    #[test]
    fn no_text_makes_a_reader_panic_and_every_range_holds(text in prop_oneof![9 => pieces(), 1 => any::<String>()]) {
        for read in [read_yaml, read_json] {
            let mut faults = Vec::new();
            match read(&text, 300, &mut faults) {
                Some(root) => assert_ranges_hold(&text, &root),
                None => prop_assert!(!faults.is_empty()),
            }
            for fault in &faults {
                prop_assert!(fault.help.is_some(), "{} does not say what to do", fault.code);
                if let Some(range) = &fault.range {
                    prop_assert!(text.get(range.clone()).is_some(), "{:?} of {:?}", range, text);
                }
            }
            let shown = render(&Source::new("x", text.clone()), &faults, Palette::Plain);
            prop_assert!(shown.chars().all(|c| c == '\n' || !c.is_control()));
        }
    }

    #[test]
    fn a_json_tree_holds_what_was_written(value in json_value()) {
        let text = value.to_string();
        prop_assume!(!text.chars().any(super::text::is_unseen));
        let mut faults = Vec::new();
        let json = read_json(&text, 100_000, &mut faults).expect("written by a JSON writer");
        assert_ranges_hold(&text, &json);
        assert_same(&json, &value);
    }
}

fn json_value() -> impl Strategy<Value = serde_json::Value> {
    let scalar = prop_oneof![
        any::<bool>().prop_map(Into::into),
        any::<i64>().prop_map(Into::into),
        Just(serde_json::Value::Null),
        "(\\PC|[\n\t\"\\\\]){0,12}".prop_map(Into::into),
    ];
    scalar.prop_recursive(5, 60, 8, |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 0..8).prop_map(Into::into),
            prop::collection::btree_map("(\\PC|[\"\\\\]){0,6}", inner, 0..8)
                .prop_map(|map| serde_json::Value::Object(map.into_iter().collect())),
        ]
    })
}

fn assert_same(node: &Node<'_>, value: &serde_json::Value) {
    match (&node.value, value) {
        (Value::Text(text), serde_json::Value::String(expected)) => assert_eq!(text, expected),
        (Value::Nothing, serde_json::Value::Null)
        | (Value::Bare, serde_json::Value::Bool(_) | serde_json::Value::Number(_)) => {}
        (Value::List(nodes), serde_json::Value::Array(expected)) => {
            assert_eq!(nodes.len(), expected.len());
            nodes.iter().zip(expected).for_each(|(node, value)| assert_same(node, value));
        }
        (Value::Map(members), serde_json::Value::Object(expected)) => {
            assert_eq!(members.len(), expected.len());
            for (member, (key, value)) in members.iter().zip(expected) {
                assert_eq!(member.key, *key);
                assert_same(&member.node, value);
            }
        }
        (found, expected) => panic!("{found:?} is not {expected:?}"),
    }
}
