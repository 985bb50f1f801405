//! Correct set-ups: a printed dose, an invented patient of a real build, a stocked syringe made as its recipe says.
#![expect(clippy::float_arithmetic, clippy::cast_precision_loss, reason = "heights and weights of invented people")]

use countersign::formulary::{Area, DoseLimits, Drug, Formulary, Indication, Lookup, Phase, Stocked};
use countersign::pharmacy::sample::Lot;
use countersign::pharmacy::survey::SurveyedSetUp;
use countersign::quantity::{Age, BodyMass, BolusDose, DoseRate, Moment, Quantity, Ratio, plain};
use serde_json::{Value, json};

use super::orders::{BOLUSES, ORDERS, Order};

/// A correct set-up.
#[derive(Debug, Clone)]
pub(crate) struct Correct {
    /// The first person's entry.
    pub(crate) entry: Value,
    pub(crate) drug: &'static str,
    pub(crate) phase: &'static str,
    /// Where in the tables its dose stands.
    pub(crate) source: &'static str,
    /// Whether it is in a smaller syringe than the area's own, which would stick at this rate.
    pub(crate) smaller: bool,
}

/// One way in which the demonstration can run a printed dose.
pub(crate) struct Way<'f> {
    order: &'static Order,
    drug: &'f Drug,
    indication: &'f Indication,
    area: &'f Area,
    phase: Phase,
}

/// Every way; and the orders that the formulary has no use for.
pub(crate) fn ways(formulary: &Formulary) -> (Vec<Way<'_>>, Vec<&'static Order>) {
    let (mut ways, mut unused) = (Vec::new(), Vec::new());
    for order in ORDERS {
        let before = ways.len();
        if let Lookup::Found(drug) = formulary.drug(order.drug) {
            for indication in &drug.indications {
                let Some(area) = formulary.area(&indication.area) else { continue };
                let Some(phase) = Phase::written(order.phase) else { continue };
                let adult = area.name.starts_with("adult") || area.name == "obstetrics";
                let unit = converted(order.doses[0], indication).is_some();
                let here = order.area.is_none_or(|named| named == area.name)
                    && order.used_for.is_none_or(|named| named == indication.name);
                if adult == order.adult
                    && here
                    && unit
                    && indication.limits(phase).is_some_and(|limits| is_near(order.doses[0], limits))
                    && !indication.strengths.is_empty()
                    && is_old_enough(order, indication)
                {
                    ways.push(Way { order, drug, indication, area, phase });
                    // What is maintained is weaned later.
                    if phase == Phase::Maintenance && indication.limits(Phase::Weaning).is_some() {
                        ways.push(Way { order, drug, indication, area, phase: Phase::Weaning });
                    }
                }
            }
        }
        if ways.len() == before {
            unused.push(order);
        }
    }
    (ways, unused)
}

