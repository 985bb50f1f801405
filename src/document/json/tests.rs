use std::borrow::Cow;
use std::time::{Duration, Instant};

use rstest::rstest;

use super::read_json;
use crate::diagnostic::Fault;
use crate::document::{LINE_LIMIT, Node, Value};

#[track_caller]
fn tree(text: &str) -> Node<'_> {
    let mut faults = Vec::new();
    let root = read_json(text, LINE_LIMIT, &mut faults);
    assert_eq!(faults, []);
    super::super::tests::assert_ranges_hold(text, root.as_ref().expect("the test's text can be read"));
    root.expect("the test's text can be read")
}

#[track_caller]
fn only_fault(text: &str) -> Fault {
    let mut faults = Vec::new();
    assert!(read_json(text, LINE_LIMIT, &mut faults).is_none());
    assert_eq!(faults.len(), 1, "{faults:?}");
    faults.remove(0)
}

#[rstest]
#[case(r#"{"a": "5.0"}"#, "5.0", r#""5.0""#)]
#[case(r#"{"a":"0.10"}"#, "0.10", r#""0.10""#)]
#[case(r#"{ "µé" : 0, "a" : "µ 5" }"#, "µ 5", r#""µ 5""#)]
#[case(r#"{"a": "a\"b\\"}"#, "a\"b\\", r#""a\"b\\""#)]
#[case(r#"{"a": "\u00b5g", "b": "x"}"#, "µg", r#""\u00b5g""#)]
#[case(r#"{"\u0061": "x,:]}"}"#, "x,:]}", r#""x,:]}""#)]
#[case("\u{feff}{\"a\": \"x\"}\r\n", "x", "\"x\"")]
#[case(r#"{"a": ""}"#, "", r#""""#)]
fn a_text_is_kept_as_typed_with_its_bytes(#[case] text: &str, #[case] typed: &str, #[case] written: &str) {
    let root = tree(text);
    let node = &root.member("a").expect("there is a field").node;
    assert_eq!(node.value, Value::Text(Cow::Borrowed(typed)));
    assert_eq!(&text[node.range.clone()], written);
}

#[test]
fn a_text_without_escapes_is_borrowed_from_the_line() {
    let root = tree(r#"{"a": "x", "b": "\n"}"#);
    let borrowed: Vec<_> = ["a", "b"]
        .map(|key| matches!(&root.member(key).expect("it is there").node.value, Value::Text(Cow::Borrowed(_))))
        .into();
    assert_eq!(borrowed, [true, false]);
}

#[rstest]
#[case("84.2", Value::Bare)]
#[case("-1e-9", Value::Bare)]
#[case("0", Value::Bare)]
#[case("12345678901234567890123456789012345678901234567890", Value::Bare)]
#[case("true", Value::Bare)]
#[case("false", Value::Bare)]
#[case("null", Value::Nothing)]
fn a_value_without_quotes_is_not_read_as_a_text(#[case] written: &str, #[case] expected: Value<'_>) {
    for text in
        [format!("{{\"a\": {written}, \"b\": []}}"), format!("{{\"a\":{written}}}"), format!("{{\"a\": {written} }}")]
    {
        let root = tree(&text);
        let node = &root.member("a").expect("there is a field").node;
        assert_eq!((&node.value, &text[node.range.clone()]), (&expected, written));
    }
}

#[test]
fn lists_and_maps_have_the_bytes_from_bracket_to_bracket() {
    let text = r#" {"a": [ {"b": {} }, [ ] , "x"] , "c": {"d":"e" } } "#;
    let root = tree(text);
    assert_eq!(&text[root.range.clone()], text.trim());
    let at = |node: &Node<'_>| text[node.range.clone()].to_owned();
    let list = &root.member("a").expect("it is there").node;
    assert_eq!(at(list), r#"[ {"b": {} }, [ ] , "x"]"#);
    let Value::List(items) = &list.value else { panic!("it is a list") };
    assert_eq!(items.iter().map(at).collect::<Vec<_>>(), [r#"{"b": {} }"#, "[ ]", r#""x""#]);
    assert_eq!(at(&root.member("c").expect("it is there").node), r#"{"d":"e" }"#);
}

#[rstest]
#[case(r#"{"a": "x" "b": "y"}"#, 10, "a comma or `}` is missing here")]
#[case(r#"{"a" "x"}"#, 5, "a colon is missing after a field's name")]
#[case(r#"{"a": "x",}"#, 10, "a comma stands before the closing bracket")]
#[case(r#"{"a": ["x",]}"#, 11, "a comma stands before the closing bracket")]
#[case(r#"{"a": ["x" "y"]}"#, 11, "a comma or `]` is missing here")]
#[case(r#"{"a": "x"} {"b": "y"}"#, 11, "something follows after its end")]
#[case(r#"{a: "x"}"#, 1, "a field's name is not in quotes")]
#[case(r#"{"a": x}"#, 6, "a value should stand here")]
#[case(r#"{"a": .5}"#, 6, "a value should stand here")]
#[case(r#"{"a": 'x'}"#, 6, "a value should stand here")]
#[case(r#"{"a": nul}"#, 9, "a value should stand here")]
#[case(r#"{"a": 01}"#, 7, "this is no number")]
#[case(r#"{"a": "\q"}"#, 8, "a backslash begins an escape that JSON does not have")]
#[case(r#"{"a": {"b": "x""#, 14, "it ends inside a map")]
#[case(r#"{"a": ["x""#, 9, "it ends inside a list")]
#[case(r#"{"a": "x"#, 7, "it ends inside a text")]
#[case(r#"{"a":"#, 4, "it ends where a value should stand")]
#[case("{\"µé\": \"x\"\n \"b\": \"y\"}", 14, "a comma or `}` is missing here")]
#[case("{\"a\": \"x\ty\"}", 8, "a text goes over the end of its line, or holds a tab")]
fn a_syntax_error_is_told_in_plain_words_with_its_place(#[case] text: &str, #[case] at: usize, #[case] what: &str) {
    let fault = only_fault(text);
    assert_eq!((fault.code, fault.range.map(|range| range.start)), ("json-syntax", Some(at)), "{}", fault.message);
    assert_eq!(fault.message, format!("this is not JSON: {what}"));
}

#[rstest]
#[case("{\"a\": 1e400}", "field-not-quoted")]
#[case("", "text-empty")]
#[case("{\"a\": \"x\"}\0", "text-unseen-character")]
fn what_is_no_syntax_error_is_told_as_what_it_is(#[case] text: &str, #[case] code: &str) {
    assert_eq!(only_fault(text).code, code);
}

#[test]
fn a_long_line_is_refused_unread() {
    let mut faults = Vec::new();
    assert!(read_json("{\"a\": \"xx\"}", 10, &mut faults).is_none());
    assert_eq!(faults[0].code, "text-too-long");
}

#[rstest]
#[case(16, true)]
#[case(17, false)]
#[case(20_000, false)]
fn nesting_ends_at_sixteen(#[case] depth: usize, #[case] read: bool) {
    let start = Instant::now();
    for text in ["[".repeat(depth) + &"]".repeat(depth), "{\"a\":".repeat(depth - 1) + "{" + &"}".repeat(depth)] {
        let mut faults = Vec::new();
        assert_eq!(read_json(&text, 200_000, &mut faults).is_some(), read);
        assert_eq!(
            faults.iter().map(|fault| fault.code).collect::<Vec<_>>(),
            if read { vec![] } else { vec!["nesting-too-deep"] }
        );
    }
    assert!(start.elapsed() < Duration::from_secs(2));
}
