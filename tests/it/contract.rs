//! What other programs may rely on: the JSON of every command byte for byte or key for key, the exit codes, and where the
//! formulary comes from; and every published rate through the real program.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::Mutex;
use std::thread;

use crate::common::{AT, Said, at, example, folder, run};
use rstest::rstest;
use serde_json::{Value, json};

const RATE: &[&str] = &["rate", "--dose", "0.5 mcg/kg/min", "--weight", "60 kg", "--strength", "500 mcg/mL"];
const DOSE: &[&str] = &["dose", "--weight", "60 kg", "--strength", "500 mcg/mL", "--unit", "mcg/kg/min"];

fn rate(more: &[&str]) -> Said {
    run(RATE.iter().chain(more)).said()
}

fn dose(more: &[&str]) -> Said {
    run(DOSE.iter().chain(more)).said()
}

#[test]
fn rate_as_data() {
    let said = rate(&["--step", "0.1 mL/h", "--format", "json"]);
    let begins = r#"{"version":1,"rate":{"value":"3.6","unit":"mL/h"},"exact":{"numerator":"18","denominator":"5","unit":"mL/h"},"given":{"value":"0.5","unit":"mcg/kg/min"},"working":["#;
    assert!(said.stdout.starts_with(begins), "{said:?}");
    assert_eq!((said.code, said.stderr.as_str()), (0, ""));
    let working = said.json()["working"].as_array().expect("a list").clone();
    assert!(working.iter().all(Value::is_string));
    assert_eq!(working[2], "1800 mcg/h / 500 mcg/mL = 3.6 mL/h", "{working:?}");
    assert_eq!(keys(&said.json()), ["version", "rate", "exact", "given", "working"]);
}

#[test]
fn rate_by_body_surface() {
    let words = ["rate", "--dose", "100 mg/m2/day", "--bsa", "1.8 m2", "--strength", "1 mg/mL", "--format", "json"];
    let found = run(words).said().json();
    assert_eq!(found["rate"], json!({"value": "7.5", "unit": "mL/h"}));
    assert_eq!(found["given"], json!({"value": "100", "unit": "mg/m2/day"}));
}

#[test]
fn rate_is_rounded_half_away_from_zero_and_says_what_is_given() {
    // 1 mg/h of 8 mg/mL is 0.125 mL/h: a tie at a step of 0.01.
    let words = ["rate", "--dose", "1 mg/h", "--strength", "8 mg/mL", "--step", "0.01 mL/h", "--format", "json"];
    let found = run(words).said().json();
    assert_eq!(found["rate"]["value"], "0.13");
    assert_eq!(found["exact"], json!({"numerator": "1", "denominator": "8", "unit": "mL/h"}));
    assert_eq!(found["given"], json!({"value": "1.04", "unit": "mg/h"}));
}

#[test]
fn a_rate_without_a_step_has_twelve_digits_and_dose_takes_them_back() {
    let words = ["rate", "--dose", "1 mg/h", "--strength", "3 mg/mL", "--step", "none", "--format", "json"];
    let found = run(words).said().json();
    assert_eq!(found["rate"]["value"], "0.333333333333");
    assert_eq!(found["exact"], json!({"numerator": "1", "denominator": "3", "unit": "mL/h"}));
    let printed = format!("{} mL/h", found["rate"]["value"].as_str().expect("a text"));
    let back = ["dose", "--rate", &printed, "--strength", "3 mg/mL", "--unit", "mg/h", "--format", "json"];
    let back = run(back).said();
    assert_eq!(back.code, 0, "{back:?}");
    assert_eq!(back.json()["dose"], json!({"value": "0.999999999999", "unit": "mg/h"}));
}

#[test]
fn no_step_is_the_same_as_none() {
    assert_eq!(rate(&["--format", "json"]).stdout, rate(&["--step", "none", "--format", "json"]).stdout);
}

