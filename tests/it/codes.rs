//! The codes of findings: stable names that people and programs refer to, each of them documented.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use countersign::check::{Code, Severity, Stop, codes};

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

#[test]
fn codes_are_described_in_one_sentence() {
    for code in codes() {
        let says = code.describes;
        let begins = says.starts_with(|c: char| c.is_uppercase());
        assert!(begins && says.ends_with('.') && !says.contains('\n'), "{}: {says}", code.id);
    }
}

// hazard: H-ALARMS
#[test]
fn every_code_is_documented_with_its_severity() {
    let documented = table();
    let known: BTreeSet<&str> = codes().map(|code| code.id).collect();
    let named: BTreeSet<&str> = documented.keys().map(String::as_str).collect();
    assert_eq!(known.difference(&named).collect::<Vec<_>>(), Vec::<&&str>::new(), "not in DEVELOPERS.md");
    assert_eq!(named.difference(&known).collect::<Vec<_>>(), Vec::<&&str>::new(), "only in DEVELOPERS.md");
    for code in codes() {
        let (severity, says) = &documented[code.id];
        assert!(is_severity(severity, code), "{} is documented as `{severity}`", code.id);
        assert!(!says.is_empty(), "{} says nothing", code.id);
    }
}

/// The word alone, or with the kind of stop beside it.
fn is_severity(documented: &str, code: &Code) -> bool {
    let mut words = documented.split(|c: char| !c.is_alphabetic()).filter(|word| !word.is_empty());
    let kind = match code.severity {
        Severity::Stop(Stop::Beyond) => "beyond",
        Severity::Stop(Stop::Impossible) => "impossible",
        Severity::Note | Severity::Justify => "",
    };
    words.next() == Some(code.severity.word()) && words.all(|word| word == kind)
}

/// `| code | severity | what it says |` under `## Findings`: by code, the other two.
fn table() -> BTreeMap<String, (String, String)> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("DEVELOPERS.md");
    let text = std::fs::read_to_string(path).expect("DEVELOPERS.md stands beside Cargo.toml");
    let section = text.split("\n## ").find_map(|section| section.strip_prefix("Findings\n"));
    let rows =
        section.expect("it has a section `## Findings`").lines().filter_map(|line| line.trim().strip_prefix('|'));
    let mut table = BTreeMap::new();
    for row in rows {
        let cells: Vec<&str> = row.trim_end_matches('|').split('|').map(|cell| cell.trim().trim_matches('`')).collect();
        let [code, severity, says] = cells[..] else { panic!("three cells are needed: {row}") };
        let is_head = code == "code" || code.bytes().all(|byte| byte == b'-' || byte == b':');
        if !is_head {
            let before = table.insert(code.to_owned(), (severity.to_owned(), says.to_owned()));
            assert!(before.is_none(), "{code} is documented twice");
        }
    }
    table
}

#[cfg(feature = "journal")]
#[test]
fn every_mark_of_the_record_is_in_the_table() {
    let text = std::fs::read_to_string("DEVELOPERS.md").expect("it is here");
    let section = text.split("## Marks of the record").nth(1).expect("the section");
    let section = section.split("\n## ").next().unwrap_or(section);
    let rows: Vec<&str> = section.lines().filter(|line| line.starts_with("| `")).collect();
    assert_eq!(rows.len(), countersign::case::MARKS.len());
    for ((code, says), row) in countersign::case::MARKS.iter().zip(rows) {
        assert!(row.starts_with(&format!("| `{code}` | ")) && row.ends_with(&format!("| {says} |")), "{code}: {row}");
    }
}
