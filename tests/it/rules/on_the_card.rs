//! What a rule looks at, as it stands on the card.

use countersign::agreement::{Outcome, agree};
use countersign::card::{Card, Provenance};
use rstest::rstest;

use crate::common::house::House;
use crate::common::set_up::{NOW, SetUp, clean, moment};

// A bolus that is a volume holds itself: 0.05 mL/kg for 84.2 kg are 4.21 mL, whatever is in them.
// hazard: H-CARD
#[test]
fn a_bolus_by_volume_is_no_other_amount_on_the_card() {
    let limits = "dose_unit: mcg/kg\n        usual: {from: 500 mcg/kg, to: 500 mcg/kg, source: label}\n        soft: {from: 250 mcg/kg, to: 500 mcg/kg, source: demonstration value}\n        hard: {to: 1000 mcg/kg, source: demonstration value}";
    let by_volume = "dose_unit: mL/kg\n        soft: {to: 0.05 mL/kg, source: demonstration value}\n        hard: {to: 0.1 mL/kg, source: demonstration value}";
    let house = House::new().change("drugs/esmolol.yaml", limits, by_volume).leak();
    let first = clean()
        .against(house)
        .with("drug", "esmolol")
        .with("indication", "heart rate control")
        .with("dose", "50 mcg/kg/min")
        .bought_in("500 mg", "50 mL", "10 mg/mL")
        .with("planned_for", "1 h")
        .with("bolus", "{dose: 0.05 mL/kg, over: 1 min}");
    let second = first.clone().with("entered_by", "{name: M. Tamm, role: nurse}");
    let Ok(Outcome::Agreed(agreed)) = agree(first.checked(), second.checked()) else { panic!("they say the same") };
    let card = Card::of(&agreed, moment(NOW), &Provenance::Files).json();
    assert_eq!(card["bolus"]["amount"], "4.21 mL");
    assert_eq!(card["bolus"]["volume"], "4.21 mL");
}

// hazard: H-CARD
#[test]
fn the_card_of_an_old_entry_says_so_before_anything_else() {
    let card = |now: &str| {
        let first = clean().at(now);
        let second = first.clone().with("entered_by", "{name: M. Tamm, role: nurse}");
        let Ok(Outcome::Agreed(agreed)) = agree(first.checked(), second.checked()) else { panic!("they say the same") };
        Card::of(&agreed, moment(now), &Provenance::Files)
    };
    let old = card("2026-03-14T19:40:01+00:00");
    assert_eq!(old.text().lines().nth(1), Some("OLD ENTRIES: NOTHING IS STARTED FROM THIS CARD"));
    assert!(
        old.json()["notice"]
            .as_str()
            .is_some_and(|notice| notice.contains("DEMONSTRATION") && notice.contains("OLD ENTRIES"))
    );
    assert!(!card("2026-03-14T19:40:00+00:00").text().contains("OLD ENTRIES"));
}

const REASON: &str = "{strength-not-stocked: made up for this patient}";

pub(crate) fn card_of(first: &SetUp) -> Card {
    let asked = first.codes().contains(&"strength-not-stocked");
    let first = if asked { first.clone().with("reasons", REASON) } else { first.clone() };
    let second = first.clone().with("entered_by", "{name: M. Tamm, role: nurse}");
    let Ok(Outcome::Agreed(agreed)) = agree(first.checked(), second.checked()) else { panic!("they say the same") };
    Card::of(&agreed, moment(NOW), &Provenance::Files)
}

// 84.2 kg x 60 / 80 mcg/mL: 63.15 mL/h for each mcg/kg/min.
// hazard: H-CARD
#[test]
fn the_ends_of_a_range_stand_apart_each_behind_its_dose() {
    let ranged = clean().with("titrate", "{from: 0.02 mcg/kg/min, to: 0.3 mcg/kg/min}");
    let card = card_of(&ranged);
    let data = card.json();
    assert_eq!(data["rate"]["value"], "5.1");
    assert_eq!(rungs(&data), [("0.02", "1.3", false), ("0.08", "5.1", true), ("0.3", "18.9", false)]);
    assert_eq!(
        (&data["ladder"]["counted_by"], &data["ladder"]["dose_unit"]),
        (&"84.2 kg".into(), &"mcg/kg/min".into())
    );
    let text = card.text();
    // The rate in its frame, and the head of the table.
    assert_eq!(text.matches("mL/h").count(), 2, "{text}");
    let (rate, others) =
        (text.find("5.1 mL/h").expect("the rate"), text.find("NOT the rate to start at").expect("a table"));
    assert!(rate < others, "{text}");
    assert_eq!(text.lines().filter(|line| line.starts_with(' ') && line.contains("mL/h")).count(), 1, "{text}");
    assert!(text.contains(">5.1<"), "{text}");
    let at_its_end = card_of(&clean().with("titrate", "{from: 0.08 mcg/kg/min, to: 0.3 mcg/kg/min}")).json();
    assert_eq!(rungs(&at_its_end), [("0.08", "5.1", true), ("0.3", "18.9", false)]);
    assert!(card_of(&clean()).json().get("ladder").is_none());
}

