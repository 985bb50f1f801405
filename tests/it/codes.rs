//! The codes of findings: stable names that people and programs refer to. `explained.rs` beside this sees to what they mean.

use std::collections::BTreeSet;

use countersign::check::codes;

#[test]
fn codes_are_unique() {
    let mut seen = BTreeSet::new();
    let twice: Vec<&str> = codes().map(|code| code.id).filter(|id| !seen.insert(*id)).collect();
    assert_eq!(twice, [""; 0]);
    assert!(seen.len() > 60, "{} codes", seen.len());
}

#[test]
fn codes_are_kebab_case() {
    for code in codes() {
        let words: Vec<&str> = code.id.split('-').collect();
        let plain = words.iter().all(|word| !word.is_empty() && word.bytes().all(|byte| byte.is_ascii_lowercase()));
        assert!(plain && words.len() > 1, "{} is not kebab-case", code.id);
    }
}

// A finding that says nothing is read over.
// hazard: H-ALARMS
#[test]
fn codes_are_explained() {
    for code in codes() {
        let says = code.explanation().expect("each is explained");
        assert!(says.means.starts_with(|c: char| c.is_uppercase()) && says.means.ends_with('.'), "{}", code.id);
    }
}
