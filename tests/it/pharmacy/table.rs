//! Tables of rates: what published tables print, to the cell; marks in words; never taken for a card.

use std::fmt::Write as _;

use countersign::formulary::{Formulary, Phase};
use countersign::infusion::rate::rate_for;
use countersign::pharmacy::table::{NO_CARD, Table, TableRequest, csv, html, table, text};
use countersign::quantity::{BodyMass, DoseRate, Quantity, Ratio};
use rstest::rstest;

use crate::common::run;
use crate::pharmacy::house::House;
use crate::published::{Check, body, exact, strength, table as published};

fn weight(text: &str) -> Quantity<BodyMass> {
    Quantity::parse(text).expect("a weight")
}

fn asked<'a>(drug: &'a str, area: &'a str, weights: &[&str]) -> TableRequest<'a> {
    TableRequest { drug, area, weights: weights.iter().map(|text| weight(text)).collect(), ..TableRequest::default() }
}

fn of(formulary: &Formulary, asked: &TableRequest<'_>) -> Table {
    table(formulary, asked).unwrap_or_else(|no_table| panic!("{no_table} ({})", no_table.help))
}

/// A house with one drug, as a published table has it: its dose unit, its strength, doses from the least to the most. Its hard
/// limit lies far above, since a published table rounds to the nearest there too.
fn published_house(rows: &[&Check], step: &str) -> Option<Formulary> {
    let mut doses: Vec<DoseRate> = rows.iter().map(|row| DoseRate::parse(&row.dose).expect("a dose")).collect();
    doses.sort_by_key(|dose| dose.number().ratio());
    let (from, to) = (doses.first()?, doses.last()?);
    let unit = from.unit();
    let per_kg = if unit.to_string().contains("/kg") { "\n      dosing_weights: [actual]" } else { "" };
    let (number, of) = rows[0].strength.split_once(' ')?;
    let amount_unit = of.strip_suffix("/mL")?;
    let amount: rust_decimal::Decimal = number.parse().ok()?;
    let amount = (amount * rust_decimal::Decimal::ONE_HUNDRED).normalize();
    let mut text = "drug: example drug\nclass: example\nmass_shown_as: mcg\nlife_after_drawing_up: {time: 24 h, source: demonstration value}\nreview: {by: 2099-12-31, justify_from: 2099-12-31}\n".to_owned();
    let _ = writeln!(
        text,
        "strengths:\n  only: {{amount: {amount} {amount_unit}, volume: 100 mL, source: demonstration value}}"
    );
    let _ = writeln!(
        text,
        "areas:\n  adult theatre:\n    example:\n      dose_unit: {unit}{per_kg}\n      strengths: [only]\n      phases:\n        maintenance:"
    );
    for (kind, ends) in [
        ("usual", format!("from: {from}, to: {to}")),
        ("soft", format!("from: {from}, to: {to}")),
        ("hard", format!("to: 100000 {unit}")),
    ] {
        let _ = writeln!(text, "          {kind}: {{{ends}, source: demonstration value}}");
    }
    let house = House::demonstration().only("drugs/noradrenaline.yaml").without("drugs/noradrenaline.yaml");
    let equipment = house.text("equipment.yaml").replacen(
        "{up_to: 99.9 mL/h, step: 0.1 mL/h}\n      - {up_to: 999 mL/h, step: 1 mL/h}",
        &format!("{{up_to: 999 mL/h, step: {step} mL/h}}"),
        1,
    );
    house.with("equipment.yaml", equipment).and("drugs/example-drug.yaml", text).read()
}

