//! A unit that is a thousandfold off (mg for mcg, mcg for mg; milliunits for units) made of every printed usual dose: through the
//! program's own path, from the text of an entry to its findings.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use countersign::check::{Checked, Severity};
use countersign::document::{LINE_LIMIT, Path, read_json};
use countersign::entry::EntryForm;
use countersign::formulary::{Formulary, Lookup};
use countersign::infusion::Computed;
use countersign::pharmacy::survey;
use countersign::quantity::{DoseRate, Moment, significant};
use rstest::rstest;
use serde::Deserialize;
use serde_json::{Value, json};

use crate::published::{exact, table};

#[derive(Debug, Deserialize)]
struct PrintedDose {
    id: String,
    drug: String,
    area: String,
    indication: String,
    /// `maintenance usual from`.
    place: String,
    figure: String,
}

static FORMULARY: LazyLock<Formulary> =
    LazyLock::new(|| Formulary::demonstration().expect("a test of its own lints it"));

const AT: &str = "2026-03-14T07:45:00+00:00";

/// One usual set-up of each use and phase, by drug, area, use and phase.
static SET_UPS: LazyLock<BTreeMap<[String; 4], Value>> = LazyLock::new(|| {
    let at = Moment::parse(AT).expect("a moment");
    let lines = survey::lines(&FORMULARY, at).expect("a test of its own lints it");
    let lines = lines.iter().map(|line| serde_json::from_str::<Value>(line).expect("written by a JSON writer"));
    let key = |entry: &Value| {
        ["drug", "area", "indication", "phase"].map(|field| entry[field].as_str().unwrap_or_default().to_owned())
    };
    lines.map(|entry| (key(&entry), entry)).collect()
});

/// The codes of what stops an entry.
fn stops(entry: &Value) -> Vec<&'static str> {
    let (text, mut faults) = (entry.to_string(), Vec::new());
    let root = read_json(&text, LINE_LIMIT, &mut faults).expect("written by a JSON writer");
    let entry = EntryForm::at(&root, Path::Root).read(&mut faults).unwrap_or_else(|| panic!("{text}: {faults:?}"));
    let computed = Computed::of(entry, &FORMULARY, Moment::parse(AT).expect("a moment")).expect("no fault in the file");
    let checked = Checked::of(computed);
    let stops = checked.findings().iter().filter(|finding| matches!(finding.severity(), Severity::Stop(_)));
    stops.map(|finding| finding.code.id).collect()
}

/// A printed dose times a factor, as a number of the unit in which the use is dosed.
fn slipped(printed: &PrintedDose, factor: &str) -> String {
    let Lookup::Found(drug) = FORMULARY.drug(&printed.drug) else { panic!("{printed:?}") };
    let used = drug.indications.iter().find(|one| one.area == printed.area && one.name == printed.indication);
    let unit = used.unwrap_or_else(|| panic!("{printed:?}")).dose_unit;
    let [dose, one] = [&printed.figure, &format!("1 {unit}")].map(|text| DoseRate::parse(text).expect("a dose"));
    let number = dose.amount_per_hour().over(one.amount_per_hour()).and_then(|number| number.times(exact(factor)));
    format!("{} {unit}", significant(number.expect("a dose is small"), 4).0)
}

// hazard: H-LIMITS
#[rstest]
#[case::too_much("1000", &["dose-above-hard-limit"])]
#[case::too_little("0.001", &["dose-below-hard-limit", "dose-far-below"])]
fn a_thousandfold_slip_of_any_printed_usual_dose_is_stopped_by_its_limits(#[case] factor: &str, #[case] by: &[&str]) {
    let printed: Vec<PrintedDose> = table("dose_ranges");
    let usual = printed.iter().filter(|one| one.place.contains(" usual ") && !one.place.starts_with("bolus"));
    let (mut tried, mut passed) = (0, Vec::new());
    for one in usual {
        let phase = one.place.split(' ').next().unwrap_or_default();
        let key = [&*one.drug, &*one.area, &*one.indication, phase].map(str::to_owned);
        let mut entry = SET_UPS.get(&key).unwrap_or_else(|| panic!("no usual set-up of {one:?}")).clone();
        assert!(!stops(&entry).iter().any(|code| code.starts_with("dose-")), "{entry}");
        entry["dose"] = json!(slipped(one, factor));
        tried += 1;
        let stops = stops(&entry);
        if !stops.iter().any(|code| by.contains(code)) {
            passed.push(format!("{}: {} at {}, stopped by {stops:?}", one.id, one.figure, entry["dose"]));
        }
    }
    assert!(tried > 150, "{tried} printed doses");
    assert!(passed.is_empty(), "{}", passed.join("\n"));
}