#[test]
fn dose_as_data() {
    let said = dose(&["--rate", "3.6 mL/h", "--format", "json"]);
    let begins = r#"{"version":1,"dose":{"value":"0.5","unit":"mcg/kg/min"},"exact":{"numerator":"1","denominator":"2","unit":"mcg/kg/min"},"working":["#;
    assert!(said.stdout.starts_with(begins), "{said:?}");
    assert_eq!((said.code, said.stderr.as_str()), (0, ""));
    assert_eq!(keys(&said.json()), ["version", "dose", "exact", "working"]);
}

#[rstest]
#[case("adult-vasopressor/first", 0, "proceed")]
#[case("adult-vasopressor/reasons-first", 0, "proceed")]
#[case("adult-vasopressor/reasons-missing-first", 3, "justify")]
#[case("adult-vasopressor/stopped-first", 4, "stop")]
fn check_as_data(#[case] entry: &str, #[case] code: i32, #[case] verdict: &str) {
    let said = at(&format!("check examples/{entry}.yaml --format json")).said();
    assert_eq!((said.code, said.stderr.as_str()), (code, ""), "{said:?}");
    let found = said.json();
    assert_eq!((&found["version"], &found["verdict"]), (&json!(1), &json!(verdict)));
    is_checked(&found);
    assert_eq!(found["rate"].is_null(), verdict == "stop");
    assert_eq!(found.get("working").is_some(), verdict != "stop");
    assert!(found.get("agreed").is_none() && found.get("card").is_none(), "one person agrees with nobody: {found}");
}

#[test]
fn a_batch_of_entries_goes_on_after_a_line_that_cannot_be_read() {
    let said = at("check --batch examples/many.jsonl").said();
    assert_eq!((said.code, said.stderr.as_str()), (0, ""), "{said:?}");
    let lines = said.lines();
    let verdicts: Vec<&Value> = lines.iter().map(|line| &line["verdict"]).collect();
    assert_eq!(verdicts, ["proceed", "stop", "refused", "justify", "proceed"]);
    for line in &lines {
        assert_eq!(line["version"], 1);
        assert!(line.get("working").is_none() && line.get("exact").is_none(), "{line}");
        if line["verdict"] == "refused" {
            assert!(line["error"].as_str().is_some_and(|error| !error.is_empty()), "{line}");
            assert_eq!((&line["faults"][0]["line"], line.get("rate")), (&json!(3), None), "{line}");
        } else {
            is_checked(line);
        }
    }
}

/// The same lines, each as a file of its own: the same answer.
#[test]
fn a_line_of_a_batch_is_answered_as_the_file_is() {
    let folder = folder("lines");
    for (number, line) in example("many.jsonl").lines().enumerate() {
        let path = folder.join(format!("{number}.json"));
        std::fs::write(&path, line).expect("our own folder");
        let words = ["check", "--format", "json", "--at", AT, "--formulary", "formulary"];
        let alone = run(words).arg(&path).said();
        let batch = run(["check", "--batch", "-", "--at", AT, "--formulary", "formulary"]).stdin(line).said().lines();
        assert_eq!(batch.len(), 1);
        if alone.code == 2 {
            assert_eq!(batch[0]["verdict"], "refused");
        } else {
            for key in ["verdict", "rate"] {
                assert_eq!(alone.json()[key], batch[0][key], "{line}");
            }
        }
    }
}

/// Order is kept over more lines than one worker takes at a time.
#[test]
fn a_long_batch_keeps_its_order() {
    let line = example("many.jsonl").lines().next().expect("a line").to_owned();
    let doses = ["0.04", "0.08", "0.12", "0.16"];
    let lines: Vec<String> =
        (0..1200).map(|i| line.replace("\"dose\": \"0.08 ", &format!("\"dose\": \"{} ", doses[i % 4]))).collect();
    let said = run(["check", "--batch", "-", "--at", AT, "--formulary", "formulary"]).stdin(lines.join("\n")).said();
    let rates: Vec<String> = said.lines().iter().map(|line| line["rate"]["value"].to_string()).collect();
    assert_eq!(rates.len(), 1200);
    // 84.2 kg x 60 / 80 mcg/mL = 63.15 mL/h for each mcg/kg/min.
    let expected = ["\"2.5\"", "\"5.1\"", "\"7.6\"", "\"10.1\""];
    assert!(rates.iter().enumerate().all(|(i, rate)| rate == expected[i % 4]), "{rates:?}");
}

