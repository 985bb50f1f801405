//! The commands as people type them, and every answer as they read it.

use rstest::rstest;

use super::*;

/// What stands after the name of a set-up.
fn record(theatre: &Theatre, clock: &str, code: SetUpCode, words: &[&str]) -> Said {
    let code = code.to_string();
    let words = [&["record", words[0], &code], &words[1..], &["--as", IDOWU]].concat();
    theatre.says(clock, &[PIN], &words)
}

#[track_caller]
fn taken(name: &str, said: &Said) {
    assert_eq!((said.code, said.stderr.as_str()), (0, ""), "{said:?}");
    insta::assert_snapshot!(name, settled(&said.stdout));
}

/// A day in the theatre, typed line by line.
fn day(name: &str) -> (Theatre, SetUpCode, Vec<(&'static str, Said)>) {
    let mut theatre = Theatre::new(name);
    let code = theatre.agreed(SINGLE);
    let mut said = Vec::new();
    let mut say =
        |theatre: &Theatre, name, clock, words: &[&str]| said.push((name, record(theatre, clock, code, words)));
    say(&theatre, "start", "08:00", &["start"]);
    say(&theatre, "rate", "08:30", &["rate", "7.2 mL/h"]);
    say(&theatre, "bolus", "08:40", &["bolus", "0.08 mg", "--even-so", "--reason", "pressure fell at induction"]);
    say(&theatre, "pause", "09:00", &["pause"]);
    say(&theatre, "resume", "09:10", &["resume", "--rate", "9 mL/h", "--dose-changes"]);
    say(&theatre, "rate-marked", "09:20", &["rate", "36 mL/h"]);
    let marked = theatre.last();
    say(&theatre, "late", "09:40", &["rate", "6 mL/h", "--time", "08:50", "--late", "resuscitation"]);
    let late = theatre.last();
    say(&theatre, "reason", "09:41", &["reason", "--event", &marked.to_string(), "--reason", "bleeding"]);
    say(
        &theatre,
        "correct",
        "09:42",
        &["correct", "--event", &late.to_string(), "--rate", "6.3 mL/h", "--time", "08:51", "--reason", "misread"],
    );
    theatre.next(code, &double(), "09:44");
    say(&theatre, "syringe", "09:45", &["syringe", "--rate", "2.5 mL/h", "--dose-changes"]);
    (theatre, code, said)
}

#[test]
fn every_line_says_what_was_written_what_is_given_and_what_is_owed() {
    let (theatre, code, said) = day("day");
    for (name, said) in &said {
        taken(name, said);
    }
    taken("show", &theatre.says("10:05", &[], &["record", "show", &code.to_string()]));
    taken("show-json", &theatre.says("10:05", &[], &["record", "show", &code.to_string(), "--format", "json"]));
    taken("dose", &theatre.says("10:05", &[], &["dose", "--case", &code.to_string()]));
    taken("dose-json", &theatre.says("10:05", &[], &["dose", "--case", &code.to_string(), "--format", "json"]));
    taken("stop-json", &record(&theatre, "10:10", code, &["stop", "--format", "json"]));
    let words =
        ["close", "--in-line", "0.9 mL", "--left", "0 mL", "--discarded", "80 mL", "--reason", "some was spilt"];
    taken("close", &record(&theatre, "10:15", code, &words));
    taken("show-closed", &theatre.says("10:20", &[], &["record", "show", &code.to_string()]));
}

// hazard: H-RECORD
#[test]
fn a_corrected_line_stays_readable() {
    let (theatre, code, _) = day("readable");
    let said = theatre.says("10:05", &[], &["record", "show", &code.to_string()]);
    let words = said.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    for part in
        ["rate changed to 6 mL/h", "WAS OTHERWISE: event", "written down at 2026-03-14 09:40 +00:00: resuscitation"]
    {
        assert!(words.contains(part), "{part}: {said:?}");
    }
    let data = theatre.says("10:05", &[], &["record", "show", &code.to_string(), "--format", "json"]).json();
    let lines = data["record"].as_array().expect("lines");
    let old = lines.iter().find(|line| line["says"] == "rate changed to 6 mL/h").expect("the old line");
    let by = old["corrected_by"].as_u64().expect("its correction");
    assert!(lines.iter().any(|line| line["event"].as_u64() == Some(by)), "{lines:#?}");
}

#[test]
fn a_picture_fits_a_terminal_and_says_its_units() {
    let (theatre, code, _) = day("picture");
    for clock in ["09:46", "10:05", "19:00"] {
        let said = theatre.says(clock, &[], &["record", "show", &code.to_string()]);
        for line in said.stdout.lines() {
            assert!(line.chars().count() <= 80, "{line:?}");
        }
        let plain = |line: &&str| line.is_ascii() || line.contains('≈');
        assert!(said.stdout.lines().all(|line| plain(&line)), "{said:?}");
        assert!(said.stdout.contains("Rate, mL/h\n") && said.stdout.contains("Left to infuse, mL\n"), "{said:?}");
        assert!(said.stdout.contains("+00:00 08:00  ") && said.stdout.contains(&format!("  {clock}\n")), "{said:?}");
    }
}

// A sixtieth of a mcg/kg/min for each mL/h.
#[rstest]
#[case("0.1 mcg/kg/min", "rate changed to 6 mL/h, for 0.1 mcg/kg/min")]
#[case("6 mcg/kg/h", "rate changed to 6 mL/h, for 6 mcg/kg/h")]
#[case("100 nanogram/kg/min", "rate changed to 6 mL/h, for 100 nanogram/kg/min")]
#[case("6 mL/h", "rate changed to 6 mL/h.")]
fn a_rate_is_recorded_by_the_dose_that_it_gives(#[case] typed: &str, #[case] says: &str) {
    let mut theatre = Theatre::new(&format!("by-dose-{}", typed.replace([' ', '/', '.'], "-")));
    let code = theatre.agreed(SINGLE);
    assert_eq!(record(&theatre, "08:00", code, &["start"]).code, 0);
    let said = record(&theatre, "08:10", code, &["rate", typed]);
    let words = said.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.code == 0 && words.contains(says), "{said:?}");
    assert!(words.contains("Now: 6 mL/h") && words.contains("0.1 mcg/kg/min"), "{said:?}");
}

