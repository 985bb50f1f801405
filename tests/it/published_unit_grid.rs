//! Every dose unit expressed in every other of its kind, in our spelling and in that of UCUM: the factor is exact.

use std::collections::BTreeMap;

use crate::published::{body, strength, table};
use countersign::infusion::rate::{dose_at, rate_for};
use countersign::quantity::{DoseRate, DoseRateUnit, Ratio};
use rstest::rstest;
use serde::Deserialize;

#[derive(Debug, Deserialize)]
struct Pair {
    kind: String,
    from: String,
    to: String,
    from_ucum: String,
    to_ucum: String,
    factor_num: u128,
    factor_den: u128,
}

// UCUM v2.2: prefixes and the units g, mol, eq, [IU], l, min, h, d.
#[rstest]
#[case("1 kg", "1 m2")]
#[case("72.5 kg", "1.84 m2")]
fn every_factor_is_exact(#[case] weight: &str, #[case] surface: &str) {
    let rows: Vec<Pair> = table("unit_grid");
    let mut checked: BTreeMap<&str, usize> = BTreeMap::new();
    let body = body(weight, surface);
    for row in &rows {
        let strength = strength(match row.kind.as_str() {
            "mass" => "2 mg/mL",
            "act" => "50 units in 50 mL",
            "mol" => "0.4 mmol/mL",
            "eq" => "1 mEq/mL",
            "vol" => "",
            other => panic!("{other} is not a kind: {row:?}"),
        });
        let factor = Ratio::new(row.factor_num, row.factor_den).expect("a published fraction");
        for (from, to) in [(&row.from, &row.to), (&row.from_ucum, &row.to_ucum)] {
            let dose = DoseRate::parse(&format!("1 {from}")).unwrap_or_else(|refused| panic!("{refused}: {row:?}"));
            let unit = DoseRateUnit::parse(to).unwrap_or_else(|refused| panic!("{refused}: {row:?}"));
            let rate = rate_for(dose, body, strength).expect("a rate");
            assert_eq!(dose_at(rate, unit, body, strength), Ok(factor), "1 {from} in {to}: {row:?}");
        }
        assert_eq!(DoseRateUnit::parse(&row.from), DoseRateUnit::parse(&row.from_ucum), "{row:?}");
        *checked.entry(&row.kind).or_default() += 1;
    }
    assert_eq!(rows.len(), 918, "pairs checked");
    assert_eq!(checked, BTreeMap::from([("act", 108), ("eq", 27), ("mass", 432), ("mol", 243), ("vol", 108)]));
}
