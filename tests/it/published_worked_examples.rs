//! Worked examples of prescribing information, guidelines, textbooks and lessons, and misprints found in print: the
//! examples come out as printed, the misprints do not.

use std::collections::BTreeSet;

use crate::published::{Check, table};

#[test]
fn every_worked_example_comes_out_as_printed() {
    let rows: Vec<Check> = table("worked_examples");
    rows.iter().for_each(Check::prove);
    assert_eq!(rows.len(), 56, "figures checked");
    assert_eq!(examples(&rows).len(), 29, "examples checked");
    // Two sources take 2.2 lb for 1 kg where the pound is exactly 0.45359237 kg; one leaves out the added 9 mL.
    let apart: Vec<_> =
        rows.iter().filter(|row| row.agrees == "no").map(|row| (&*row.id, &*row.check, &*row.printed)).collect();
    assert_eq!(
        apart,
        [("W32", "rate", "11.3"), ("W54", "rate", "21"), ("W56", "weight", "90"), ("W56", "volume", "5.625")]
    );
}

#[test]
fn no_known_misprint_comes_out() {
    let rows: Vec<Check> = table("known_bad");
    rows.iter().for_each(Check::prove);
    assert_eq!(rows.len(), 15, "figures checked");
    assert_eq!(examples(&rows).len(), 9, "misprints checked");
    assert!(rows.iter().all(|row| row.agrees == "no" || row.check == "refused"), "each is refused or differs");
}

fn examples(rows: &[Check]) -> BTreeSet<&str> {
    rows.iter().map(|row| row.id.as_str()).collect()
}
