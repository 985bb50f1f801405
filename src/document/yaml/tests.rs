use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use rstest::rstest;

use super::read_yaml;
use crate::diagnostic::Fault;
use crate::document::{DRUG_LIMIT, Node, Value};

#[track_caller]
fn tree(text: &str) -> Node<'_> {
    let mut faults = Vec::new();
    let root = read_yaml(text, DRUG_LIMIT, &mut faults);
    assert_eq!(faults, []);
    let root = root.expect("the test's text can be read");
    super::super::tests::assert_ranges_hold(text, &root);
    root
}

#[track_caller]
fn refused(text: &str) -> Vec<Fault> {
    let mut faults = Vec::new();
    assert!(read_yaml(text, DRUG_LIMIT, &mut faults).is_none());
    assert!(!faults.is_empty());
    faults
}

#[rstest]
#[case::last("a: {}")]
#[case::after_others("µé: x\na: {}\nb: y\n")]
#[case::before_a_note("a:   {}   # note\n")]
#[case::mark_and_carriage_returns("\u{feff}a: {}\r\nb: y\r\n")]
#[case::in_braces("{µ: 1, a: {} , c: 2}")]
#[case::tab_after("b: [1]\na: {}\t")]
fn a_plain_scalar_is_kept_as_typed_with_its_bytes(#[case] form: &str) {
    for typed in [
        "5.0",
        "0.10",
        "0.30",
        "1_000",
        "10 000",
        "yes",
        "No",
        "on",
        "true",
        "012",
        "0o14",
        "0x1F",
        "1e400",
        ".5",
        "5.",
        "+5",
        "-5",
        ".inf",
        ".nan",
        "12:30",
        "1:1000",
        "2026-03-14T07:40:00+00:00",
        "1959-08-02",
        "µg/kg/min",
        "0.08 mcg/kg/min",
        "1234567890123456789012345678901234567890",
        "A. Idowu",
        "a#b",
        "=",
        "Null hypothesis",
        "世界",
        "é",
        "-x",
        "?x",
        "a'b\"c",
    ] {
        let text = form.replacen("{}", typed, 1);
        let root = tree(&text);
        let node = &root.member("a").expect("there is a field").node;
        assert_eq!(node.value, Value::Text(typed.into()));
        assert_eq!(&text[node.range.clone()], typed);
    }
}

#[rstest]
#[case("a: \"5.0\"", "5.0", "\"5.0\"")]
#[case("a: '5.0'", "5.0", "'5.0'")]
#[case("µ: é\na: 'it''s µ'", "it's µ", "'it''s µ'")]
#[case("a: \"\\u00b5g\\n\"", "µg\n", "\"\\u00b5g\\n\"")]
#[case("a: 'null'", "null", "'null'")]
#[case("a: ''", "", "''")]
#[case("a: two\n  lines\n", "two lines", "two\n  lines")]
#[case("a: |\n  two\n  lines\n", "two\nlines\n", "two\n  lines\n")]
#[case("a: >-\n  two\n  lines\nb: c", "two lines", "two\n  lines\n")]
fn a_written_scalar_gives_its_value(#[case] text: &str, #[case] typed: &str, #[case] written: &str) {
    let root = tree(text);
    let node = &root.member("a").expect("there is a field").node;
    assert_eq!(node.value, Value::Text(typed.into()));
    assert_eq!(&text[node.range.clone()], written);
}

#[rstest]
#[case("a:\nb: 1")]
#[case("a: ~")]
#[case("a: null # none")]
#[case("{a: , b: 1}")]
#[case("{a}")]
fn nothing_is_nothing(#[case] text: &str) {
    assert_eq!(tree(text).member("a").map(|member| &member.node.value), Some(&Value::Nothing));
}

#[test]
fn lists_and_maps_have_the_bytes_of_what_is_in_them() {
    let text = "first:\n  - µ: 1\n    b: 2 # note\n  -\n  - [x, y]\n\nsecond:\n- z\nthird: { a: 1 }\n";
    let root = tree(text);
    let at = |key: &str| &text[root.member(key).expect("it is there").node.range.clone()];
    assert_eq!(at("first"), "- µ: 1\n    b: 2 # note\n  -\n  - [x, y]");
    assert!(at("second").ends_with('z'));
    assert_eq!(at("third"), "{ a: 1 }");
    assert_eq!(&text[root.range.clone()], text.trim_end());
}

