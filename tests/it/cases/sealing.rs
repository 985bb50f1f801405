//! Nothing of the first entry can be read before the second is sealed: not in any file, not in any answer; and what is
//! sealed opens only where it was sealed.

use countersign::case::CaseCode;
use countersign::journal::{NewEvent, Of};

use super::{IDOWU, OKORO, TAMM, Theatre, changed, first, holds, moment, second};

/// Values that stand nowhere else, one in each field that holds one.
const PLANTED: &[(&str, &str, &str)] = &[
    ("1959-08-02\", \"QM-30417", "1961-07-29\", \"ZQX-771349", "ZQX-771349"),
    ("weight: 84.2 kg", "weight: 83.719 kg", "83.719"),
    ("born: 1959-08-02", "born: 1961-07-29", "1961-07-29"),
    ("height: 164 cm", "height: 171.93 cm", "171.93"),
    ("\ndose: 0.08 mcg/kg/min", "\ndose: 0.083719 mcg/kg/min", "0.083719"),
    ("to: 0.3 mcg/kg/min", "to: 0.29173 mcg/kg/min", "0.29173"),
    ("fill: 50 mL", "fill: 49.1733 mL", "49.1733"),
    ("beyond: 0.3 mL", "beyond: 0.3719 mL", "0.3719"),
    ("planned_for: 3 h", "planned_for: 173 min", "173 min"),
    ("reasons: {}", "reasons: {dose-above-soft-limit: xylophone weather}", "xylophone"),
];

// hazard: H-INDEPENDENCE
#[test]
fn no_value_of_the_first_entry_is_found_anywhere_before_the_second_is_sealed() {
    let theatre = Theatre::new("sealed");
    let code = theatre.case();
    let changes: Vec<(&str, &str)> = PLANTED.iter().map(|(from, to, _)| (*from, *to)).collect();
    let form = changed(&first(), &changes);
    let said = theatre.enters("07:40", IDOWU, "enter", &code, &form);
    assert_eq!(said.code, 0, "{said:?}");
    // The form that was typed lies beside the journal, and is the author's own affair.
    let mut seen = vec![("the first person's answer", said.stdout + &said.stderr)];
    // Held open while it is searched: what is written lies in the write-ahead log too.
    let open = theatre.cases();
    let events = open.journal().events(Of::All).expect("a journal");
    assert!(events.iter().any(|event| event.kind() == "entry-sealed"));
    for (clock, typed, words) in [
        ("07:41", vec![], vec!["case", "status", &code]),
        ("07:41", vec![], vec!["case", "status", &code, "--format", "json"]),
        ("07:41", vec![], vec!["case", "list", "--all", "--format", "json"]),
        ("07:41", vec![], vec!["case", "list"]),
        ("07:41", vec![], vec!["case", "card", &code]),
        ("07:41", vec![TAMM.1, "adult theatre", "noradrenaline"], vec!["case", "second", &code, "--as", TAMM.0]),
        ("07:41", vec![IDOWU.1], vec!["case", "second", &code, "--as", IDOWU.0]),
        ("07:41", vec![OKORO.1, "70 kg", "measured"], vec!["case", "weight", &code, "--as", OKORO.0]),
    ] {
        let said = theatre.says(clock, &typed, &words);
        seen.push(("an answer", said.stdout + &said.stderr));
    }
    // The second person reads everything otherwise: told which fields, and no value.
    let said = theatre.enters("07:46", TAMM, "second", &code, &second());
    assert_eq!(said.code, 5, "{said:?}");
    seen.push(("the second person's answer", said.stdout + &said.stderr));
    seen.push(("the export", theatre.exported()));
    seen.push(("the export, as base64 reads", decoded(&theatre.exported())));
    let bytes = theatre.bytes();
    assert!(holds(&bytes, "entry-sealed"));
    for (_, _, planted) in PLANTED {
        assert!(holds(form.as_bytes(), planted), "{planted} is planted");
        assert!(!holds(&bytes, planted), "{planted} in a file of the journal");
        for (place, text) in &seen {
            assert!(!text.contains(planted), "{planted} in {place}: {text}");
        }
    }
}

/// What a curious reader would try first.
fn decoded(exported: &str) -> String {
    let mut all = String::new();
    for line in exported.lines() {
        for part in line.split('"').map(|part| part.trim_end_matches('\\')).filter(|part| part.len() > 200) {
            if let Ok(bytes) = data_encoding::BASE64.decode(part.as_bytes()) {
                all.push_str(&String::from_utf8_lossy(&bytes));
            }
        }
    }
    assert!(all.len() > 1000, "something was decoded");
    all
}