// Each step of the range for 84.2 kg and 80 mcg/mL: 63.15 mL/h for each mcg/kg/min; every second where there are many.
// hazard: H-CARD
#[test]
fn the_steps_of_a_range_stand_in_the_table_each_with_its_rate() {
    let few = clean().with("titrate", "{from: 0.06 mcg/kg/min, to: 0.1 mcg/kg/min, step: 0.01 mcg/kg/min}");
    let expected = [
        ("0.06", "3.8", false),
        ("0.07", "4.4", false),
        ("0.08", "5.1", true),
        ("0.09", "5.7", false),
        ("0.1", "6.3", false),
    ];
    assert_eq!(rungs(&card_of(&few).json()), expected);
    let many = clean().with("titrate", "{from: 0.02 mcg/kg/min, to: 0.3 mcg/kg/min, step: 0.01 mcg/kg/min}");
    let card = card_of(&many).json();
    let rungs = rungs(&card);
    assert!(rungs.len() <= 10, "{rungs:?}");
    assert_eq!((rungs.first(), rungs.last()), (Some(&("0.02", "1.3", false)), Some(&("0.3", "18.9", false))));
    assert_eq!(rungs.iter().filter(|(.., is_set)| *is_set).collect::<Vec<_>>(), [&("0.08", "5.1", true)]);
}

/// Dose, rate, and whether it is the one that is set.
fn rungs(card: &serde_json::Value) -> Vec<(&str, &str, bool)> {
    let rows = card["ladder"]["rows"].as_array().expect("a table").iter();
    rows.map(|row| (row["dose"].as_str().expect("a dose"), row["rate"].as_str().expect("a rate"), row["set"] == true))
        .collect()
}

// 500 mcg/kg for 84.2 kg are 4.21 mL of 10 mg/mL; over 1 min, 252.6 mL/h: this driver is set to 253.
// hazard: H-CARD
#[test]
fn a_bolus_has_its_rate_on_the_card() {
    let esmolol = clean()
        .with("drug", "esmolol")
        .with("indication", "heart rate control")
        .with("dose", "50 mcg/kg/min")
        .bought_in("500 mg", "50 mL", "10 mg/mL")
        .with("planned_for", "1 h")
        .with("bolus", "{dose: 500 mcg/kg, over: 1 min}");
    let card = card_of(&esmolol);
    assert_eq!(
        card.json()["ladder"]["bolus"],
        serde_json::json!({"dose": "500 mcg/kg = 42 100 mcg, 4.21 mL over 1 min", "rate": "253"})
    );
    let text = card.text();
    let table = text.lines().find(|line| line.starts_with("rate mL/h")).expect("a table");
    assert!(table.ends_with(" 253") && !text.contains("| 253") && text.matches(" 253\n").count() == 1, "{text}");
}

// The syringe is empty 9 h 41 min after 08:00; the solution is discarded at what the bought-in label says, or 24 h after.
// hazard: H-RECORD
#[rstest]
#[case(None, "2026-03-14 17:36 +00:00, when it is empty at this rate")]
#[case(Some("2026-03-14T12:00:00+00:00"), "2026-03-14 12:00 +00:00, when the solution is discarded")]
fn a_syringe_is_changed_by_the_earlier_of_empty_and_discard(#[case] use_before: Option<&str>, #[case] by: &str) {
    let set_up = match use_before {
        Some(moment) => clean().with("use_before", moment),
        None => clean(),
    };
    let card = card_of(&set_up);
    assert_eq!(card.json()["course"]["change_by"], by);
    let text = card.text();
    assert!(!text.contains("Empty at") && !text.contains("Discard after"), "{text}");
}

