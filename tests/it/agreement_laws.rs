//! Laws of the agreement of two entries: it is symmetric, it names each field that differs and only those, it compares
//! by meaning, and what it says of a difference holds no value of either person.

use std::fmt::Write as _;
use std::io::Write as _;
use std::process::{Command, Stdio};

use countersign::agreement::{COMPARED, NotComparable, Outcome, agree};
use countersign::check::Verdict;
use countersign::document::{ENTRY_LIMIT, Node, Value, read_yaml};
use countersign::pharmacy::survey;
use proptest::prelude::*;
use proptest::sample::select;
use rstest::rstest;

use crate::common::set_up::{NOW, SetUp, clean, demonstration, moment};

/// The second person, reading the same.
fn second() -> SetUp {
    clean().with("entered_by", "{name: M. Tamm, role: nurse}").with("entered_at", "2026-03-14T07:44:00+00:00")
}

/// What came of it: fields that differ, or the verdict; or why it was not compared.
fn outcome(first: &SetUp, second: &SetUp) -> Result<(Vec<&'static str>, &'static str), NotComparable> {
    Ok(match agree(first.checked(), second.checked())? {
        Outcome::Differ(differ) => (differ.fields().to_vec(), "differ"),
        Outcome::Stopped(_) => (Vec::new(), Verdict::Stop.word()),
        Outcome::ReasonsMissing(_) => (Vec::new(), Verdict::Justify.word()),
        Outcome::Agreed(_) => (Vec::new(), Verdict::Proceed.word()),
    })
}

