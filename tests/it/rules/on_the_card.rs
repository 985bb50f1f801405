//! What a rule looks at, as it stands on the card.

use countersign::agreement::{Outcome, agree};
use countersign::card::{Card, Provenance};

use crate::common::house::House;
use crate::common::set_up::{NOW, clean, moment};

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
