//! Whatever a person or a machine can hand over instead of an entry: each is refused with one clear message, its place and
//! what to write instead, in time, and without a word about the patient.

use std::fs;
use std::io::Read as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use crate::common::{AT, Said, at, example, folder, run};
use rstest::rstest;

/// Stands in the patient's block of the entry that every case here spoils.
const IDENTIFIER: &str = "ZX-91735";
const IDENTIFIERS: &str = r#"["1948-05-11", "ZX-91735"]"#;

/// Spoils one place of a good entry. `where_` is line and column, or nothing where there is no one place.
#[rstest]
// Of another type.
#[case::list_for_text(
    "drug: noradrenaline",
    "drug: [noradrenaline]",
    "10:7",
    "expected a text, found a list",
    "write one value"
)]
#[case::map_for_text(
    "area: adult theatre",
    "area: {adult: theatre}",
    "11:7",
    "expected a text, found a map",
    "write one value"
)]
#[case::text_for_map(
    "label: {amount: 4 mg, volume: 50 mL, strength: 80 mcg/mL}",
    "label: 4 mg in 50 mL",
    "17:8",
    "expected a map of fields",
    "write its fields"
)]
#[case::text_for_list(IDENTIFIERS, "ZX-91735", "4:16", "identifiers are a list", "write them as a list")]
#[case::map_for_list(IDENTIFIERS, "{ZX-91735: a}", "4:16", "expected a list", "write a list")]
#[case::list_in_list(IDENTIFIERS, r#"[["ZX-91735"]]"#, "4:17", "expected a text, found a list", "write one value")]
#[case::empty_value("area: adult theatre", "area:", "11:1", "`area` is empty", "write its value")]
// Twice, unknown, missing.
#[case::doubled(
    "dose: 0.08 mcg/kg/min",
    "dose: 0.08 mcg/kg/min\ndose: 0.8 mcg/kg/min",
    "15:1",
    "written twice, first at line 14",
    "keep the one that is right"
)]
#[case::unknown("indication:", "indicaton:", "12:1", "`indicaton` is not known", "did you mean `indication`?")]
#[case::unknown_inside("strength: 80", "strenght: 80", "17:38", "`strenght` is not known", "did you mean `strength`?")]
#[case::missing("access: central\n", "", "", "the field `access` is missing", "write `access:`")]
#[case::missing_inside("volume: 50 mL, ", "", "17:8", "the field `volume` is missing in `label`", "in `label`")]
#[case::no_colon("drug: noradrenaline", "drug noradrenaline", "", "this is not YAML", "one field a line")]
// Numbers and units.
#[case::leading_point("0.08 mcg/kg/min\n", ".08 mcg/kg/min\n", "14:7", "`.08` begins with a point", "write 0.08")]
#[case::trailing_zero("amount: 4 mg", "amount: 4.0 mg", "17:17", "`4.0` ends with a zero", "write 4")]
#[case::comma("dose: 0.08", "dose: 0,08", "14:7", "`0,08`", "write a point as the decimal sign")]
#[case::thousands(
    "amount: 4 mg",
    "amount: 4,000 mcg",
    "17:17",
    "`4,000` has a comma",
    "write a point as the decimal sign"
)]
#[case::no_space(
    "volume: 50 mL, ",
    "volume:50 mL, ",
    "17:23",
    "a space is missing after the colon of `volume`",
    "write `volume: 50 mL`"
)]
#[case::letter_o("dose: 0.08", "dose: O.08", "14:7", "`O` is the letter O", "write the digit 0")]
#[case::cyrillic_o("dose: 0.08", "dose: о.08", "14:7", "`о` is the letter O", "write the digit 0")]
#[case::greek_o("dose: 0.08", "dose: ο.08", "14:7", "`ο` is the letter O", "write the digit 0")]
#[case::greek_o_behind_the_point("dose: 0.08", "dose: 0.ο8", "14:9", "`ο` is the letter O", "write the digit 0")]
#[case::full_width("dose: 0.08", "dose: ０.08", "14:7", "digit of another script", "write the digits 0 to 9")]
#[case::units_abbreviated("amount: 4 mg", "amount: 4 U", "17:19", "`U`", "write units")]
#[case::upper_case("amount: 4 mg", "amount: 4 MG", "17:19", "`MG`", "write mg")]
#[case::no_unit("dose: 0.08 mcg/kg/min", "dose: 0.08", "14:7", "`0.08` has no unit", "mcg/kg/min")]
#[case::dose_without_time("dose: 0.08 mcg/kg/min", "dose: 0.08 mcg/kg", "14:12", "has no time", "write the time too")]
#[case::weight_without_unit("84.2 kg", "84.2", "5:11", "has no unit", "write a weight in kg")]
#[case::weight_in_pounds("84.2 kg", "185 lb", "5:11", "the weight is in pounds", "weigh in kg")]
#[case::weight_in_units_that_look_right("84.2 kg", "84.2 кg", "5:16", "not a unit", "did you mean kg?")]
#[case::word_that_looks_right("access: central", "access: centrаl", "20:9", "is not an access", "U+0430")]
#[case::field_that_looks_right("dose: 0.08", "dоse: 0.08", "14:1", "is not known here", "U+043E")]
#[case::many_digits("dose: 0.08", "dose: 0.0812345678912", "14:7", "more than 9 significant digits", "at most 9")]
#[case::out_of_range("dose: 0.08", "dose: 90000000000", "14:7", "is outside", "larger or smaller unit")]
// Times.
#[case::no_offset(
    "entered_at: 2026-03-14T07:40:00+00:00",
    "entered_at: 2026-03-14T07:40:00",
    "2:13",
    "without its offset",
    "+00:00"
)]
#[case::no_such_day("entered_at: 2026-03-14T", "entered_at: 2026-02-30T", "2:13", "", "2026-")]
#[case::life_of_solution_unknown(
    "drawn_up_at: 2026-03-14T07:35:00+00:00\n",
    "",
    "1:1",
    "it was made here, and `drawn_up_at` is not given",
    "drawn_up_at:"
)]
// What YAML can do and a form must not.
#[case::anchor("dose: 0.08", "dose: &d 0.08", "14:7", "an anchor", "write the value out")]
#[case::alias("dose: 0.08 mcg/kg/min", "dose: *d", "14:7", "", "")]
#[case::tag("dose: 0.08", "dose: !!str 0.08", "14:7", "a tag", "take the tag away")]
#[case::merge("reasons: {}", "<<: {dose: 8 mcg/kg/min}", "29:1", "a merge", "write every field out")]
#[case::directive("entered_by:", "%YAML 1.2\n---\nentered_by:", "1:1", "is a directive", "take the line away")]
#[case::second_document(
    "reasons: {}",
    "reasons: {}\n---\ndrug: insulin",
    "30:1",
    "a second document",
    "one document a file"
)]
#[case::tab("  weight_from:", "\tweight_from:", "", "a tab", "write spaces")]
#[case::bracket("sex: female", "sex: [female", "", "this is not YAML", "")]
// What nobody sees.
#[case::nul("drug: nor", "drug: \0nor", "10:7", "NUL", "retyping")]
#[case::escape("drug: nor", "drug: \u{1b}[31mnor", "10:7", "U+001B", "retyping")]
#[case::right_to_left("glucose 5 %", "glucose \u{202e}5 %", "18:61", "direction of reading (U+202E)", "retyping")]
#[case::right_to_left_in_the_patient(r#""ZX-91735""#, "\"ZX-\u{202e}91735\"", "4:35", "U+202E", "retyping")]
#[case::no_width("glucose 5 %", "glucose\u{200b} 5 %", "18:60", "U+200B", "retyping")]
// What cannot both be.
#[case::diluted_and_not(
    "how: made up to",
    "how: undiluted",
    "18:53",
    "a diluent is named, and it was not diluted",
    "leave `diluent` out"
)]
#[case::age_twice("sex: female", "age: 66 years", "8:8", "both `born` and `age`", "give one of them")]
#[case::reason_without_words(
    "reasons: {}",
    "reasons: {dose-above-soft-limit: .}",
    "29:34",
    "not a reason",
    "write the clinical reason"
)]
#[case::comma_in_a_name("name: A. Idowu", "name: Idowu, A.", "1:27", "`A.` is not known", "a comma ends a value")]
fn one_fault_is_one_message_with_its_place_and_help(
    #[case] good: &str,
    #[case] bad: &str,
    #[case] place: &str,
    #[case] message: &str,
    #[case] help: &str,
) {
    let (name, said) = spoiled(good, bad);
    let stderr = said.is_refused();
    assert!(stderr.contains(message) && stderr.contains(help), "{stderr}");
    let at = format!("--> {}:{place}\n", name.display());
    assert!(stderr.contains(&at) || place.is_empty() && stderr.contains("--> "), "{at}{stderr}");
    // A field under a wrong name is missing, too: that is the only second message.
    assert!(stderr.matches("error[").count() <= 2, "{stderr}");
    assert_eq!(stderr.matches("help: ").count(), stderr.matches("error[").count(), "{stderr}");
    tells_nothing_of_the_patient(&said);
}