#[test]
fn agreement_as_data() {
    let said = at("agree examples/insulin/first.yaml examples/insulin/second.yaml --format json").said();
    assert_eq!((said.code, said.stderr.as_str()), (0, ""), "{said:?}");
    let found = said.json();
    is_checked(&found);
    assert_eq!((&found["verdict"], &found["agreed"]), (&json!("proceed"), &json!(true)));
    assert!(found["card"].is_object(), "{found}");
    for (pair, verdict, code) in [("reasons-missing", "justify", 3), ("stopped", "stop", 4)] {
        let said =
            at(&format!("agree examples/insulin/{pair}-first.yaml examples/insulin/{pair}-second.yaml --format json"))
                .said();
        let found = said.json();
        is_checked(&found);
        assert_eq!((said.code, &found["verdict"], &found["agreed"]), (code, &json!(verdict), &json!(true)));
        assert!(found.get("card").is_none(), "no card: {found}");
    }
}

/// Nothing else may be said while the fields are still to be entered again.
// hazard: H-INDEPENDENCE
#[test]
fn a_disagreement_is_its_fields_and_nothing_else() {
    let pair = "examples/adult-vasopressor/disagree-first.yaml examples/adult-vasopressor/disagree-second.yaml";
    let said = at(&format!("agree {pair} --format json")).said();
    let whole = "{\"version\":1,\"verdict\":\"disagree\",\"agreed\":false,\"differ\":[\"weight\",\"label\"]}\n";
    assert_eq!((said.code, said.stdout.as_str(), said.stderr.as_str()), (5, whole, ""));
    let text = at(&format!("agree {pair}")).said();
    assert_eq!((text.code, text.stderr.as_str()), (5, ""));
    assert!(!text.stdout.chars().any(|c| c.is_ascii_digit()), "no value: {}", text.stdout);
}

#[test]
fn a_batch_of_pairs() {
    let said = at("agree --batch examples/pairs.jsonl").said();
    assert_eq!((said.code, said.stderr.as_str()), (0, ""), "{said:?}");
    let lines = said.lines();
    let verdicts: Vec<&Value> = lines.iter().map(|line| &line["verdict"]).collect();
    assert_eq!(verdicts, ["proceed", "disagree", "refused", "justify", "stop"]);
    assert_eq!(lines[1], json!({"version": 1, "verdict": "disagree", "agreed": false, "differ": ["weight", "label"]}));
    assert_eq!(lines[2]["faults"][0]["code"], "same-person");
    for line in [&lines[0], &lines[3], &lines[4]] {
        assert_eq!(line["agreed"], true);
        is_checked(line);
        assert!(line.get("working").is_none() && line.get("card").is_none(), "{line}");
    }
}

