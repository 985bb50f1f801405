//! The sheet as PDF: its text in the order in which it is read, the same bytes each time, and no gap where a letter lacks.

#![expect(clippy::float_arithmetic, reason = "sizes on paper are measured")]

use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};

use rstest::rstest;

use super::{Agreed, agreed, example, machine};
use crate::common::tools::{PDFINFO, PDFTOTEXT, missing};
use crate::common::{AT, Said, folder, run};

/// The card of two files as a PDF.
fn pdf(name: &str, first: &Path, second: &Path) -> (PathBuf, Said) {
    let path = folder(name).join("card.pdf");
    let said = run(["agree", "--format", "pdf", "--formulary", "formulary", "--at", AT]);
    (path.clone(), said.arg(first).arg(second).arg("-o").arg(&path).said())
}

fn example_pdf(pair: &str) -> PathBuf {
    let path = |who: &str| Path::new("examples").join(format!("{pair}{who}.yaml"));
    let (pdf, said) = pdf(&pair.replace('/', "-"), &path("first"), &path("second"));
    assert_eq!((said.code, said.stderr.as_str()), (0, ""), "{said:?}");
    assert_eq!(said.stdout.trim(), pdf.to_str().expect("a path"));
    pdf
}

fn text(pdf: &Path, how: &[&str]) -> String {
    let arguments: Vec<&OsStr> = how.iter().map(OsStr::new).chain([pdf.as_os_str(), OsStr::new("-")]).collect();
    machine(PDFTOTEXT, &arguments)
}

fn info(pdf: &Path, row: &str) -> String {
    let said = machine(PDFINFO, &[pdf.as_os_str()]);
    let line = said.lines().find_map(|line| line.strip_prefix(row)).unwrap_or_else(|| panic!("no {row} in {said}"));
    line.trim_start_matches(':').trim().to_owned()
}

/// The rows that stand on paper as they do in the text.
const ROWS: [&str; 14] = [
    "Dose",
    "Weight",
    "Patient",
    "Run time",
    "For",
    "Syringe",
    "Line",
    "Dead space",
    "Change by",
    "If blocked",
    "First entry",
    "Second entry",
    "Formulary",
    "Fingerprint",
];

/// Facts of the printed text, in its order, stand in the same order in what is taken out of the PDF.
// hazard: H-CARD
#[rstest]
fn the_text_comes_out_in_reading_order(
    #[values(
        "adult-vasopressor/",
        "adult-vasopressor/reasons-",
        "child-sedation/",
        "child-sedation/reasons-",
        "insulin/",
        "insulin/reasons-"
    )]
    pair: &str,
) {
    if missing(&[PDFTOTEXT]) {
        return;
    }
    let said = agreed(pair, "text").stdout;
    let pdf = example_pdf(pair);
    let taken = text(&pdf, &["-raw"]).split_whitespace().collect::<String>();
    let mut rest = taken.as_str();
    let mut found = 0;
    for line in said.lines() {
        let Some(label) = line.get(..16).map(str::trim_end).filter(|label| ROWS.contains(label)) else { continue };
        let row = line.split_whitespace().collect::<String>();
        let at =
            rest.find(&row).unwrap_or_else(|| panic!("{label}: {line:?} is not where it is to be read, in {taken}"));
        rest = &rest[at + row.len()..];
        found += 1;
    }
    assert!(found > 12, "{found} rows");
    // However it is taken out, a label keeps its value.
    let taken = text(&pdf, &[]);
    for row in ["Weight", "Patient", "Run time"] {
        let value = said.lines().find_map(|line| line.strip_prefix(row)).expect("a row").trim();
        assert!(taken.contains(&format!("{row} {value}")), "{row} {value}: {taken}");
    }
    // On paper the bolus is a sentence of its own beneath the table, and says its unit; in the text the head does.
    let rates = said.matches("mL/h").count() + usize::from(said.contains(" bolus "));
    assert_eq!(taken.matches("mL/h").count(), rates, "the rates of the printed card: {taken}");
}

#[rstest]
fn it_is_one_tagged_sheet_of_a5_with_two_sides_in_english(
    #[values("adult-vasopressor/", "child-sedation/", "insulin/")] pair: &str,
) {
    if missing(&[PDFINFO]) {
        return;
    }
    let pdf = example_pdf(pair);
    assert_eq!(
        (info(&pdf, "Pages"), info(&pdf, "Tagged"), info(&pdf, "Title")),
        ("2".into(), "yes".into(), "Set-up card".into())
    );
    // 148 x 210 mm in points.
    assert!(info(&pdf, "Page size").starts_with("419.528 x 595.276"), "{}", info(&pdf, "Page size"));
    let bytes = fs::read(&pdf).expect("just written");
    let has = |what: &[u8]| bytes.windows(what.len()).any(|window| window == what);
    assert!(has(b"/Lang") && has(b"pdfuaid:part"));
}