/// The compared field, the field of the form, and another reading of it.
const READINGS: &[(&str, &str, &str)] = &[
    ("identifiers", "patient.identifiers", r#"["1959-08-02", "QM-30471"]"#),
    ("identifiers", "patient.identifiers", r#"["1959-08-02"]"#),
    ("identifiers", "patient.identifiers", "pending"),
    ("weight", "patient.weight", "48.2 kg"),
    ("weight", "patient.weight", "84.3 kg"),
    ("born", "patient.born", "1959-02-08"),
    ("gestation", "patient.gestation", "34 weeks"),
    ("drug", "drug", "adrenaline"),
    ("drug", "drug", "noradrenalin"),
    ("area", "area", "paediatric theatre"),
    ("indication", "indication", "septic shock"),
    ("phase", "phase", "weaning"),
    ("dose", "dose", "0.8 mcg/kg/min"),
    ("dose", "dose", "0.08 mcg/min"),
    ("titrate", "titrate", "{from: 0.02 mcg/kg/min, to: 0.3 mcg/kg/min}"),
    ("bolus", "bolus", "{dose: 1 mcg/kg, over: 1 min}"),
    ("dosing_weight", "dosing_weight", "ideal"),
    ("label", "label.amount", "8 mg"),
    ("label", "label.volume", "40 mL"),
    ("label", "label.strength", "160 mcg/mL"),
    ("made_from", "made_from", "{ampoules: 2, of: 2 mg in 2 mL, diluent: glucose 5 %, how: made up to}"),
    ("made_from", "made_from", "{ampoules: 8, of: 1 mg in 1 mL, diluent: glucose 5 %, how: made up to}"),
    ("access", "access", "peripheral"),
    ("container", "container", "syringe 60 mL"),
    ("fill", "fill", "48 mL"),
    ("line", "line", "narrow-200"),
    ("line_filled", "line_filled", "with diluent"),
    ("beyond", "beyond", "0.6 mL"),
    ("driver", "driver", "fine"),
];

/// Another way to write the same.
const SPELLINGS: &[(&str, &str)] = &[
    ("patient.identifiers", r#"["qm 30417", "1959 08 02"]"#),
    ("patient.weight", "84200 g"),
    ("patient.weight", "84.20 kg"),
    ("drug", "Norepinephrine"),
    ("drug", "NORADRENALINE"),
    ("area", "Adult  Theatre"),
    ("indication", "Vasopressor"),
    ("dose", "80 nanogram/kg/min"),
    ("dose", "0.0048 mg/kg/h"),
    ("dosing_weight", "actual"),
    ("label.amount", "4000 mcg"),
    ("label.amount", "0.004 g"),
    ("label.volume", "0.05 L"),
    ("label.strength", "0.08 mg/mL"),
    ("label.strength", "0.008 %"),
    ("label.strength", "1:12 500"),
    ("fill", "0.05 L"),
    ("fill", "50.0 mL"),
    ("beyond", "300 microlitres"),
];

/// What is no part of what must agree.
const NOT_COMPARED: &[(&str, &str)] = &[
    ("entered_by", "{name: B. Ng, role: pharmacist}"),
    ("entered_at", "2026-03-14T07:10:00+00:00"),
    ("patient.weight_from", "stated"),
    ("patient.sex", "male"),
    ("patient.height", "190 cm"),
    ("made_from", "{ampoules: 4.0, of: 1000 mcg in 1 mL, diluent: Glucose 5%, how: made up to}"),
    ("drawn_up_at", "2026-03-14T07:30:00+00:00"),
    ("use_before", "2026-03-15T06:00:00+00:00"),
    ("starts_at", "2026-03-14T08:30:00+00:00"),
    ("planned_for", "2 h"),
    ("reasons", "{rounding-large: the step of the driver is what it is}"),
];

// hazard: H-INDEPENDENCE
#[test]
fn the_same_reading_agrees() {
    assert_eq!(outcome(&clean(), &second()), Ok((Vec::new(), "proceed")));
}

// hazard: H-INDEPENDENCE
#[test]
fn each_compared_field_is_named_and_only_it() {
    let mut named = Vec::new();
    for (name, field, value) in READINGS {
        let found = outcome(&clean(), &second().with(field, value));
        assert_eq!(found, Ok((vec![*name], "differ")), "{field}: {value}");
        named.push(*name);
    }
    // Sex and height count where a weight is worked out from them.
    for (name, field, value) in [("sex", "patient.sex", "male"), ("height", "patient.height", "164.5 cm")] {
        let (one, other) = (by_ideal_weight(clean()), by_ideal_weight(second()));
        assert_eq!(outcome(&one, &other.with(field, value)), Ok((vec![name], "differ")), "{field}: {value}");
        named.push(name);
    }
    // And where only one of the two works it out.
    let other = by_ideal_weight(second()).with("dosing_weight", "actual").with("patient.sex", "male");
    let both = Ok((vec!["sex", "dosing_weight"], "differ"));
    assert_eq!(outcome(&by_ideal_weight(clean()), &other), both);
    let compared: Vec<&str> = COMPARED.iter().map(|field| field.name).collect();
    assert!(compared.iter().all(|name| named.contains(name)), "{compared:?} are not all in {named:?}");
}

fn by_ideal_weight(set_up: SetUp) -> SetUp {
    set_up
        .with("drug", "remifentanil")
        .with("indication", "anaesthesia")
        .with("dosing_weight", "ideal")
        .with("dose", "0.1 mcg/kg/min")
        .bought_in("2 mg", "40 mL", "50 mcg/mL")
        .with("fill", "40 mL")
}

// hazard: H-UNIT
#[test]
fn the_same_in_another_unit_agrees() {
    for (field, value) in SPELLINGS {
        let found = outcome(&clean(), &second().with(field, value)).expect("they may be compared");
        // The local unit of the dose is a rule of its own; the meaning is the same.
        assert!(found.0.is_empty(), "{field}: {value} differs in {:?}", found.0);
    }
}

#[rstest]
#[case(
    "titrate",
    "{from: 0.02 mcg/kg/min, to: 0.3 mcg/kg/min, step: 0.02 mcg/kg/min}",
    "{from: 20 nanogram/kg/min, to: 1.2 mcg/kg/h, step: 20 nanogram/kg/min}",
    false
)]
#[case(
    "titrate",
    "{from: 0.02 mcg/kg/min, to: 0.3 mcg/kg/min, step: 0.02 mcg/kg/min}",
    "{from: 0.02 mcg/kg/min, to: 18 mcg/kg/h, step: 20 nanogram/kg/min}",
    true
)]
#[case("titrate", "{from: 0.02 mcg/kg/min, to: 0.3 mcg/kg/min}", "{from: 20 nanogram/kg/min, to: 18 mcg/kg/h}", true)]
#[case(
    "titrate",
    "{from: 0.02 mcg/kg/min, to: 0.3 mcg/kg/min, step: 0.02 mcg/kg/min}",
    "{from: 0.02 mcg/kg/min, to: 0.3 mcg/kg/min}",
    false
)]
#[case(
    "titrate",
    "{from: 0.02 mcg/kg/min, to: 0.3 mcg/kg/min, step: 0.02 mcg/kg/min}",
    "{from: 0.02 mcg/kg/min, to: 0.3 mcg/kg/min, step: 0.01 mcg/kg/min}",
    false
)]
#[case("bolus", "{dose: 1 mcg/kg, over: 1 min}", "{dose: 1000 nanogram/kg, over: 60 s}", true)]
#[case("bolus", "{dose: 1 mcg/kg, over: 1 h}", "{dose: 0.001 mg/kg, over: 60 min}", true)]
#[case("bolus", "{dose: 1 mcg/kg, over: 1 min}", "{dose: 1 mcg/kg, over: 2 min}", false)]
#[case("bolus", "{dose: 1 mcg/kg, over: 1 min}", "{dose: 1 mcg, over: 1 min}", false)]
fn a_range_and_a_bolus_are_compared_by_meaning(
    #[case] field: &str,
    #[case] one: &str,
    #[case] other: &str,
    #[case] same: bool,
) {
    let found = outcome(&clean().with(field, one), &second().with(field, other)).expect("they may be compared");
    assert_eq!(found.0.is_empty(), same, "{found:?}");
}

