//! The pages for people: short enough to be read, with links that lead somewhere, and a card that is the program's own.

use std::path::{Path, PathBuf};
use std::process::Command;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Every page, from the folder of the project on.
fn pages() -> Vec<PathBuf> {
    let mut pages: Vec<PathBuf> =
        ["README.md", "DEVELOPERS.md", "examples/README.md", "formulary/README.md"].map(PathBuf::from).into();
    for folder in ["docs", "docs/design", "docs/reference"] {
        for file in std::fs::read_dir(root().join(folder)).expect("our own folder") {
            let name = file.expect("it can be listed").file_name();
            if Path::new(&name).extension().is_some_and(|ending| ending == "md") {
                pages.push(Path::new(folder).join(name));
            }
        }
    }
    pages
}

fn text(page: &Path) -> String {
    std::fs::read_to_string(root().join(page)).unwrap_or_else(|error| panic!("{}: {error}", page.display()))
}

// A person at a bedside reads one page; a person who changes the code, four.
#[test]
fn the_first_pages_stay_short() {
    for (page, most) in [("README.md", 150), ("DEVELOPERS.md", 200)] {
        let lines = text(Path::new(page)).lines().count();
        assert!(lines <= most, "{page} has {lines} lines; {most} at most: move what one reader in ten needs to docs/");
    }
    let mut long = Vec::new();
    let is_ours = |page: &&PathBuf| page.starts_with("docs") && !page.starts_with("docs/reference");
    let first = |page: &&PathBuf| page.components().count() == 1;
    for page in pages().iter().filter(|page| first(page) || is_ours(page)) {
        let text = text(page);
        let lines = text.lines().zip(1..).filter(|(line, _)| !line.starts_with('|') && line.chars().count() > 120);
        long.extend(lines.map(|(_, at)| format!("{}:{at}", page.display())));
    }
    assert!(long.is_empty(), "lines of more than 120 characters: {long:?}");
}

#[test]
fn the_cautions_stand_in_the_first_page() {
    let readme = text(Path::new("README.md"));
    let section = readme.split("\n## ").find(|section| section.starts_with("Cautions\n")).expect("the section");
    for caution in
        ["Not a medical device", "Verify everything", "demonstration values", "A licensed practitioner decides"]
    {
        assert!(section.contains(caution), "{caution}");
    }
}

/// As a page's heading is named in a link: small letters, a hyphen for each space, without marks.
fn anchor(heading: &str) -> String {
    let plain = heading.trim_start_matches('#').trim().to_lowercase();
    let kept = plain.chars().filter(|c| c.is_alphanumeric() || matches!(c, ' ' | '-' | '_'));
    kept.map(|c| if c == ' ' { '-' } else { c }).collect()
}

#[test]
fn every_link_leads_somewhere() {
    let link = regex::Regex::new(r"\]\(([^)\s]+)\)").expect("a pattern");
    let (mut seen, mut dead) = (0, Vec::new());
    for page in pages() {
        let text = text(&page);
        for target in link.captures_iter(&text).map(|found| found[1].to_owned()) {
            let (path, heading) = target.split_once('#').unwrap_or((&target, ""));
            if path.starts_with("http") {
                continue;
            }
            seen += 1;
            let to = root().join(page.parent().unwrap_or(Path::new("")).join(path));
            let has_heading = || {
                let text = std::fs::read_to_string(&to).unwrap_or_default();
                heading.is_empty() || text.lines().any(|line| line.starts_with('#') && anchor(line) == heading)
            };
            if !to.exists() || !has_heading() {
                dead.push(format!("{}: {target}", page.display()));
            }
        }
    }
    assert!(seen > 40, "{seen} links");
    assert!(dead.is_empty(), "{}", dead.join("\n"));
}

// The picture of the first page is a card that the program makes now.
// hazard: H-CARD
#[test]
fn the_card_of_the_first_page_is_the_programs_own() {
    const COMMAND: &str = "agree examples/adult-vasopressor/first.yaml examples/adult-vasopressor/second.yaml --formulary \
                           demonstration --at 2026-03-14T07:50:00+00:00 --format svg";
    let made = Command::new(env!("CARGO_BIN_EXE_countersign"))
        .current_dir(root())
        .args(COMMAND.split_whitespace())
        .output()
        .expect("the program starts");
    assert_eq!(made.status.code(), Some(0), "{made:?}");
    let kept = text(Path::new("docs/card.svg"));
    let renew = format!("`cargo run -- {COMMAND} -o docs/card.svg` renews it");
    assert!(kept.as_bytes() == made.stdout, "docs/card.svg is not the card that the program draws: {renew}");
    assert!(kept.contains("NOT FOR PATIENTS"), "a picture for everybody says that it is no card for a patient");
}
