//! Recipes: what a volume per hour gives when a syringe is made up by weight, and the strength after `made up to` and
//! after `added to`, which differ wherever a label does not count the volume that is added.

use std::collections::BTreeSet;

use crate::published::{body, exact, strength, strength_in, table};
use countersign::infusion::preparation::{Ampoule, BroughtTo, Prepared, Wanted};
use countersign::infusion::rate::{Body, dose_at, rate_for, volume_of};
use countersign::quantity::{Amount, BolusDose, DoseRate, DoseRateUnit, Quantity, Ratio, Strength, Volume, plain};
use rstest::rstest;
use serde::Deserialize;

#[derive(Debug, Deserialize)]
struct Recipe {
    id: String,
    amount: String,
    amount_per: String,
    volume: String,
    flow: String,
    flow_per: String,
    unit: String,
    delivers: String,
    #[expect(dead_code, reason = "shown with a failure")]
    cite: String,
}

#[test]
fn every_paediatric_recipe_delivers_what_is_printed() {
    let rows: Vec<Recipe> = table("paediatric_formulas");
    for row in &rows {
        for weight in ["0.78", "3.5", "12.25", "30"] {
            let body = body(&format!("{weight} kg"), "");
            let (number, unit) = row.amount.split_once(' ').expect("an amount has a unit");
            let strength = made_up(&by(number, &row.amount_per, weight), unit, &row.volume);
            let rate = exact(&by(&row.flow, &row.flow_per, weight));
            let unit = DoseRateUnit::parse(&row.unit).expect("a unit");
            assert_eq!(dose_at(rate, unit, body, Some(strength)), Ok(exact(&row.delivers)), "{weight} kg: {row:?}");
            let dose = DoseRate::parse(&format!("{} {}", row.delivers, row.unit)).expect("a dose");
            assert_eq!(rate_for(dose, body, Some(strength)), Ok(rate), "{weight} kg: {row:?}");
        }
    }
    assert_eq!(rows.len(), 16, "figures checked");
    assert_eq!(rows.iter().map(|row| &row.id).collect::<BTreeSet<_>>().len(), 13, "recipes checked");
}

// Starship newborn drug guideline, noradrenaline (mcg, nanogram/kg/min) and dopamine (mg, mcg/kg/min): in 50 mL
// 3 x kg x dose / rate.
#[rstest]
fn the_general_formula_holds_at_every_rate(
    #[values(("mcg", "nanogram/kg/min"), ("mg", "mcg/kg/min"))] units: (&str, &str),
    #[values("5", "50", "0.4", "7.5")] dose: &str,
    #[values("0.5", "1", "2.5")] rate: &str,
    #[values("0.78", "3.5", "12")] weight: &str,
) {
    let amount = [dose, weight, "3"].into_iter().try_fold(Ratio::ONE, |product, part| product.times(exact(part)));
    let amount = amount.and_then(|product| product.over(exact(rate))).expect("small");
    let unit = DoseRateUnit::parse(units.1).expect("a unit");
    let found =
        dose_at(exact(rate), unit, body(&format!("{weight} kg"), ""), Some(made_up(&shown(amount), units.0, "50 mL")));
    assert_eq!(found, Ok(exact(dose)), "Starship newborn drug guideline");
}

// BNF for Children 2011-2012, Appendix 4, p. 793: glyceryl trinitrate 3 mg/kg in 50 mL, at most 400 mcg/mL. It binds
// from 6.67 kg on.
#[rstest]
#[case("6.66", true)]
#[case("6.67", false)]
fn the_highest_concentration_binds_from_a_weight_on(#[case] weight: &str, #[case] within: bool) {
    let made = made_up(&by("3", "kg", weight), "mg", "50 mL");
    assert_eq!(strength_in(made, "mcg/mL") <= Ratio::whole(400), within, "BNF for Children, p. 793");
}

// Neonatal Medication Guideline DOBUTamine (KEMH/PCH/NETS WA): 0.78 kg at 30 mg/kg is 23.4 mg of 12.5 mg/mL; it prints
// about 1.8 mL where 1.872 rounds to 1.9.
#[test]
fn a_volume_that_the_source_rounds_down() {
    let bolus = BolusDose::parse("30 mg/kg").expect("a dose");
    let found = volume_of(bolus, body("0.78 kg", ""), strength("12.5 mg/mL")).expect("a volume");
    assert_eq!(found, exact("1.872"));
    assert_eq!(found.to_nearest(exact("0.1")), Ok(exact("1.9")));
}

#[derive(Debug, Deserialize)]
struct Preparation {
    id: String,
    drug: String,
    amount: String,
    stock: String,
    drawn: String,
    diluent: String,
    r#final: String,
    unit: String,
    printed: String,
    exact_added: String,
    agrees: String,
    cite: String,
}

