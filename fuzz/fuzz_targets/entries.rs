//! Any bytes as an entry, in either writing: an entry, or faults; and an entry goes through every check.
#![no_main]

use std::sync::OnceLock;

use countersign::check::Checked;
use countersign::document::{Path, read_form};
use countersign::entry::EntryForm;
use countersign::formulary::Formulary;
use countersign::infusion::Computed;
use countersign::quantity::Moment;
use libfuzzer_sys::fuzz_target;

static DEMONSTRATION: OnceLock<Formulary> = OnceLock::new();

fuzz_target!(|bytes: &[u8]| {
    let Some((which, rest)) = bytes.split_first() else { return };
    let Ok(text) = std::str::from_utf8(rest) else { return };
    let mut faults = Vec::new();
    let root = read_form(text, which % 2 == 1, &mut faults);
    let entry = root.as_ref().and_then(|root| EntryForm::at(root, Path::Root).read(&mut faults));
    assert!(entry.is_some() || !faults.is_empty(), "refused without a fault");
    for fault in &faults {
        assert!(!fault.message.is_empty() && fault.range.as_ref().is_none_or(|range| range.end <= text.len()), "{fault:?}");
    }
    let Some(entry) = entry.filter(|_| faults.is_empty()) else { return };
    let formulary = DEMONSTRATION.get_or_init(|| Formulary::demonstration().expect("the one inside the program"));
    let now = Moment::parse("2026-03-14T07:50:00+00:00").expect("a moment");
    if let Ok(computed) = Computed::of(entry, formulary, now) {
        let checked = Checked::of(computed);
        assert!(checked.findings().iter().all(|finding| !finding.message.is_empty() && !finding.help.is_empty()));
    }
});