/// Which exit code comes first: refused, disagree, stopped, reason, proceed.
#[test]
fn exit_codes_in_their_order() {
    let folder = folder("pairs");
    let write = |name: &str, text: String| {
        std::fs::write(folder.join(name), text).expect("our own folder");
    };
    let (first, second) = (example("insulin/first.yaml"), example("insulin/second.yaml"));
    write("first.yaml", first.clone());
    write("same-person.yaml", second.replace("P. Lindgren", "\"Osei, H.\""));
    write("other-patient.yaml", second.replace("VT-77120", "VT-77121").replace("1971 11 30", "1971 11 29"));
    // Both stop, and they disagree as well: that comes first.
    write("stops-first.yaml", first.replace("2.5 units/h", "25 units/h"));
    write("stops-second.yaml", second.replace("2.5 units/hour", "26 units/h"));
    // One reason of two is not enough.
    write("one-reason.yaml", example("insulin/reasons-first.yaml"));
    write("no-reason.yaml", example("insulin/reasons-missing-second.yaml"));
    write("unreadable.yaml", second.replace("2.5 units/hour", ".5 units/hour"));
    let agree = |one: &str, other: &str| {
        run(["agree", one, other, "--at", AT, "--formulary", "demonstration"]).within(&folder).said()
    };

    let same = agree("first.yaml", "same-person.yaml");
    assert!(same.is_refused().contains("by the same person"), "{same:?}");
    let two = agree("first.yaml", "other-patient.yaml");
    assert!(two.is_refused().contains("two patients"), "{two:?}");
    // The refusal of one person's entry tells its value to nobody.
    let unreadable = agree("first.yaml", "unreadable.yaml");
    assert!(unreadable.is_refused().contains("error[number-leading-point]"), "{unreadable:?}");
    assert!(!unreadable.is_refused().contains(".5"), "{unreadable:?}");
    assert_eq!(agree("stops-first.yaml", "stops-second.yaml").code, 5);
    let one_reason = agree("one-reason.yaml", "no-reason.yaml");
    assert_eq!(one_reason.code, 3);
    assert!(one_reason.stdout.contains("missing from P. Lindgren"), "{one_reason:?}");
    // Nobody reads the other's reason before writing their own.
    let words =
        ["agree", "one-reason.yaml", "no-reason.yaml", "--at", AT, "--formulary", "demonstration", "--format", "json"];
    let data = run(words).within(&folder).said();
    assert!(data.code == 3 && !data.stdout.contains("\"reason\""), "{data:?}");
    // A name is one person however it is typed.
    write("same-again.yaml", second.replace("P. Lindgren", "h osei"));
    assert_eq!(agree("first.yaml", "same-again.yaml").code, 2);
}

#[test]
fn one_persons_answer_says_that_nobody_checked_it() {
    let answers = [
        rate(&[]),
        dose(&["--rate", "3.6 mL/h"]),
        at("check examples/insulin/first.yaml").said(),
        at("check examples/insulin/reasons-missing-first.yaml").said(),
        at("check examples/insulin/stopped-first.yaml").said(),
    ];
    for said in answers {
        let last = said.stdout.lines().last().unwrap_or_default();
        assert!(last.contains("not double-checked"), "{said:?}");
    }
    let agreed = at("agree examples/insulin/first.yaml examples/insulin/second.yaml").said();
    assert!(!agreed.stdout.contains("not double-checked"), "{agreed:?}");
}

// hazard: H-LIMITS
#[test]
fn no_formulary_is_ever_assumed() {
    let empty = folder("empty");
    let entry = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/insulin/first.yaml");
    let check = |more: &[&str]| run(["check", "--at", AT].iter().chain(more)).arg(&entry).within(&empty);
    let said = check(&[]).said();
    assert!(said.is_refused().contains("no formulary is named"), "{said:?}");
    assert!(said.stderr.contains("--formulary DIR") && said.stderr.contains("COUNTERSIGN_FORMULARY"), "{said:?}");

    let named = check(&["--formulary", "demonstration"]).said();
    assert_eq!(named.code, 0, "{named:?}");
    let set = check(&[]).env("COUNTERSIGN_FORMULARY", "demonstration").said();
    assert_eq!(set.stdout, named.stdout);
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("formulary").display().to_string();
    assert_eq!(check(&[]).env("COUNTERSIGN_FORMULARY", &root).said().stdout, named.stdout);
    assert_eq!(check(&["--formulary", &root]).said().stdout, named.stdout);
    // What is written in the command counts more than what is set.
    let both = check(&["--formulary", "demonstration"]).env("COUNTERSIGN_FORMULARY", "nowhere").said();
    assert_eq!(both.stdout, named.stdout);
    assert!(check(&[]).env("COUNTERSIGN_FORMULARY", "nowhere").said().is_refused().contains("nowhere"));
    // A folder of that name is found where it is run.
    assert_eq!(run(["check", "--at", AT]).arg(&entry).said().stdout, named.stdout);
}

