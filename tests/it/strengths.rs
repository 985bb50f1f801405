//! Which stocked strength suits: each reason against one just beyond its limit, and none at the limit itself.

use countersign::check::strengths::{NotJudged, Wanted, shown, strengths};
use countersign::entry::Access;
use countersign::formulary::{Formulary, Named};
use countersign::infusion::rate::Body;
use countersign::quantity::{BodyMass, DoseRate, Quantity, Ratio, duration, exact_or_about};
use rstest::rstest;

use crate::common::house::House;
use crate::common::set_up::demonstration;

/// A use, and how it is to run.
struct Asked {
    drug: &'static str,
    area: &'static str,
    container: &'static str,
    driver: &'static str,
    access: Option<Access>,
}

/// Noradrenaline in the adult theatre: 80 and 160 mcg/mL, soft 0.01 to 0.5 and hard to 3 mcg/kg/min.
const ADULT: Asked = Asked {
    drug: "noradrenaline",
    area: "adult theatre",
    container: "syringe 50 mL",
    driver: "bench",
    access: Some(Access::Central),
};
/// The same for newborns: 0.3 mg/kg in 50 mL and 50 mcg/mL, on a driver with a finer step.
const NEWBORN: Asked = Asked { area: "paediatric theatre", driver: "fine", ..ADULT };

/// Each strength as a line, or the code of the refusal.
fn judged(house: &Formulary, asked: &Asked, dose: &str, weight: &str) -> Result<Vec<String>, NotJudged> {
    let named = Named { drug: asked.drug, area: asked.area, ..Named::default() };
    let equipment = house.equipment();
    let weight = (!weight.is_empty()).then(|| Quantity::<BodyMass>::parse(weight).expect("a weight").value());
    let wanted = Wanted {
        used: house.used(&named).expect("a use of the formulary"),
        policy: house.policy(),
        dose: DoseRate::parse(dose).expect("a dose"),
        body: Body { weight, surface: None },
        container: equipment.container(asked.container).expect("a container"),
        driver: equipment.driver(asked.driver).expect("a driver"),
        access: asked.access,
    };
    let line = |strong: &countersign::check::strengths::Strong<'_>| {
        let number = |value: Option<Ratio>, of: fn(Ratio) -> String| value.map_or_else(|| "-".to_owned(), of);
        let (rate, given) = (number(strong.rate, shown), number(strong.given, exact_or_about));
        let life = if strong.outlasts_its_life { ", too long" } else { "" };
        let lasts = number(strong.lasts, duration);
        format!("{}: {rate}, {given}, {lasts}{life}; {}", strong.stocked.key, strong.against.join("; "))
    };
    Ok(strengths(&wanted)?.iter().map(line).collect())
}