#[test]
fn every_preparation_has_its_strength_made_up_and_added() {
    let rows: Vec<Preparation> = table("preparation_checks");
    let (mut drawn, mut made, mut added) = (0, 0, 0);
    for row in &rows {
        let label = format!("{} {} ({})", row.id, row.drug, row.cite);
        if !row.stock.is_empty() {
            let bolus = BolusDose::parse(&row.amount).expect("an amount");
            let found = volume_of(bolus, Body::default(), strength(&row.stock));
            assert_eq!(found, Ok(exact(&row.drawn)), "drawn up: {label}");
            drawn += 1;
        }
        if row.printed.is_empty() {
            continue;
        }
        let of = |volume: &str| strength_in(in_volume(&row.amount, volume), &row.unit);
        assert_eq!(of(&row.r#final), exact(&row.printed), "made up to: {label}");
        made += 1;
        if row.diluent.is_empty() {
            continue;
        }
        let whole = exact(&row.drawn).plus(exact(&row.diluent)).expect("small");
        let counted = of(&shown(whole));
        assert_eq!(counted, exact(&row.exact_added), "added to: {label}");
        // The same by the preparation itself: what is drawn up, brought to the final volume, and added to the diluent.
        let amount = Quantity::<Amount>::parse_dose(&row.amount).expect("an amount");
        let ampoule = Ampoule { amount, volume: Quantity::parse(&format!("{} mL", row.drawn)).expect("a volume") };
        let one = Wanted::Amount(amount.kind(), amount.value());
        let prepared = |to| Prepared::of(ampoule, one, to).expect("it can be made");
        let strength = |made: Prepared| {
            Strength::of(amount, Quantity::parse(&format!("{} mL", shown(made.volume))).expect("a volume"))
        };
        let (up_to, to) =
            (prepared(BroughtTo::MadeUpTo(exact(&row.r#final))), prepared(BroughtTo::AddedTo(exact(&row.diluent))));
        assert_eq!(strength_in(strength(up_to), &row.unit), exact(&row.printed), "prepared, made up to: {label}");
        assert_eq!(strength_in(strength(to), &row.unit), counted, "prepared, added to: {label}");
        assert_eq!(up_to.concentration().expect("small").per_ml, strength(up_to).concentration().per_ml, "{label}");
        assert_eq!(counted == exact(&row.printed), row.agrees == "yes", "the label counts the added volume: {label}");
        added += 1;
    }
    assert_eq!((rows.len(), drawn, made, added), (24, 15, 19, 10), "figures checked");
    assert_eq!(rows.iter().map(|row| &row.id).collect::<BTreeSet<_>>().len(), 17, "preparations checked");
}

// Prescribing information, labetalol: 1 mg/mL at 2 mL/min is 2 mg/min.
#[test]
fn a_rate_per_minute() {
    let flow = countersign::quantity::FlowRate::parse("2 mL/min").expect("a rate").value();
    let unit = DoseRateUnit::parse("mg/min").expect("a unit");
    let made = Some(in_volume("200 mg", "200"));
    assert_eq!(dose_at(flow, unit, Body::default(), made), Ok(Ratio::whole(2)), "prescribing information, labetalol");
}

// Prescribing information, milrinone, loading-dose table: 50 mcg/kg of 1 mg/mL.
#[rstest]
#[case("30 kg", "1.5")]
#[case("50 kg", "2.5")]
#[case("70 kg", "3.5")]
#[case("90 kg", "4.5")]
#[case("110 kg", "5.5")]
fn a_load_by_weight(#[case] weight: &str, #[case] printed: &str) {
    let bolus = BolusDose::parse("50 mcg/kg").expect("a dose");
    assert_eq!(volume_of(bolus, body(weight, ""), strength("1 mg/mL")), Ok(exact(printed)), "milrinone, {weight}");
}

// A web note on dexmedetomidine writes "1 mcg/cc".
#[test]
fn a_printed_unit_that_is_misread_is_refused() {
    let refused = Strength::parse("1 mcg/cc").expect_err("refused");
    assert_eq!((refused.problem.code(), &*refused.help), ("unit-misread", "write mL"));
}

/// A number per kg or per patient, for one weight in kg.
fn by(number: &str, per: &str, weight: &str) -> String {
    match per {
        "kg" => shown(exact(number).times(exact(weight)).expect("small")),
        "patient" => number.to_owned(),
        other => panic!("{other} is neither kg nor patient"),
    }
}

/// As a person would type it; only where that is exact.
fn shown(value: Ratio) -> String {
    let text = plain(value);
    assert_eq!(exact(&text), value, "{text} is exact");
    text
}

fn made_up(number: &str, unit: &str, volume: &str) -> Strength {
    Strength::parse(&format!("{number} {unit} in {volume}")).unwrap_or_else(|refused| panic!("{number}: {refused}"))
}

/// Through the parts of a strength rather than through its text.
fn in_volume(amount: &str, millilitres: &str) -> Strength {
    let amount = Quantity::parse_dose(amount).expect("an amount");
    Strength::of(amount, Quantity::<Volume>::parse(&format!("{millilitres} mL")).expect("a volume"))
}
