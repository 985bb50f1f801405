//! Two pharmacists: the author signs, the second types every changed value from its source without seeing the author's.

use countersign::pharmacy::approval::Answers;
use insta::assert_snapshot;

use super::patients_journal::form;
use super::ward::{ACHTERBERG, NAIDOO, OKORO, Ward};
use super::{IDOWU, Said, TAMM, refused};
use crate::common::approving::{types, values};

pub(super) const SOFT: &str = "soft: {from: 0.06 mcg/kg/min, to: 0.5 mcg/kg/min, source: house}";

/// A limit is changed, and a word: 0.47 is nowhere else.
pub(super) fn changed(mut ward: Ward) -> Ward {
    ward.house = ward
        .house
        .change("drugs/noradrenaline.yaml", SOFT, "soft: {from: 0.06 mcg/kg/min, to: 0.47 mcg/kg/min, source: house}")
        .change("drugs/noradrenaline.yaml", "section: Vasopressors", "section: Vasopressors 2");
    ward
}

fn enters(ward: &Ward) -> Said {
    let code = ward.says(&[IDOWU.1], &["case", "open", "--as", IDOWU.0]);
    let code = code.stdout.lines().next().expect("its code").to_owned();
    let file = ward.journal.with_file_name("form.yaml");
    std::fs::write(&file, form()).expect("ours");
    ward.says(&[IDOWU.1], &["case", "enter", &code, "--as", IDOWU.0, "--from", &file.display().to_string()])
}

#[track_caller]
fn goes_on(ward: &Ward) {
    let said = enters(ward);
    assert!(said.code == 0 && !said.stdout.contains("STOPS"), "{said:?}");
}

#[track_caller]
fn stopped(ward: &Ward) {
    let said = enters(ward);
    assert!(said.code == 0 && said.stdout.contains("formulary-unapproved"), "{said:?}");
}

fn without_fingerprints(text: &str) -> String {
    regex::Regex::new("[0-9a-f]{64}").expect("a pattern").replace_all(text, "[fingerprint]").into_owned()
}