#[test]
fn keys_are_texts_however_they_look() {
    let text = "1: a\nnull: b\n~: c\nyes: d\n\"x y\": e\n";
    let Value::Map(members) = tree(text).value else { panic!("it is a map") };
    assert_eq!(members.iter().map(|member| &*member.key).collect::<Vec<_>>(), ["1", "null", "~", "yes", "x y"]);
    assert_eq!(&text[members[4].key_range.clone()], "\"x y\"");
}

#[rstest]
#[case::anchor("a: &x 1\n", "yaml-anchor", "a", "&x")]
#[case::anchor_of_a_map("p:\n  a: &x {b: 1}\n", "yaml-anchor", "p.a", "&x")]
#[case::anchor_of_a_key("&x a: 1\n", "yaml-anchor", "a", "&x")]
#[case::anchor_in_a_list("a: [1, &x 2]\n", "yaml-anchor", "a[1]", "&x")]
#[case::alias("p: {a: 1, b: *x}\n", "yaml-alias", "p.b", "*x")]
#[case::alias_in_a_list("- 1\n- *x\n", "yaml-alias", "[1]", "*x")]
#[case::merge("p:\n  a: 1\n  <<: *x\n", "yaml-merge", "p.<<", "<<")]
#[case::merge_of_a_map("<<: {a: 1}\n", "yaml-merge", "<<", "<<")]
#[case::tag("a: !!str 5\n", "yaml-tag", "a", "!!str")]
#[case::own_tag("p:\n  - a: !x {b: 1}\n", "yaml-tag", "p[0].a", "!x")]
#[case::tag_of_nothing("a: !x\n", "yaml-tag", "a", "!x")]
#[case::key_is_a_list("? [a]\n: 1\n", "yaml-key", "?", "[a]")]
#[case::key_is_missing("a: 1\n: 2\n", "yaml-key", "?", "")]
#[case::second_document("a: 1\n---\nb: 1\n", "yaml-second-document", "", "---")]
#[case::directive("%YAML 1.2\n---\na: 1\n", "yaml-syntax", "", "%")]
fn what_hides_a_value_is_refused_with_its_place(
    #[case] text: &str,
    #[case] code: &str,
    #[case] field: &str,
    #[case] marked: &str,
) {
    let faults = refused(text);
    let found: Vec<_> =
        faults.iter().map(|fault| (fault.code, &*fault.field, fault.range.clone().map(|range| &text[range]))).collect();
    assert_eq!(found, [(code, field, Some(marked))]);
}

#[test]
fn everything_that_is_refused_is_told_at_once() {
    let codes: Vec<_> =
        refused("a: &x 1\nb: *x\nc: !t 1\n<<: *x\nd: \"open\n").iter().map(|fault| fault.code).collect();
    assert_eq!(codes, ["yaml-anchor", "yaml-alias", "yaml-tag", "yaml-merge", "yaml-syntax"]);
}

#[rstest]
#[case("a: 1\nb:\n\tc: 2\n", "yaml-tab", 3)]
#[case("a: 1\n\tb: 2\n", "yaml-tab", 1)]
#[case("a:\n  b: 1\n\tc: 2\n", "yaml-tab", 2)]
#[case("a: b: c\n", "yaml-syntax", 1)]
#[case("dose:0.5\nb: 1\n", "yaml-syntax", 2)]
#[case("a: 1\n b: 2\n", "yaml-syntax", 2)]
#[case("a:\n   b: 1\n  c: 2\n", "yaml-syntax", 3)]
#[case("a: 'x\n", "yaml-syntax", 1)]
#[case("a: [1, 2\n", "yaml-syntax", 1)]
#[case("a: {b: 1\nc: 2", "yaml-syntax", 2)]
#[case("a: [1}\n", "yaml-syntax", 1)]
#[case("a: ]\n", "yaml-syntax", 1)]
#[case("a: @x\n", "yaml-syntax", 1)]
#[case("a: 50 %\nb: %x\n", "yaml-syntax", 2)]
#[case("a: \"\\q\"\n", "yaml-syntax", 1)]
#[case("a: \"x\" y\n", "yaml-syntax", 1)]
#[case("- a\nb: 1\n", "yaml-syntax", 2)]
#[case("a: - b\n", "yaml-syntax", 1)]
fn a_syntax_error_stands_alone_with_its_line_and_help(#[case] text: &str, #[case] code: &str, #[case] line: usize) {
    let faults = refused(text);
    assert_eq!(faults.len(), 1);
    let place = faults[0].range.clone().map(|range| crate::diagnostic::Source::new("x", text).place(range.start).line);
    assert_eq!((faults[0].code, place), (code, Some(line)), "{}", faults[0].message);
    assert!(faults[0].help.is_some());
}

