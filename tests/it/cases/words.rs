//! Everything that a person reads about a case, kept as it is: a change of it is a change that somebody looks at.

use super::{IDOWU, OKORO, TAMM, Theatre, changed, first, second};

/// Codes and hashes are drawn by lot; clock times are the test's own.
fn shown(name: &str, said: &super::Said) {
    let text = format!("exit {}\n--- stdout\n{}--- stderr\n{}", said.code, said.stdout, said.stderr);
    let mut settings = insta::Settings::clone_current();
    settings.set_prepend_module_to_snapshot(false);
    settings.set_omit_expression(true);
    settings.add_filter("[0-9a-f]{64}", "<hash>");
    settings.add_filter("Journal  +[0-9a-f]{32}", "Journal                 <journal>");
    settings.add_filter(r"\b[0-9AC-HJKMNP-RTV-Y]{3}-[0-9AC-HJKMNP-RTV-Y]{3}\b", "<code>");
    settings.add_filter(r"CARD1:[^ ]*?\n--- stderr", "<the signed code>\n--- stderr");
    settings.add_filter("--> [^\n]*\\.yaml", "--> <file>");
    settings.bind(|| insta::assert_snapshot!(name, text));
}

const DOSE: (&str, &str) = ("\ndose: 0.08 mcg/kg/min", "\ndose: 0.06 mcg/kg/min");

#[test]
fn the_way_to_a_card() {
    let theatre = Theatre::new("words-card");
    let said = theatre.says("07:30", &[IDOWU.1], &["case", "open", "--as", IDOWU.0]);
    shown("open", &said);
    let code = said.stdout.lines().next().expect("its code").to_owned();
    shown("status-opened", &theatre.says("07:31", &[], &["case", "status", &code]));
    shown("enter-sealed", &theatre.enters("07:40", IDOWU, "enter", &code, &first()));
    shown("status-awaits-second", &theatre.says("07:41", &[], &["case", "status", &code]));
    shown("card-not-agreed", &theatre.says("07:41", &[], &["case", "card", &code]));
    shown("second-same-person", &theatre.enters("07:42", IDOWU, "second", &code, &second()));
    shown("second-agreed", &theatre.enters("07:46", TAMM, "second", &code, &second()));
    shown("card", &theatre.says("07:47", &[], &["case", "card", &code]));
    shown("list-read-back-owed", &theatre.says("07:48", &[], &["case", "list"]));
    let words = ["case", "readback", &code, "--as", TAMM.0];
    shown("readback-differs", &theatre.says("07:49", &[TAMM.1, "51 mL/h", "", ""], &words));
    shown("readback-right", &theatre.says("07:50", &[TAMM.1, "5.1 mL/h", "", ""], &words));
    shown("second-nothing-waits", &theatre.enters("07:51", OKORO, "second", &code, &second()));
    shown("enter-under-way", &theatre.enters("07:51", OKORO, "enter", &format!("{code}/1"), &first()));
    let weighs = |who: super::Who, weight: &str| {
        theatre.says("08:00", &[who.1, weight, "measured"], &["case", "weight", &code, "--as", who.0])
    };
    shown("weight-sealed", &weighs(IDOWU, "86.4 kg"));
    shown("list-weight-in-doubt", &theatre.says("08:00", &[], &["case", "list"]));
    shown("weight-differs", &weighs(TAMM, "84.6 kg"));
    weighs(TAMM, "86.4 kg");
    shown("weight-agreed", &weighs(IDOWU, "86.4 kg"));
    shown("card-weight-changed", &theatre.says("08:01", &[], &["case", "card", &code]));
    shown("status-weight-changed", &theatre.says("08:01", &[], &["case", "status", &code]));
    shown("card-expired", &theatre.says("20:00", &[], &["case", "card", &code]));
    let both = ["case", "forget", &code, "--as", IDOWU.0, "--and", TAMM.0];
    shown("forget", &theatre.says("20:01", &[IDOWU.1, TAMM.1, &code], &both));
    shown("status-forgotten", &theatre.says("20:02", &[], &["case", "status", &code]));
}