// hazard: H-LIMITS
#[test]
fn the_first_formulary_is_typed_whole() {
    let ward = Ward::without_approval("approval-first");
    let said = ward.signs(ACHTERBERG);
    assert_eq!(said.code, 0, "{said:?}");
    let folder = ward.house.folder().display().to_string();
    assert_snapshot!(without_fingerprints(&said.stdout).replace(&folder, "[folder]"), @"
    [fingerprint] is signed by R. Achterberg; nobody has approved it yet.
    No formulary was approved here before: 146 values to be typed, 29 texts to be read.
    Now another pharmacist, from the sources: countersign formulary approve [folder] --as NAME
    ");
    // Signed is not approved.
    stopped(&ward);
    // A sheet that was filled at once says only that somebody can copy: the one who hands it in does not sign.
    let said = ward.approves(NAIDOO, "whole", |_, value| value.to_owned());
    assert_eq!(said.code, 0, "{said:?}");
    assert_snapshot!(said.stdout, @"
    NOT APPROVED YET. What was typed came to the same, and is kept.
    FILLED IN AT ONCE by S. Naidoo (146, filled in at once): a third pharmacist, neither the author nor one of these, types some of the values again and signs.
    ");
    let said = ward.says(&[NAIDOO.1], &["formulary", "approve", "--as", NAIDOO.0]);
    assert!(said.code == 0 && said.stdout.contains("FILLED IN AT ONCE"), "{said:?}");
    stopped(&ward);
    ward.hires(OKORO);
    let drawn = || {
        ward.at_the_desk(OKORO, |proposal, cases, _, _| {
            let progress = proposal.progress(cases).expect("a journal");
            let places = [progress.due(&proposal.changes), progress.again(&proposal.changes)].concat();
            values(proposal, places)
        })
    };
    let approve = |typed: &[String]| {
        let typed: Vec<&str> = [OKORO.1].into_iter().chain(typed.iter().map(String::as_str)).chain(["read"]).collect();
        ward.says(&typed, &["formulary", "approve", "--as", OKORO.0])
    };
    let mut right = drawn();
    assert_eq!(right.len(), 29, "{right:?}");
    right[3] = "none".to_owned();
    let said = approve(&right);
    assert!(said.code == 5 && said.stdout.contains("NOT APPROVED. "), "{said:?}");
    stopped(&ward);
    // That place is open again, and others are drawn once it is typed.
    let said = ward.says(&[], &["formulary", "approve", "--state"]);
    assert!(said.stdout.contains("1 value left to be typed"), "{said:?}");
    ward.at_the_desk(OKORO, |proposal, cases, now, by| types(proposal, cases, now, by, |_| true));
    let said = approve(&drawn());
    assert_eq!(said.code, 0, "{said:?}");
    assert_snapshot!(without_fingerprints(&said.stdout), @"
    [fingerprint] is approved by R. Achterberg and T. Okoro: 146 values came to the same.
    Typed by S. Naidoo (145, filled in at once), T. Okoro (1); 29 once more.
    ");
    goes_on(&ward);
    let editions = ward.says(&[], &["formulary", "editions", "--format", "json"]).json();
    let by = &editions["editions"][0]["typed_by"];
    assert_eq!(by[0], serde_json::json!({"name": NAIDOO.0, "values": 145, "at_once": true}), "{editions}");
    let verified = ward.says(&[], &["journal", "verify"]);
    assert_eq!(verified.code, 0, "{verified:?}");
}

// hazard: H-LIMITS
#[test]
fn the_second_types_what_changed_and_sees_none_of_it() {
    let ward = changed(Ward::new("approval-blind"));
    assert_eq!(ward.signs(ACHTERBERG).code, 0);
    let said = ward.says(&[NAIDOO.1, "0.5 mcg/kg/min", ".5 mcg/kg/min"], &["formulary", "approve", "--as", NAIDOO.0]);
    assert_eq!(said.code, 2, "{said:?}");
    assert!(!format!("{said:?}").contains("0.47"), "{said:?}");
    assert_snapshot!(said.stderr, @"
    1 value to be typed, each from its source; `none` where nothing stands. Each file is kept once it is typed.
    Not the same as in the file. Go back to the source and type these once more:
    error[number-leading-point]: `.5` begins with a point, which is easily overlooked
    --> (1/1) drugs/noradrenaline.yaml, areas, adult theatre, vasopressor, phases, maintenance, soft, to:
     |
     = help: write 0.5
    ");
    // Wrong twice: neither then nor afterwards is the author's value told, and the formulary is not approved.
    let said = ward.says(&[NAIDOO.1, "0.5 mcg/kg/min", "0.40 mcg/kg/min"], &["formulary", "approve", "--as", NAIDOO.0]);
    assert_eq!(said.code, 5, "{said:?}");
    assert!(!format!("{said:?}").contains("0.47"), "{said:?}");
    assert_snapshot!(said.stdout, @"
    NOT APPROVED. The second reading differs from the file here:
      drugs/noradrenaline.yaml, areas, adult theatre, vasopressor, phases, maintenance, soft, to
    Both go back to the sources. Where the file is wrong, its author mends it and signs it anew; where the reading was, it is typed once more.
    ");
    assert!(ward.holds("formulary-not-approved") && !ward.holds("0.47 ") && !ward.holds("0.40 "));
    stopped(&ward);
    // The same in another writing; the words are shown only now.
    let typed = [NAIDOO.1, "0.6 mcg/kg/min", "0.47 microgram/kg/min", "read"];
    let said = ward.says(&typed, &["formulary", "approve", "--as", NAIDOO.0]);
    assert_eq!(said.code, 0, "{said:?}");
    assert_snapshot!(said.stderr, @"
    1 value to be typed, each from its source; `none` where nothing stands. Each file is kept once it is typed.
    Not the same as in the file. Go back to the source and type these once more:
    drugs/noradrenaline.yaml, sources, house, section: Vasopressors -> Vasopressors 2
    ");
    goes_on(&ward);
}

// hazard: H-LIMITS
#[test]
fn several_people_type_over_days_and_only_what_changed_is_typed_again() {
    let ward = Ward::without_approval("approval-shared");
    assert_eq!(ward.signs(ACHTERBERG).code, 0);
    ward.hires(OKORO);
    let state = |ward: &Ward| ward.says(&[], &["formulary", "approve", "--state", "--format", "json"]).json();
    let all = state(&ward)["left"].as_u64().expect("a number");
    let drug = "drugs/noradrenaline.yaml";
    let blank = ward.journal.with_file_name("one-drug.csv").display().to_string();
    let said = ward.says(&[], &["formulary", "approve", "--drug", "noradrenaline", "--blank", &blank]);
    assert_eq!(said.code, 0, "{said:?}");
    refused(&ward.says(&[], &["formulary", "approve", "--drug", "heparin", "--blank", "x.csv"]), "drug-not-changed");
    ward.at_the_desk(NAIDOO, |proposal, cases, now, by| types(proposal, cases, now, by, |file| file == drug));
    let now = state(&ward);
    let files = now["files"].as_array().expect("a list");
    let file = files.iter().find(|file| file["file"] == drug).expect("it is listed");
    assert_eq!((&file["typed"], &file["by"][0]["name"]), (&file["values"], &NAIDOO.0.into()), "{now}");
    assert_eq!(now["left"].as_u64(), Some(all - file["values"].as_u64().expect("a number")));
    // Nobody signs before everything is typed.
    let early = ward.at_the_desk(OKORO, |proposal, cases, now, by| {
        proposal.approve(cases, now, by, &Answers::default()).expect_err("much is left").code()
    });
    assert_eq!(early, "values-not-typed");
    // The author mends one value, and signs anew: of that file only this one is typed again.
    let ward = changed(ward);
    refused(&ward.says(&[OKORO.1], &["formulary", "approve", "--as", OKORO.0]), "formulary-altered-since");
    assert_eq!(ward.signs(ACHTERBERG).code, 0);
    let now = state(&ward);
    let file = now["files"].as_array().and_then(|files| files.iter().find(|file| file["file"] == drug)).cloned();
    let file = file.expect("it is listed");
    assert_eq!(file["typed"].as_u64().map(|typed| typed + 1), file["values"].as_u64(), "{now}");
    ward.at_the_desk(OKORO, |proposal, cases, now, by| types(proposal, cases, now, by, |_| true));
    // One in twenty is typed once more before the signature, and a slip there is not approved.
    let wrong = ward.at_the_desk(OKORO, |proposal, cases, now, by| {
        assert_eq!(proposal.progress(cases).expect("a journal").again(&proposal.changes).len(), 7);
        proposal.approve(cases, now, by, &Answers::default()).expect_err("nothing was typed again").code()
    });
    assert_eq!(wrong, "typed-again-differs");
    stopped(&ward);
    ward.typed_and_approved(OKORO);
    goes_on(&ward);
    let verified = ward.says(&[], &["journal", "verify"]);
    assert_eq!(verified.code, 0, "{verified:?}");
}

/// The journal comes first: a file that could not be written then is written when it is looked at again.
#[test]
fn an_approval_whose_file_was_lost_stands_beside_the_files_again() {
    let ward = Ward::without_approval("approval-lost");
    assert_eq!(ward.signs(ACHTERBERG).code, 0);
    let file = ward.house.folder().join("approval.yaml");
    let signed = std::fs::read(&file).expect("signed");
    ward.typed_and_approved(NAIDOO);
    let both = std::fs::read(&file).expect("approved");
    std::fs::write(&file, signed).expect("ours");
    stopped(&ward);
    refused(&ward.says(&[NAIDOO.1], &["formulary", "approve", "--as", NAIDOO.0]), "formulary-approved-before");
    assert_eq!(std::fs::read(&file).expect("approved"), both);
    goes_on(&ward);
}

// hazard: H-LIMITS
#[test]
fn words_that_are_not_read_are_not_approved() {
    let ward = changed(Ward::new("approval-words"));
    assert_eq!(ward.signs(ACHTERBERG).code, 0);
    let said = ward.says(&[NAIDOO.1, "0.47 mcg/kg/min", "ok"], &["formulary", "approve", "--as", NAIDOO.0]);
    refused(&said, "words-not-read");
    stopped(&ward);
}

// hazard: H-LIMITS
#[test]
fn a_removed_limit_is_asked_for_like_any_other() {
    let mut ward = Ward::new("approval-removed");
    ward.house = ward.house.change("areas.yaml", "  age: {from: 16 years}\n", "");
    let said = ward.signs(ACHTERBERG);
    assert_eq!(said.code, 0, "{said:?}");
    let said = ward.says(&[NAIDOO.1, "16 years", "16 years"], &["formulary", "approve", "--as", NAIDOO.0]);
    assert_eq!(said.code, 5, "{said:?}");
    let said = ward.says(&[NAIDOO.1, "none"], &["formulary", "approve", "--as", NAIDOO.0]);
    assert_eq!(said.code, 0, "{said:?}");
}

// hazard: H-LIMITS
#[test]
fn neither_the_author_nor_a_nurse_approves() {
    let ward = changed(Ward::new("approval-who"));
    refused(&ward.signs(IDOWU), "formulary-not-a-pharmacist");
    let approve = |who: super::Who| ward.says(&[who.1], &["formulary", "approve", "--as", who.0]);
    assert!(refused(&approve(NAIDOO), "formulary-altered-since").contains("drugs/noradrenaline.yaml (changed)"));
    assert_eq!(ward.signs(ACHTERBERG).code, 0);
    refused(&approve(ACHTERBERG), "formulary-second-is-author");
    refused(&approve(TAMM), "formulary-not-a-pharmacist");
    // A byte more than was signed.
    let ward = Ward { house: ward.house.change("areas.yaml", "adult theatre:", "# looked at\nadult theatre:"), ..ward };
    let said = ward.says(&[NAIDOO.1], &["formulary", "approve", "--as", NAIDOO.0]);
    assert!(refused(&said, "formulary-altered-since").contains("areas.yaml (changed)"), "{said:?}");
}

// hazard: H-LIMITS
#[test]
fn one_that_was_replaced_and_one_approved_elsewhere_make_no_set_up() {
    let ward = Ward::new("approval-replaced");
    let elsewhere = Ward { journal: ward.journal.clone(), house: crate::common::house::House::hospital().approve() };
    let said = enters(&elsewhere);
    refused(&said, "formulary-approved-elsewhere");
    let old = std::fs::read_to_string(ward.house.folder().join("approval.yaml")).expect("just approved");
    let ward = changed(ward);
    assert_eq!(ward.signs(ACHTERBERG).code, 0);
    let said = ward.says(&[NAIDOO.1, "0.47 mcg/kg/min", "read"], &["formulary", "approve", "--as", NAIDOO.0]);
    assert_eq!(said.code, 0, "{said:?}");
    goes_on(&ward);
    let before = Ward {
        journal: ward.journal.clone(),
        house: crate::common::house::House::hospital().write("approval.yaml", &old),
    };
    refused(&enters(&before), "formulary-superseded");
    // An emergency is not held up by that.
    let file = ward.journal.with_file_name("form.yaml").display().to_string();
    let said = before.says(&[], &["case", "emergency", "--by", "A. Idowu", "--from", &file]);
    assert_eq!(said.code, 0, "{said:?}");
    // Going back to the old limits is a change like any other: signed and approved again, they are good again.
    std::fs::remove_file(before.house.folder().join("approval.yaml")).expect("it is there");
    assert_eq!(before.signs(ACHTERBERG).code, 0);
    let said = before.says(&[NAIDOO.1, "0.5 mcg/kg/min", "read"], &["formulary", "approve", "--as", NAIDOO.0]);
    assert_eq!(said.code, 0, "{said:?}");
    goes_on(&before);
    refused(&enters(&ward), "formulary-superseded");
}

// hazard: H-LIMITS
#[test]
fn a_sheet_that_is_not_filled_is_refused_row_by_row() {
    let ward = changed(Ward::new("approval-sheet"));
    assert_eq!(ward.signs(ACHTERBERG).code, 0);
    let said = ward.approves(NAIDOO, "empty", |_, _| String::new());
    assert!(refused(&said, "sheet-empty").contains("row 2"), "{said:?}");
    let said = ward.approves(NAIDOO, "wrong", |_, _| "0.5 mcg/kg/min".to_owned());
    assert_eq!(said.code, 5, "{said:?}");
}

// hazard: H-LIMITS
#[test]
fn a_demonstration_needs_none() {
    let house = crate::common::house::House::new();
    let ward = Ward::without_approval("approval-demonstration");
    let ward = Ward { house, ..ward };
    refused(&ward.signs(ACHTERBERG), "formulary-for-trying-out");
}