#[test]
fn dead_space_that_is_not_named_is_none() {
    let found = outcome(&clean().without("beyond"), &second().with("beyond", "0 mL"));
    assert_eq!(found, Ok((Vec::new(), "proceed")));
}

#[test]
fn the_only_indication_need_not_be_named() {
    assert_eq!(outcome(&clean().without("indication"), &second()), Ok((Vec::new(), "proceed")));
}

#[test]
fn what_is_not_compared_never_differs() {
    for (field, value) in NOT_COMPARED {
        let found = outcome(&clean(), &second().with(field, value)).expect("they may be compared");
        assert_eq!(found, (Vec::new(), "proceed"), "{field}: {value}");
    }
}

// hazard: H-INDEPENDENCE
#[rstest]
#[case("A. Idowu")]
#[case("a idowu")]
#[case("IDOWU, A.")]
#[case("A. Ìdówù")]
fn one_person_is_not_two(#[case] name: &str) {
    let other = second().with("entered_by", &format!("{{name: \"{name}\", role: nurse}}"));
    assert_eq!(outcome(&clean(), &other), Err(NotComparable::SamePerson));
    assert_eq!(outcome(&other, &clean()), Err(NotComparable::SamePerson));
}

// hazard: H-PATIENT
#[rstest]
#[case::two(r#"["1971-11-30", "QM-11111"]"#, Err(NotComparable::TwoPatients))]
#[case::one_in_common(r#"["1959-08-02", "QM-11111"]"#, Ok((vec!["identifiers"], "differ")))]
#[case::pending("pending", Ok((vec!["identifiers"], "differ")))]
#[case::another_order(r#"["QM30417", "1959/08/02"]"#, Ok((Vec::new(), "proceed")))]
#[case::one_more(r#"["QM-30417", "1959-08-02", "Ward 4"]"#, Ok((vec!["identifiers"], "differ")))]
fn patients_are_told_apart(
    #[case] identifiers: &str,
    #[case] expected: Result<(Vec<&'static str>, &'static str), NotComparable>,
) {
    let other = second().with("patient.identifiers", identifiers);
    assert_eq!(outcome(&clean(), &other), expected);
    assert_eq!(outcome(&other, &clean()), expected);
}

#[test]
fn identifiers_may_be_pending_for_both() {
    let pending = |set_up: SetUp| set_up.with("patient.identifiers", "pending");
    assert_eq!(outcome(&pending(clean()), &pending(second())), Ok((Vec::new(), "proceed")));
}

#[rstest]
#[case(NotComparable::SamePerson, "a second person reads")]
#[case(NotComparable::TwoPatients, "look at both wristbands")]
#[case(NotComparable::RatesDiffer, "do not use any number")]
fn each_refusal_says_what_to_do(#[case] refused: NotComparable, #[case] help: &str) {
    assert!(refused.help().starts_with(help), "{}", refused.help());
}