/// Two entries of the same length tell nothing by their size.
#[test]
fn the_size_of_what_is_sealed_tells_nothing_of_small_differences() {
    let theatre = Theatre::new("sizes");
    let code = theatre.case();
    for (number, beyond) in [(1, "beyond: 0.3 mL"), (2, "beyond: 0.375 mL")] {
        let form = changed(&first(), &[("beyond: 0.3 mL", beyond)]);
        assert_eq!(theatre.enters("07:40", IDOWU, "enter", &code, &form).code, 0, "{number}");
    }
    let events = theatre.cases().journal().events(Of::Kind("entry-sealed")).expect("a journal");
    let sizes: Vec<usize> = events.iter().map(|event| event.body()["sealed"].as_str().expect("text").len()).collect();
    assert_eq!(sizes.len(), 2);
    assert_eq!(sizes[0], sizes[1]);
}

// hazard: H-INDEPENDENCE
#[test]
fn what_is_sealed_opens_nowhere_else() {
    let theatre = Theatre::new("moved");
    let (code, other) = (theatre.case(), theatre.case());
    assert_eq!(theatre.enters("07:40", IDOWU, "enter", &code, &first()).code, 0);
    assert_eq!(theatre.enters("07:40", IDOWU, "enter", &other, &first()).code, 0);
    let scope = |code: &str| CaseCode::parse(code).expect("a code").scope();
    let (idowu, tamm) = (theatre.unlocked("07:41", IDOWU).1, theatre.unlocked("07:41", TAMM).1);
    let taken = theatre.cases().journal().events(Of::Scope(&scope(&code))).expect("a journal");
    let body = taken.iter().find(|event| event.kind() == "entry-sealed").expect("one").body().clone();
    let with = |field: &str, value: serde_json::Value| {
        let mut changed = body.clone();
        changed[field] = value;
        changed
    };
    // Where it was sealed it opens: a second entry makes a comparison.
    let status = theatre.says("07:42", &[], &["case", "status", &code]);
    assert_eq!(status.code, 0, "{status:?}");
    let moves = [
        ("another case", scope(&other), &idowu, with("place", "second".into())),
        ("another set-up", scope(&code), &idowu, with("set_up", 2.into())),
        ("another reading", scope(&code), &idowu, with("reading", 2.into())),
        ("another turn", scope(&code), &idowu, with("place", "second".into())),
        ("another round", scope(&code), &idowu, with("round", 2.into())),
        ("another person", scope(&code), &tamm, body.clone()),
        ("another formulary", scope(&code), &tamm, with("edition", "0".repeat(64).into())),
    ];
    for (what, scope, by, body) in moves {
        // In a copy of the journal each: what was written stays.
        let name = format!("moved-{}", what.replace(' ', "-"));
        let copy = Theatre { journal: super::folder(&name).join("journal"), formulary: theatre.formulary.clone() };
        crate::common::copy(&theatre.journal, &copy.journal);
        let sealed = body["sealed"].as_str().expect("text").to_owned();
        let mut cases = copy.cases();
        let draft = || NewEvent {
            kind: "entry-sealed",
            scope: Some(scope.clone()),
            by: Some(by),
            body: body.clone(),
            introduces: None,
        };
        cases
            .journal_mut()
            .write::<_, countersign::journal::JournalError>(moment("07:50"), |_| Ok((vec![draft()], ())))
            .expect("room");
        // A second entry beside it, so that both would be opened.
        let mut answers = Vec::new();
        for set_up in [format!("{code}/1"), format!("{code}/2"), format!("{other}/1")] {
            answers.push(copy.says("07:51", &[], &["case", "status", &set_up]));
            // Twice, each time otherwise than the first: what is sealed for the second round is opened too.
            let differs = changed(&second(), &[("\ndose: 0.08 mcg/kg/min", "\ndose: 0.06 mcg/kg/min")]);
            answers.push(copy.enters("07:52", OKORO, "second", &set_up, &differs));
            answers.push(copy.enters("07:53", OKORO, "second", &set_up, &differs));
            answers.push(copy.says("07:54", &[], &["case", "card", &set_up]));
        }
        let opened =
            answers.iter().any(|said| said.stderr.contains("does not open: it was altered, or moved from elsewhere"));
        let agreed = answers.iter().any(|said| said.stdout.contains("SET-UP CARD"));
        let silent = answers.iter().all(|said| !said.stdout.contains("1959-08-02"));
        assert!(opened && silent, "{what}: {answers:#?}");
        assert!(!agreed, "{what}");
        let key = cases.journal().keys().case(&scope).expect("readable").expect("one");
        assert!(key.open(&[], &sealed).is_err(), "{what}");
    }
}