#[test]
fn the_way_of_a_disagreement() {
    let theatre = Theatre::new("words-differ");
    let code = theatre.case();
    theatre.enters("07:40", IDOWU, "enter", &code, &first());
    shown("second-differs", &theatre.enters("07:46", TAMM, "second", &code, &changed(&second(), &[DOSE])));
    let set_up = format!("{code}/1");
    let words = ["case", "second", &set_up, "--as", TAMM.0];
    shown("second-again", &theatre.says("07:50", &[TAMM.1, "0.06 mcg/kg/min", "seal"], &words));
    shown("status-awaits-first", &theatre.says("07:50", &[], &["case", "status", &code]));
    let words = ["case", "enter", &set_up, "--as", IDOWU.0];
    shown("enter-again-differs-twice", &theatre.says("07:51", &[IDOWU.1, "0.08 mcg/kg/min", "seal"], &words));
    shown("status-awaits-third", &theatre.says("07:52", &[], &["case", "status", &code]));
    let third = changed(&second(), &[("\ndose: 0.08 mcg/kg/min", "\ndose: 0.1 mcg/kg/min")]);
    shown("third-agrees-with-none", &theatre.enters("07:55", OKORO, "second", &code, &third));
    shown("status-not-agreed", &theatre.says("07:56", &[], &["case", "status", &code]));
}

#[test]
fn reasons_and_stops() {
    let theatre = Theatre::new("words-reasons");
    let high = |form: &str, dose: &str| {
        changed(
            form,
            &[
                ("\ndose: 0.08 mcg/kg/min", &format!("\ndose: {dose} mcg/kg/min")),
                ("to: 0.3 mcg/kg/min", "to: 0.7 mcg/kg/min"),
            ],
        )
    };
    let code = theatre.case();
    shown("enter-reason-needed", &theatre.enters("07:40", IDOWU, "enter", &code, &high(&first(), "0.6")));
    shown("second-reasons-missing", &theatre.enters("07:46", TAMM, "second", &code, &high(&second(), "0.6")));
    let words = ["case", "enter", &code, "--as", IDOWU.0];
    shown("enter-reasons", &theatre.says("07:50", &[IDOWU.1, "septic shock", "septic shock", "seal"], &words));
    let code = theatre.case();
    let stops = |form: &str| changed(&high(form, "0.6"), &[("access: central", "access: peripheral")]);
    shown("enter-stops", &theatre.enters("07:40", IDOWU, "enter", &code, &stops(&first())));
    shown("second-stopped", &theatre.enters("07:46", TAMM, "second", &code, &stops(&second())));
    shown("status-stopped", &theatre.says("07:47", &[], &["case", "status", &code]));
}

#[test]
fn an_emergency() {
    let theatre = Theatre::new("words-emergency");
    let form = changed(&first(), &[("access: central", "access: peripheral")]);
    let file = theatre.file("emergency.yaml", &form);
    let said = theatre.says("07:40", &[], &["case", "emergency", "--by", "A. Idowu", "--from", &file]);
    shown("emergency-card", &said);
    shown("list-emergency", &theatre.says("07:41", &[], &["case", "list", "--owed"]));
    let impossible =
        theatre.file("emergency.yaml", &changed(&first(), &[("strength: 80 mcg/mL", "strength: 8 mcg/mL")]));
    shown(
        "emergency-impossible",
        &theatre.says("07:42", &[], &["case", "emergency", "--by", "A. Idowu", "--from", &impossible]),
    );
}

#[test]
fn people_and_codes() {
    let theatre = Theatre::new("words-people");
    shown("people-list", &theatre.says("06:30", &[], &["people", "list"]));
    let words = ["people", "add", "C. Vance", "--role", "nurse"];
    shown("people-nobody-vouches", &theatre.says("06:30", &["603917", "603917"], &words));
    let words = ["people", "add", "C. Vance", "--role", "nurse", "--as", IDOWU.0];
    shown("people-pin-easy", &theatre.says("06:30", &[IDOWU.1, "123456", "123456"], &words));
    shown("people-added", &theatre.says("06:30", &[IDOWU.1, "603917", "603917"], &words));
    shown("people-twice", &theatre.says("06:30", &[IDOWU.1, "603917", "603917"], &words));
    shown("pin-wrong", &theatre.says("06:31", &["603918"], &["case", "open", "--as", "C. Vance"]));
    shown("people-retired", &theatre.says("06:32", &[IDOWU.1], &["people", "retire", "C. Vance", "--as", IDOWU.0]));
    shown("person-retired", &theatre.says("06:33", &["603917"], &["case", "open", "--as", "C. Vance"]));
    shown("list-opened", &theatre.says("06:33", &[], &["case", "list"]));
}