#[test]
fn what_both_find_is_said_once_and_what_one_finds_too() {
    // What both find and what the line between them makes.
    let pair = [clean().with("beyond", "20 mL"), second().with("beyond", "20 mL")]
        .map(|set_up| set_up.with("patient.weight_from", "estimated").checked());
    let [first, second] = pair;
    let Ok(Outcome::Agreed(agreed)) = agree(first, second) else { panic!("nothing stands in the way") };
    let said: Vec<&str> = agreed.pair().findings().iter().map(|finding| finding.code.id).collect();
    assert_eq!(said, ["weight-estimated", "arrival-slow"]);
}

// A reason is asked of each person, and one person's is not the other's.
// hazard: H-INDEPENDENCE
#[rstest]
#[case("{}", "{}", "justify")]
#[case("{dose-above-soft-limit: needs more than usual}", "{}", "justify")]
#[case("{}", "{dose-above-soft-limit: needs more than usual}", "justify")]
#[case(
    "{dose-above-soft-limit: needs more than usual}",
    "{dose-above-soft-limit: confirmed with S. Naidoo}",
    "proceed"
)]
fn both_write_a_reason(#[case] one: &str, #[case] other: &str, #[case] verdict: &str) {
    let high = |set_up: SetUp, reasons: &str| set_up.with("dose", "0.51 mcg/kg/min").with("reasons", reasons);
    let found = outcome(&high(clean(), one), &high(second(), other)).expect("they may be compared");
    assert_eq!(found, (Vec::new(), verdict));
}

// hazard: H-LIMITS
#[test]
fn what_stops_one_stops_both() {
    let expired = clean().with("drawn_up_at", "2026-03-12T07:00:00+00:00");
    assert_eq!(outcome(&expired, &second()), Ok((Vec::new(), "stop")));
    assert_eq!(outcome(&second(), &expired), Ok((Vec::new(), "stop")));
}

/// A set-up with some of its fields read differently, or written differently, or not compared.
fn entries() -> impl Strategy<Value = SetUp> {
    let readings: Vec<(&str, &str)> = READINGS.iter().map(|(_, field, value)| (*field, *value)).collect();
    let same: Vec<(&str, &str)> = SPELLINGS.iter().chain(NOT_COMPARED).copied().collect();
    let some = |list: Vec<(&'static str, &'static str)>, most| prop::collection::vec(select(list), 0..=most);
    (some(readings, 2), some(same, 3)).prop_map(|(different, same)| {
        same.into_iter().chain(different).fold(clean(), |set_up, (field, value)| set_up.with(field, value))
    })
}

fn by_another(set_up: SetUp) -> SetUp {
    set_up.with("entered_by", "{name: M. Tamm, role: nurse}")
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    // hazard: H-INDEPENDENCE
    #[test]
    fn agreement_is_symmetric(one in entries(), other in entries()) {
        let other = by_another(other);
        prop_assert_eq!(outcome(&one, &other), outcome(&other, &one));
    }

    #[test]
    fn everybody_agrees_with_what_they_wrote(one in entries()) {
        let found = outcome(&one, &by_another(one.clone()));
        prop_assert!(found.as_ref().is_ok_and(|(fields, _)| fields.is_empty()), "{:?}", found);
    }
}

/// Every run of digits and every word that a person typed as a value, longer than one character.
fn values(node: &Node<'_>, found: &mut Vec<String>) {
    match &node.value {
        Value::Text(text) => {
            let parts = text.split(|c: char| !c.is_alphanumeric() && c != '.');
            found.extend(parts.filter(|part| part.len() > 1).map(str::to_lowercase));
        }
        Value::List(nodes) => nodes.iter().for_each(|node| values(node, found)),
        Value::Map(members) => members.iter().for_each(|member| values(&member.node, found)),
        Value::Nothing | Value::Bare => {}
    }
}

fn values_of(set_up: &SetUp) -> Vec<String> {
    let text = set_up.yaml();
    let mut faults = Vec::new();
    let root = read_yaml(&text, ENTRY_LIMIT, &mut faults).expect("it is YAML");
    let mut found = Vec::new();
    values(&root, &mut found);
    found
}

fn as_json(node: &Node<'_>) -> serde_json::Value {
    match &node.value {
        Value::Text(text) => text.to_string().into(),
        Value::List(nodes) => nodes.iter().map(as_json).collect(),
        Value::Map(members) => members
            .iter()
            .map(|member| (member.key.to_string(), as_json(&member.node)))
            .collect::<serde_json::Map<_, _>>()
            .into(),
        Value::Nothing | Value::Bare => serde_json::Value::Null,
    }
}