#[rstest]
#[case("", "text-empty")]
#[case("# only a note\n", "text-empty")]
#[case("---\n...\n", "text-empty")]
#[case("~\n", "text-empty")]
#[case("a: 1\u{0}\n", "text-unseen-character")]
#[case("a: 1 # \u{1b}[31m\n", "text-unseen-character")]
fn an_empty_or_unseen_text_is_refused(#[case] text: &str, #[case] code: &str) {
    assert_eq!(refused(text).iter().map(|fault| fault.code).collect::<Vec<_>>(), [code]);
}

#[test]
fn one_document_may_have_its_marks() {
    assert!(tree("---\na: 1\n...\n").member("a").is_some());
}

#[rstest]
#[case(16, true)]
#[case(17, false)]
#[case(20_000, false)]
fn nesting_ends_at_sixteen(#[case] depth: usize, #[case] read: bool) {
    let start = Instant::now();
    let flow = format!("{}x{}", "[".repeat(depth), "]".repeat(depth));
    let maps = format!("{}x{}", "{a: ".repeat(depth), "}".repeat(depth));
    let dashes = format!("{}x", "- ".repeat(depth));
    let mixed =
        format!("{}{}x{}", "- ".repeat(depth / 2), "[".repeat(depth - depth / 2), "]".repeat(depth - depth / 2));
    for text in [flow, maps, dashes, mixed] {
        let mut faults = Vec::new();
        assert_eq!(read_yaml(&text, DRUG_LIMIT, &mut faults).is_some(), read);
        let codes: Vec<_> = faults.iter().map(|fault| fault.code).collect();
        assert_eq!(codes, if read { vec![] } else { vec!["nesting-too-deep"] });
    }
    assert!(start.elapsed() < Duration::from_secs(2));
}

#[test]
fn a_bomb_of_aliases_is_refused_quickly() {
    let mut text = String::from("a0: &a0 [x, x, x]\n");
    for level in 1..2000 {
        text += &format!("a{level}: &a{level} [*a{0}, *a{0}, *a{0}]\n", level - 1);
    }
    let start = Instant::now();
    let faults = refused(&text);
    assert!(faults.len() <= 20 && faults.iter().all(|fault| matches!(fault.code, "yaml-anchor" | "yaml-alias")));
    assert!(start.elapsed() < Duration::from_secs(2));
}

#[test]
fn only_the_reader_and_the_explanations_name_the_yaml_crate() {
    let sources = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let reader = sources.join("document").join("yaml.rs");
    let explanations = sources.join("diagnostic").join("explained.rs");
    let names = [["serde", "yaml"], ["serde", "saphyr"], ["granit", "parser"]].map(|parts| parts.join("_"));
    let mut folders = vec![sources];
    let mut naming: Vec<PathBuf> = Vec::new();
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).expect("the sources are there") {
            let path = entry.expect("the sources can be listed").path();
            if path.is_dir() {
                folders.push(path);
            } else {
                // A font stands among them, which is no text.
                let bytes = std::fs::read(&path).expect("a source can be read");
                let text = String::from_utf8_lossy(&bytes);
                if names.iter().any(|name| text.contains(name)) {
                    naming.push(path);
                }
            }
        }
    }
    // Our own explanations are no input: nobody types them, and serde reads them as they are.
    naming.sort();
    assert_eq!(naming, [explanations, reader]);
}