#[rstest]
#[case(&ADULT, "0.1 mcg/kg/min", "70 kg", &[
    "single: 5.3 mL/h, ≈ 0.101, 9 h 24 min; ",
    "double: 2.6 mL/h, ≈ 0.09905, 19 h 11 min; ",
])]
#[case(&ADULT, "0.51 mcg/kg/min", "70 kg", &[
    "single: 26.8 mL/h, ≈ 0.5105, 1 h 51 min; the dose is beyond 0.35 mcg/kg/min, a soft limit: a written reason",
    "double: 13.4 mL/h, ≈ 0.5105, 3 h 43 min; the dose is beyond 0.35 mcg/kg/min, a soft limit: a written reason",
])]
#[case(&ADULT, "0.5 mcg/kg/min", "150 kg", &[
    "single: 56.3 mL/h, ≈ 0.5004, 53 min; the dose is beyond 0.35 mcg/kg/min, a soft limit: a written reason",
    "double: 28.1 mL/h, ≈ 0.4996, 1 h 46 min; the dose is beyond 0.35 mcg/kg/min, a soft limit: a written reason",
])]
#[case(&ADULT, "0.1 mcg/kg/min", "150.1 kg", &[
    "single: 11.3 mL/h, ≈ 0.1004, 4 h 24 min; the weight is beyond a soft limit: a written reason",
    "double: 5.6 mL/h, ≈ 0.09949, 8 h 54 min; the weight is beyond a soft limit: a written reason",
])]
#[case(&ADULT, "0.004 mcg/kg/min", "50 kg", &[
    "single: 0.2 mL/h, ≈ 0.005333, 249 h 30 min, too long; so slow that a syringe of 50 mL sticks and slips; too strong for the driver's step of 0.1 mL/h: the dose changes by ≈ 33 %; the dose is beyond 0.01 mcg/kg/min, a soft limit: a written reason",
    "double: 0.1 mL/h, ≈ 0.005333, 499 h, too long; so slow that a syringe of 50 mL sticks and slips; too strong for the driver's step of 0.1 mL/h: the dose changes by ≈ 33 %; the dose is beyond 0.01 mcg/kg/min, a soft limit: a written reason",
])]
#[case(&ADULT, "0.32 mcg/kg/min", "250 kg", &[
    "single: 60 mL/h, 0.32, 49 min; the weight is beyond a soft limit: a written reason",
    "double: 30 mL/h, 0.32, 1 h 39 min; the weight is beyond a soft limit: a written reason",
])]
#[case(&ADULT, "0.64 mcg/kg/min", "250 kg", &[
    "single: 120 mL/h, 0.64, 24 min 57 s; the rate is beyond 60 mL/h, a soft limit: a written reason; the dose is beyond 0.35 mcg/kg/min, a soft limit: a written reason; the weight is beyond a soft limit: a written reason",
    "double: 60 mL/h, 0.64, 49 min; the dose is beyond 0.35 mcg/kg/min, a soft limit: a written reason; the weight is beyond a soft limit: a written reason",
])]
#[case(&ADULT, "0.65 mcg/kg/min", "250 kg", &[
    "single: -, -, -; the rate is beyond 120 mL/h, a hard limit",
    "double: 60.9 mL/h, 0.6496, 49 min; the rate is beyond 60 mL/h, a soft limit: a written reason; the dose is beyond 0.35 mcg/kg/min, a soft limit: a written reason; the weight is beyond a soft limit: a written reason",
])]
#[case(&NEWBORN, "0.1 mcg/kg/min", "3.2 kg", &[
    "per kg: 1 mL/h, 0.1, 49 h 54 min, too long; ",
    "weak: 0.38 mL/h, ≈ 0.09896, 131 h 18 min, too long; so slow that a syringe of 50 mL sticks and slips",
])]
#[case(&NEWBORN, "0.026 mcg/kg/min", "3.2 kg", &[
    "per kg: 0.26 mL/h, 0.026, 191 h 55 min, too long; so slow that a syringe of 50 mL sticks and slips; the dose is beyond 0.05 mcg/kg/min, a soft limit: a written reason",
    "weak: 0.1 mL/h, ≈ 0.02604, 499 h, too long; so slow that a syringe of 50 mL sticks and slips; the dose is beyond 0.05 mcg/kg/min, a soft limit: a written reason",
])]
#[case(&NEWBORN, "0.024 mcg/kg/min", "3.2 kg", &[
    "per kg: 0.24 mL/h, 0.024, 207 h 55 min, too long; so slow that a syringe of 50 mL sticks and slips; the dose is beyond 0.05 mcg/kg/min, a soft limit: a written reason",
    "weak: -, -, -; too strong: the rate is below 0.1 mL/h, the driver's smallest",
])]
#[case(&Asked { access: Some(Access::Peripheral), ..ADULT }, "0.1 mcg/kg/min", "70 kg", &[
    "single: 5.3 mL/h, ≈ 0.101, 9 h 24 min; stronger than 20 mcg/mL, the limit for a peripheral vein",
    "double: 2.6 mL/h, ≈ 0.09905, 19 h 11 min; stronger than 20 mcg/mL, the limit for a peripheral vein",
])]
#[case(&Asked { access: None, ..ADULT }, "0.1 mcg/kg/min", "70 kg", &[
    "single: 5.3 mL/h, ≈ 0.101, 9 h 24 min; ",
    "double: 2.6 mL/h, ≈ 0.09905, 19 h 11 min; ",
])]
fn each_strength_is_judged(#[case] asked: &Asked, #[case] dose: &str, #[case] weight: &str, #[case] expected: &[&str]) {
    assert_eq!(judged(demonstration(), asked, dose, weight).expect("they are judged"), expected);
}

#[rstest]
#[case(&ADULT, "0.1 mg/h", "70 kg", "dose-unit-wrong", "go back to the order; write the dose in mcg/kg/min")]
#[case(&ADULT, "3.01 mcg/kg/min", "70 kg", "dose-beyond-hard-limit", "go back to the order: no strength")]
#[case(&ADULT, "0.1 mcg/kg/min", "250.1 kg", "weight-beyond-hard-limit", "look at the scales again")]
#[case(&NEWBORN, "0.1 mcg/kg/min", "6.1 kg", "weight-beyond-hard-limit", "look at the scales again")]
#[case(&ADULT, "0.1 mcg/kg/min", "", "no-rate", "give the weight in kg")]
#[case(&NEWBORN, "0.1 mcg/kg/min", "", "weight-missing", "give the weight: --weight")]
#[case(&Asked { container: "bag 50 mL", ..ADULT }, "0.1 mcg/kg/min", "70 kg", "driver-does-not-take-container", "name a syringe")]
fn what_is_not_to_be_run_is_refused(
    #[case] asked: &Asked,
    #[case] dose: &str,
    #[case] weight: &str,
    #[case] code: &str,
    #[case] help: &str,
) {
    let refused = judged(demonstration(), asked, dose, weight).expect_err("refused");
    assert_eq!((refused.code(), refused.help().starts_with(help)), (code, true), "{}", refused.help());
}

