//! What is fuzzed: any bytes as a file of a formulary. In: the bytes. Out: nothing, unless something falls over or does not
//! hold.

use countersign::diagnostic::terminal::Palette;
use countersign::document::{DRUG_LIMIT, read_stream};
use countersign::formulary::{Files, Formulary};
use countersign::pharmacy::lint::{Report, lint, mend};
use countersign::quantity::Moment;

const FORMULARY: &str = include_str!("../tests/it/lint/house/formulary.yaml");
const AREAS: &str = include_str!("../tests/it/lint/house/areas.yaml");
const EQUIPMENT: &str = include_str!("../tests/it/lint/house/equipment.yaml");
const DRUG: &str = include_str!("../tests/it/lint/house/drugs/noradrenaline.yaml");

/// The files of which one is any bytes.
pub(crate) const PATHS: [&str; 5] =
    ["drugs/noradrenaline.yaml", "formulary.yaml", "areas.yaml", "equipment.yaml", "approval.yaml"];

/// Reads a formulary of which one file holds these bytes: a drug, or every fault of it, and nothing else.
pub(crate) fn parse(path: &str, bytes: &[u8]) {
    let Some(files) = files(path, bytes) else { return };
    match Formulary::of_files(files) {
        Ok(formulary) => {
            if let Err(faulty) = formulary.load_all() {
                assert!(faulty.0.iter().all(|(_, faults)| !faults.is_empty()), "refused without a fault");
            }
        }
        Err((_, faulty)) => assert!(!faulty.0.is_empty(), "refused without a fault"),
    }
}

/// Lints it, shows what was found, and mends its spelling: what is mended once needs no mending again, and what had
/// no fault has none.
pub(crate) fn look(path: &str, bytes: &[u8]) {
    let Some(files) = files(path, bytes) else { return };
    let Some(again) = self::files(path, bytes) else { return };
    let report = lint(files, now());
    let shown = report.text(Palette::Plain);
    assert!(shown.is_empty() == report.files.is_empty() || report.counts().errors > 0, "something is not shown");
    assert!(!shown.chars().any(|c| c.is_control() && c != '\n' && c != '\t'), "a control character is shown");
    let _ = (report.json().to_string(), report.summary());
    assert!(every_place_is_inside(&report), "a place lies outside its file");
    let mended = mend(&again).expect("a fix changes no value");
    let texts = again.iter().map(|(path, text)| {
        let text = mended.iter().find(|one| one.path == path).map_or(text, |one| &one.text);
        (path.to_owned(), text.to_owned())
    });
    let after = Files::of_texts("HOUSE", texts.collect());
    assert!(mend(&after).is_ok_and(|left| left.is_empty()), "mended twice");
    // Where there was a fault, mending one may show another that stood behind it.
    assert!(report.counts().errors > 0 || lint(after, now()).counts().errors == 0, "mending made a fault");
}

fn now() -> Moment {
    Moment::parse("2026-03-14T07:50:00+00:00").expect("a moment")
}

fn every_place_is_inside(report: &Report) -> bool {
    report.files.iter().all(|file| {
        let remarks = file.remarks.iter().map(|remark| &remark.fault);
        file.faults
            .iter()
            .chain(remarks)
            .filter_map(|fault| fault.range.clone())
            .all(|range| file.source.text.get(range).is_some())
    })
}

/// The small house with these bytes as one of its files; nothing where they are no text, which is refused before.
fn files(path: &str, bytes: &[u8]) -> Option<Files> {
    let text = read_stream(&mut &bytes[..], DRUG_LIMIT).ok()?;
    let mut texts: Vec<(String, String)> = [
        ("formulary.yaml", FORMULARY),
        ("areas.yaml", AREAS),
        ("equipment.yaml", EQUIPMENT),
        ("drugs/noradrenaline.yaml", DRUG),
    ]
    .map(|(path, text)| (path.to_owned(), text.to_owned()))
    .into();
    texts.retain(|(known, _)| known != path);
    texts.push((path.to_owned(), text));
    Some(Files::of_texts("HOUSE", texts))
}
