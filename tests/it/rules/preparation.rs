//! What the ampoules give, and whether it was made as the recipe says.

use insta::assert_snapshot;
use rstest::rstest;

use crate::rules::Case;
use crate::common::set_up::{SetUp, clean};

fn made(from: &str) -> SetUp {
    clean().with("made_from", from)
}

// hazard: H-STRENGTH
pub(crate) fn cases() -> Vec<Case> {
    vec![
        Case {
            code: "preparation-amount-differs",
            fires: made("{ampoules: 5, of: 1 mg in 1 mL, diluent: glucose 5 %, how: made up to}"),
            says: |found| {
                assert_snapshot!(found, @"
            stop, impossible: made_from.ampoules
            5 x 1 mg is 5 mg, and the label says 4 mg
            do: count the ampoules and read their strength again
            ")
            },
            silent: made("{ampoules: 2, of: 2 mg in 2 mL, diluent: glucose 5 %, how: made up to}"),
        },
        Case {
            code: "preparation-volume-differs",
            fires: clean().labelled("4 mg", "3.9 mL", "1.02564 mg/mL").with("fill", "3.9 mL"),
            says: |found| {
                assert_snapshot!(found, @"
            stop, impossible: label.volume
            4 mL of drug cannot be made up to 3.9 mL
            do: read the ampoules and the label again
            ")
            },
            silent: clean().labelled("4 mg", "4 mL", "1 mg/mL").with("fill", "4 mL"),
        },
        Case {
            code: "preparation-not-as-recipe",
            fires: made("{ampoules: 4, of: 1 mg in 1 mL, diluent: glucose 5 %, how: added to}"),
            says: |found| {
                assert_snapshot!(found, @"
                justify: made_from.how
                it was added to the diluent, and the recipe for 4 mg in 50 mL says another way: the strength is another one
                do: make it up as the recipe says, or write the reason
                from: drugs/noradrenaline.yaml line 38 (Intensive Care Society and Faculty of Intensive Care Medicine, Medication Concentrations in Adult Critical Care Areas, V2.2, 2016)
                ")
            },
            silent: made("{ampoules: 4, of: 1 mg in 1 mL, diluent: Glucose 5%, how: made up to}"),
        },
        Case {
            code: "volume-too-small-to-draw-up",
            fires: made("{ampoules: 0.19, of: 1 mg in 1 mL, diluent: glucose 5 %, how: made up to}").labelled(
                "0.19 mg",
                "50 mL",
                "3.8 mcg/mL",
            ),
            says: |found| {
                assert_snapshot!(found, @"
            justify: made_from.ampoules
            0.19 mL is drawn up, and less than 0.2 mL cannot be measured
            do: dilute in two steps, or write the reason
            from: formulary.yaml line 7 (local policy)
            ")
            },
            silent: made("{ampoules: 0.2, of: 1 mg in 1 mL, diluent: glucose 5 %, how: made up to}")
                .labelled("0.2 mg", "50 mL", "4 mcg/mL"),
        },
    ]
}

#[test]
fn each_says_what_to_do() {
    crate::rules::say(cases());
}

// Four ampoules of 1 mg in 1 mL: "added to" needs room for a diluent, "made up to" does not, "undiluted" has none.
// hazard: H-STRENGTH
#[rstest]
#[case("made up to", "4 mL", "1 mg/mL", false)]
#[case("added to", "4 mL", "1 mg/mL", true)]
#[case("added to", "5 mL", "0.8 mg/mL", false)]
#[case("undiluted", "4 mL", "1 mg/mL", false)]
#[case("undiluted", "5 mL", "0.8 mg/mL", true)]
fn the_three_ways_differ(#[case] how: &str, #[case] volume: &str, #[case] strength: &str, #[case] differs: bool) {
    let diluent = if how == "undiluted" { "" } else { "diluent: glucose 5 %, " };
    let set_up = made(&format!("{{ampoules: 4, of: 1 mg in 1 mL, {diluent}how: {how}}}"));
    let codes = set_up.labelled("4 mg", volume, strength).with("fill", volume).codes();
    assert_eq!(codes.contains(&"preparation-volume-differs"), differs, "{codes:?}");
}

// hazard: H-STRENGTH
#[rstest]
#[case::another_way("{ampoules: 4, of: 1 mg in 1 mL, diluent: glucose 5 %, how: added to}", Some("made_from.how"))]
#[case::another_diluent(
    "{ampoules: 4, of: 1 mg in 1 mL, diluent: sodium chloride 0.9 %, how: made up to}",
    Some("made_from.diluent")
)]
#[case::another_ampoule("{ampoules: 1, of: 4 mg in 2 mL, diluent: glucose 5 %, how: made up to}", Some("made_from.of"))]
#[case::a_larger_ampoule("{ampoules: 1, of: 4 mg in 4 mL, diluent: glucose 5 %, how: made up to}", None)]
#[case::a_part_of_one("{ampoules: 0.5, of: 8000 mcg in 8 mL, diluent: GLUCOSE 5 %, how: made up to}", None)]
fn what_departs_from_the_recipe_is_named(#[case] from: &str, #[case] field: Option<&str>) {
    let found = made(from).found("preparation-not-as-recipe");
    assert_eq!(found.lines().next(), field.map(|field| format!("justify: {field}")).as_deref());
}

// A mass from units, or ten ampoules for one: the ampoules in the bin are counted.
#[rstest]
#[case("{ampoules: 4, of: 1 unit in 1 mL, diluent: glucose 5 %, how: made up to}")]
#[case("{ampoules: 4, of: 10 mg in 1 mL, diluent: glucose 5 %, how: made up to}")]
#[case("{ampoules: 4, of: 1 mcg in 1 mL, diluent: glucose 5 %, how: made up to}")]
#[case("{ampoules: 3.9, of: 1 mg in 1 mL, diluent: glucose 5 %, how: made up to}")]
fn another_amount_is_stopped(#[case] from: &str) {
    let found = made(from).found("preparation-amount-differs");
    assert!(found.starts_with("stop, impossible: made_from.ampoules\n"), "{found}");
}
