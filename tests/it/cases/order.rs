//! The electronic order: sealed when it comes, read by nobody, and held against two entries that say the same.

use rstest::rstest;

use super::blindness::{sizes, tries};
use super::{IDOWU, TAMM, Theatre, changed, first, refused, second};
use crate::common::house::House;
use crate::common::{Said, run};
use crate::orders::{ORDER, house_with_codes, ordered_with};

const TITRATE: &str = "titrate: {from: 0.02 mcg/kg/min, to: 0.3 mcg/kg/min, step: 0.02 mcg/kg/min}\n";
const RATE: &str = r#""rateQuantity": {"value": 0.080, "unit": "mcg/kg/min", "system": "http://unitsofmeasure.org", "code": "ug/kg/min"}"#;
const TEXT: &str = r#""text": "start at 0.08 mcg/kg/min (80 mcg/mL), for a weight of 84.2 kg","#;

/// A theatre whose formulary names codes, and its one case. The house stays as long as the theatre.
struct Ordered {
    theatre: Theatre,
    case: String,
    _house: House,
}

impl Ordered {
    fn new(name: &str, high_alert: bool) -> Self {
        let house = house_with_codes(high_alert);
        let theatre = Theatre::new(&format!("order-{name}")).with_formulary(house.folder());
        let case = theatre.case();
        Self { theatre, case, _house: house }
    }

    fn sends(&self, clock: &str, order: &str) -> Said {
        let file = self.theatre.file("order.json", order);
        self.theatre.says(clock, &[], &["case", "order", &self.case, &file])
    }

    fn sealed(self, order: &str) -> Self {
        let said = self.sends("07:39", order);
        assert_eq!(said.code, 0, "{said:?}");
        self
    }

    /// Both enter; what the second is answered.
    fn both(&self, one: &str, other: &str) -> Said {
        let said = self.theatre.enters("07:40", IDOWU, "enter", &self.case, one);
        assert!([0, 3].contains(&said.code), "{said:?}");
        self.theatre.enters("07:46", TAMM, "second", &self.case, other)
    }

    /// Both enter what is read again; what the second is answered.
    fn again(&self, one: &str, other: &str) -> Said {
        let set_up = format!("{}/1", self.case);
        let said = self.theatre.enters("07:47", IDOWU, "enter", &set_up, one);
        assert!([0, 3].contains(&said.code), "{said:?}");
        self.theatre.enters("07:48", TAMM, "second", &set_up, other)
    }

    fn card(&self) -> String {
        let said = self.theatre.says("07:49", &[], &["case", "card", &self.case]);
        assert_eq!(said.code, 0, "{said:?}");
        said.stdout.split_whitespace().collect::<Vec<_>>().join(" ")
    }
}

/// The two entries, with one ordered dose and no range.
fn fixed() -> (String, String) {
    let range = "titrate:\n  to: 0.3 mcg/kg/min\n  from: 0.02 mcg/kg/min\n  step: 0.02 mcg/kg/min\n";
    (changed(&first(), &[(TITRATE, "")]), changed(&second(), &[(range, "")]))
}

fn with_reason(form: &str, reason: &str) -> String {
    let reasons = form.lines().find(|line| line.starts_with("reasons:"));
    let reason = format!("reasons: {{order-differs: \"{reason}\"}}");
    match reasons {
        Some(line) => changed(form, &[(line, &reason)]),
        None => format!("{form}{reason}\n"),
    }
}

fn another_drug() -> String {
    ORDER.replace("C01CA03", "C01CA24").replace("norepinephrine", "epinephrine")
}