/// An identifier in any wrong place of the patient's block, and whatever is wrong around it.
#[rstest]
fn no_fault_in_or_around_the_patient_shows_who_it_is(
    #[values(
        (IDENTIFIERS, "ZX-91735"),
        (IDENTIFIERS, "[ZX-91735"),
        (IDENTIFIERS, "[\"ZX-91735]"),
        (IDENTIFIERS, "[\"ZX-91735\", \"\"]"),
        (IDENTIFIERS, "[\"ZX-91735\", [a]]"),
        (IDENTIFIERS, "[\"ZX-91735\", {a: b}]"),
        (IDENTIFIERS, "{ZX-91735: x}"),
        (IDENTIFIERS, "[&ZX-91735 a]"),
        (IDENTIFIERS, "[*ZX-91735]"),
        (IDENTIFIERS, "[!ZX-91735 a]"),
        (IDENTIFIERS, "[\"ZX-91735\u{7}\"]"),
        (IDENTIFIERS, "[\"ZX-91735\\q\"]"),
        ("weight: 84.2 kg", "weight: ZX-91735"),
        ("weight: 84.2 kg", "weight: 84.2 ZX-91735"),
        ("weight_from: measured", "weight_from: ZX-91735"),
        ("born: 1948-05-11", "born: ZX-91735"),
        ("sex: female", "sex: ZX-91735"),
        ("height: 164 cm", "height: ZX-91735"),
        ("height: 164 cm", "ZX-91735: 164 cm"),
        ("height: 164 cm", "name: ZX-91735"),
        ("height: 164 cm", "age: ZX-91735"),
        ("height: 164 cm", "gestation: ZX-91735"),
        ("height: 164 cm", "ZX-91735"),
        ("height: 164 cm", "height: 164 cm ZX-91735"),
        ("height: 164 cm", "height: 164 cm\n  height: ZX-91735"),
        ("  height: 164 cm", " height: ZX-91735"),
        ("  height: 164 cm", "\theight: ZX-91735"),
        ("  height: 164 cm", "height: ZX-91735"),
        ("patient:", "pateint:"),
        ("patient:", "Patient:"),
        ("patient:", "patient"),
        ("patient:", "patient: ZX-91735"),
        ("patient:\n", "patient: {identifiers: 1948-05-11, ZX-91735, weight: 84.2 kg}\nunknown:\n"),
        ("patient:\n", "patient: [ZX-91735]\nunknown:\n"),
        ("patient:\n  identifiers", "identifiers: [ZX-91735]\npatient:\n  identifiers"),
        ("drug: noradrenaline", "drug"),
        ("drug: noradrenaline", "  drug: noradrenaline"),
        ("entered_at:", "entered_at")
    )]
    change: (&str, &str),
) {
    let (_, said) = spoiled(change.0, change.1);
    assert!(fs::read_to_string(said_file(change)).is_ok_and(|text| text.contains(IDENTIFIER)), "nothing to be shown");
    said.is_refused();
    tells_nothing_of_the_patient(&said);
    // As data, and as a line of a batch, neither.
    let file = said_file(change);
    let data = run(["check", "--format", "json", "--at", AT, "--formulary", "formulary"]).arg(&file).said();
    tells_nothing_of_the_patient(&data);
}