// hazard: H-ARITHMETIC
#[rstest]
#[case("0.1 units/kg/min", "dose-not-computed")]
#[case("0.0001 mcg/kg/min", "dose-not-settable")]
#[case("20 mcg/kg/min", "dose-not-settable")]
#[case("2 mcg/kg/min", "not-as-agreed")]
#[case("0.1 mcg/kg", "time")]
fn a_dose_without_a_rate_is_refused(#[case] typed: &str, #[case] why: &str) {
    let mut theatre = Theatre::new(&format!("no-rate-{}", typed.replace([' ', '/', '.'], "-")));
    let code = theatre.agreed(SINGLE);
    assert_eq!(record(&theatre, "08:00", code, &["start"]).code, 0);
    let said = record(&theatre, "08:10", code, &["rate", typed]);
    assert!(said.is_refused().contains(why), "{said:?}");
}

// hazard: H-RECORD
#[test]
fn what_is_refused_is_refused_before_anything_is_written() {
    let mut theatre = Theatre::new("refused");
    let code = theatre.agreed(SINGLE);
    assert_eq!(record(&theatre, "08:00", code, &["start"]).code, 0);
    let events = theatre.last();
    for (words, why) in [
        (&["rate", "7.2"][..], "unit"),
        (&["rate", "7,2 mL/h"], "comma"),
        (&["bolus", "0.5 MG"], "mg"),
        (&["bolus", "1 unit"], "bolus-not-computed"),
        (&["rate", "7.2 mL/h", "--time", "08:20"], "after now"),
        (&["rate", "7.2 mL/h", "--time", "07:50", "--late", "forgot"], "not-started"),
        (&["rate", "200 mL/h"], "--even-so"),
        (&["rate", "7.25 mL/h"], "not-as-agreed"),
        (&["start"], "started-before"),
        (&["correct", "--event", "8"], "required"),
        (&["correct", "--event", "8", "--not", "--time", "08:00", "--reason", "a slip"], "not-asked"),
        (&["reason", "--event", "8"], "reason-missing"),
        (&["close", "--in-line", "0.9 mL", "--left", "0 mL", "--discarded", "12 mg"], "volume"),
    ] {
        let said = record(&theatre, "08:10", code, words);
        assert!(said.is_refused().contains(why), "{words:?}: {said:?}");
    }
    let wrong = theatre.says("08:10", &["000111"], &["record", "stop", &code.to_string(), "--as", IDOWU]);
    assert!(wrong.is_refused().contains("pin-wrong"), "{wrong:?}");
    assert_eq!(theatre.last(), events + 1, "only the wrong PIN was written down");
}

#[test]
fn a_dose_of_a_case_is_not_mixed_with_a_sum() {
    let mut theatre = Theatre::new("dose");
    let code = theatre.agreed(SINGLE);
    let dose =
        |clock, more: &[&str]| theatre.says(clock, &[], &[&["dose", "--case", &code.to_string()], more].concat());
    assert!(dose("07:59", &[]).is_refused().contains("not-started"));
    assert_eq!(record(&theatre, "08:00", code, &["start"]).code, 0);
    for more in
        [&["--rate", "3 mL/h"][..], &["--strength", "80 mcg/mL"], &["--weight", "80 kg"], &["--unit", "mcg/kg/min"]]
    {
        assert!(dose("08:10", more).is_refused().contains("cannot be used with"), "{more:?}");
    }
    let said = dose("08:10", &[]);
    assert!(
        said.stdout.contains("0.08 mcg/kg/min\n") && said.stdout.contains("since 2026-03-14 08:00 +00:00"),
        "{said:?}"
    );
    assert!(said.stdout.ends_with("By the record, not read off the driver.\n"), "{said:?}");
    let data = dose("08:10", &["--format", "json"]).json();
    assert_eq!((&data["now"]["dose"]["value"], &data["now"]["rate"]["value"]), (&"0.08".into(), &"4.8".into()));
    assert_eq!(record(&theatre, "08:20", code, &["pause"]).code, 0);
    let said = dose("08:30", &[]);
    assert!(said.stdout.contains("paused since 2026-03-14 08:20") && !said.stdout.contains("mcg/kg/min"), "{said:?}");
}