#[derive(Debug, serde::Deserialize)]
struct Row {
    id: String,
    weight_value: String,
    weight_unit: String,
    bsa_m2: String,
    conc_amount: String,
    conc_amount_unit: String,
    conc_volume: String,
    conc_volume_unit: String,
    dose_value: String,
    dose_unit: String,
    #[serde(default, rename = "rate_mL_per_h_num")]
    numerator: String,
    #[serde(default, rename = "rate_mL_per_h_den")]
    denominator: String,
}

impl Row {
    /// As a person types it.
    fn command(&self) -> Vec<String> {
        let mut words: Vec<String> = ["rate", "--format", "json", "--dose"].map(str::to_owned).into();
        words.push(format!("{} {}", self.dose_value, self.dose_unit));
        let mut option = |name: &str, present: &str, value: String| {
            if !present.is_empty() {
                words.extend([name.to_owned(), value]);
            }
        };
        option("--weight", &self.weight_value, format!("{} {}", self.weight_value, self.weight_unit));
        option("--bsa", &self.bsa_m2, format!("{} m2", self.bsa_m2));
        let strength =
            format!("{} {} in {} {}", self.conc_amount, self.conc_amount_unit, self.conc_volume, self.conc_volume_unit);
        option("--strength", &self.conc_amount, strength);
        words
    }
}

#[test]
fn every_published_rate_comes_out_of_the_program() {
    let rows = table("rate_cases");
    assert_eq!(rows.len(), 954);
    let answers = every(&rows);
    for row in &rows {
        let said = &answers[&row.id];
        assert_eq!((said.code, said.stderr.as_str()), (0, ""), "{row:?}");
        let expected = json!({"numerator": row.numerator, "denominator": row.denominator, "unit": "mL/h"});
        assert_eq!(said.json()["exact"], expected, "{row:?}");
        // Unrounded, exactly the ordered dose is given.
        let given = json!({"value": row.dose_value, "unit": row.dose_unit.replace("ng/", "nanogram/").replace("mcmol/", "micromol/")});
        assert_eq!(said.json()["given"], given, "{row:?}");
    }
}

#[test]
fn every_faulty_order_is_refused_by_the_program() {
    let rows = table("refused_cases");
    assert_eq!(rows.len(), 197);
    let answers = every(&rows);
    for row in &rows {
        let said = &answers[&row.id];
        let refused: Value = serde_json::from_str(said.is_refused()).expect("one line of data");
        assert_eq!(refused["verdict"], "refused", "{row:?}");
        let fault = &refused["faults"][0];
        for key in ["message", "help", "code", "field"] {
            assert!(fault[key].as_str().is_some_and(|text| !text.is_empty()), "{key}: {row:?} {refused}");
        }
    }
}

fn table(name: &str) -> Vec<Row> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/it/published").join(format!("{name}.csv"));
    let mut reader = csv::Reader::from_path(path).expect("the table is beside the tests");
    let rows: Vec<Row> = reader.deserialize().map(|row| row.expect("a row with these columns")).collect();
    let ids: BTreeSet<&str> = rows.iter().map(|row| row.id.as_str()).collect();
    assert_eq!(ids.len(), rows.len(), "every row has its own id");
    rows
}

/// A process for each row, as many at a time as there are processors.
fn every(rows: &[Row]) -> BTreeMap<String, Said> {
    let next = Mutex::new(rows.iter());
    let answers = Mutex::new(BTreeMap::new());
    let take = || next.lock().expect("nobody panics with it").next();
    thread::scope(|scope| {
        for _ in 0..thread::available_parallelism().map_or(2, usize::from) {
            scope.spawn(|| {
                while let Some(row) = take() {
                    let said = run(row.command()).said();
                    answers.lock().expect("nobody panics with it").insert(row.id.clone(), said);
                }
            });
        }
    });
    answers.into_inner().expect("nobody panicked")
}