#[test]
fn a_dose_may_be_too_low_for_any() {
    let maintenance = "0.35 mcg/kg/min, source: demonstration value}\n          hard: {to: 3 mcg/kg/min, source: adult-range}\n        weaning";
    let with_a_floor = maintenance.replace("hard: {to", "hard: {from: 0.005 mcg/kg/min, to");
    let house = House::new().change("drugs/noradrenaline.yaml", maintenance, &with_a_floor).leak();
    let below = judged(house, &ADULT, "0.004 mcg/kg/min", "70 kg").expect_err("refused");
    assert_eq!(below.to_string(), "0.004 mcg/kg/min is below the hard limit, 0.005 mcg/kg/min");
    let above = judged(house, &ADULT, "3.1 mcg/kg/min", "70 kg").expect_err("refused");
    assert_eq!(above.to_string(), "3.1 mcg/kg/min is above the hard limit, 3 mcg/kg/min");
    assert!(judged(house, &ADULT, "0.005 mcg/kg/min", "70 kg").is_ok());
}

// 78.125 kg at 0.01 mcg/kg/min with 80 mcg/mL: 0.5859375 mL/h, rounded to 0.6: the dose changes by 2.4 %.
#[rstest]
#[case("2.3 %", true)]
#[case("2.4 %", false)]
fn a_step_that_is_too_coarse_is_told(#[case] limit: &str, #[case] told: bool) {
    let limits = format!("{{note_above: 1 %, justify_above: {limit}}}");
    let house = House::new().change("formulary.yaml", "{note_above: 5 %, justify_above: 10 %}", &limits).leak();
    let found = judged(house, &ADULT, "0.01 mcg/kg/min", "78.125 kg").expect("they are judged");
    assert_eq!(
        found[0].contains("too strong for the driver's step of 0.1 mL/h: the dose changes by 2.4 %"),
        told,
        "{found:?}"
    );
}

// A vein takes as much as the limit says, and the hard limit is told before the soft one.
#[rstest]
#[case("{soft: 10 mcg/mL, hard: 100 mcg/mL, source: demonstration value}", ["10 mcg/mL", "100 mcg/mL"])]
#[case("{soft: 10 mcg/mL, hard: 80 mcg/mL, source: demonstration value}", ["10 mcg/mL", "80 mcg/mL"])]
#[case("{soft: 80 mcg/mL, hard: 160 mcg/mL, source: demonstration value}", ["", "80 mcg/mL"])]
fn a_small_vein_has_its_limits(#[case] limits: &str, #[case] told: [&str; 2]) {
    let usual = "{soft: 10 mcg/mL, hard: 20 mcg/mL, source: demonstration value}";
    let house = House::new().change("drugs/noradrenaline.yaml", usual, limits).leak();
    let peripheral = Asked { access: Some(Access::Peripheral), ..ADULT };
    let found = judged(house, &peripheral, "0.1 mcg/kg/min", "70 kg").expect("they are judged");
    for (line, limit) in found.iter().zip(told) {
        let says = format!("stronger than {limit}, the limit for a peripheral vein");
        assert_eq!(line.contains("peripheral"), !limit.is_empty(), "{line}");
        assert!(limit.is_empty() || line.ends_with(&says), "{line}");
    }
}

// 48 mL at 2 mL/h last the 24 h for which the solution keeps; at 1.9 mL/h they would last longer.
#[rstest]
#[case("67 kg", false)]
#[case("64 kg", true)]
fn a_syringe_that_outlasts_its_solution_is_told(#[case] weight: &str, #[case] told: bool) {
    let whole = "syringe 50 mL: {kind: syringe, size: 50 mL, usable: 50 mL, stays_behind: 0.1 mL}";
    let house = House::new().change("equipment.yaml", whole, &whole.replace("0.1 mL", "2 mL")).leak();
    let found = judged(house, &ADULT, "0.04 mcg/kg/min", weight).expect("they are judged");
    assert_eq!(found[0].contains("too long"), told, "{found:?}");
}

#[rstest]
#[case("5.3 mL/h", false)]
#[case("5.2 mL/h", true)]
fn a_driver_has_its_largest_rate(#[case] largest: &str, #[case] told: bool) {
    let bench = "largest_rate: 999 mL/h\n    steps:\n      - {up_to: 99.9 mL/h, step: 0.1 mL/h}\n      - {up_to: 999 mL/h, step: 1 mL/h}\n    bolus_rate: 999 mL/h\n    shows: [rate, volume given, time left]\n";
    let slow = format!(
        "largest_rate: {largest}\n    steps:\n      - {{up_to: {largest}, step: 0.1 mL/h}}\n    bolus_rate: 999 mL/h\n    shows: [rate, volume given, time left]\n"
    );
    let house = House::new().change("equipment.yaml", bench, &slow).leak();
    let found = judged(house, &ADULT, "0.1 mcg/kg/min", "70 kg").expect("they are judged");
    let says = format!("too weak: the rate is above {largest}, the driver's largest");
    assert_eq!(found[0].ends_with(&says), told, "{found:?}");
}
