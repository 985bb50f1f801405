//! Every code that a screen can show is explained, and the pages of `docs/reference/` are what the program prints.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use countersign::diagnostic::explained::{CodeFamily, explained};
use regex::Regex;

/// Words with a hyphen in the sources that name no code: headers, names in a page, states, words of an entry or an option.
#[rustfmt::skip]
const NO_CODES: &[&str] = &[
    "utf-8", "checkpoint-program", "sign-in-refused",
    "pin-given", "sec-fetch-site", "same-origin", "no-store", "db-wal", "clear-site-data", "color-scheme",
    "h-value", "h-time", "h-weight", "may-be-empty", "chart-title", "chart-says",
    "awaits-second", "set-up", "set-ups", "case-keys", "narrow-100", "narrow-150", "narrow-200", "dose-changes-reason", "on-the-driver", "kebab-case",
];

/// Files whose words with a hyphen are names of their own: answers of `delivery`, parts of drawings, titles of schemas.
const NO_CODES_IN: &[&str] = &["delivery/statements.rs", "card/arrives.rs", "card/draw/svg.rs", "cli/example/pairs.rs"];

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    for file in std::fs::read_dir(folder).expect("our own folder") {
        let path = file.expect("it can be listed").path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            found.push(path);
        }
    }
}

/// The code of every source file without its comments and tests, by its path from `src` on.
fn code() -> BTreeMap<String, String> {
    let (mut files, src) = (Vec::new(), root().join("src"));
    sources(&src, &mut files);
    let comment = Regex::new(r"(?m)(^|\s)//.*$").expect("a pattern");
    let mut code = BTreeMap::new();
    for path in files.into_iter().filter(|path| !path.ends_with("tests.rs") && !path.ends_with("number_tests.rs")) {
        let text = std::fs::read_to_string(&path).expect("source is text");
        let text = text.split("#[cfg(test)]\nmod").next().unwrap_or_default();
        let name = path.strip_prefix(&src).expect("below src").to_string_lossy().replace('\\', "/");
        code.insert(name, comment.replace_all(text, "").into_owned());
    }
    code
}

