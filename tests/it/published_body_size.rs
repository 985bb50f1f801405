//! Dosing weights and body surfaces with printed values. James's lean body mass, printed for the same twelve subjects,
//! is left out: that formula is not offered, because it falls again in the very heavy.

use crate::published::{exact, table};
use countersign::formulary::{DosingWeight, SurfaceFormula};
use countersign::infusion::body_size::{Sex, Size, body_surface, dosing_weight};
use countersign::quantity::{Length, Quantity, Ratio};
use serde::Deserialize;

#[derive(Debug, Deserialize)]
struct Formula {
    name: String,
    word: String,
    sex: String,
    height_cm: String,
    weight_kg: String,
    printed: String,
    step: String,
    cite: String,
}

#[test]
fn every_formula_gives_its_published_value_or_is_not_offered() {
    let rows: Vec<Formula> = table("bodysize_formulas");
    let (mut worked, mut not_offered) = (0, 0);
    for row in &rows {
        let (weight, surface) = (DosingWeight::written(&row.word), SurfaceFormula::written(&row.word));
        if row.printed.is_empty() {
            assert_eq!((weight, surface), (None, None), "{row:?}");
            not_offered += 1;
            continue;
        }
        let size = size(&row.weight_kg, &row.height_cm, &row.sex);
        let found = match (weight, surface) {
            (Some(which), None) => dosing_weight(which, size).expect("an adult"),
            (None, Some(formula)) => body_surface(formula, size).expect("a height"),
            _ => panic!("{} is not a formula: {row:?}", row.word),
        };
        assert_eq!(Ok(found.value), exact(&row.printed).to_nearest(exact(&row.step)), "{} ({})", row.name, row.cite);
        assert!(!found.capped, "{row:?}");
        worked += 1;
    }
    assert_eq!((worked, not_offered), (7, 7), "rows checked");
    // Nothing is offered without a row above; the actual weight needs none.
    let offered = DosingWeight::WORDS.iter().chain(SurfaceFormula::WORDS).filter(|word| **word != "actual");
    for word in offered {
        assert!(rows.iter().any(|row| row.word == *word), "{word} has a published value");
    }
}

#[derive(Debug, Deserialize)]
struct Subject {
    subject: u32,
    sex: String,
    height_cm: String,
    weight_kg: String,
    du_bois_m2: String,
}

// Minto et al., Anesthesiology 1997;86:10-23, as printed to four decimals in a published data set. Ours is rounded once,
// to 0.01 m2; no printed value lies near a half.
#[test]
fn du_bois_agrees_for_twelve_subjects() {
    let rows: Vec<Subject> = table("bodysize_minto1997");
    for row in &rows {
        let found = body_surface(SurfaceFormula::DuBois, size(&row.weight_kg, &row.height_cm, &row.sex));
        let found = found.expect("a height").value;
        let printed = exact(&row.du_bois_m2);
        assert_eq!(Ok(found), printed.to_nearest(exact("0.01")), "subject {} of Minto 1997", row.subject);
        assert!(printed.apart(found).expect("small") < exact("0.005"), "subject {} of Minto 1997", row.subject);
    }
    assert_eq!(rows.len(), 12, "subjects checked");
}

// PMC4411565, Table 3, gives Mosteller in inches and pounds too, with a rounded constant: inches are not taken.
#[test]
fn inches_are_refused() {
    let refused = Quantity::<Length>::parse("67 in").expect_err("refused");
    assert_eq!(refused.problem.code(), "unit-unknown");
}

fn size(weight: &str, height: &str, sex: &str) -> Size {
    let sex = match sex {
        "male" => Sex::Male,
        "female" => Sex::Female,
        other => panic!("{other} is no sex that a formula knows"),
    };
    let height: Ratio = exact(height);
    Size { weight: exact(weight), height: Some(height), sex: Some(sex), adult: Some(true) }
}