// The soft limit of a bolus is 1 mcg/kg, 84.2 mcg: 1.684 mL of 50 mcg/mL, and 4.21 mL of 20 mcg/mL.
// hazard: H-ARRIVAL
#[rstest]
#[case("2.5 mg", "50 mcg/mL", true)]
#[case("1 mg", "20 mcg/mL", false)]
fn what_a_blocked_line_stores_is_on_the_card(#[case] amount: &str, #[case] strength: &str, #[case] beyond: bool) {
    let remifentanil = clean()
        .with("drug", "remifentanil")
        .with("indication", "anaesthesia")
        .with("dose", "0.1 mcg/kg/min")
        .bought_in(amount, "50 mL", strength);
    let card = card_of(&remifentanil).json();
    let blocked = card["course"]["blocked"].as_str().expect("a row");
    assert!(blocked.contains("up to 2.6 mL set free on release") && blocked.starts_with("alarm after "), "{blocked}");
    assert_eq!(blocked.contains("the soft limit of a bolus is 1.684 mL"), beyond, "{blocked}");
}

// 49 mL are left when the line is full and 0.1 mL stays behind: at 5 mL/h, 9 h 48 min; later syringes find the line full.
#[rstest]
#[case("588 min", "one is enough")]
#[case("589 min", "2 of these are needed")]
#[case("1186.8 min", "2 of these are needed")]
#[case("1187 min", "3 of these are needed")]
fn how_many_syringes_a_plan_takes_is_on_the_card(#[case] planned: &str, #[case] count: &str) {
    let set_up = clean()
        .with("patient.weight", "50 kg")
        .with("dose", "0.1 mcg/kg/min")
        .bought_in("3 mg", "50 mL", "60 mcg/mL")
        .with("planned_for", planned);
    let card = card_of(&set_up).json();
    assert!(card["course"]["planned_for"].as_str().is_some_and(|says| says.contains(count)), "{card}");
    assert!(!set_up.codes().iter().any(|code| code.starts_with("runs-")), "{:?}", set_up.codes());
}

// 4 mg in 30 mL is 133.333... mcg/mL.
// hazard: H-STRENGTH
#[test]
fn a_rounded_strength_is_said_to_be_one_on_the_card() {
    let rounded = clean().bought_in("4 mg", "30 mL", "133 mcg/mL").with("fill", "30 mL");
    assert_eq!(card_of(&rounded).json()["syringe"]["strength"], "133 mcg/mL, rounded: amount and volume count");
}

/// A card that was kept in earlier years has no table of rates and other steps: nothing of it is lost, and it has one frame.
// hazard: H-CARD
#[test]
fn a_card_that_an_earlier_program_kept_is_drawn_with_everything_on_it() {
    let row = |key: &str, label: &str, value: &str| serde_json::json!({"key": key, "label": label, "value": value});
    let facts = |key: &str, rows: &[serde_json::Value]| serde_json::json!({"facts": {"key": key, "heading": key, "rows": rows}});
    let kept = serde_json::json!([
        {"banner": "DEMONSTRATION LIMITS, NOT FOR PATIENTS"},
        {"title": {"text": "Set-up card", "at": "agreed 2026-03-14 07:50 +00:00"}},
        facts("order", &[row("drug", "Drug", "noradrenaline (vasopressor, HIGH ALERT)"), row("told", "Told", "a fact of its own")]),
        facts("syringe", &[row("strength", "Strength", "80 mcg/mL"), row("made_from", "Made from", "4 ampoules")]),
        {"rate": {"value": "5.1", "unit": "mL/h", "beyond": []}},
        facts("other_rates", &[row("to", "Range, upper end", "0.3 mcg/kg/min: 18.9 mL/h")]),
        {"steps": {"key": "before_starting", "heading": "Before starting", "steps": ["Line full, no air in it"]}},
    ]);
    let kept: countersign::card::Blocks = serde_json::from_value(kept).expect("blocks");
    let told = ["noradrenaline (vasopressor, HIGH ALERT) 80 mcg/mL", "a fact of its own", "4 ampoules", "no air in it"];
    for drawn in [kept.text(), kept.html()] {
        for says in told.iter().chain(&["0.3 mcg/kg/min: 18.9 mL/h", "DEMONSTRATION LIMITS"]) {
            assert!(drawn.contains(says), "{says}: {drawn}");
        }
    }
    assert_eq!(kept.text().lines().filter(|line| line.trim_start().starts_with('|')).count(), 1, "{}", kept.text());
}
