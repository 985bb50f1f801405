//! The page in a real browser: the checks of accessibility, the sheet it prints, and the code on it. Chromium and
//! poppler are driven as programs.

use std::ffi::{OsStr, OsString};
use std::fs;
use std::path::{Path, PathBuf};

use rstest::rstest;
use serde_json::Value;

use super::{Agreed, agreed, machine, scanned};
use crate::common::folder;
use crate::common::tools::{CHROMIUM, PDFINFO, PDFTOPPM, PDFTOTEXT, ZBARIMG, missing};

const AXE: &str = include_str!("../../browser/axe.min.js");

/// Runs the browser without a window, in a profile of its own.
fn browser(folder: &Path, what: &[&str], page: &Path) -> String {
    let mut arguments: Vec<OsString> =
        ["--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--disable-dev-shm-usage"]
            .map(OsString::from)
            .into();
    let mut profile = OsString::from("--user-data-dir=");
    profile.push(folder.join("profile"));
    arguments.push(profile);
    arguments.extend(what.iter().map(OsString::from));
    let mut address = OsString::from("file://");
    address.push(page);
    arguments.push(address);
    machine(CHROMIUM, &arguments.iter().map(OsString::as_os_str).collect::<Vec<_>>())
}

/// What the checks of accessibility find in a page: the rules that are broken, with the first place.
fn broken(name: &str, page: &str) -> Vec<String> {
    let folder = folder(name);
    let asks = "axe.run().then(found => { const said = document.createElement('pre'); said.id = 'axe'; \
        said.textContent = JSON.stringify({broken: found.violations, passed: found.passes.length}); document.body.append(said); })";
    let script = format!("<script>{AXE}</script><script>{asks}</script></body>");
    let path = folder.join("page.html");
    fs::write(&path, page.replacen("</body>", &script, 1)).expect("room");
    let dom = browser(&folder, &["--virtual-time-budget=20000", "--dump-dom"], &path);
    let said =
        dom.rsplit_once("<pre id=\"axe\">").and_then(|(_, rest)| rest.split_once("</pre>")).expect("the checks ran").0;
    let said = said.replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&");
    let found: Value = serde_json::from_str(&said).expect("JSON");
    assert!(found["passed"].as_u64().expect("a number") > 10, "{found}");
    let listed = found["broken"].as_array().expect("a list").iter();
    listed.map(|one| format!("{}: {}", one["id"], one["nodes"][0]["html"])).collect()
}

/// The page printed on a paper.
fn printed(folder: &Path, page: &str, paper: &str) -> PathBuf {
    let path = folder.join(format!("{paper}.html"));
    assert_eq!(page.matches("@page {").count(), 1);
    fs::write(&path, page.replace("@page {", &format!("@page {{ size: {paper};"))).expect("room");
    let pdf = folder.join(format!("{paper}.pdf"));
    let to = format!("--print-to-pdf={}", pdf.display());
    browser(folder, &["--no-pdf-header-footer", &to], &path);
    pdf
}

fn pages(pdf: &Path) -> usize {
    let said = machine(PDFINFO, &[pdf.as_os_str()]);
    let line = said.lines().find_map(|line| line.strip_prefix("Pages:")).expect("it says how many");
    line.trim().parse().expect("a number")
}

// hazard: H-CARD
#[rstest]
fn no_check_of_accessibility_fails(#[values("adult-vasopressor/", "child-sedation/", "insulin/reasons-")] pair: &str) {
    if missing(&[CHROMIUM]) {
        return;
    }
    let page = agreed(pair, "html").stdout;
    assert_eq!(broken(&format!("axe-{}", pair.replace('/', "-")), &page), [""; 0]);
}

#[test]
fn the_card_of_a_case_passes_too_and_a_bad_page_does_not() {
    if missing(&[CHROMIUM]) {
        return;
    }
    let case = Agreed::new("axe-case");
    let page = fs::read_to_string(case.card("html")).expect("just written");
    assert_eq!(broken("axe-case-page", &page), [""; 0]);
    let bad = page.replacen(" lang=\"en\"", "", 1).replacen("<h1>", "<h1 style=\"color: #ccc\">", 1).replacen(
        "role=\"img\" aria-label",
        "role=\"img\" data-label",
        1,
    );
    let found = broken("axe-bad-page", &bad);
    for rule in ["html-has-lang", "color-contrast", "svg-img-alt"] {
        assert!(found.iter().any(|one| one.contains(rule)), "{rule}: {found:?}");
    }
}

/// One sheet, printed on both sides where it is small, from which the code is read and the text taken.
// hazard: H-CARD
#[rstest]
fn it_prints_on_one_sheet(#[values("A5", "A4")] paper: &str) {
    if missing(&[CHROMIUM, PDFINFO, PDFTOPPM, PDFTOTEXT, ZBARIMG]) {
        return;
    }
    let case = Agreed::new(&format!("printed-{paper}"));
    let page = fs::read_to_string(case.card("html")).expect("just written");
    let pdf = printed(&case.folder, &page, paper);
    assert_eq!(pages(&pdf), if paper == "A5" { 2 } else { 1 });
    let data: Value = serde_json::from_slice(&fs::read(case.card("json")).expect("just written")).expect("JSON");
    assert_eq!(scanned(&pdf), data["code"].as_str().expect("a code"));
    let taken = machine(PDFTOTEXT, &[pdf.as_os_str(), OsStr::new("-")]);
    let text = fs::read_to_string(case.card("text")).expect("just written");
    assert_eq!(taken.matches("mL/h").count(), text.matches("mL/h").count(), "{taken}");
    for words in ["5.1 mL/h", "QM-30417", "Setting up", "Left in the syringe"] {
        assert!(taken.contains(words), "{words}: {taken}");
    }
}

/// The sheet as SVG is drawn by a browser as it was measured: the code on it is read.
#[test]
fn the_svg_is_drawn_as_measured() {
    if missing(&[CHROMIUM, PDFTOPPM, ZBARIMG]) {
        return;
    }
    let case = Agreed::new("svg-drawn");
    let svg = fs::read_to_string(case.card("svg")).expect("just written");
    let data: Value = serde_json::from_slice(&fs::read(case.card("json")).expect("just written")).expect("JSON");
    let page = format!(
        "<!DOCTYPE html><html lang=\"en\"><style>@page {{ margin: 0 }}body{{margin:0}}</style><body>{svg}</body></html>"
    );
    let pdf = printed(&case.folder, &page, "297mm 211mm");
    assert_eq!(scanned(&pdf), data["code"].as_str().expect("a code"));
}
