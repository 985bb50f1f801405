//! Demonstration entries by lot: usual set-ups of a formulary, some of them with doses moved as slips and decisions move
//! them. In: how many, and a seed. Out: the same lines for the same seed. Invented data, for trying out and for
//! measuring; no patient is behind any of it.

use serde_json::Value;

use crate::formulary::Formulary;
use crate::quantity::{DoseRate, Moment, Ratio, significant};

use super::survey;

/// By what a dose is moved, in hundredths: mostly not at all, sometimes as a decision, rarely as a slip.
const MOVES: [u64; 20] =
    [100, 100, 100, 100, 100, 100, 100, 100, 100, 100, 100, 90, 120, 150, 200, 50, 300, 1000, 10, 6000];

/// Entries by lot, one JSON object each, without the line break.
///
/// # Errors
/// A message, when the formulary cannot be used.
pub fn sample(formulary: &Formulary, seed: u64, at: Moment) -> Result<impl Iterator<Item = String> + use<>, String> {
    let usual = survey::lines(formulary, at)?;
    if usual.is_empty() {
        return Err("the formulary has no usual set-up".to_owned());
    }
    let mut lot = fastrand::Rng::with_seed(seed);
    Ok(std::iter::repeat_with(move || {
        let line = &usual[lot.usize(..usual.len())];
        let by = MOVES[lot.usize(..MOVES.len())];
        moved(line, by, lot.bool()).unwrap_or_else(|| line.clone())
    }))
}

/// The same set-up with another dose; with a reason for the soft limits, where one is written.
fn moved(line: &str, hundredths: u64, reason: bool) -> Option<String> {
    if hundredths == 100 {
        return Some(line.to_owned());
    }
    let mut entry: Value = serde_json::from_str(line).ok()?;
    let dose = DoseRate::parse(entry.get("dose")?.as_str()?).ok()?;
    let factor = Ratio::new(u128::from(hundredths), 100).ok()?;
    let number = significant(dose.number().ratio().times(factor).ok()?, 4).0;
    let fields = entry.as_object_mut()?;
    fields.insert("dose".to_owned(), format!("{number} {}", dose.unit()).into());
    if reason {
        let reasons = if hundredths > 100 {
            serde_json::json!({"dose-above-soft-limit": "needs more than usual, response watched"})
        } else {
            serde_json::json!({"dose-below-soft-limit": "responds to less than usual"})
        };
        fields.insert("reasons".to_owned(), reasons);
    }
    Some(entry.to_string())
}
