//! What both readers look for in a finished tree: doubled keys, and characters in a value that cannot be seen, written
//! as an escape.

use std::collections::BTreeMap;
use std::ops::Range;

use super::{Member, Node, Path, Value, text};
use crate::diagnostic::{Fault, Place};
use crate::quantity::clip;

/// More faults than this of one kind tell a person nothing new.
pub(super) const MOST: usize = 20;

/// Adds a fault for every doubled key and every unseen character of the tree, at most 20.
pub(super) fn inspect(source: &str, root: &Node<'_>, faults: &mut Vec<Fault>) {
    let before = faults.len();
    walk(source, root, Path::Root, faults);
    faults.truncate(before + MOST);
}

/// Whether two members may have the same key; never false when they have, and hardly ever true when they have not.
///
/// Every key sets one bit of 128, chosen from its length and three of its letters; only a key whose bit is set already is
/// compared with those before it.
pub(super) fn may_double(members: &[Member<'_>]) -> bool {
    /// No form has as many fields; comparing takes the square of their number.
    const MOST_COMPARED: usize = 128;
    let mut seen = [0_u64; 4];
    members.len() > MOST_COMPARED
        || members.iter().enumerate().any(|(at, member)| {
            let key = member.key.as_bytes();
            let letter = |at: usize| key.get(at).copied().map_or(0, usize::from);
            let mixed =
                key.len() * 31 + letter(0) * 7 + letter(key.len() / 2) * 3 + letter(key.len().saturating_sub(1)) * 13;
            let (part, bit) = (&mut seen[mixed / 64 % 4], 1_u64 << (mixed % 64));
            let twice = *part & bit != 0;
            *part |= bit;
            twice && members[..at].iter().any(|earlier| earlier.key == member.key)
        })
}

fn walk(source: &str, node: &Node<'_>, path: Path<'_>, faults: &mut Vec<Fault>) {
    match &node.value {
        Value::Text(text) => unseen(text, node.range.clone(), path, faults),
        Value::List(nodes) => nodes.iter().enumerate().for_each(|(at, node)| walk(source, node, path.item(at), faults)),
        Value::Map(members) => {
            if may_double(members) {
                doubled(source, members, path, faults);
            }
            for member in members {
                let path = path.field(&member.key);
                unseen(&member.key, member.key_range.clone(), path, faults);
                walk(source, &member.node, path, faults);
            }
        }
        Value::Nothing | Value::Bare => {}
    }
}

fn doubled(source: &str, members: &[Member<'_>], path: Path<'_>, faults: &mut Vec<Fault>) {
    let mut first = BTreeMap::new();
    for member in members {
        let Some(earlier) = first.insert(&*member.key, member) else { continue };
        first.insert(&*member.key, earlier);
        let place = Place::of(source, earlier.key_range.start);
        let line = if source.trim().contains('\n') { format!("line {}, ", place.line) } else { String::new() };
        faults.push(
            Fault::new(
                "field-doubled",
                format!("the field `{}` is written twice, first at {line}column {}", clip(&member.key), place.column),
            )
            .in_field(path.field(&member.key).to_string())
            .at(member.key_range.clone())
            .help("keep the one that is right, and take the other away"),
        );
    }
}

fn unseen(text: &str, range: Range<usize>, path: Path<'_>, faults: &mut Vec<Fault>) {
    if let Some(c) = text.chars().find(|c| text::is_unseen(*c)) {
        faults.push(
            Fault::new("text-unseen-character", format!("there is {}, which cannot be seen", text::name(c)))
                .in_field(path.to_string())
                .at(range)
                .help("take its escape away"),
        );
    }
}

#[cfg(test)]
mod tests {
    use std::borrow::Cow;

    use proptest::prelude::*;
    use rstest::rstest;

    use super::may_double;
    use crate::document::{ENTRY_LIMIT, Member, Node, Value, read_json, read_yaml};

    fn told(read: impl FnOnce(&mut Vec<crate::diagnostic::Fault>) -> bool) -> Vec<(&'static str, String, String)> {
        let mut faults = Vec::new();
        assert!(read(&mut faults), "the tree is given in spite of these faults");
        faults.into_iter().map(|fault| (fault.code, fault.field, fault.message)).collect()
    }

    #[rstest]
    #[case("a: 1\nb: {c: 1, c: 2}\na: 3\n", &[
        ("a", "the field `a` is written twice, first at line 1, column 1"),
        ("b.c", "the field `c` is written twice, first at line 2, column 5"),
    ])]
    #[case("a: 1\n\"a\": 2\n", &[("a", "the field `a` is written twice, first at line 1, column 1")])]
    #[case("[{a: 1}, {b: 1, 'b': 2, b: 3}]", &[
        ("[1].b", "the field `b` is written twice, first at column 11"),
        ("[1].b", "the field `b` is written twice, first at column 11"),
    ])]
    fn every_doubled_key_of_a_yaml_file_is_told_with_both_places(
        #[case] text: &str,
        #[case] expected: &[(&str, &str)],
    ) {
        let found = told(|faults| read_yaml(text, ENTRY_LIMIT, faults).is_some());
        let expected: Vec<_> = expected
            .iter()
            .map(|(field, message)| ("field-doubled", (*field).to_owned(), (*message).to_owned()))
            .collect();
        assert_eq!(found, expected);
    }

    #[rstest]
    #[case(r#"{"dose": "1", "\u0064ose": "2"}"#, "dose", "the field `dose` is written twice, first at column 2")]
    #[case(r#"{"µ": {"a": "1", "a": "2"}}"#, "µ.a", "the field `a` is written twice, first at column 8")]
    fn a_doubled_key_of_a_json_line_is_told(#[case] text: &str, #[case] field: &str, #[case] message: &str) {
        let found = told(|faults| read_json(text, ENTRY_LIMIT, faults).is_some());
        assert_eq!(found, [("field-doubled", field.to_owned(), message.to_owned())]);
    }

    #[rstest]
    #[case(r#"{"a": ["x", "\u0000"]}"#, "a[1]")]
    #[case(r#"{"a\u001b": "x"}"#, "a\u{1b}")]
    #[case(r#"{"a": "5\u202e0"}"#, "a")]
    fn an_unseen_character_behind_an_escape_is_told(#[case] text: &str, #[case] field: &str) {
        let found = told(|faults| read_json(text, ENTRY_LIMIT, faults).is_some());
        assert_eq!(
            found.iter().map(|(code, field, _)| (*code, &**field)).collect::<Vec<_>>(),
            [("text-unseen-character", field)]
        );
        if !field.starts_with("a\u{1b}") {
            let found = told(|faults| read_yaml(text, ENTRY_LIMIT, faults).is_some());
            assert_eq!(found.len(), 1);
        }
    }

    #[test]
    fn ten_thousand_doubled_keys_are_found_quickly_and_told_briefly() {
        let line = format!("{{{}}}", vec!["\"a\":0"; 10_000].join(","));
        let start = std::time::Instant::now();
        assert_eq!(told(|faults| read_json(&line, ENTRY_LIMIT, faults).is_some()).len(), super::MOST);
        assert!(start.elapsed() < std::time::Duration::from_secs(5));
    }

    proptest! {
        #[test]
        fn a_doubled_key_is_never_overlooked(keys in prop::collection::vec("[a-z_]{0,12}", 1..60), twice in any::<prop::sample::Index>()) {
            let again = keys[twice.index(keys.len())].clone();
            let members: Vec<_> = keys
                .into_iter()
                .chain([again])
                .map(|key| Member { key: Cow::Owned(key), key_range: 0..0, node: Node { range: 0..0, value: Value::Nothing } })
                .collect();
            prop_assert!(may_double(&members));
        }
    }
}