fn json_of(set_up: &SetUp) -> serde_json::Value {
    let text = set_up.yaml();
    let mut faults = Vec::new();
    as_json(&read_yaml(&text, ENTRY_LIMIT, &mut faults).expect("it is YAML"))
}

fn run(arguments: &[&str], input: &str) -> (Option<i32>, String) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_countersign"))
        .args(arguments)
        .args(["--formulary", "demonstration", "--at", NOW])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program can be run");
    let mut stdin = child.stdin.take().expect("it is a pipe");
    let input = input.to_owned();
    let writer = std::thread::spawn(move || stdin.write_all(input.as_bytes()));
    let output = child.wait_with_output().expect("it ends");
    writer.join().expect("it does not fall over").expect("all of it is read");
    let said = [output.stdout, output.stderr].concat();
    (output.status.code(), String::from_utf8(said).expect("text"))
}

/// The words that a disagreement may hold: none of them is a value.
fn holds_no_value(said: &str, of: &[&SetUp]) {
    let mut rest = said.to_lowercase();
    for word in
        COMPARED.iter().map(|field| field.name).chain(["\"version\":1", "the two entries", "the label and the line"])
    {
        rest = rest.replace(word, "");
    }
    let words: Vec<&str> = rest.split(|c: char| !c.is_alphanumeric() && c != '.').collect();
    for value in of.iter().flat_map(|set_up| values_of(set_up)) {
        let digits = value.bytes().any(|byte| byte.is_ascii_digit());
        let shown = if digits { rest.contains(&value) } else { words.contains(&&*value) };
        // Plain words of the language are no values: "to", "from" and "of" stand in the sentence.
        let plain = ["to", "in", "of", "up", "this", "each", "and"].contains(&&*value);
        assert!(!shown || plain, "{value:?} of an entry is said in {said}");
    }
    assert!(!rest.bytes().any(|byte| byte.is_ascii_digit()), "{said}");
}

