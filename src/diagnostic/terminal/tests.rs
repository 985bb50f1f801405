use std::ops::Range;

use proptest::prelude::*;
use rstest::rstest;

use super::{Palette, render};
use crate::diagnostic::{Fault, Source};

fn shown(source: &Source, fault: Fault) -> String {
    render(source, &[fault], Palette::Plain)
}

#[track_caller]
fn range_of(text: &str, part: &str) -> Range<usize> {
    let start = text.find(part).expect("the test's part stands in the test's text");
    start..start + part.len()
}

fn fault_at(text: &str, part: &str) -> Fault {
    Fault::new("number-leading-point", "`.5` begins with a point").at(range_of(text, part)).help("write 0.5")
}

#[test]
fn the_line_is_shown_with_the_fault_marked() {
    let text = "drug: alpha\ndose: .5 mg/h\narea: ward\n";
    insta::assert_snapshot!(shown(&Source::new("a.yaml", text), fault_at(text, ".5").in_field("dose")), @r"
    error[number-leading-point]: `.5` begins with a point
     --> a.yaml:2:7
      |
    2 | dose: .5 mg/h
      |       ^^
      |
      = help: write 0.5
    ");
}

#[test]
fn faults_are_shown_one_after_the_other_and_one_without_a_place_names_the_file() {
    let text = "dose: .5";
    let faults = [fault_at(text, ".5"), Fault::new("field-missing", "the field `drug` is missing")];
    insta::assert_snapshot!(render(&Source::of_line("many.jsonl", 1204, text), &faults, Palette::Plain), @r"
    error[number-leading-point]: `.5` begins with a point
        --> many.jsonl:1204:7
         |
    1204 | dose: .5
         |       ^^
         |
         = help: write 0.5

    error[field-missing]: the field `drug` is missing
    --> many.jsonl
    ");
}

#[rstest]
#[case::up_to_the_break("a: 1\nb: .5\nc: 2\n", 8..10)]
#[case::with_the_break("a: 1\nb: .5\nc: 2\n", 8..11)]
#[case::over_more_lines("a: 1\nb: .5\nc: 2\n", 8..15)]
#[case::carriage_return("a: 1\r\nb: .5\r\nc: 2\r\n", 9..12)]
#[case::last_line_without_break("a: 1\nb: .5", 8..10)]
fn a_mark_stays_on_its_line(#[case] text: &str, #[case] range: Range<usize>) {
    let out = shown(&Source::new("a.yaml", text), Fault::new("any", "any").at(range));
    assert_eq!(out, "error[any]: any\n --> a.yaml:2:4\n  |\n2 | b: .5\n  |    ^^\n");
}

#[test]
fn an_empty_range_marks_one_place() {
    let out = shown(&Source::new("a.yaml", "ab\ncd\n"), Fault::new("any", "any").at(2..2));
    assert_eq!(out, "error[any]: any\n --> a.yaml:1:3\n  |\n1 | ab\n  |   ^\n");
}

#[test]
fn a_wide_or_multi_byte_character_moves_the_mark_but_not_the_column() {
    let text = "ünit: 5 µg, µl";
    let out = shown(&Source::new("a.yaml", text), Fault::new("any", "any").at(range_of(text, "µl")));
    assert_eq!(out, "error[any]: any\n --> a.yaml:1:13\n  |\n1 | ünit: 5 µg, µl\n  |             ^^\n");
}

const ENTRY: &str = "drug: alpha\npatient:\n  identifiers: [\"1959-08-02\"]\n  weight: 84,2 kg\ndose: .5 mg/h\n";

#[rstest]
#[case("patient.weight")]
#[case("first.patient.weight")]
#[case("patient")]
fn a_fault_about_a_patient_has_no_excerpt(#[case] field: &str) {
    let out = shown(
        &Source::new("a.yaml", ENTRY),
        Fault::new("number-comma", "a comma").in_field(field).at(range_of(ENTRY, "84,2")).help("write 84.2"),
    );
    assert_eq!(out, "error[number-comma]: a comma\n--> a.yaml:4:11\n |\n = help: write 84.2\n");
}

#[test]
fn a_withheld_line_is_not_shown_whatever_the_fault_says_it_is_about() {
    let mut source = Source::new("a.yaml", ENTRY);
    let start = range_of(ENTRY, "patient:").start;
    source.withhold(start..range_of(ENTRY, "84,2 kg").end);
    for part in ["patient:", "identifiers", "1959", "84,2"] {
        let out = shown(&source, Fault::new("any", "any").in_field("drug").at(range_of(ENTRY, part)));
        assert!(!out.contains('^') && !out.contains(part), "{out}");
    }
    for part in ["alpha", ".5 mg"] {
        let out = shown(&source, Fault::new("any", "any").in_field("drug").at(range_of(ENTRY, part)));
        assert!(out.contains('^') && out.contains(part), "{out}");
    }
}

#[rstest]
#[case(ENTRY, "84,2", false)]
#[case(ENTRY, ".5 mg", false)]
#[case(ENTRY, "alpha", true)]
#[case("{\"Patient\" : {\"weight\": 84}, \"dose\": .5}", ".5", false)]
#[case("{\"dose\": .5, \"patient\": {\"weight\": 84}}", ".5", false)]
#[case("note: for one patient only\ndose: .5", ".5", true)]
fn a_text_that_could_not_be_read_shows_no_line_from_its_patient_on(
    #[case] text: &str,
    #[case] part: &str,
    #[case] expected: bool,
) {
    let out = shown(&Source::new("a.yaml", text), Fault::new("yaml-syntax", "any").at(range_of(text, part)));
    assert_eq!(out.contains('^'), expected, "{out}");
}

#[test]
fn a_line_with_a_whole_entry_is_not_shown_though_nobody_withheld_it() {
    let text = "{\"dose\": \".5\", \"patient\": {\"born\": \"1959-08-02\"}}";
    let out = shown(&Source::new("a.jsonl", text), fault_at(text, ".5").in_field("dose"));
    assert!(out.contains("a.jsonl:1:11") && !out.contains("1959"), "{out}");
}

#[rstest]
#[case("pateint: {born: 1959-08-02}", "pateint", "1 | pateint: …\n  | ^^^^^^^\n")]
#[case("\"pateint\": {born: 1959-08-02}", "\"pateint\"", "1 | \"pateint\": …\n  | ^^^^^^^^^\n")]
#[case("wieght:", "wieght", "1 | wieght:\n  | ^^^^^^\n")]
fn after_a_marked_key_its_value_is_not_shown(#[case] text: &str, #[case] key: &str, #[case] expected: &str) {
    let out = shown(&Source::new("a.yaml", text), Fault::new("any", "any").in_field("x").at(range_of(text, key)));
    assert!(out.ends_with(expected), "{out}");
}

#[test]
fn a_long_line_is_cut_around_the_mark() {
    let text = format!("{}: .5 mg{}", "ü".repeat(5000), "9".repeat(1_000_000));
    let out = shown(&Source::new("a.jsonl", text.clone()), fault_at(&text, ".5").in_field("dose"));
    assert!(out.contains("a.jsonl:1:5003"), "{out}");
    assert!(out.contains("| … ü") && out.contains(": .5 mg999") && out.contains("9 …\n"), "{out}");
    assert!(out.lines().all(|line| line.chars().count() < 140), "{out}");
    let caret = out.lines().find(|line| line.contains('^')).expect("there is a mark");
    let line = out.lines().find(|line| line.contains(".5 mg9")).expect("there is an excerpt");
    let before = &line[..line.find(".5").expect("the mark is in the excerpt")];
    assert_eq!(caret.find('^'), Some(before.chars().count()));
    assert_eq!(caret.matches('^').count(), 2);
}

#[test]
fn a_mark_of_a_million_characters_is_cut() {
    let text = format!("dose: {} mg", "9".repeat(1_000_000));
    let out = shown(&Source::new("a.yaml", text), Fault::new("any", "any").at(6..1_000_006));
    assert!(out.len() < 500 && out.contains("dose: 999") && out.contains('^'), "{out}");
}

#[test]
fn controls_are_made_visible_and_cannot_steer_the_terminal() {
    let text = "dose\0: \u{1b}[2Jx\u{9b}1m\u{202e}";
    let out = render(
        &Source::new("a\u{1b}]0;title\u{7}.yaml", text),
        &[Fault::new("any", "found \u{1b}[31m\nand \u{9b}m").at(range_of(text, "x")).help("\u{1b}c\r")],
        Palette::Plain,
    );
    assert!(out.contains("dose␀: ␛[2Jx"), "{out}");
    assert!(out.chars().all(|c| c == '\n' || !c.is_control()), "{out:?}");
    assert!(!out.contains('\u{202e}'));
}

#[test]
fn colour_is_only_there_when_asked_for() {
    let source = Source::new("a.yaml", ENTRY);
    let fault = || Fault::new("any", "any").at(range_of(ENTRY, "alpha"));
    assert!(render(&source, &[fault()], Palette::Colour).contains("\u{1b}["));
    assert!(!render(&source, &[fault()], Palette::Plain).contains('\u{1b}'));
}

proptest! {
    #[test]
    fn no_text_and_no_range_make_it_panic(
        text in "(?s)(\\PC|[\\x00-\\x1f\t\r\nµ世\u{200d}]){0,400}",
        name in any::<String>(),
        message in any::<String>(),
        start in 0usize..1300,
        length in 0usize..1300,
        withheld in 0usize..1300,
    ) {
        let mut source = Source::new(name, text);
        source.withhold(withheld..withheld + length);
        for range in [start..start + length, start..start, start..0, start..usize::MAX, usize::MAX..usize::MAX] {
            let fault = Fault::new("any", message.clone()).help(message.clone()).in_field("x").at(range);
            for palette in [Palette::Plain, Palette::Colour] {
                let out = render(&source, std::slice::from_ref(&fault), palette);
                let begins_well = out.starts_with("error") || out.starts_with('\u{1b}');
                prop_assert!(begins_well, "bad beginning");
                prop_assert!(out.ends_with('\n'));
            }
        }
    }
}