/// The keys that every checked answer has, with their types.
#[track_caller]
fn is_checked(found: &Value) {
    assert_eq!(found["version"], 1);
    assert_eq!(found["notice"], "DEMONSTRATION LIMITS, NOT FOR PATIENTS");
    let verdict = found["verdict"].as_str().expect("a text");
    assert!(["proceed", "justify", "stop"].contains(&verdict), "{verdict}");
    assert!(found.as_object().is_some_and(|map| map.contains_key("rate")), "the key is there, null or not: {found}");
    if verdict == "stop" {
        assert!(found["rate"].is_null(), "{found}");
    } else {
        assert_eq!(found["rate"]["unit"], "mL/h");
        assert!(
            found["rate"]["value"].as_str().is_some_and(|value| value.chars().all(|c| c.is_ascii_digit() || c == '.'))
        );
    }
    for finding in found["findings"].as_array().expect("a list") {
        for key in ["code", "severity", "field", "message", "help"] {
            assert!(finding[key].as_str().is_some_and(|text| !text.is_empty()), "{key}: {finding}");
        }
        let severity = finding["severity"].as_str().expect("a text");
        assert!(["stop", "justify", "note"].contains(&severity), "{severity}");
        assert!(severity != "stop" || verdict == "stop", "{found}");
    }
}

fn keys(found: &Value) -> Vec<&str> {
    found.as_object().expect("a map").keys().map(String::as_str).collect()
}

/// A weight or a surface that a dose does not count by is not taken for counted.
#[rstest::rstest]
#[case(&["--dose", "5 mg/h", "--weight", "60 kg"], "the weight is not used: the dose is neither per kg nor per m2")]
#[case(&["--dose", "5 mg/h", "--bsa", "1.8 m2"], "the body surface is not used: the dose is neither per kg nor per m2")]
#[case(&["--dose", "5 mg/kg/h", "--weight", "60 kg", "--bsa", "1.8 m2"], "the body surface is not used: the dose is per kg")]
#[case(&["--dose", "5 mg/m2/h", "--weight", "60 kg", "--bsa", "1.8 m2"], "the weight is not used: the dose is per m2")]
fn what_a_rate_does_not_use_is_said(#[case] typed: &[&str], #[case] says: &str) {
    let said = run(["rate"]).args(typed).args(["--strength", "10 mg/mL"]).said();
    assert!(said.code == 0 && said.stdout.contains(says), "{said:?}");
    let used = run(RATE).said();
    assert!(!used.stdout.contains("not used"), "{used:?}");
}

// 0.05 mcg/kg/min x 3 kg x 60 min/h / 80 mcg/mL is 0.1125 mL/h: 0.1 mL/h gives eight ninths of it; 0.52 x 60 x 60 / 500 is
// 3.744 mL/h, and 3.7 mL/h gives 0.044 / 3.744 less, 4 mL/h 0.256 / 3.744 more. 0.5 mcg/kg/min is 3.6 mL/h exactly.
#[rstest::rstest]
#[case(&["--dose", "0.05 mcg/kg/min", "--weight", "3 kg", "--strength", "80 mcg/mL"], "0.1 mL/h", Some("≈ 11 % less than ordered"))]
#[case(&["--dose", "0.52 mcg/kg/min", "--weight", "60 kg", "--strength", "500 mcg/mL"], "0.1 mL/h", Some("≈ 1.2 % less than ordered"))]
#[case(&["--dose", "0.52 mcg/kg/min", "--weight", "60 kg", "--strength", "500 mcg/mL"], "1 mL/h", Some("≈ 6.8 % more than ordered"))]
#[case(&["--dose", "0.5 mcg/kg/min", "--weight", "60 kg", "--strength", "500 mcg/mL"], "0.1 mL/h", None)]
#[case(&["--dose", "0.52 mcg/kg/min", "--weight", "60 kg", "--strength", "500 mcg/mL"], "none", None)]
fn a_rate_says_how_far_off_its_step_is(#[case] typed: &[&str], #[case] step: &str, #[case] says: Option<&str>) {
    let said = run(["rate", "--step", step]).args(typed).said();
    assert_eq!(said.code, 0, "{said:?}");
    assert_eq!(says.is_some(), said.stdout.contains("than ordered"), "{said:?}");
    assert!(said.stdout.contains(says.unwrap_or_default()), "{said:?}");
}