// hazard: H-ALARMS
#[test]
fn every_code_in_the_sources_is_explained() {
    let hyphened = Regex::new(r#""([a-z]+(?:-[a-z0-9]+)+)""#).expect("a pattern");
    let made = Regex::new(r#"(?:Fault|Refusal)::new\(\s*"([a-z-]+)""#).expect("a pattern");
    let (mut seen, mut without) = (BTreeSet::new(), BTreeSet::new());
    for (file, code) in &code() {
        let words = hyphened.captures_iter(code).filter(|_| !NO_CODES_IN.contains(&&**file));
        for word in words.chain(made.captures_iter(code)) {
            let word = word.get(1).expect("a group").as_str();
            if explained(word).is_empty() && !NO_CODES.contains(&word) {
                without.insert(format!("{file}: {word}"));
            }
            seen.insert(word.to_owned());
        }
    }
    assert!(seen.len() > 400, "{} words seen", seen.len());
    let without: Vec<String> = without.into_iter().collect();
    assert!(
        without.is_empty(),
        "explain each in src/diagnostic/explained/, or name it in NO_CODES:\n{}",
        without.join("\n")
    );
}

#[test]
fn nothing_is_explained_that_the_sources_do_not_have() {
    let code: String = code().into_values().collect();
    let gone: Vec<&str> = CodeFamily::ALL
        .into_iter()
        .filter(|family| *family != CodeFamily::Exit)
        .flat_map(CodeFamily::codes)
        .map(|known| known.code.as_str())
        .filter(|known| !code.contains(&format!("\"{known}\"")))
        .collect();
    assert!(gone.is_empty(), "{gone:?}");
}

fn run(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_countersign"))
        .args(arguments)
        .env_remove("COUNTERSIGN_FORMULARY")
        .current_dir(std::env::temp_dir())
        .output()
        .expect("the program can be run")
}

fn said(arguments: &[&str]) -> (Option<i32>, String, String) {
    let Output { status, stdout, stderr } = run(arguments);
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("UTF-8");
    (status.code(), text(stdout), text(stderr))
}

#[test]
fn a_code_is_explained_where_no_formulary_is_at_hand() {
    let (exit, stdout, stderr) = said(&["explain", "limits-out-of-order"]);
    assert_eq!((exit, &*stderr), (Some(0), ""));
    insta::assert_snapshot!(stdout, @"
    limits-out-of-order (error)

    What it means
      Limits do not lie inside one another: the inner one reaches further than the outer.

    Why it matters
      The outer one speaks first, so the inner one never does; often a zero or a unit is wrong.

    What to do
      Keep the order hard from, soft from, usual from, usual to, soft to, hard to.

    Example
      usual: {from: 0.02 mcg/kg/min, to: 0.3 mcg/kg/min, source: label}
      soft: {from: 0.01 mcg/kg/min, to: 0.5 mcg/kg/min, source: label}
    ");
}

#[cfg(feature = "journal")]
#[test]
fn a_code_of_a_finding_and_of_a_mark_is_explained_as_both() {
    let (exit, stdout, _) = said(&["explain", "flow-beyond-hard-limit"]);
    assert_eq!(exit, Some(0));
    let heads: Vec<&str> = stdout.lines().filter(|line| line.starts_with("flow-")).collect();
    assert_eq!(
        heads,
        [
            "flow-beyond-hard-limit (finding: stop, beyond)",
            "flow-beyond-hard-limit (mark of the record: confirmed with --even-so)"
        ]
    );
}

#[test]
fn a_code_is_explained_as_data() {
    let (exit, stdout, _) = said(&["explain", "4", "--format", "json"]);
    let answer: serde_json::Value = serde_json::from_str(&stdout).expect("JSON");
    assert_eq!((exit, &answer["explanations"][0]["family"]), (Some(0), &"exit code".into()));
    assert!(answer["explanations"][0]["means"].as_str().expect("words").starts_with("Stopped"), "{answer}");
}

#[test]
fn a_near_miss_names_the_code_that_is_meant() {
    let (exit, stdout, stderr) = said(&["explain", "dose-above-hard-limt"]);
    assert_eq!((exit, &*stdout), (Some(2), ""));
    assert!(stderr.contains("error[code-unknown]") && stderr.contains("dose-above-hard-limit,"), "{stderr}");
    assert_eq!(said(&["explain"]).0, Some(2));
    assert_eq!(said(&["explain", "jump", "--all"]).0, Some(2));
}

// Every page of the reference is the program's own: what it prints now is what is kept.
#[cfg(all(feature = "full", not(feature = "xlsx")))]
#[test]
fn the_reference_is_what_the_program_prints() {
    let folder = root().join("docs/reference");
    let pages = ["findings", "marks", "lint", "errors", "events", "commands"];
    for page in pages {
        let (exit, printed, stderr) = said(&["explain", "--all", page]);
        assert_eq!((exit, &*stderr), (Some(0), ""));
        let kept = std::fs::read_to_string(folder.join(format!("{page}.md"))).unwrap_or_default();
        let at = printed.lines().zip(kept.lines()).position(|(printed, kept)| printed != kept);
        assert!(
            printed == kept,
            "docs/reference/{page}.md is not what the program prints{}: `cargo run --features full -- explain --all -o docs/reference` renews it",
            at.map_or_else(String::new, |at| format!(", from line {} on", at + 1))
        );
    }
    let there = std::fs::read_dir(&folder).expect("the reference").count();
    assert_eq!(there, pages.len(), "each file of docs/reference is made by the program");
}

// A page that is written into a folder is the page that is printed.
#[test]
fn the_reference_is_written_into_a_folder() {
    let folder = std::env::temp_dir().join(format!("countersign-reference-{}", std::process::id()));
    let name = folder.to_string_lossy();
    assert_eq!(said(&["explain", "--all", "-o", &name]).0, Some(0));
    let written = std::fs::read_to_string(folder.join("findings.md")).expect("it was written");
    assert_eq!(written, said(&["explain", "--all", "findings"]).1);
    assert!(said(&["explain", "--all"]).1.contains(&written));
    let _ = std::fs::remove_dir_all(&folder);
    assert_eq!(said(&["explain", "dose-above-hard-limit", "-o", &name]).0, Some(2));
}
