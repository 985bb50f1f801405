//! The codes of the lint and of the readers: stable, unique, documented, and explained.

use std::collections::BTreeSet;
use std::path::Path;

use countersign::diagnostic::explained::CodeFamily;
use countersign::pharmacy::lint::codes;

#[test]
fn codes_are_unique_and_kebab_case() {
    let mut seen = BTreeSet::new();
    for code in codes() {
        assert!(seen.insert(code.id), "{} is used twice", code.id);
        let plain =
            code.id.split('-').all(|word| !word.is_empty() && word.bytes().all(|byte| byte.is_ascii_lowercase()));
        assert!(plain && code.id.contains('-'), "{} is not kebab-case", code.id);
        assert!(CodeFamily::Error.explained(code.id).is_none(), "{} is also an error", code.id);
    }
    assert!(seen.len() > 30, "{} codes", seen.len());
}

#[test]
fn every_code_has_an_example() {
    let errors = reader_codes();
    let errors = errors.iter().filter_map(|id| CodeFamily::Error.explained(id));
    for code in codes().filter_map(|code| CodeFamily::Lint.explained(code.id)).chain(errors) {
        assert!(code.example.as_ref().is_some_and(|example| !example.is_empty()), "{} has no example", code.code);
    }
}

// Each error of a file can be looked up.
#[test]
fn every_error_of_the_readers_is_explained() {
    let codes = reader_codes();
    assert!(codes.len() > 85, "{codes:?}");
    let without: Vec<&String> = codes.iter().filter(|id| CodeFamily::Error.explained(id).is_none()).collect();
    assert!(without.is_empty(), "{without:?}");
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