/// The heights of words in points: what is read at a metre, and what is read at all.
// hazard: H-CARD
#[rstest]
fn nothing_is_printed_too_small_to_be_read(
    #[values("adult-vasopressor/", "adult-vasopressor/reasons-", "child-sedation/", "insulin/reasons-")] pair: &str,
) {
    // A millimetre of an SVG is 72 / 25.4 points, and the sheet is the one that the PDF draws.
    let sized = regex::Regex::new(r#"font-size="([0-9.]+)"[^>]*>([^<]+)<"#).expect("a pattern");
    let svg = agreed(pair, "svg").stdout;
    let data = agreed(pair, "json").json();
    let points = |found: &regex::Captures<'_>| found[1].parse::<f64>().expect("a number") * 72.0 / 25.4;
    let sizes: Vec<(f64, String)> =
        sized.captures_iter(&svg).map(|found| (points(&found), found[2].to_owned())).collect();
    assert!(sizes.len() > 50, "{}", sizes.len());
    let small: Vec<_> = sizes.iter().filter(|(size, _)| *size < 8.0).collect();
    assert!(small.is_empty(), "{small:?}");
    let drug = data["card"]["order"]["drug"].as_str().expect("a name");
    assert!(sizes.iter().any(|(size, text)| *size >= 14.0 && text.starts_with(drug)), "{sizes:?}");
    let rate = data["rate"]["value"].as_str().expect("a number");
    let largest = sizes.iter().filter(|(size, _)| *size >= 30.0).map(|(_, text)| text.as_str()).collect::<Vec<_>>();
    assert_eq!(largest, [rate], "no other number is of its size");
    if missing(&[PDFTOTEXT]) {
        return;
    }
    // A word's box is as high as the size of its font.
    let boxes = text(&example_pdf(pair), &["-bbox"]);
    let boxed = regex::Regex::new(r#"yMin="([0-9.]+)" xMax="[0-9.]+" yMax="([0-9.]+)">([^<]+)<"#).expect("a pattern");
    let number = |text: &str| text.parse::<f64>().expect("a number");
    let words: Vec<(f64, String)> =
        boxed.captures_iter(&boxes).map(|word| (number(&word[2]) - number(&word[1]), word[3].to_owned())).collect();
    assert!(words.len() > 100, "{}", words.len());
    assert!(words.iter().all(|(size, _)| *size > 7.99), "{words:?}");
    let of = |word: &str| words.iter().filter(|(_, text)| text == word).map(|(size, _)| *size).fold(0.0, f64::max);
    let first = drug.split(' ').next().expect("a word");
    assert!(of(first) >= 14.0 && of(rate) >= 30.0, "{} {}", of(first), of(rate));
}

/// Where more is to be said than the small sheet holds, the same goes on the larger one, and nothing is left out.
#[test]
fn a_long_card_goes_on_a_larger_sheet_and_one_that_is_too_long_is_refused() {
    let with_reason = |times: usize| {
        let folder = folder(&format!("long-{times}"));
        let write = |who: &str| {
            let form = example(&format!("insulin/reasons-{who}.yaml"));
            let (before, reasons) = form.split_once("reasons: {").expect("it has reasons");
            let codes = countersign::check::codes().map(|code| code.id).filter(|code| !reasons.starts_with(code));
            let more: String = codes.take(times).map(|code| format!("{code}: spoken about at length, ")).collect();
            let path = folder.join(who).with_extension("yaml");
            fs::write(&path, format!("{before}reasons: {{{more}{reasons}")).expect("room");
            path
        };
        pdf(&format!("long-pdf-{times}"), &write("first"), &write("second"))
    };
    let (none, said) = with_reason(60);
    assert!(said.is_refused().contains("does not fit on both sides of one sheet of A4"), "{said:?}");
    assert!(!none.exists());
    let (larger, said) = with_reason(12);
    assert_eq!(said.code, 0, "{said:?}");
    if missing(&[PDFINFO, PDFTOTEXT]) {
        return;
    }
    assert!(info(&larger, "Page size").contains("A4"), "{}", info(&larger, "Page size"));
    assert_eq!(info(&larger, "Pages"), "2");
    let taken = text(&larger, &["-raw"]).split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!(taken.matches("[reason-without-finding]").count(), 12, "{taken}");
}

/// A page with a gap where a name was is worse than none.
// hazard: H-CARD
#[test]
fn a_letter_that_the_font_lacks_is_refused_by_name() {
    let folder = folder("lacking");
    let write = |who: &str, name: &str| {
        let form = example(&format!("insulin/{who}.yaml"));
        let old = form.split_once("name: ").and_then(|(_, rest)| rest.split([',', '}', '\n']).next()).expect("a name");
        let path = folder.join(who).with_extension("yaml");
        fs::write(&path, form.replacen(old, name, 1)).expect("room");
        path
    };
    let (first, second) = (write("first", "Łucja Žižková"), write("second", "王小明"));
    let (path, said) = pdf("lacking-pdf", &first, &second);
    let refused = said.is_refused();
    assert!(refused.contains("no sign for `王` (U+738B)") && refused.contains("print it as HTML"), "{refused}");
    assert!(!path.exists());
    // Letters with marks, Greek and Cyrillic are there.
    let (path, said) = pdf("having-pdf", &first, &write("second", "Ελένη Жукова"));
    assert_eq!(said.code, 0, "{said:?}");
    if missing(&[PDFTOTEXT]) {
        return;
    }
    let taken = text(&path, &["-raw"]);
    assert!(taken.contains("Łucja Žižková") && taken.contains("Ελένη Жукова"), "{taken}");
}

// hazard: H-CHANGED
#[test]
fn it_is_the_same_to_the_byte_each_time() {
    let case = Agreed::new("pdf-same");
    for format in ["pdf", "svg", "html", "json", "text"] {
        let once = fs::read(case.card(format)).expect("just written");
        assert!(once.len() > 2000);
        assert_eq!(once, fs::read(case.card(format)).expect("just written"), "{format}");
    }
}

/// To standard output it goes as bytes.
#[test]
fn it_goes_through_a_pipe() {
    let pair = [
        "agree",
        "examples/insulin/first.yaml",
        "examples/insulin/second.yaml",
        "--at",
        AT,
        "--formulary",
        "formulary",
        "--format",
        "pdf",
    ];
    let out = std::process::Command::new(env!("CARGO_BIN_EXE_countersign"))
        .args(pair)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("it starts");
    assert!(out.status.success() && out.stdout.starts_with(b"%PDF-1.7"));
    assert_eq!(out.stdout, fs::read(example_pdf("insulin/")).expect("just written"));
}
