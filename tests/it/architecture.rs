//! The folders of the program in the order in which data flows through them: an arrow may only point to an earlier one.
//! And what else holds for every source file.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// What a person typed goes in at the top; each may use those above it, and none below. Some are still to come.
const ORDER: &[&str] = &[
    "quantity",
    "diagnostic",
    "document",
    "formulary",
    "fhir",
    "entry",
    "infusion",
    "delivery",
    "check",
    "agreement",
    "card",
    "journal",
    "case",
    "pharmacy",
    "web",
    "cli",
];

const LONGEST_FILE: usize = 600;

/// The reader of JSON must take a float to refuse it.
const FLOATS_REFUSED: &str = "document/json.rs";

/// The library that writes a PDF counts points in them.
const SHORT_FLOATS: &str = "card/page/pdf.rs";

/// A source file: its path from `src` on, its text, and its code without comments, texts and tests.
struct Source {
    path: String,
    text: String,
    code: String,
}

#[test]
fn no_arrow_points_to_a_later_folder() {
    let mut wrong = Vec::new();
    let mut arrows = BTreeMap::new();
    for source in sources() {
        let Some(own) = place(source.module()[0]) else { continue };
        for used in source.uses() {
            match place(&used) {
                Some(other) if other <= own => *arrows.entry((own, other)).or_insert(0) += 1,
                _ => wrong.push(format!("{} uses {used}", source.path)),
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    // The test sees the arrows that are known to be there.
    for (from, to) in [("entry", "quantity"), ("check", "infusion"), ("agreement", "check"), ("cli", "card")] {
        assert!(arrows.contains_key(&(place(from).expect(from), place(to).expect(to))), "{from} uses {to}");
    }
}

// What is kept for ever depends on as little as can be: the time, and nothing of doses or people.
// hazard: H-RECORD
#[test]
fn the_journal_knows_nothing_of_doses() {
    let journal: Vec<Source> = sources().into_iter().filter(|source| source.path.starts_with("journal/")).collect();
    assert!(journal.len() > 10, "{} files", journal.len());
    for source in journal {
        let mut names = tokens(&source.code).into_iter().zip(tokens(&source.code).into_iter().skip(2));
        assert!(source.uses().iter().all(|used| used == "quantity" || used == "journal"), "{}", source.path);
        assert!(names.all(|(name, after)| name != "quantity" || after == "Moment"), "{}", source.path);
    }
}

#[test]
fn every_folder_has_its_place_and_the_library_lists_them_in_order() {
    let library = sources().into_iter().find(|source| source.path == "lib.rs").expect("there is a library");
    let declared: Vec<&str> =
        library.code.lines().filter_map(|line| line.trim().strip_prefix("pub mod ")?.strip_suffix(';')).collect();
    let places: Vec<Option<usize>> = declared.iter().map(|name| place(name)).collect();
    assert!(places.iter().all(Option::is_some), "each of {declared:?} needs its place in the order");
    assert!(places.is_sorted(), "{declared:?} are not in the order {ORDER:?}");
    for source in sources() {
        let top = source.module()[0].to_owned();
        assert!(declared.contains(&&*top) || ["lib", "main"].contains(&&*top), "{top} is no module of the library");
    }
}

#[test]
fn no_file_is_long() {
    for source in sources() {
        let lines = source.text.lines().count();
        assert!(lines <= LONGEST_FILE, "{} has {lines} lines: divide it by what its parts are about", source.path);
    }
}

#[test]
fn every_file_says_what_comes_in_and_what_goes_out() {
    // A module's own tests stand under what the module says of itself.
    for source in sources().iter().filter(|source| !source.path.ends_with("/tests.rs")) {
        assert!(source.text.starts_with("//! "), "{} does not begin with `//!`", source.path);
    }
}

// Floats are in few files, each of which says so to the lints.
// hazard: H-ARITHMETIC
#[test]
fn floats_are_where_they_are_expected() {
    let with_floats: Vec<Source> = sources().into_iter().filter(|source| has_word(&source.code, "f64")).collect();
    assert!(!with_floats.is_empty(), "the second route is in floats");
    let expects = |code: &str| code.contains("expect(") && code.contains("clippy::float_arithmetic");
    for source in with_floats.iter().filter(|source| source.path != FLOATS_REFUSED) {
        // What a folder's own file expects, its parts may do.
        let folder = format!("{}/mod.rs", source.path.rsplit_once('/').map_or("", |(folder, _)| folder));
        let of_folder = with_floats.iter().any(|other| other.path == folder && expects(&other.code));
        assert!(expects(&source.code) || of_folder, "{} names f64 and expects no float arithmetic", source.path);
    }
    for source in sources().iter().filter(|source| source.path != SHORT_FLOATS) {
        assert!(!has_word(&source.code, "f32"), "{} names f32", source.path);
    }
}

#[test]
fn nothing_is_unwrapped_outside_tests() {
    for source in sources() {
        let code: String = source.code.chars().filter(|c| !c.is_whitespace()).collect();
        assert!(!code.contains(".unwrap()") && !code.contains(".unwrap_err()"), "{} unwraps", source.path);
    }
}

// What people write is read with its places by one file; the program's own explanations are read by serde.
#[test]
fn one_file_knows_the_reader_of_yaml() {
    let knows: Vec<String> =
        sources().into_iter().filter(|source| has_word(&source.code, "serde_yaml")).map(|source| source.path).collect();
    let knows: BTreeSet<String> = knows.into_iter().collect();
    assert_eq!(knows, ["diagnostic/explained.rs", "document/yaml.rs"].map(str::to_owned).into());
}

impl Source {
    /// `check/rules/label.rs` is `[check, rules, label]`, and `check/mod.rs` is `[check]`.
    fn module(&self) -> Vec<&str> {
        let path = self.path.trim_end_matches(".rs").trim_end_matches("/mod");
        path.split('/').collect()
    }

    /// The top folder of every path that begins with `crate` or climbs out with `super`.
    fn uses(&self) -> Vec<String> {
        let tokens = tokens(&self.code);
        let depth = self.module().len();
        let mut found = Vec::new();
        for at in 0..tokens.len() {
            let after = match tokens[at] {
                "crate" if tokens.get(at + 1) == Some(&"::") => at + 2,
                // The beginning of a chain that is as long as the module is deep ends at the root.
                "super" if at == 0 || tokens[at - 1] != "::" => {
                    let chain = (0..).take_while(|step| {
                        tokens.get(at + 2 * step) == Some(&"super") && tokens.get(at + 2 * step + 1) == Some(&"::")
                    });
                    match chain.count() {
                        count if count >= depth => at + 2 * count,
                        _ => continue,
                    }
                }
                _ => continue,
            };
            found.extend(heads(&tokens[after..]));
        }
        found
    }
}

/// The first name of a path, or of each path of a group in braces.
fn heads(tokens: &[&str]) -> Vec<String> {
    if tokens.first() != Some(&"{") {
        return tokens.first().map(|name| (*name).to_owned()).into_iter().collect();
    }
    let (mut depth, mut heads, mut begins) = (0, Vec::new(), true);
    for token in tokens {
        match *token {
            "{" => depth += 1,
            "}" if depth == 1 => break,
            "}" => depth -= 1,
            "," if depth == 1 => begins = true,
            name if begins && depth == 1 => {
                heads.push(name.to_owned());
                begins = false;
            }
            _ => {}
        }
    }
    heads
}

fn place(name: &str) -> Option<usize> {
    ORDER.iter().position(|known| *known == name)
}

fn has_word(code: &str, word: &str) -> bool {
    tokens(code).contains(&word)
}

/// Names, `::`, and every other character that is no space.
fn tokens(code: &str) -> Vec<&str> {
    let mut tokens = Vec::new();
    let mut rest = code;
    while let Some(first) = rest.chars().next() {
        let is_name = |c: char| c.is_alphanumeric() || c == '_';
        let length = match first {
            ':' if rest.starts_with("::") => 2,
            c if is_name(c) => rest.find(|c| !is_name(c)).unwrap_or(rest.len()),
            c => c.len_utf8(),
        };
        if !first.is_whitespace() {
            tokens.push(&rest[..length]);
        }
        rest = &rest[length..];
    }
    tokens
}

fn sources() -> Vec<Source> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut paths = Vec::new();
    collect(&root, &mut paths);
    paths.sort();
    let read = |path: PathBuf| {
        let text = fs::read_to_string(&path).expect("source is text");
        let path = path.strip_prefix(&root).expect("it was found in there").to_string_lossy().replace('\\', "/");
        // A file of tests is declared as one where its module stands.
        let code = if path.ends_with("/tests.rs") { String::new() } else { without_tests(&without_texts(&text)) };
        Source { path, text, code }
    };
    let sources: Vec<Source> = paths.into_iter().map(read).collect();
    assert!(sources.len() > 90, "{} files", sources.len());
    sources
}

fn collect(folder: &Path, paths: &mut Vec<PathBuf>) {
    for file in fs::read_dir(folder).expect("the folder is there") {
        let path = file.expect("it can be listed").path();
        if path.is_dir() {
            collect(&path, paths);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            paths.push(path);
        }
    }
}

/// Comments, texts and characters become spaces; line breaks stay.
fn without_texts(text: &str) -> String {
    let chars: Vec<char> = text.chars().collect();
    let mut code = String::with_capacity(text.len());
    let mut at = 0;
    while at < chars.len() {
        let end = match (chars[at], chars.get(at + 1)) {
            ('/', Some('/')) => find(&chars, at, |at| chars[at] == '\n'),
            ('/', Some('*')) => find(&chars, at + 2, |at| chars[at] == '*' && chars.get(at + 1) == Some(&'/')) + 2,
            ('r' | 'b', Some('"' | '#' | 'r')) if at == 0 || !is_name(chars[at - 1]) => {
                raw_text(&chars, at).unwrap_or(at)
            }
            ('"', _) => closing(&chars, at + 1, '"'),
            ('\'', Some('\\')) => closing(&chars, at + 1, '\''),
            ('\'', Some(_)) if chars.get(at + 2) == Some(&'\'') => at + 3,
            _ => at,
        };
        if end == at {
            code.push(chars[at]);
            at += 1;
        } else {
            let end = end.min(chars.len());
            code.extend(chars[at..end].iter().map(|c| if *c == '\n' { '\n' } else { ' ' }));
            at = end;
        }
    }
    code
}

fn is_name(c: char) -> bool {
    c.is_alphanumeric() || c == '_'
}

fn find(chars: &[char], from: usize, is_end: impl Fn(usize) -> bool) -> usize {
    (from..chars.len()).find(|at| is_end(*at)).unwrap_or(chars.len())
}

/// After the quote that closes a text which began before `at`.
fn closing(chars: &[char], mut at: usize, quote: char) -> usize {
    while at < chars.len() && chars[at] != quote {
        at += if chars[at] == '\\' { 2 } else { 1 };
    }
    at + 1
}

/// After a text that begins with `b"`, `r"`, `r#"` or `br"`; nothing where none does.
fn raw_text(chars: &[char], at: usize) -> Option<usize> {
    let start = find(chars, at, |at| !matches!(chars[at], 'b' | 'r'));
    let is_raw = chars[at..start].contains(&'r');
    let hashes = chars[start..].iter().take_while(|c| **c == '#').count();
    if chars.get(start + hashes) != Some(&'"') {
        return None;
    }
    if !is_raw {
        return Some(closing(chars, start + 1, '"'));
    }
    let closes = |at: usize| chars[at] == '"' && (1..=hashes).all(|more| chars.get(at + more) == Some(&'#'));
    Some(find(chars, start + hashes + 1, closes) + hashes + 1)
}

/// Every item under `#[cfg(test)]` taken out, to its semicolon or its closing brace.
fn without_tests(code: &str) -> String {
    let mut parts = code.split("#[cfg(test)]");
    let mut kept = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        let mut depth = 0_usize;
        let mut end = part.len();
        for (at, c) in part.char_indices() {
            match c {
                '{' => depth += 1,
                '}' => depth -= 1,
                _ => {}
            }
            if depth == 0 && (c == '}' || c == ';') {
                end = at + 1;
                break;
            }
        }
        kept.push_str(&part[end..]);
    }
    kept
}

// A test that sees nothing proves nothing: these are the things it must see, and those it must not.
#[test]
fn the_reader_of_this_test_reads() {
    let text = r##"
//! crate::web in a comment
use crate::{quantity::{Ratio, Unit}, check::Rule};
use super::super::card::Card;
use super::finding;
const SAYS: &str = "crate::web \" crate::case"; const ONE: char = '"'; const RAW: &str = r#"crate::cli "#;
fn life<'a>(of: &'a str) -> f64 { $crate::journal::head(of) }
pub(in crate::pharmacy) fn there() {}
#[cfg(test)]
mod tests { use crate::web; fn one() { { x.unwrap() } } }
/* crate::web */ use crate::document;
"##;
    let code = without_tests(&without_texts(text));
    let source = Source { path: "check/rules.rs".to_owned(), text: text.to_owned(), code };
    assert_eq!(source.uses(), ["quantity", "check", "card", "journal", "pharmacy", "document"]);
    assert!(has_word(&source.code, "f64") && !source.code.contains("unwrap"));
}
