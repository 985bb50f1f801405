//! Where a syringe hangs: said at the start or afterwards, read on a round, and what shares the lumen of a vasoactive drug.

use serde_json::Value;

use super::{IDOWU, OKORO, TAMM, Theatre, by_rate, refused, without_patient};
use crate::common::Said;
use crate::common::house::House;

fn record(theatre: &Theatre, clock: &str, words: &[&str]) -> Said {
    theatre.says(clock, &[IDOWU.1], &[&["record"], words, &["--as", IDOWU.0]].concat())
}

fn status(theatre: &Theatre, clock: &str, code: &str) -> Value {
    theatre.data(clock, &[], &["case", "status", code])
}

fn owes(theatre: &Theatre, clock: &str, code: &str) -> Vec<String> {
    let rows = status(theatre, clock, code)["set_ups"].as_array().expect("a list").clone();
    let owed = rows.iter().flat_map(|row| row["owed"].as_array().expect("a list").clone());
    owed.map(|one| one["code"].as_str().expect("a code").to_owned()).collect()
}

fn round(theatre: &Theatre, clock: &str, code: &str, drivers: &[&str]) -> Said {
    let drivers: Vec<&str> = drivers.iter().flat_map(|driver| ["--driver", driver]).collect();
    theatre.says(clock, &[TAMM.1], &[&["case", "round", code, "--as", TAMM.0][..], &drivers].concat())
}

/// Noradrenaline and insulin of one patient, agreed on and not started.
fn two(theatre: &Theatre) -> (String, String, String) {
    let code = theatre.agreed();
    let (first, second) = (format!("{code}/1"), format!("{code}/2"));
    let form = without_patient(&by_rate());
    assert_eq!(theatre.enters("07:50", TAMM, "enter", &code, &form).code, 0);
    let said = theatre.enters("07:52", OKORO, "second", &second, &form);
    assert_eq!(said.code, 0, "{said:?}");
    (code, first, second)
}

fn house(port: &str, shares: &str) -> House {
    let to = format!("where_it_hangs: {{port: {port}, vasoactive_shares: {shares}}}");
    House::new().change("formulary.yaml", "where_it_hangs: {port: may be said, vasoactive_shares: reason}", &to)
}

// hazard: H-LUMEN
#[test]
fn another_drug_in_the_lumen_of_a_vasoactive_one_owes_a_reason() {
    let theatre = Theatre::new("lumen");
    let (code, first, second) = two(&theatre);
    let said = record(&theatre, "08:00", &["start", &first, "--port", "Distal", "--slot", "1"]);
    assert!(said.code == 0 && !said.stdout.contains("alone in its lumen"), "{said:?}");
    let shown = status(&theatre, "08:01", &code);
    let hangs: Vec<&Value> =
        shown["board"]["drivers"].as_array().expect("a list").iter().map(|one| &one["hangs"]).collect();
    assert!(hangs.contains(&&Value::from("slot 1, port Distal")) && hangs.contains(&&Value::Null), "{shown}");
    let said = record(&theatre, "08:02", &["start", &second, "--port", " distal "]);
    let text = said.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.code == 0 && text.contains("port distal is shared with noradrenaline"), "{said:?}");
    assert!(owes(&theatre, "08:03", &code).contains(&"reason".to_owned()));
    // On a lumen of its own nothing is asked.
    let said = record(&theatre, "08:04", &["hang", &second, "--port", "proximal"]);
    assert!(said.code == 0 && !said.stdout.contains("lumen-shared"), "{said:?}");
    // The other way about, the vasoactive one is moved to it.
    let said =
        record(&theatre, "08:05", &["hang", &first, "--port", "proximal", "--reason", "the distal lumen is blocked"]);
    assert!(said.code == 0 && said.stdout.contains("is shared with insulin"), "{said:?}");
    // What is not connected shares nothing, and neither a port nor a slot is nothing at all.
    let said = record(&theatre, "08:06", &["hang", &first, "--port", "Not hung"]);
    assert!(said.code == 0 && !said.stdout.contains("shared"), "{said:?}");
    refused(&record(&theatre, "08:06", &["hang", &first]), "field-missing");
    assert_eq!(record(&theatre, "08:06", &["pause", &first, "--port", "distal"]).code, 2);
    theatre.is_whole();
}

// hazard: H-LUMEN
#[test]
fn a_bolus_through_the_lumen_of_a_vasoactive_drug_owes_a_reason() {
    let theatre = Theatre::new("lumen-bolus");
    let (_, first, second) = two(&theatre);
    assert_eq!(record(&theatre, "08:00", &["start", &first, "--port", "distal"]).code, 0);
    assert_eq!(record(&theatre, "08:01", &["start", &second, "--port", "proximal"]).code, 0);
    let apart = record(&theatre, "08:02", &["bolus", &second, "1 mL", "--even-so", "--reason", "as ordered"]);
    assert!(apart.code == 0 && !apart.stdout.contains("out of the same lumen"), "{apart:?}");
    assert_eq!(record(&theatre, "08:03", &["hang", &second, "--port", "distal", "--reason", "no other lumen"]).code, 0);
    let pushed = record(&theatre, "08:04", &["bolus", &second, "1 mL", "--even-so", "--reason", "as ordered"]);
    let text = pushed.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(pushed.code == 0 && text.contains("the bolus pushes noradrenaline"), "{pushed:?}");
    theatre.is_whole();
}