// hazard: H-ARITHMETIC
#[test]
fn a_table_prints_what_published_tables_print() {
    let rows: Vec<Check> = published("rate_tables");
    let (mut cells, mut tables) = (0, 0);
    let mut seen: Vec<(String, String, String)> = Vec::new();
    for row in rows.iter().filter(|row| row.check == "rate" && !row.step.is_empty()) {
        let key = (row.drug.clone(), row.strength.clone(), row.cite.clone());
        if seen.contains(&key) {
            continue;
        }
        seen.push(key);
        let unit = |row: &Check| row.dose.split(' ').nth(1).map(str::to_owned);
        let alike: Vec<&Check> = rows
            .iter()
            .filter(|other| {
                other.check == "rate"
                    && (&other.drug, &other.strength, &other.cite, &other.step, unit(other))
                        == (&row.drug, &row.strength, &row.cite, &row.step, unit(row))
            })
            .collect();
        let Some(formulary) = published_house(&alike, &row.step) else { continue };
        tables += 1;
        for one in &alike {
            let weights: &[&str] = if one.weight.is_empty() { &[] } else { &[&one.weight] };
            let found = of(&formulary, &asked("example drug", "adult theatre", weights));
            let dose = DoseRate::parse(&one.dose).expect("a dose").number().ratio();
            let Some(line) = found.rows.iter().find(|line| line.dose.number().ratio() == dose) else { continue };
            let Some(set) = line.cells[0].set else { continue };
            let expected = rate_for(line.dose, body(&one.weight, ""), strength(&one.strength)).expect("a rate");
            let step = exact(&one.step);
            assert_eq!(set, expected.to_nearest(step).expect("small"), "{one}");
            if one.agrees == "yes" {
                assert_eq!(set, exact(&one.printed), "{one}");
                cells += 1;
            }
        }
    }
    assert!(tables >= 3 && cells >= 50, "{cells} cells of {tables} tables");
}

// hazard: H-ARITHMETIC
#[test]
fn every_rate_of_every_table_of_the_demonstration_is_the_nearest_that_the_driver_can_set() {
    let formulary = Formulary::demonstration().expect("it has no fault");
    let (mut rates, mut tables) = (0, 0);
    for drug in formulary.load_all().expect("it has no fault") {
        for indication in &drug.indications {
            for (phase, limits) in &indication.phases {
                let asked = TableRequest {
                    drug: &drug.name,
                    area: &indication.area,
                    indication: Some(&indication.name),
                    phase: Some(*phase),
                    ..TableRequest::default()
                };
                let found = match table(&formulary, &asked) {
                    Ok(found) => found,
                    Err(no_table) => {
                        assert_eq!(no_table.code, "table-by-surface", "{no_table}");
                        continue;
                    }
                };
                tables += 1;
                let at = format!("{} {} {} {phase}", drug.name, indication.area, indication.name);
                assert!((3..=40).contains(&found.rows.len()), "{at}: {} doses", found.rows.len());
                let doses: Vec<Ratio> = found.rows.iter().map(|row| row.dose.number().ratio()).collect();
                assert!(doses.is_sorted(), "{at}");
                let usual =
                    [limits.usual.from, limits.usual.to].map(|end| end.expect("usual has both").number().ratio());
                assert!(usual.iter().all(|end| doses.contains(end)), "{at}: the usual ends are in it");
                for row in &found.rows {
                    let is_usual = (usual[0]..=usual[1]).contains(&row.dose.number().ratio());
                    assert_eq!(row.usual, is_usual, "{at} {}", row.dose);
                    assert_eq!(row.cells.len(), found.columns.len());
                    rates += row.cells.iter().filter(|cell| cell.set.is_some()).count();
                    assert!(row.cells.iter().all(|cell| cell.set.is_some() || cell.mark.is_some()), "{at}");
                }
            }
        }
    }
    assert!(tables > 100 && rates > 3000, "{rates} rates in {tables} tables");
}

#[rstest]
#[case::coarse("0.01 mcg/kg/min", "60 kg", Some("coarse"))]
#[case::usual("0.1 mcg/kg/min", "70 kg", None)]
#[case::high("0.35 mcg/kg/min", "240 kg", Some("high"))]
fn marks_are_words(#[case] dose: &str, #[case] kg: &str, #[case] word: Option<&str>) {
    let formulary = Formulary::demonstration().expect("it has no fault");
    let found = of(&formulary, &asked("noradrenaline", "adult theatre", &[kg]));
    let dose = DoseRate::parse(dose).expect("a dose").number().ratio();
    let row = found.rows.iter().find(|row| row.dose.number().ratio() == dose).expect("a limit is in the table");
    let mark = row.cells[0].mark.map(countersign::pharmacy::table::CellMark::word);
    assert_eq!(mark, word);
    assert_eq!(word.is_some(), found.legend.iter().any(|says| word.is_some_and(|word| says.starts_with(word))));
}

// Titrated to its effect, a dose that the step changes by much is noted by the check, and no reason is asked for.
#[test]
fn a_coarse_rate_asks_what_the_check_asks() {
    let formulary = Formulary::demonstration().expect("it has no fault");
    let found = of(&formulary, &asked("noradrenaline", "adult theatre", &["60 kg"]));
    let coarse = found.legend.iter().find(|says| says.starts_with("coarse")).expect("0.45 mL/h is set as 0.5 mL/h");
    assert!(coarse.ends_with("more than 10 %: to be known"), "{coarse}");
}