// What each kind of order comes to beside two entries that agree.
// hazard: H-INDEPENDENCE
#[rstest]
#[case::same("same", ORDER.to_owned(), None)]
#[case::other_unit(
    "unit",
    ordered_with(RATE, r#""rateQuantity": {"value": 4.8, "system": "http://unitsofmeasure.org", "code": "ug/kg/h"}"#),
    None
)]
#[case::no_strength("plain", ordered_with(r##""medicationReference": {"reference": "#solution"}"##, r#""medicationCodeableConcept": {"coding": [{"system": "http://www.whocc.no/atc", "code": "C01CA03"}]}"#).replace(&solution(), "").replace(TEXT, ""), None)]
#[case::tenfold("tenfold", ordered_with(RATE, &RATE.replace("0.080", "0.8")).replace(TEXT, ""), Some("dose"))]
#[case::per_patient("per-patient", ordered_with(RATE, r#""rateQuantity": {"value": 0.08, "system": "http://unitsofmeasure.org", "code": "ug/min"}"#).replace(TEXT, ""), Some("dose"))]
#[case::range("range", ordered_with(RATE, r#""rateRange": {"low": {"value": 0.02, "system": "http://unitsofmeasure.org", "code": "ug/kg/min"}, "high": {"value": 0.3, "system": "http://unitsofmeasure.org", "code": "ug/kg/min"}}"#).replace(TEXT, ""), Some("titrate"))]
#[case::weight("weight", ordered_with(r#""value": 84.2"#, r#""value": 48.2"#).replace(TEXT, ""), Some("weight"))]
#[case::strength("strength", ordered_with(r#""value": 4, "unit": "milligram""#, r#""value": 8, "unit": "milligram""#).replace(TEXT, ""), Some("label"))]
#[case::vein("vein", ordered_with("418114005", "419993007"), Some("access"))]
#[case::patient("patient", ordered_with("QM-30417", "QM-30471"), Some("identifiers"))]
#[case::birthday("birthday", ordered_with("1959-08-02", "1959-02-08"), Some("identifiers, born"))]
#[case::drug("drug", another_drug(), Some("drug"))]
fn an_order_says_the_same_or_its_fields_are_read_again(
    #[case] name: &str,
    #[case] order: String,
    #[case] fields: Option<&str>,
) {
    let theatre = Ordered::new(name, true).sealed(&order);
    let (one, other) = fixed();
    let said = theatre.both(&one, &other);
    match fields {
        None => {
            assert!(said.stdout.contains("Now: agreed."), "{said:?}");
            let card = theatre.card();
            assert!(card.contains("Electronic order: order order-7, version 2, of 2026-03-14 07:31"), "{card}");
            assert!(card.contains("says the same: identifiers, "), "{card}");
        }
        Some(fields) => {
            assert_eq!(said.code, 5, "{said:?}");
            let says = format!(
                "the entries agree, and the electronic order differs; both people read again, alone: {fields}."
            );
            let words = said.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
            assert!(words.contains(&says), "{said:?}");
            for value in ["0.8", "48.2", "160", "QM-30471", "1959-02-08"] {
                assert!(!said.stdout.contains(value) && !said.stderr.contains(value), "{value}: {said:?}");
            }
            refused(&theatre.theatre.says("07:47", &[], &["case", "card", &theatre.case]), "not-agreed");
        }
    }
}

fn solution() -> String {
    let from = ORDER.find("    {\n      \"resourceType\": \"Medication\"").expect("it is there");
    let comma = ORDER[..from].rfind(',').expect("after the weight");
    let end = ORDER[from..].find("\n    }\n  ],").expect("the end of what is contained") + from + "\n    }".len();
    ORDER[comma..end].to_owned()
}

#[test]
fn without_an_order_the_card_says_so_where_the_house_takes_orders() {
    let theatre = Ordered::new("none", true);
    let (one, other) = fixed();
    assert!(theatre.both(&one, &other).stdout.contains("Now: agreed."));
    assert!(
        theatre.card().contains("Electronic order: none had come when both entries were sealed"),
        "{}",
        theatre.card()
    );
}

fn tenfold() -> String {
    ordered_with(RATE, &RATE.replace("0.080", "0.8")).replace(TEXT, "")
}

// The order names the weight that both read first: it says nothing of the one that they read since.
// hazard: H-PATIENT
#[test]
fn a_card_that_is_counted_again_does_not_say_that_the_order_has_its_weight() {
    let theatre = Ordered::new("recount", true).sealed(ORDER);
    let (one, other) = fixed();
    theatre.both(&one, &other);
    let same = |card: &str| {
        let (_, same) = card.split_once("says the same: ").expect("the order's line");
        same.split(';').next().unwrap_or_default().split(' ').take(9).collect::<Vec<_>>().join(" ")
    };
    let card = theatre.card();
    assert!(same(&card).contains("weight") && same(&card).contains("dose"), "{card}");
    for (clock, who) in [("07:47", IDOWU), ("07:48", TAMM)] {
        let words = ["case", "weight", &theatre.case, "--as", who.0];
        let said = theatre.theatre.says(clock, &[who.1, "82.6 kg", "measured"], &words);
        assert_eq!(said.code, 0, "{said:?}");
    }
    let card = theatre.card();
    assert!(card.contains("NOT COMPARED with the weight read since"), "{card}");
    assert!(!same(&card).contains("weight") && same(&card).contains("dose"), "{card}");
}