// As text and as data, one pair at a time and many at once.
// hazard: H-INDEPENDENCE
#[test]
fn a_disagreement_shows_no_value() {
    let folder = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("agree-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("it can be made");
    let paths = ["first.yaml", "second.yaml"].map(|name| folder.join(name));
    let names = paths.each_ref().map(|path| path.display().to_string());
    let first = clean();
    std::fs::write(&paths[0], first.yaml()).expect("it can be written");
    let mut lines = String::new();
    for (name, field, value) in READINGS {
        let other = second().with(field, value);
        std::fs::write(&paths[1], other.yaml()).expect("it can be written");
        for format in ["text", "json"] {
            let (code, said) = run(&["agree", &names[0], &names[1], "--format", format], "");
            assert_eq!(code, Some(5), "{field}: {value}: {said}");
            assert!(said.contains(name), "{said}");
            holds_no_value(&said, &[&first, &other]);
        }
        let pair = serde_json::json!({"first": json_of(&first), "second": json_of(&other)});
        writeln!(lines, "{pair}").expect("a text takes everything");
    }
    std::fs::remove_dir_all(&folder).expect("it was made above");
    let (code, said) = run(&["agree", "--batch", "-"], &lines);
    assert_eq!((code, said.lines().count()), (Some(0), READINGS.len()), "{said}");
    for (answer, (name, field, value)) in said.lines().zip(READINGS) {
        assert_eq!(answer, format!(r#"{{"version":1,"verdict":"disagree","agreed":false,"differ":["{name}"]}}"#));
        holds_no_value(answer, &[&first, &second().with(field, value)]);
    }
}

// The lowest alert burden that was published, 3.9 for 100 orders: Hosp Pediatr 2024;14(6):448.
// hazard: H-ALARMS
#[test]
fn usual_set_ups_raise_fewer_alerts_than_the_lowest_published_burden() {
    let survey = survey::survey(demonstration(), moment(NOW)).expect("the demonstration can be surveyed");
    let (set_ups, stops, reasons, _) = survey.totals();
    assert!(set_ups > 500, "{set_ups} set-ups");
    assert_eq!(stops, 0, "{}", survey.text());
    assert!(reasons * 1000 < 39 * set_ups, "{}", survey.text());
}

// Times are not compared, but they are held against each other.
// hazard: H-LIMITS
#[test]
fn a_start_by_one_and_an_end_by_the_other_are_held_together() {
    let starts = |time: &str| clean().with("starts_at", time).without("planned_for");
    let ends =
        |time: &str| second().without("made_from").without("drawn_up_at").without("starts_at").with("use_before", time);
    let late = outcome(&starts("2026-03-14T20:00:00+00:00"), &ends("2026-03-14T12:00:00+00:00"));
    assert_eq!(late, Ok((Vec::new(), "stop")));
    let in_time = outcome(&starts("2026-03-14T10:00:00+00:00"), &ends("2026-03-14T12:00:00+00:00"));
    assert_eq!(in_time, Ok((Vec::new(), "proceed")));
}

// hazard: H-PATIENT
#[rstest]
#[case("66 years", "66 years", true)]
#[case("66 years", "17 years", false)]
fn ages_are_compared(#[case] one: &str, #[case] other: &str, #[case] same: bool) {
    let aged = |set_up: SetUp, age: &str| set_up.without("patient.born").with("patient.age", age);
    let found = outcome(&aged(clean(), one), &aged(second(), other)).expect("they may be compared");
    assert_eq!(found.0.is_empty(), same, "{found:?}");
}

// Born on 1959-08-02 and read in March 2026: 66 years, told in whole ones.
#[rstest]
#[case("66 years", true)]
#[case("67 years", true)]
#[case("65 years", false)]
#[case("17 years", false)]
fn an_age_fits_a_date_of_birth(#[case] age: &str, #[case] fits: bool) {
    let aged = second().without("patient.born").with("patient.age", age);
    for found in [outcome(&clean(), &aged), outcome(&by_another(aged.clone()), &clean())] {
        let (differ, _) = found.expect("they may be compared");
        assert_eq!(differ.is_empty(), fits, "{differ:?}");
    }
}

// What probably happened is kept for the record; it is not part of what a disagreement shows.
#[rstest]
#[case("dose", "0.08 mcg/kg/min", "0.8 mcg/kg/min", Some("10 times"))]
#[case("dose", "0.08 mcg/kg/min", "4.8 mcg/kg/min", Some("60 times"))]
#[case("dose", "0.08 mcg/kg/min", "80 nanogram/kg/min", None)]
#[case("dose", "0.08 mcg/kg/min", "800 mcg/kg/min", Some("10 000 times"))]
#[case("dose", "0.08 mcg/kg/min", "0.2 mcg/kg/min", None)]
#[case("dose", "0.08 mcg/kg/min", "6.736 mcg/min", Some("per kg and per patient"))]
#[case("dose", "6.736 mcg/min", "0.08 mcg/kg/min", Some("per kg and per patient"))]
#[case("bolus", "{dose: 1 mcg/kg, over: 1 min}", "{dose: 10 mcg/kg, over: 1 min}", Some("10 times"))]
#[case("label.strength", "80 mcg/mL", "800 mcg/mL", Some("10 times"))]
#[case("label.amount", "4 mg", "40 mg", Some("10 times"))]
#[case("label.volume", "50 mL", "5 mL", Some("10 times"))]
#[case("fill", "48 mL", "4.8 mL", Some("10 times"))]
#[case("fill", "48 mL", "49 mL", None)]
#[case("patient.weight", "84.2 kg", "48.2 kg", Some("transposed"))]
#[case("patient.weight", "84.2 kg", "84200 kg", Some("1000 times"))]
#[case("patient.weight", "84.2 kg", "85.3 kg", None)]
fn the_likely_slip_is_kept_for_the_record(
    #[case] field: &str,
    #[case] one: &str,
    #[case] other: &str,
    #[case] says: Option<&str>,
) {
    let outcome = agree(clean().with(field, one).checked(), second().with(field, other).checked());
    let kept = match outcome.expect("they may be compared") {
        Outcome::Differ(differ) => differ.diagnoses().first().map(|diagnosis| diagnosis.says.clone()),
        _ => None,
    };
    assert_eq!(kept.is_some(), says.is_some(), "{kept:?}");
    assert!(kept.unwrap_or_default().contains(says.unwrap_or_default()));
}