// hazard: H-CARD
#[test]
fn no_form_can_be_taken_for_a_card() {
    let formulary = Formulary::demonstration().expect("it has no fault");
    let found = of(&formulary, &asked("noradrenaline", "adult theatre", &["60 kg", "280 kg"]));
    let fingerprint = formulary.fingerprint().to_string();
    for form in [text(&found), csv(&found), html(&found)] {
        assert!(form.contains("NOT FOR PATIENTS") && form.contains(NO_CARD), "{form}");
        let joined: String = form.split_whitespace().collect();
        assert!(joined.contains(&fingerprint), "{form}");
        assert!(form.contains("80 mcg/mL"), "{form}");
    }
    // Beyond a hard limit of the weight, no rate is shown.
    let rates = csv(&found);
    let mut reader = csv::Reader::from_reader(rates.as_bytes());
    let heads = reader.headers().expect("it has a head").clone();
    let at = |name: &str| heads.iter().position(|head| head == name).expect("it has this column");
    for line in reader.records() {
        let line = line.expect("every line has all fields");
        assert_eq!(&line[at("for weight")] == "280 kg", line[at("rate mL/h")].is_empty(), "{line:?}");
    }
}

#[test]
fn a_strength_made_for_the_weight_is_shown_for_each() {
    let formulary = Formulary::demonstration().expect("it has no fault");
    let asked = TableRequest {
        strength: Some("per kg"),
        phase: Some(Phase::Maintenance),
        ..asked("noradrenaline", "paediatric theatre", &["3 kg", "4 kg"])
    };
    let found = of(&formulary, &asked);
    let strengths: Vec<&str> = found.columns.iter().filter_map(|column| column.strength.as_deref()).collect();
    assert_eq!(strengths, ["18 mcg/mL", "24 mcg/mL"]);
    // The newborn rule: the rate is the same for every weight.
    for row in &found.rows {
        assert_eq!(row.cells[0].set, row.cells[1].set, "{}", row.dose);
    }
}

#[test]
fn a_table_as_text() {
    let said = run([
        "formulary",
        "table",
        "noradrenaline",
        "--area",
        "adult theatre",
        "--weight",
        "50 kg",
        "--weight",
        "70 kg",
        "--weight",
        "160 kg",
        "--formulary",
        "demonstration",
    ])
    .said();
    assert_eq!((said.code, said.stderr.as_str()), (0, ""));
    assert!(said.stdout.lines().all(|line| line.chars().count() <= 100), "{}", said.stdout);
    insta::with_settings!({filters => vec![(r"fingerprint\s+[0-9a-f]{64}", "fingerprint [of the demonstration]")]}, {
        insta::assert_snapshot!(said.stdout);
    });
}

#[rstest]
#[case(&["noradrenalin", "--area", "adult theatre"], "perhaps noradrenaline")]
#[case(&["noradrenaline", "--area", "roof"], "write one of: adult theatre")]
#[case(&["noradrenaline", "--area", "obstetrics"], "it has limits in")]
#[case(&["noradrenaline", "--area", "adult theatre", "--strength", "weak"], "write --strength with one of: single, double")]
#[case(&["noradrenaline", "--area", "adult theatre", "--driver", "none"], "write one of: bench")]
#[case(&["noradrenaline", "--area", "adult theatre", "--weight", "150 lb"], "kg")]
#[case(&["noradrenaline", "--area", "adult theatre", "--phase", "load"], "write --phase with one of")]
fn what_is_not_known_is_refused(#[case] words: &[&str], #[case] help: &str) {
    let said = run(["formulary", "table", "--formulary", "demonstration"].iter().chain(words)).said();
    let shown = said.is_refused().split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(shown.contains(help), "{shown}");
}

/// One way of writing a strength: the label, the card, the table and the book.
#[test]
fn a_strength_below_one_milligram_is_written_in_micrograms() {
    let words = ["formulary", "table", "noradrenaline", "--area", "adult theatre", "--formulary", "demonstration"];
    let said = run(words).said();
    assert!(said.code == 0 && said.stdout.contains("80 mcg/mL") && !said.stdout.contains("0.08 mg/mL"), "{said:?}");
    let said = run(["formulary", "book", "--formulary", "demonstration"]).said();
    assert!(said.stdout.contains("80 mcg/mL") && !said.stdout.contains(">0.08 mg/mL"), "{}", said.stderr);
}