// hazard: H-INDEPENDENCE
#[test]
fn a_high_alert_drug_goes_on_with_a_newer_order_alone() {
    let theatre = Ordered::new("high-alert", true).sealed(&tenfold());
    let (one, other) = fixed();
    assert_eq!(theatre.both(&one, &other).code, 5);
    let said = theatre.again(&one, &other);
    assert_eq!(said.code, 4, "{said:?}");
    // Independence is spent: both and the order are shown.
    assert!(said.stdout.contains("you 0.08 mcg/kg/min, the order 0.8 mcg/kg/min"), "{said:?}");
    let newer = ORDER.replace(r#""versionId": "2""#, r#""versionId": "3""#).replace("T07:31", "T07:49");
    assert_eq!(theatre.sends("07:50", &newer).code, 0);
    let set_up = format!("{}/1", theatre.case);
    assert_eq!(theatre.theatre.enters("07:51", IDOWU, "enter", &set_up, &one).code, 0);
    let said = theatre.theatre.enters("07:52", TAMM, "second", &set_up, &other);
    assert!(said.stdout.contains("Now: agreed."), "{said:?}");
    assert!(theatre.card().contains("version 3, of 2026-03-14 07:49"), "{}", theatre.card());
    theatre.theatre.is_whole();
}

// hazard: H-INDEPENDENCE
#[test]
fn any_other_drug_goes_on_with_the_reasons_of_both_and_the_prescribers_name() {
    let theatre = Ordered::new("reasons", false).sealed(&tenfold());
    let (one, other) = fixed();
    assert_eq!(theatre.both(&one, &other).code, 5);
    let said = theatre.again(&one, &other);
    assert_eq!(said.code, 3, "{said:?}");
    assert!(said.stdout.contains("reasons are missing"), "{said:?}");
    let set_up = format!("{}/1", theatre.case);
    let unnamed = with_reason(&one, "the dose is as meant");
    let said = theatre.theatre.enters("07:49", IDOWU, "enter", &set_up, &unnamed);
    refused(&said, "order-reason-without-prescriber");
    let named = "prescriber R. Okafor: 0.08 is meant";
    let said = theatre.again(&with_reason(&one, named), &with_reason(&other, named));
    assert!(said.stdout.contains("Now: agreed."), "{said:?}");
    let card = theatre.card();
    assert!(card.contains("DIFFERS: dose: you 0.08 mcg/kg/min, the order 0.8 mcg/kg/min"), "{card}");
    assert!(card.contains(named), "{card}");
    let audit = run(["journal", "verify", "--decisions", "--journal"]).arg(&theatre.theatre.journal).said();
    assert_eq!(audit.code, 0, "{audit:?}");
}

#[test]
fn a_slip_that_both_made_alike_is_mended_by_reading_again() {
    let theatre = Ordered::new("mended", true).sealed(ORDER);
    let (one, other) = fixed();
    let wrong = |form: &str| form.replace("dose: 0.08 mcg/kg/min", "dose: 0.06 mcg/kg/min");
    assert_eq!(theatre.both(&wrong(&one), &wrong(&other)).code, 5);
    let said = theatre.again(&one, &other);
    assert!(said.stdout.contains("Now: agreed."), "{said:?}");
}

// hazard: H-INDEPENDENCE
#[test]
fn the_order_breaks_no_tie_and_nobody_learns_with_whom_it_agrees() {
    let (one, other) = fixed();
    let wrong = other.replace("dose: 0.08 mcg/kg/min", "dose: 0.06 mcg/kg/min");
    let answers = |name: &str, order: Option<String>| {
        let theatre = Ordered::new(name, true);
        let theatre = match &order {
            Some(order) => theatre.sealed(order),
            None => theatre,
        };
        let said = theatre.both(&one, &wrong);
        let status = theatre.theatre.says("07:47", &[], &["case", "status", &theatre.case]);
        let same = |text: &str| text.replace(&theatre.case, "CASE-ONE");
        [said.stdout, said.stderr, status.stdout].map(|text| same(&text))
    };
    let none = answers("tie-none", None);
    assert!(none[0].contains("the entries differ; both people read again, alone: dose."), "{none:?}");
    let of_second = ordered_with(RATE, &RATE.replace("0.080", "0.06")).replace(TEXT, "");
    for (name, order) in [("tie-first", ORDER.to_owned()), ("tie-second", of_second), ("tie-neither", tenfold())] {
        assert_eq!(answers(name, Some(order)), none, "{name}");
    }
}

// hazard: H-INDEPENDENCE
#[test]
fn until_both_entries_are_sealed_every_answer_is_the_same_whatever_order_came() {
    let (one, _) = fixed();
    let answers = |name: &str, order: &str| {
        let theatre = Ordered::new(name, true).sealed(order);
        let set_up = format!("{}/1", theatre.case);
        let entered = theatre.theatre.enters("07:40", IDOWU, "enter", &theatre.case, &one);
        let sizes = sizes(&theatre.theatre.journal);
        let mut all = vec![("entered".to_owned(), entered.code, entered.stdout, entered.stderr)];
        for (clock, typed, words) in tries(&set_up, &theatre.case, None) {
            let typed: Vec<&str> = typed.iter().map(String::as_str).collect();
            let words: Vec<&str> = words.iter().map(String::as_str).collect();
            let said = theatre.theatre.says(clock, &typed, &words);
            all.push((words.join(" "), said.code, said.stdout, said.stderr));
        }
        all.push(("sizes".to_owned(), 0, sizes, String::new()));
        let same = |text: String| text.replace(&theatre.case, "CASE-ONE");
        all.into_iter().map(|(what, code, out, err)| (same(what), code, same(out), same(err))).collect::<Vec<_>>()
    };
    let agreeing = answers("blind-same", ORDER);
    assert!(agreeing.len() > 20);
    for (name, order) in [("blind-tenfold", tenfold()), ("blind-drug", another_drug())] {
        for (found, expected) in answers(name, &order).iter().zip(&agreeing) {
            assert_eq!(found, expected, "{name}");
        }
    }
}

#[test]
fn orders_that_contradict_those_that_are_here_are_refused() {
    let theatre = Ordered::new("versions", true).sealed(ORDER);
    // The same bytes once more are an answer that was lost.
    let events = theatre.theatre.events();
    assert_eq!(theatre.sends("07:40", ORDER).code, 0);
    assert_eq!(theatre.theatre.events(), events);
    refused(&theatre.sends("07:40", &tenfold()), "order-version-twice");
    let older = ORDER.replace(r#""versionId": "2""#, r#""versionId": "1""#).replace("T07:31", "T07:11");
    refused(&theatre.sends("07:40", &older), "order-older");
    let said = theatre.sends("07:40", &ORDER.replace("C01CA03", "C01CA99"));
    refused(&said, "order-drug-unknown");
    let said = theatre.sends("07:40", &ordered_with(r#""status": "active""#, r#""status": "draft""#));
    refused(&said, "order-status");
    assert!(!said.stderr.contains("QM-30417") && !said.stderr.contains("0.080"), "{said:?}");
}

#[test]
fn an_order_that_comes_after_the_agreement_is_outstanding_until_it_is_read() {
    let theatre = Ordered::new("later", true);
    let (one, other) = fixed();
    assert!(theatre.both(&one, &other).stdout.contains("Now: agreed."));
    assert_eq!(theatre.sends("07:50", ORDER).code, 0);
    let owed = |clock: &str| theatre.theatre.says(clock, &[], &["case", "list", "--owed"]).stdout;
    assert!(owed("07:51").contains("an electronic order for"), "{}", owed("07:51"));
    let set_up = format!("{}/1", theatre.case);
    let file = theatre.theatre.file("form.yaml", &one);
    let words = ["case", "enter", &set_up, "--anew", "--as", IDOWU.0, "--from", &file];
    assert_eq!(theatre.theatre.says("07:52", &[IDOWU.1], &words).code, 0);
    let said = theatre.theatre.enters("07:53", TAMM, "second", &set_up, &other);
    assert!(said.stdout.contains("Now: agreed."), "{said:?}");
    assert!(!owed("07:54").contains("an electronic order for"), "{}", owed("07:54"));
    assert!(theatre.card().contains("says the same"), "{}", theatre.card());
}