// hazard: H-LUMEN
#[test]
fn a_flush_and_a_carrier_in_the_lumen_of_a_vasoactive_drug_owe_a_reason() {
    let theatre = Theatre::new("lumen-carrier");
    let (code, first, second) = two(&theatre);
    let fluid = |clock: &str| status(&theatre, clock, &code)["board"]["fluid"].clone();
    assert_eq!(record(&theatre, "08:00", &["start", &first, "--port", "distal"]).code, 0);
    assert_eq!(record(&theatre, "08:01", &["start", &second, "--port", "proximal", "--carrier", "10 mL/h"]).code, 0);
    assert!(!owes(&theatre, "08:02", &code).contains(&"reason".to_owned()));
    // 5.1, 2.5 and 10 mL/h make 17.6; 17.6 x 24 / 84.2 is about 5.017 mL/kg/day.
    assert_eq!(fluid("08:02"), "17.6 mL/h, ≈ 5.017 mL/kg/day, carriers 10 mL/h of it");
    let aside = record(&theatre, "08:03", &["flush", &second, "5 mL"]);
    assert!(aside.code == 0 && !aside.stdout.contains("pushes"), "{aside:?}");
    let said = record(&theatre, "08:04", &["flush", &first, "5 mL", "--reason", "the line was occluded"]);
    assert!(said.code == 0 && said.stdout.contains("the flush pushes noradrenaline"), "{said:?}");
    assert_eq!(record(&theatre, "08:04", &["flush", &first, "five"]).code, 2);
    let said = record(&theatre, "08:05", &["hang", &first, "--carrier", "5 mL/h", "--reason", "to keep it open"]);
    assert!(said.code == 0 && said.stdout.contains("shared with a carrier at 5 mL/h"), "{said:?}");
    assert_eq!(fluid("08:06"), "22.6 mL/h, ≈ 6.442 mL/kg/day, carriers 15 mL/h of it");
    assert_eq!(record(&theatre, "08:07", &["hang", &first, "--carrier", "0 mL/h"]).code, 0);
    assert_eq!(fluid("08:08"), "17.6 mL/h, ≈ 5.017 mL/kg/day, carriers 10 mL/h of it");
    theatre.is_whole();
}

// hazard: H-LUMEN
#[test]
fn a_house_may_stop_the_start_and_ask_for_every_port() {
    let house = house("asked", "stop");
    let theatre = Theatre::new("lumen-stop").with_formulary(house.folder());
    let (code, first, second) = two(&theatre);
    refused(&record(&theatre, "08:00", &["start", &first]), "port-not-said");
    assert_eq!(record(&theatre, "08:00", &["start", &first, "--port", "not hung yet"]).code, 0);
    assert!(owes(&theatre, "08:01", &code).contains(&"port".to_owned()));
    assert_eq!(record(&theatre, "08:02", &["hang", &first, "--port", "distal"]).code, 0);
    assert!(!owes(&theatre, "08:03", &code).contains(&"port".to_owned()));
    let before = theatre.events();
    let said = record(&theatre, "08:04", &["start", &second, "--port", "distal"]);
    assert!(refused(&said, "not-as-agreed").contains("alone in its lumen"), "{said:?}");
    assert_eq!(theatre.events(), before);
    // What has happened is recorded, and marked.
    let said =
        record(&theatre, "08:05", &["start", &second, "--port", "distal", "--even-so", "--reason", "no lumen free"]);
    assert!(said.code == 0 && said.stdout.contains("is shared with"), "{said:?}");
    let unread = ["noradrenaline, 80 mcg/mL, 5.1 mL/h, distal", "insulin, 1 unit/mL, 2.5 mL/h"];
    refused(&round(&theatre, "08:10", &code, &unread), "port-not-said");
    theatre.is_whole();
}

// hazard: H-LUMEN
#[test]
fn a_round_names_another_port_and_a_lumen_that_is_shared_since() {
    let theatre = Theatre::new("lumen-round");
    let (code, first, second) = two(&theatre);
    assert_eq!(record(&theatre, "08:00", &["start", &first, "--port", "distal"]).code, 0);
    assert_eq!(record(&theatre, "08:01", &["start", &second, "--port", "proximal"]).code, 0);
    let as_recorded = ["noradrenaline, 80 mcg/mL, 5.1 mL/h, distal", "insulin, 1 unit/mL, 2.5 mL/h, Proximal"];
    let said = round(&theatre, "08:10", &code, &as_recorded);
    assert!(said.code == 0 && said.stdout.contains("Every driver is as the record says"), "{said:?}");
    let swapped = ["noradrenaline, 80 mcg/mL, 5.1 mL/h, proximal", "insulin, 1 unit/mL, 2.5 mL/h, distal"];
    let said = round(&theatre, "08:20", &code, &swapped);
    assert!(said.code == 5 && said.stdout.contains("SWAPPED"), "{said:?}");
    let shared = ["noradrenaline, 80 mcg/mL, 5.1 mL/h, proximal", "insulin, 1 unit/mL, 2.5 mL/h, proximal"];
    let said = round(&theatre, "08:30", &code, &shared);
    let text = said.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.code == 5 && text.contains("SHARE PORT proximal"), "{said:?}");
    assert!(owes(&theatre, "08:31", &code).contains(&"round-differs".to_owned()));
    // Read once more as it hangs, it was named already.
    assert_eq!(round(&theatre, "08:40", &code, &shared).code, 0);
    let off = ["noradrenaline, 80 mcg/mL, 5.1 mL/h, not hung yet", "insulin, 1 unit/mL, 2.5 mL/h, proximal"];
    assert!(round(&theatre, "08:50", &code, &off).stdout.contains("NOT HUNG"));
    theatre.is_whole();
}
