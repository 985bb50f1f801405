use rstest::rstest;

use super::Fields;
use crate::diagnostic::Fault;
use crate::document::{ENTRY_LIMIT, Path, Presence, Refusal, Typed, read_json, read_yaml};

/// Every typed number of these tests: digits only, and where the first other character stands.
fn digits(typed: &Typed<'_, '_>) -> Result<u32, Refusal> {
    typed.text().parse().map_err(|_| {
        let at = typed.text().find(|c: char| !c.is_ascii_digit()).unwrap_or_default();
        Refusal::new("not-digits", "found something else").at(at..typed.text().len()).help("write digits")
    })
}

/// Reads a text with this form, and gives what it made of it and what was found, as `code field marked`.
#[track_caller]
fn read<T>(text: &str, form: impl FnOnce(&mut Fields<'_, '_, '_>) -> T) -> (Option<T>, Vec<String>) {
    let (made, faults) = faults_of(text, form);
    let told = faults.iter().map(|fault| {
        let marked = fault.range.clone().map_or("-", |range| &text[range]);
        format!("{} {} {marked}", fault.code, fault.field)
    });
    (made, told.collect())
}

#[track_caller]
fn faults_of<T>(text: &str, form: impl FnOnce(&mut Fields<'_, '_, '_>) -> T) -> (Option<T>, Vec<Fault>) {
    let mut faults = Vec::new();
    let root = if text.starts_with("{\"") {
        read_json(text, ENTRY_LIMIT, &mut faults)
    } else {
        read_yaml(text, ENTRY_LIMIT, &mut faults)
    };
    let root = root.expect("the test's text can be read");
    let made = Fields::of(&root, Path::Root, &mut faults).map(|mut fields| {
        let made = form(&mut fields);
        fields.no_others();
        made
    });
    (made, faults)
}

#[rstest]
#[case::read("a: 5", Some(5), &[])]
#[case::missing("b: 5", None, &["field-missing a -", "field-unknown b b"])]
#[case::empty("a:", None, &["field-empty a a"])]
#[case::null("a: null", None, &["field-empty a a"])]
#[case::blank("a: ' '", None, &["field-empty a a"])]
#[case::refused("a: 5x", None, &["not-digits a x"])]
#[case::refused_in_quotes("a: 'µx'", None, &["not-digits a µx"])]
#[case::a_list("a: [5]", None, &["field-not-text a [5]"])]
#[case::a_map("a: {b: 5}", None, &["field-not-text a {b: 5}"])]
#[case::a_bare_number("{\"a\": 5}", None, &["field-not-quoted a 5"])]
#[case::doubled("a: 5\na: 5", Some(5), &["field-doubled a a"])]
fn a_required_text_is_read_or_told_once(#[case] text: &str, #[case] value: Option<u32>, #[case] faults: &[&str]) {
    let (made, told) = read(text, |fields| fields.required("a", digits));
    assert_eq!((made.flatten(), told), (value, faults.iter().map(|fault| (*fault).to_owned()).collect()));
}

#[rstest]
#[case("a: 5", Presence::Present(5), 0)]
#[case("{}", Presence::Absent, 0)]
#[case("a:", Presence::Refused, 1)]
#[case("a: x", Presence::Refused, 1)]
#[case("a: [5]", Presence::Refused, 1)]
fn an_optional_text_tells_absent_from_refused(
    #[case] text: &str,
    #[case] expected: Presence<u32>,
    #[case] faults: usize,
) {
    let (made, told) = read(text, |fields| fields.typed("a", digits));
    assert_eq!((made, told.len()), (Some(expected), faults));
    let (made, told) = read(text, |fields| fields.optional("a", digits));
    assert_eq!((made.flatten(), told.len()), (expected.value(), faults));
}

#[rstest]
#[case("[a]", "field-not-map  [a]")]
#[case("text", "field-not-map  text")]
fn a_document_that_is_no_map_is_told(#[case] text: &str, #[case] expected: &str) {
    let (made, told) = read(text, |_| ());
    assert_eq!((made, told), (None, vec![expected.to_owned()]));
}

#[test]
fn a_nested_form_reads_maps_and_lists_and_tells_all_faults_with_their_paths() {
    let text = "label:\n  amount: 4\n  volum: 50\nstrengths:\n  - {amount: 1}\n  - {amount: x}\n  - 3\n  - {}\nnames: [1, y]\n";
    let (made, told) = read(text, |fields| {
        if let Presence::Present(mut label) = fields.map("label") {
            assert_eq!(label.required("amount", digits), Some(4));
            assert_eq!(label.required("volume", digits), None);
            label.no_others();
        }
        let strengths = fields.list("strengths").value().and_then(|items| {
            assert_eq!(items.len(), 4);
            items.read(|item| {
                let mut strength = item.fields()?;
                let amount = strength.required("amount", digits);
                strength.no_others();
                amount
            })
        });
        let names = fields.required_item("names").and_then(|item| item.items()?.read(|item| item.text(digits)));
        (strengths, names)
    });
    assert_eq!(made, Some((None, None)));
    assert_eq!(
        told,
        [
            "field-missing label.volume ",
            "field-unknown label.volum volum",
            "not-digits strengths[1].amount x",
            "field-not-map strengths[2] 3",
            "field-missing strengths[3].amount ",
            "not-digits names[1] y",
        ]
    );
}

#[test]
fn a_map_with_free_keys_gives_each_key_with_its_value() {
    let (made, told) = read("reasons: {dose-high: 5, rate-low: x, run-short: 7}\n", |fields| {
        let entries = fields.entries("reasons").value()?;
        let mut seen = Vec::new();
        let values = entries.read(|member, item| {
            seen.push(member.key.to_string());
            item.text(digits)
        });
        Some((seen, values))
    });
    let seen = ["dose-high", "rate-low", "run-short"].map(str::to_owned).to_vec();
    assert_eq!(made.flatten(), Some((seen, None)));
    assert_eq!(told, ["not-digits reasons.rate-low x"]);
}

#[test]
fn a_map_or_list_of_the_wrong_shape_is_told_once() {
    let (_, told) = read("a: [1]\nb: {c: 1}\nd:\ne: x\n", |fields| {
        assert!(matches!(fields.map("a"), Presence::Refused));
        assert!(matches!(fields.list("b"), Presence::Refused));
        assert!(matches!(fields.map("d"), Presence::Refused));
        assert!(matches!(fields.entries("e"), Presence::Refused));
        assert!(fields.map("f").is_absent() && fields.list("f").is_absent());
        assert!(fields.required_item("g").is_none());
    });
    assert_eq!(
        told,
        ["field-not-map a [1]", "field-not-list b {c: 1}", "field-empty d d", "field-not-map e x", "field-missing g -"]
    );
}

#[test]
fn an_unknown_field_is_told_with_the_name_that_was_meant() {
    let (_, faults) = faults_of("wieght: 5\nheight: 6\ndose:4: 1\nzzz: 1\n", |fields| {
        assert_eq!(fields.optional("weight", digits), None);
        assert_eq!(fields.optional("height", digits), Some(6));
    });
    let told: Vec<_> =
        faults.iter().map(|fault| (&*fault.message, fault.help.as_deref().unwrap_or_default())).collect();
    assert_eq!(
        told,
        [
            ("the field `wieght` is not known here", "did you mean `weight`? The fields here are `height`, `weight`"),
            (
                "the field `dose:4` is not known here",
                "a space follows the colon after a name. The fields here are `height`, `weight`"
            ),
            ("the field `zzz` is not known here", "the fields here are `height`, `weight`"),
        ]
    );
}

#[test]
fn a_thousand_unknown_fields_are_told_briefly() {
    let text: String = (0..1000).map(|number| format!("x{number}: 1\n")).collect();
    let (_, faults) = faults_of(&text, |fields| fields.optional("x500", digits));
    assert_eq!(faults.len(), 21);
    assert_eq!(faults.last().map(|fault| &*fault.message), Some("979 more fields are not known here"));
}

#[test]
fn fields_are_found_in_any_order_and_a_node_that_was_taken_is_known() {
    let (made, told) = read("c: 3\na: 1\nb: 2\nn: [x]\n", |fields| {
        let values = ["a", "b", "c"].map(|name| fields.required(name, digits));
        (values, fields.node("n").map(|node| node.kind()))
    });
    assert_eq!(made, Some(([Some(1), Some(2), Some(3)], Some("a list"))));
    assert_eq!(told, [""; 0]);
}

#[rstest]
#[case("a: 'x5'\nb: 1\n", "clash a 5")]
#[case("a: [1]\nb: 1\n", "clash a [1]")]
#[case("b: 1\n", "clash a ")]
fn a_fault_between_fields_is_told_at_the_field(#[case] text: &str, #[case] expected: &str) {
    let (_, told) = read(text, |fields| {
        let _ = (fields.node("a"), fields.node("b"));
        fields.refuse("a", Refusal::new("clash", "a and b").at(1..2));
    });
    assert_eq!(told, [expected]);
}

#[test]
fn a_value_is_refused_as_a_whole_at_its_key_or_in_its_list() {
    let (_, told) = read("a: {b: 1}\nc: [1, 2]\n", |fields| {
        let refusal = || Refusal::new("not-here", "nothing of this kind belongs here");
        assert_eq!(fields.item("a").and_then(|item| item.refuse::<u32>(refusal())), None);
        fields.list("c").value().and_then(|items| items.read(|item| item.refuse::<u32>(refusal())))
    });
    assert_eq!(told, ["not-here a a", "not-here c[0] 1", "not-here c[1] 2"]);
}