#[rstest]
#[case(r#""height":"ZX-91735""#)]
#[case(r#""ZX-91735":"164 cm""#)]
#[case(r#""sex":"ZX-91735""#)]
#[case(r#""height":"164 cm","height":"ZX-91735""#)]
#[case(r#""height":["ZX-91735"]"#)]
#[case(r#""height":"ZX-91735"#)]
fn no_line_of_a_batch_shows_who_it_is(#[case] height: &str) {
    let good = example("many.jsonl").lines().next().expect("a line").replace("QM-30417", IDENTIFIER);
    assert!(good.contains(r#""height": "164 cm""#));
    let bad = good.replace(r#""height": "164 cm""#, height);
    let said = batch(&bad);
    assert_eq!(said.lines()[0]["verdict"], "refused", "{said:?}");
    tells_nothing_of_the_patient(&said);
    let pair = format!("{{\"first\": {good}, \"second\": {bad}}}");
    let said = run(["agree", "--batch", "-", "--at", AT, "--formulary", "formulary"]).stdin(pair).said();
    assert_eq!(said.lines()[0]["verdict"], "refused", "{said:?}");
    tells_nothing_of_the_patient(&said);
}

#[test]
fn all_faults_of_a_file_are_told_at_once() {
    let bad = entry()
        .replace("84.2 kg", "185 lb")
        .replace("dose: 0.08", "dose: .08")
        .replace("amount: 4 mg", "amount: 4.0 mg")
        .replace("access: central", "access: centrl")
        .replace("planned_for: 3 h", "planned_for: 3")
        .replace("indication:", "indicaton:")
        .replace("driver: bench\n", "");
    let said = check(&write("all.yaml", &bad));
    let stderr = said.is_refused();
    let codes = [
        "weight-in-pounds",
        "number-leading-point",
        "number-trailing-zero",
        "word-unknown",
        "unit-missing",
        "field-unknown",
        "field-missing",
    ];
    for code in codes {
        assert_eq!(stderr.matches(&format!("error[{code}]")).count(), 1, "{code}: {stderr}");
    }
    assert_eq!(stderr.matches("error[").count(), codes.len(), "{stderr}");
    assert_eq!(stderr.matches("help: ").count(), codes.len(), "{stderr}");
    tells_nothing_of_the_patient(&said);
}

/// Both files of a pair are read to their end before anyone has to mend one.
#[test]
fn the_faults_of_both_entries_are_told_at_once() {
    let one = write("one.yaml", &example("insulin/first.yaml").replace("2.5 units/h", ".5 units/h"));
    let other = write("other.yaml", &example("insulin/second.yaml").replace("peripheral", "vein"));
    let said = run(["agree", "--at", AT, "--formulary", "formulary"]).arg(&one).arg(&other).said();
    let stderr = said.is_refused();
    assert!(stderr.contains("one.yaml:") && stderr.contains("other.yaml:"), "{stderr}");
}

/// Times that contradict each other are of the set-up, not of the form: it stops.
#[test]
fn times_that_contradict_each_other_stop() {
    let (_, said) = spoiled("drawn_up_at: 2026-03-14T07:35:00+00:00", "drawn_up_at: 2026-03-14T08:35:00+00:00");
    assert_eq!(said.code, 4, "{said:?}");
    assert!(said.stdout.contains("[times-contradict]"), "{said:?}");
    let (_, said) = spoiled("drug: noradrenaline", "drug: nоradrenaline");
    assert_eq!(said.code, 4, "{said:?}");
    assert!(said.stdout.contains("U+043E") && !said.stdout.contains("noradrenaline"), "{said:?}");
}

/// What is too large, too deep, or no text.
#[rstest]
#[case::long_file(pad("x: ", "#", 70_000), "at most 65536 bytes")]
#[case::long_number(pad("dose: ", "9", 1_000_000), "at most 65536 bytes")]
#[case::number_that_fits(pad("dose: ", "9", 60_000), "")]
#[case::deep_list(pad("", "[", 20_000), "more than 16 deep")]
#[case::deep_closed_list("[".repeat(20_000) + &"]".repeat(20_000), "more than 16 deep")]
#[case::deep_map(pad("", "{a: ", 15_000), "more than 16 deep")]
#[case::alias_bomb(bomb(), "an anchor")]
#[case::nothing(String::new(), "there is nothing in it")]
#[case::blanks("\n \n\n".to_owned(), "there is nothing in it")]
#[case::a_comment("# to be done\n".to_owned(), "there is nothing in it")]
#[case::one_word("noradrenaline\n".to_owned(), "expected a map of fields")]
#[case::a_list("- noradrenaline\n".to_owned(), "expected a map of fields")]
fn what_is_no_entry_is_refused_in_time(#[case] text: String, #[case] message: &str) {
    let said = check(&write(&format!("no-entry-{}.yaml", text.len()), &text));
    let stderr = said.is_refused();
    assert!(stderr.contains(message) && stderr.contains("help: "), "{}", stderr.chars().take(2000).collect::<String>());
    assert!(stderr.len() < 20_000, "{} bytes of messages", stderr.len());
    // The same out of a pipe.
    let said = run(["check", "-", "--at", AT, "--formulary", "formulary"]).stdin(text).said();
    said.is_refused();
}

#[rstest]
#[case::latin("Idöwu".chars().map(|c| u8::try_from(u32::from(c)).expect("Latin")).collect(), "byte 3 (line 1) is 0xf6")]
#[case::utf16(vec![0xff, 0xfe, b'a', 0, b':', 0], "it is UTF-16")]
#[case::bytes((0..=255).collect(), "not UTF-8")]
#[case::cut(b"a: \xe2\x82".to_vec(), "not UTF-8")]
fn what_is_not_utf8_is_refused_with_its_place(#[case] bytes: Vec<u8>, #[case] message: &str) {
    let file = folder(&format!("not-utf8-{}", bytes.len())).join("entry.yaml");
    fs::write(&file, &bytes).expect("our own folder");
    assert!(check(&file).is_refused().contains(message));
    assert!(run(["check", "-", "--formulary", "formulary"]).stdin(bytes).said().is_refused().contains(message));
}

#[rstest]
#[case("{\"drug\": \"a\", \"drug\": \"b\"}", "`drug` is written twice")]
#[case("{\"drug\": \"a\",", "this is not JSON")]
#[case("{\"dose\": 5}", "without quotes")]
#[case("{\"dose\": true}", "without quotes")]
#[case("{\"dose\": null}", "`dose` is empty")]
#[case("[]", "expected a map of fields")]
#[case("{} {}", "this is not JSON")]
#[case("{\"dr\\u0075g\": \"a\", \"drug\": \"b\"}", "`drug` is written twice")]
fn json_is_refused_for_the_same_reasons(#[case] text: &str, #[case] message: &str) {
    let file = folder(&format!("json-{}-{}", text.len(), message.len())).join("entry.json");
    fs::write(&file, text).expect("our own folder");
    let said = check(&file);
    assert!(said.is_refused().contains(message), "{said:?}");
    let line = batch(text);
    assert_eq!((line.code, line.lines().len()), (0, 1), "{line:?}");
    assert_eq!(line.lines()[0]["verdict"], "refused");
    assert!(line.lines()[0]["faults"].to_string().contains(&message.replace('"', "\\\"")), "{line:?}");
}

#[rstest]
#[case::folder("examples", "this is a folder")]
#[case::missing("examples/no-such.yaml", "there is no such file")]
#[case::below_a_file("examples/README.md/x", "a part of this path is a file")]
#[case::device("/dev/zero", "a device or a pipe")]
fn what_is_no_file_is_refused(#[case] path: &str, #[case] message: &str) {
    let said = check(Path::new(path));
    let stderr = said.is_refused();
    assert!(stderr.contains(message) && stderr.contains("help: "), "{stderr}");
    let agreed = run(["agree", "examples/insulin/first.yaml", path, "--at", AT, "--formulary", "formulary"]).said();
    assert!(agreed.is_refused().contains(message), "{agreed:?}");
}

#[cfg(unix)]
#[test]
fn a_file_that_may_not_be_read_is_refused() {
    use std::os::unix::fs::PermissionsExt as _;
    let file = folder("permission").join("first.yaml");
    fs::write(&file, example("insulin/first.yaml")).expect("our own folder");
    fs::set_permissions(&file, fs::Permissions::from_mode(0o000)).expect("our own file");
    if fs::File::open(&file).is_ok() {
        // For the superuser nothing is forbidden: then the file is simply read.
        assert_eq!(check(&file).code, 0);
        return;
    }
    assert!(check(&file).is_refused().contains("may not be read by you"));
    let many = run(["check", "--batch"]).arg(&file).arg("--formulary").arg("formulary").said();
    many.is_refused();
}

/// Text as other systems save it is the same entry.
#[rstest]
#[case::byte_order_mark(|text: &str| format!("\u{feff}{text}"))]
#[case::carriage_returns(|text: &str| text.replace('\n', "\r\n"))]
#[case::no_last_newline(|text: &str| text.trim_end().to_owned())]
fn the_same_text_saved_otherwise_is_the_same_entry(#[case] saved: fn(&str) -> String) {
    let text = example("adult-vasopressor/first.yaml");
    let expected = at("check examples/adult-vasopressor/first.yaml").said();
    let said = run(["check", "-", "--at", AT, "--formulary", "formulary"]).stdin(saved(&text)).said();
    assert_eq!((said.code, &said.stdout, said.stderr.as_str()), (0, &expected.stdout, ""));
    let lines = example("many.jsonl");
    let expected = batch(&lines).stdout;
    if saved("a\nb") != "\u{feff}a\nb" {
        assert_eq!(batch(saved(&lines)).stdout, expected);
    }
}

#[test]
fn every_line_of_a_batch_is_answered_whatever_stands_in_it() {
    let good = example("many.jsonl").lines().next().expect("a line").to_owned();
    let long = pad("{\"drug\": \"", "x", 10_000_000);
    let mut bytes = Vec::new();
    let bad: [&[u8]; 9] = [
        b"",
        b"  ",
        b"nonsense",
        b"{\"a\": \xff}",
        b"\0",
        b"[[[[[[[[[[[[[[[[[[[[[[[[[[[[[[",
        long.as_bytes(),
        b"{\"first\": 1}",
        "\u{feff}{}".as_bytes(),
    ];
    for line in bad {
        bytes.extend_from_slice(line);
        bytes.push(b'\n');
        bytes.extend_from_slice(good.as_bytes());
        bytes.push(b'\n');
    }
    bytes.extend_from_slice(&pad("", "[", 20_000).into_bytes());
    let said = batch(bytes);
    assert_eq!((said.code, said.stderr.as_str()), (0, ""));
    let verdicts: Vec<String> = said.lines().iter().map(|line| line["verdict"].to_string()).collect();
    let expected: Vec<&str> =
        (0..bad.len()).flat_map(|_| ["\"refused\"", "\"proceed\""]).chain(["\"refused\""]).collect();
    assert_eq!(verdicts, expected);
    for line in said.lines().iter().filter(|line| line["verdict"] == "refused") {
        assert!(line["error"].as_str().is_some_and(|error| !error.is_empty() && error.len() < 1000), "{line}");
    }
}

#[test]
fn an_empty_batch_is_answered_with_nothing() {
    let said = batch("");
    assert_eq!((said.code, said.stdout.as_str(), said.stderr.as_str()), (0, "", ""));
}

#[rstest]
#[case("check", "examples")]
#[case("check", "examples/no-such.jsonl")]
#[case("agree", "examples/README.md/x")]
fn a_batch_that_is_no_file_is_refused(#[case] command: &str, #[case] path: &str) {
    let said = run([command, "--batch", path, "--formulary", "formulary"]).said();
    assert!(said.is_refused().contains("help: "), "{said:?}");
}

/// A line without an end is given up, instead of being waited for.
#[cfg(unix)]
#[test]
fn a_batch_without_an_end_is_given_up() {
    let said = run(["check", "--batch", "/dev/zero", "--formulary", "formulary"]).said();
    assert_eq!(said.code, 2, "{said:?}");
    said.did_not_fall_over();
    assert!(said.stderr.contains("this is no file of entries"), "{said:?}");
}

/// `countersign check --batch ... | head -c 10`: whoever reads has had enough.
#[test]
fn a_pipe_that_is_closed_early_ends_quietly() {
    let good = example("many.jsonl").lines().next().expect("a line").to_owned() + "\n";
    let file = write("many.jsonl", &good.repeat(20_000));
    let mut child = Command::new(env!("CARGO_BIN_EXE_countersign"))
        .args(["check", "--at", AT, "--formulary", "demonstration", "--batch"])
        .arg(&file)
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program is built");
    let mut ten = [0; 10];
    let mut stdout = child.stdout.take().expect("piped");
    stdout.read_exact(&mut ten).expect("it answers");
    drop(stdout);
    let ended = child.wait_with_output().expect("it is our child");
    assert_eq!(&ten, b"{\"version\"");
    assert_eq!((ended.status.code(), ended.stderr.as_slice()), (Some(0), b"".as_slice()));
}

/// The same for an answer that is written at once: it is shorter than a pipe, so its reader must be gone before.
#[test]
fn an_answer_that_nobody_reads_ends_quietly() {
    let mut child = Command::new(env!("CARGO_BIN_EXE_countersign"))
        .args(["check", "-", "--at", AT, "--formulary", "demonstration"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program is built");
    drop(child.stdout.take());
    let mut stdin = child.stdin.take().expect("piped");
    std::io::Write::write_all(&mut stdin, example("insulin/first.yaml").as_bytes()).expect("it reads");
    drop(stdin);
    let ended = child.wait_with_output().expect("it is our child");
    assert_eq!((ended.status.code(), ended.stderr.as_slice()), (Some(0), b"".as_slice()));
}

/// Command lines that nobody can mean.
#[rstest]
#[case(&["rate"], "--dose")]
#[case(&["rate", "--dose", "0.5 mcg/kg/min", "--strength", "1 mg/mL"], "weight")]
#[case(&["rate", "--dose", "0.5 mcg/kg/min", "--weight", "60 kg"], "strength")]
#[case(&["rate", "--dose", "-1 mg/h", "--strength", "1 mg/mL"], "without a sign")]
#[case(&["rate", "--dose", "1 mg/h", "--strength", "0 mg/mL"], "above zero")]
#[case(&["rate", "--dose", "1 mg/h", "--strength", "1 mg/mL", "--step", "0 mL/h"], "")]
#[case(&["rate", "--dose", "1 mg/h", "--strength", "1 mg/mL", "--step", "5 mL/h"], "")]
#[case(&["dose", "--rate", "3.6 mL/h", "--unit", "mcg", "--strength", "1 mg/mL"], "")]
#[case(&["check"], "")]
#[case(&["check", "examples/insulin/first.yaml", "--at", "yesterday"], "")]
#[case(&["check", "examples/insulin/first.yaml", "--batch", "examples/many.jsonl"], "")]
#[case(&["agree", "examples/insulin/first.yaml"], "")]
#[case(&["agree", "-", "-", "--formulary", "formulary"], "")]
#[case(&["unknown"], "")]
#[case(&[], "")]
fn a_command_that_says_too_little_is_refused(#[case] words: &[&str], #[case] message: &str) {
    let said = run(words).said();
    assert!(said.is_refused().contains(message), "{said:?}");
}

/// A good entry, with a patient that no help text has for an example.
fn entry() -> String {
    example("adult-vasopressor/first.yaml").replace("QM-30417", IDENTIFIER).replace("1959-08-02", "1948-05-11")
}

fn spoiled(good: &str, bad: &str) -> (PathBuf, Said) {
    let text = entry();
    assert!(text.contains(good), "nothing to spoil: {good}");
    let file = said_file((good, bad));
    fs::create_dir_all(file.parent().expect("below the target folder")).expect("our own folder");
    fs::write(&file, text.replacen(good, bad, 1)).expect("our own folder");
    let said = check(&file);
    (file, said)
}

/// Each change has a file of its own, since tests run side by side.
fn said_file((good, bad): (&str, &str)) -> PathBuf {
    use std::hash::{DefaultHasher, Hash as _, Hasher as _};
    let mut hasher = DefaultHasher::new();
    (good, bad).hash(&mut hasher);
    Path::new(env!("CARGO_TARGET_TMPDIR")).join("spoiled").join(format!("{:016x}.yaml", hasher.finish()))
}

fn write(name: &str, text: &str) -> PathBuf {
    let file = folder(name).join(name);
    fs::write(&file, text).expect("our own folder");
    file
}

fn check(file: &Path) -> Said {
    run(["check", "--at", AT, "--formulary", "formulary"]).arg(file).said()
}

fn batch(lines: impl AsRef<[u8]>) -> Said {
    run(["check", "--batch", "-", "--at", AT, "--formulary", "formulary"]).stdin(lines.as_ref()).said()
}

#[track_caller]
fn tells_nothing_of_the_patient(said: &Said) {
    said.did_not_fall_over();
    for text in [&said.stdout, &said.stderr] {
        assert!(!text.contains(IDENTIFIER) && !text.contains("91735"), "{text}");
        assert!(!text.contains("1948") && !text.contains("05-11"), "{text}");
    }
}

fn pad(before: &str, with: &str, times: usize) -> String {
    before.to_owned() + &with.repeat(times)
}

/// Each level names the one before it ten times.
fn bomb() -> String {
    let level = |n: usize| {
        let below = vec![format!("*a{}", n - 1); 10].join(", ");
        format!("a{n}: &a{n} [{below}]\n")
    };
    "a0: &a0 [x, x]\n".to_owned() + &(1..30).map(level).collect::<String>()
}
