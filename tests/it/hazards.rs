//! Every hazard of the table in docs/design/hazards.md has a test that carries its id, and no test carries another.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

const MARK: &str = "hazard: ";

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The ids of the table, with the rest of their rows.
fn table() -> BTreeMap<String, Vec<String>> {
    let text = fs::read_to_string(root().join("docs/design/hazards.md")).expect("it is there");
    let rows = text.lines().filter(|line| line.starts_with("| H-"));
    rows.map(|row| {
        let mut cells = row.trim_matches('|').split('|').map(|cell| cell.trim().to_owned());
        (cells.next().expect("a row has cells"), cells.collect())
    })
    .collect()
}

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    for file in fs::read_dir(folder).expect("our own folder") {
        let path = file.expect("it can be listed").path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            found.push(path);
        }
    }
}

/// Every id that a comment carries, with whether a function follows.
fn carried() -> Vec<(String, String, bool)> {
    let mut files = Vec::new();
    for folder in ["src", "tests"] {
        sources(&root().join(folder), &mut files);
    }
    let mut carried = Vec::new();
    for file in files.iter().filter(|file| !file.ends_with("tests/it/hazards.rs")) {
        let text = fs::read_to_string(file).expect("our own file");
        let lines: Vec<&str> = text.lines().collect();
        for (at, line) in lines.iter().enumerate() {
            let Some((before, after)) = line.split_once(MARK) else { continue };
            if !before.trim_start().starts_with("//") {
                continue;
            }
            let id: String = after.chars().take_while(|c| c.is_ascii_uppercase() || *c == '-').collect();
            // Of a table, its rows stand between: it may be long.
            let follows = lines[at..].iter().take(60).any(|line| line.contains("fn ") || line.contains("macro_rules!"));
            carried.push((id, format!("{}:{}", file.display(), at + 1), follows));
        }
    }
    carried
}

#[test]
fn every_hazard_has_a_test_and_every_test_a_hazard_that_is_known() {
    let (table, carried) = (table(), carried());
    assert!(table.len() >= 12 && carried.len() > 100, "{} hazards, {} marks", table.len(), carried.len());
    for (id, place, follows) in &carried {
        assert!(table.contains_key(id), "{place} carries `{id}`, which the table does not have");
        assert!(follows, "{place}: no function follows");
    }
    let tested: BTreeSet<&str> = carried.iter().map(|(id, ..)| id.as_str()).collect();
    for id in table.keys() {
        assert!(tested.contains(id.as_str()), "no test carries {id}");
    }
}

#[test]
fn every_hazard_says_what_answers_it_and_what_is_left() {
    for (id, cells) in table() {
        assert_eq!(cells.len(), 5, "{id}: hazard, how it hurts, what answers it, tests, what is left");
        assert!(cells.iter().all(|cell| cell.len() > 5), "{id}: {cells:?}");
    }
}
