//! The codes of the lint and of the readers: stable, unique, documented, and explained.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use countersign::diagnostic::Level;
use countersign::upkeep::lint::{codes, explained, nearest};

#[test]
fn codes_are_unique_and_kebab_case() {
    let mut seen = BTreeSet::new();
    for code in codes() {
        assert!(seen.insert(code.id), "{} is used twice", code.id);
        let plain =
            code.id.split('-').all(|word| !word.is_empty() && word.bytes().all(|byte| byte.is_ascii_lowercase()));
        assert!(plain && code.id.contains('-'), "{} is not kebab-case", code.id);
        assert_ne!(code.level, Level::Error, "{}: errors are the readers'", code.id);
        assert!(explained(code.id).is_some_and(|found| std::ptr::eq(found, code)), "{} is also an error", code.id);
    }
    assert!(seen.len() > 30, "{} codes", seen.len());
}

#[test]
fn every_code_says_all_four_things() {
    for code in codes().chain(reader_codes().iter().filter_map(|id| explained(id))) {
        for says in [code.means, code.matters] {
            let begins = says.starts_with(|c: char| c.is_uppercase() || c.is_ascii_digit() || "`.µ".contains(c));
            let begins = begins || ["mcg", "mL"].iter().any(|unit| says.starts_with(unit));
            assert!(begins && says.ends_with(['.', '?']) && !says.contains('\n'), "{}: {says}", code.id);
        }
        assert!(!code.to_do.is_empty() && !code.to_do.ends_with('.'), "{}: {}", code.id, code.to_do);
        assert!(!code.example.is_empty(), "{} has no example", code.id);
    }
}

// Whoever meets an error in a file can ask what it means.
#[test]
fn every_error_of_the_readers_is_explained() {
    let codes = reader_codes();
    assert!(codes.len() > 85, "{codes:?}");
    let without: Vec<&String> = codes.iter().filter(|id| explained(id).is_none()).collect();
    assert!(without.is_empty(), "{without:?}");
}

#[test]
fn a_mistyped_code_is_guessed() {
    assert_eq!(nearest("strength-tenfold").first(), Some(&"strengths-tenfold"));
    assert!(explained("strength-tenfold").is_none());
}

#[test]
fn every_code_is_documented_with_its_severity() {
    let documented = table();
    let known: BTreeMap<&str, &str> = codes().map(|code| (code.id, code.level.word())).collect();
    let named: BTreeMap<&str, &str> = documented.iter().map(|(code, level)| (code.as_str(), level.as_str())).collect();
    assert_eq!(known, named, "the table under `## Lint` in DEVELOPERS.md");
}

/// Every code with which a reader refuses a file of a formulary, found in the source.
fn reader_codes() -> BTreeSet<String> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut codes = BTreeSet::new();
    for folder in ["formulary", "formulary/read", "document"] {
        for file in std::fs::read_dir(root.join(folder)).expect("the reader is there") {
            let path = file.expect("it can be listed").path();
            // No file of a formulary is JSON.
            if path.is_dir() || path.ends_with("json.rs") {
                continue;
            }
            let text = std::fs::read_to_string(&path).expect("source is text");
            let code = text.split("#[cfg(test)]").next().unwrap_or_default();
            for call in code.split("Refusal::new(").skip(1).chain(code.split("Fault::new(").skip(1)) {
                codes.extend(
                    call.trim_start().strip_prefix('"').and_then(|rest| rest.split('"').next()).map(str::to_owned),
                );
            }
        }
    }
    let quantity = std::fs::read_to_string(root.join("quantity/refused.rs")).expect("source is text");
    for arm in quantity.split("=> \"").skip(1) {
        codes.extend(arm.split('"').next().map(str::to_owned));
    }
    // These are handed on by a variable.
    codes.extend(["field-not-text", "field-not-list", "field-not-map", "yaml-tab", "yaml-syntax"].map(str::to_owned));
    // Of a form that is written in JSON.
    codes.remove("field-not-quoted");
    codes
}

/// `| code | severity | what it says |` under `## Lint`.
fn table() -> BTreeMap<String, String> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("DEVELOPERS.md");
    let text = std::fs::read_to_string(path).expect("DEVELOPERS.md stands beside Cargo.toml");
    let section = text.split("\n## ").find_map(|section| section.strip_prefix("Lint\n")).expect("a section `## Lint`");
    let mut table = BTreeMap::new();
    for row in section.lines().filter_map(|line| line.trim().strip_prefix("| `")) {
        let cells: Vec<&str> = row.trim_end_matches('|').split('|').map(|cell| cell.trim().trim_matches('`')).collect();
        let [code, level, says] = cells[..] else { panic!("three cells are needed: {row}") };
        assert!(says.ends_with('.'), "{code} says nothing");
        assert!(table.insert(code.to_owned(), level.to_owned()).is_none(), "{code} is documented twice");
    }
    table
}
