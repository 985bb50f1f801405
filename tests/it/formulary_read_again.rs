//! A formulary with another text of one file is the one that is read from all its files anew.

use countersign::formulary::{ApprovalStatus, Files, Formulary};
use rstest::rstest;

use crate::common::house::House;

/// Everything that was read, and every fault, in words.
fn whole(formulary: &Formulary) -> String {
    let drugs = formulary.load_all();
    format!(
        "{:?} {:?} {:?} {:?} {:?} {drugs:#?}",
        formulary.policy(),
        formulary.areas(),
        formulary.equipment(),
        formulary.standing(),
        formulary.fingerprint(),
    )
}

// hazard: H-LIMITS
#[rstest]
#[case::a_drug("drugs/noradrenaline.yaml", "amount: 4 mg", "amount: 5 mg")]
#[case::a_drug_at_fault("drugs/noradrenaline.yaml", "drug: noradrenaline", "drug: adrenaline")]
#[case::a_name_that_another_drug_has("drugs/ketamine.yaml", "class:", "other_names: [epinephrine]\nclass:")]
#[case::an_area("areas.yaml", "adult theatre", "other theatre")]
#[case::the_equipment("equipment.yaml", "largest_rate: 999 mL/h", "largest_rate: 998 mL/h")]
#[case::the_house_rules("formulary.yaml", "version:", "version: 7 #")]
fn one_changed_file_is_read_as_with_all_others(#[case] path: &str, #[case] from: &str, #[case] to: &str) {
    let files = Files::demonstration();
    let changed = files.text(path).expect("it is there").replacen(from, to, 1);
    assert_ne!(Some(changed.as_str()), files.text(path), "{from:?} is not in {path}");
    let mut all: Vec<(String, String)> = files.iter().map(|(path, text)| (path.to_owned(), text.to_owned())).collect();
    all.iter_mut().filter(|(known, _)| known == path).for_each(|(_, text)| text.clone_from(&changed));
    let old = Formulary::demonstration().expect("it has no fault");
    old.load_all().expect("it has no fault");
    match (old.with_text(path, changed), Formulary::kept("demonstration", all)) {
        (Ok(again), Ok(anew)) => {
            assert_eq!(whole(&again), whole(&anew));
            assert_ne!(whole(&again), whole(&old));
            assert_eq!(again.files(), anew.files());
        }
        (again, anew) => assert_eq!(format!("{again:?}"), format!("{anew:?}")),
    }
}

// hazard: H-LIMITS
#[test]
fn an_approval_is_of_the_bytes_that_it_names() {
    let house = House::hospital().approve();
    let approved = Formulary::open(house.folder()).expect("it has no fault");
    assert!(matches!(approved.standing(), ApprovalStatus::Approved { .. }), "{:?}", approved.standing());
    let path = "drugs/noradrenaline.yaml";
    let text = approved.texts().text(path).expect("it is there").to_owned();
    let same = approved.with_text(path, text.clone()).expect("it has no fault");
    assert_eq!(same.standing(), approved.standing());
    let changed = approved.with_text(path, format!("{text}# a word more\n")).expect("it has no fault");
    let anew = Formulary::open(house.write(path, &format!("{text}# a word more\n")).folder()).expect("no fault");
    assert_eq!(changed.standing(), anew.standing());
    assert!(!matches!(changed.standing(), ApprovalStatus::Approved { .. }), "{:?}", changed.standing());
}