/// Draws one.
pub(crate) fn draw(formulary: &Formulary, ways: &[Way<'_>], lot: &mut Lot, now: Moment) -> Option<Correct> {
    let way = &ways[lot.below(ways.len())];
    let dose = dose(way, lot)?;
    let person = if way.order.adult { adult(lot, way.area.name == "obstetrics") } else { child(lot) };
    let weight = person.weight.parse::<f64>().unwrap_or_default();
    if person.months < way.order.from_months || weight > f64::from(way.order.up_to_kg) || !meant_for(way, &person) {
        return None;
    }
    let listed = way.indication.strengths.iter().map(|at| &way.drug.strengths[*at]);
    let made: Vec<Value> =
        listed.filter_map(|stocked| entered(formulary, way, stocked, (&dose, &person.weight), now)).collect();
    // Who may choose takes one that runs at 1 mL/h or more: below, syringes of 50 mL had no steady flow (Schmidt 2010).
    let is_steady =
        |entry: &&Value| super::path::rate(&entry.to_string(), formulary, now).is_some_and(|rate| rate >= Ratio::ONE);
    let steady: Vec<&Value> = made.iter().filter(is_steady).collect();
    let mut entry = match (steady.len(), made.len()) {
        (_, 0) => return None,
        (0, all) => made[lot.below(all)].clone(),
        (some, _) => steady[lot.below(some)].clone(),
    };
    let patient = entry["patient"].as_object_mut()?;
    patient.insert("age".to_owned(), json!(person.age));
    patient.insert("sex".to_owned(), json!(person.sex));
    if let Some(height) = person.height {
        patient.insert("height".to_owned(), json!(format!("{height} cm")));
    }
    if way.phase != Phase::Weaning
        && lot.one_in(3)
        && let range @ Value::Object(_) = range(way)?
    {
        entry["titrate"] = range;
    }
    if let Some((dose, over)) = bolus(way).filter(|_| way.phase != Phase::Weaning && lot.one_in(2)) {
        entry["bolus"] = json!({"dose": dose, "over": over});
    }
    let patient = entry["patient"].as_object_mut()?;
    patient.insert(
        "identifiers".to_owned(),
        json!([format!("P-{}", 10_000 + lot.below(90_000)), format!("Q-{}", 10_000 + lot.below(90_000))]),
    );
    // What the driver cannot be set to is set up otherwise: weaker, or with another driver.
    let rate = super::path::rate(&entry.to_string(), formulary, now)?;
    let driver = formulary.equipment().driver(entry["driver"].as_str()?)?;
    if rate < driver.smallest.value() {
        return None;
    }
    let smaller = in_a_smaller_syringe(&mut entry, rate);
    Some(Correct { entry, drug: way.order.drug, phase: way.phase.word(), source: way.order.source, smaller })
}

/// Below 0.5 mL/h a large syringe sticks and slips, and its source advises a smaller one (Neal & Lin 2009, Pediatr Crit Care Med
/// 10:592): a part of the same solution goes into 10 mL, which still last 20 h and more.
fn in_a_smaller_syringe(entry: &mut Value, rate: Ratio) -> bool {
    const LARGE: [&str; 4] = ["syringe 20 mL", "syringe 30 mL", "syringe 50 mL", "syringe 60 mL"];
    let sticks = Ratio::new(1, 2).is_ok_and(|half| rate < half);
    let is_large = entry["container"].as_str().is_some_and(|key| LARGE.contains(&key));
    if sticks && is_large {
        entry["container"] = json!("syringe 10 mL");
        entry["fill"] = json!("10 mL");
    }
    sticks && is_large
}

/// The set-up with one of the stocked strengths.
fn entered(
    formulary: &Formulary,
    way: &Way<'_>,
    stocked: &Stocked,
    (dose, weight): (&str, &str),
    now: Moment,
) -> Option<Value> {
    let Way { drug, indication, area, phase, .. } = *way;
    SurveyedSetUp { formulary, drug, indication, area, phase, dose, stocked, weight }.entry(now).ok()
}

/// Whether area and use are for patients of this age and weight: whoever sets up chooses them so. Only the bands beyond
/// which the use is not for that patient at all are asked.
fn meant_for(way: &Way<'_>, person: &Person) -> bool {
    let (Ok(age), Ok(weight)) =
        (Age::parse(&person.age), Quantity::<BodyMass>::parse(&format!("{} kg", person.weight)))
    else {
        return false;
    };
    let ages = [&way.area.age, &way.indication.age].into_iter().flatten();
    let weights = [&way.area.weight.hard, &way.indication.weight.hard].into_iter().flatten();
    ages.into_iter().all(|band| band.outside(age.days()).is_none())
        && weights.into_iter().all(|band| band.outside(weight.value()).is_none())
}

struct Person {
    weight: String,
    height: Option<u32>,
    age: String,
    months: u32,
    sex: &'static str,
}

/// Height around 163 or 176 cm (standard deviation 7 cm), body-mass index 18.5 to 40: from memory, for invented people.
fn adult(lot: &mut Lot, woman: bool) -> Person {
    let female = woman || lot.one_in(2);
    let mean = if female { 163.0 } else { 176.0 };
    let spread = (lot.below(1000) + lot.below(1000) + lot.below(1000)) as f64 / 1500.0 - 1.0;
    let height = mean + spread * 14.0;
    let index = 18.5 + (lot.below(1000) + lot.below(1000)) as f64 / 2000.0 * 21.5;
    let weight = (index * (height / 100.0) * (height / 100.0) * 10.0).round() / 10.0;
    let age = if woman { 18 + lot.below(25) } else { 18 + lot.below(70) };
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 100 and 200")]
    let height = height.round() as u32;
    Person {
        weight: trimmed(weight),
        height: Some(height),
        age: format!("{age} years"),
        months: u32::MAX,
        sex: if female { "female" } else { "male" },
    }
}

/// CDC 2000 growth charts, NCHS Series 11 No. 246: between the 3rd and the 97th percentile at a listed age up to 15 years.
fn child(lot: &mut Lot) -> Person {
    let rows: Vec<&str> = FIGURES.lines().skip(1).collect();
    loop {
        let row: Vec<&str> = rows[lot.below(rows.len())].split(',').collect();
        let number = |at: usize| row[at].parse::<f64>().unwrap_or(0.0);
        let (months, low, high) = (number(1), number(5), number(7));
        if months > 180.0 {
            continue;
        }
        let part = (lot.below(1000) + lot.below(1000)) as f64 / 2000.0;
        let weight = ((low + part * (high - low)) * 100.0).round() / 100.0;
        let weight = if weight > 10.0 { (weight * 10.0).round() / 10.0 } else { weight };
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 0 and 180")]
        let whole = months as u32;
        let age = if months < 1.0 { "3 days".to_owned() } else { format!("{} months", months.floor()) };
        return Person {
            weight: trimmed(weight),
            height: None,
            age,
            months: whole,
            sex: if row[0] == "male" { "male" } else { "female" },
        };
    }
}

const FIGURES: &str = include_str!("../../../src/check/growth/weight_for_age.csv");

/// The ends of a printed range, as an order to titrate; nothing for a single printed dose.
fn range(way: &Way<'_>) -> Option<Value> {
    let [from, to] = way.order.doses else { return Some(Value::Null) };
    let unit = way.indication.dose_unit;
    let end = |dose: &str| converted(dose, way.indication).map(|number| format!("{number} {unit}"));
    Some(json!({"from": end(from)?, "to": end(to)?}))
}

/// A printed bolus or load of the drug, where the use has one in that unit.
fn bolus(way: &Way<'_>) -> Option<(&'static str, &'static str)> {
    let limits = way.indication.bolus.as_ref()?;
    let printed = BOLUSES.iter().find(|(drug, adult, ..)| *drug == way.order.drug && *adult == way.order.adult)?;
    let dose = BolusDose::parse(printed.2).ok()?;
    (dose.unit() == limits.unit).then_some((printed.2, printed.3))
}

/// The printed dose; of a range one between its ends, evenly by its logarithm, to two digits. Weaning: from a quarter of it to
/// half. The prescribing information of esmolol prints such a step: half of the dose 30 min after the drug that follows, and
/// then none; what is halved once more lies at a quarter, and lower steps are not drawn.
fn dose(way: &Way<'_>, lot: &mut Lot) -> Option<String> {
    let dose = printed(way, lot)?;
    if way.phase != Phase::Weaning {
        return Some(dose);
    }
    let share = 0.25 * 2.0_f64.powf(lot.below(1001) as f64 / 1000.0);
    Some(two_digits(dose.parse::<f64>().ok()? * share))
}

fn two_digits(value: f64) -> String {
    let places = (1.0 - value.log10().floor()).max(0.0);
    let scale = 10_f64.powf(places);
    let text = format!("{:.6}", (value * scale).round() / scale);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn printed(way: &Way<'_>, lot: &mut Lot) -> Option<String> {
    let ends: Option<Vec<String>> = way.order.doses.iter().map(|dose| converted(dose, way.indication)).collect();
    match ends?.as_slice() {
        [one] => Some(one.clone()),
        [from, to] => {
            let number = |text: &String| text.parse::<f64>().ok();
            let (from, to) = (number(from)?.ln(), number(to)?.ln());
            Some(two_digits((from + (to - from) * lot.below(1001) as f64 / 1000.0).exp()))
        }
        _ => None,
    }
}

/// Whether a use is still for patients of the ages that a dose was printed for.
fn is_old_enough(order: &Order, indication: &Indication) -> bool {
    let from = Age::parse(&format!("{} months", order.from_months)).expect("an age").days();
    indication.age.as_ref().and_then(|age| age.to).is_none_or(|to| to.days() > from)
}

/// Whether a printed dose may belong to a use: less than a tenth of what is usual belongs to another use of the drug.
fn is_near(dose: &str, limits: &DoseLimits) -> bool {
    let tenfold = DoseRate::parse(dose).ok().and_then(|dose| dose.amount_per_hour().times(Ratio::whole(10)).ok());
    tenfold.zip(limits.usual.from).is_some_and(|(tenfold, from)| tenfold >= from.amount_per_hour())
}

/// A printed dose in the unit of a use: exact, or to four digits where it does not end. Nothing where the two count
/// something else.
fn converted(dose: &str, indication: &Indication) -> Option<String> {
    let (dose, one) = (DoseRate::parse(dose).ok()?, DoseRate::parse(&format!("1 {}", indication.dose_unit)).ok()?);
    let same = |rate: DoseRate| (rate.unit().dose().kind(), rate.unit().dose().per());
    if same(dose) != same(one) {
        return None;
    }
    let value: Ratio = dose.amount_per_hour().over(one.amount_per_hour()).ok()?;
    let text = plain(value);
    let digits = text.bytes().filter(u8::is_ascii_digit).count();
    Some(if digits > 6 { countersign::quantity::significant(value, 4).0 } else { text })
}

fn trimmed(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
