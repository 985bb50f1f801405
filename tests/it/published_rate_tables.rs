//! Rate tables of prescribing information and of a hospital guide: each printed rate is the exact one, rounded as its
//! table rounds; one printed rate is not, by name.

use crate::published::{Check, body, exact, strength, table};
use countersign::infusion::rate::rate_for;
use countersign::quantity::{DoseRate, Ratio};
use serde::Deserialize;

#[test]
fn every_printed_rate_is_the_exact_one_rounded() {
    let rows: Vec<Check> = table("rate_tables");
    rows.iter().for_each(Check::prove);
    assert_eq!(rows.len(), 70, "rows checked");
    let misprints: Vec<_> =
        rows.iter().filter(|row| row.agrees == "no").map(|row| (&*row.drug, &*row.weight, &*row.dose)).collect();
    // Galway University Hospitals IV guide prints 4; exact 4.05, and its other halves are rounded up.
    assert_eq!(misprints, [("dobutamine", "45 kg", "7.5 mcg/kg/min")]);
}

#[derive(Debug, Deserialize)]
struct PerKilogram {
    drug: String,
    dose: String,
    strength: String,
    printed: String,
    cite: String,
}

// Printed in mL/kg/min; a rate for 1 kg in mL/h is sixty times that.
#[test]
fn every_printed_rate_per_kg_is_exact() {
    let rows: Vec<PerKilogram> = table("rate_per_kg_tables");
    for row in &rows {
        let rate = |dose: &str, weight: &str| {
            let dose = DoseRate::parse(dose).expect("a dose");
            rate_for(dose, body(weight, ""), strength(&row.strength)).expect("a rate")
        };
        let per_kg_and_min = rate(&row.dose, "1 kg").over(Ratio::whole(60)).expect("small");
        assert_eq!(per_kg_and_min, exact(&row.printed), "{row:?}");
        let as_volume = format!("{} mL/kg/min", row.printed);
        assert_eq!(rate(&row.dose, "72.5 kg"), rate(&as_volume, "72.5 kg"), "{} as a volume: {}", row.drug, row.cite);
    }
    assert_eq!(rows.len(), 18, "rows checked");
}
