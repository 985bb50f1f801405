//! Limits that can never be reached, because another one stops first.

use crate::formulary::{Area, Band, Indication};
use crate::pharmacy::lint::patients::{heaviest_allowed, rate, stocked};
use crate::pharmacy::lint::rule::{Code, DrugSeen, Looks, Remarks, Rule};
use crate::quantity::{Age, BodyMass, Quantity, Ratio, exact_or_about};

static NEVER: Code = Code::warning("limit-never-reached");
static NOBODY: Code = Code::warning("use-for-nobody");

pub(super) const RULE: Rule = Rule { codes: &[&NEVER, &NOBODY], looks: Looks::Drug(look) };

fn look(seen: &DrugSeen<'_>, remarks: &mut Remarks) {
    for indication in &seen.drug.indications {
        let Some(area) = seen.formulary.area(&indication.area) else { continue };
        let mut say = |code, keys: &[&str], message: String| {
            let keys: Vec<&str> =
                ["areas", &indication.area, &indication.name].into_iter().chain(keys.iter().copied()).collect();
            remarks.add(code, &seen.drug.file, &keys, message);
        };
        ages(area, indication, &mut say);
        weights(area, indication, &mut say);
        flow(seen, area, indication, &mut say);
    }
}

fn ages(area: &Area, indication: &Indication, say: &mut impl FnMut(&'static Code, &[&str], String)) {
    let (Some(own), Some(all)) = (&indication.age, &area.age) else { return };
    let measure = |side: Option<Age>| side.map(Age::days);
    let (own_sides, all_sides) = ((measure(own.from), measure(own.to)), (measure(all.from), measure(all.to)));
    if is_apart(own_sides, all_sides) {
        say(&NOBODY, &["age"], format!("these ages and those of {} have nobody in common", area.name));
    } else if let Some(side) = beyond(own_sides, all_sides) {
        say(&NEVER, &["age", side], format!("this age lies outside those of {}, which stop first", area.name));
    }
}

fn weights(area: &Area, indication: &Indication, say: &mut impl FnMut(&'static Code, &[&str], String)) {
    let sides = |band: &Option<Band<Quantity<BodyMass>>>| {
        let sides = band.as_ref().map(|band| (band.from.map(Quantity::value), band.to.map(Quantity::value)));
        sides.unwrap_or((None, None))
    };
    let stops = sides(&area.weight.hard);
    for (name, band) in [("soft", &indication.weight.soft), ("hard", &indication.weight.hard)] {
        let own = sides(band);
        if is_apart(own, stops) {
            say(&NOBODY, &["weight", name], format!("these weights and those of {} have nobody in common", area.name));
        } else if let Some(side) = beyond(own, stops) {
            let message = format!("this weight lies outside the hard limits of {}, which stop first", area.name);
            say(&NEVER, &["weight", name, side], message);
        }
    }
}

/// A limit on the rate above what the highest dose allowed gives to the heaviest patient allowed in the weakest strength.
fn flow(
    seen: &DrugSeen<'_>,
    area: &Area,
    indication: &Indication,
    say: &mut impl FnMut(&'static Code, &[&str], String),
) {
    let weight = heaviest_allowed(area, indication);
    let hard = indication.phases.iter().filter_map(|(_, limits)| limits.beyond.hard.as_ref()?.to);
    let rates: Option<Vec<Ratio>> =
        hard.flat_map(|dose| stocked(seen.drug, indication).map(move |one| rate(dose, one, weight))).collect();
    let Some(most) = rates.and_then(|rates| rates.into_iter().max()) else { return };
    // A strength that is not listed may be weaker than all of these.
    if !indication.listed_only {
        return;
    }
    for (name, band) in [("soft", &indication.flow.soft), ("hard", &indication.flow.hard)] {
        let Some(to) = band.as_ref().and_then(|band| band.to).filter(|to| to.value() > most) else { continue };
        let message =
            format!("no dose allowed here runs faster than {} mL/h, so {to} is never reached", exact_or_about(most));
        say(&NEVER, &["flow", name, "to"], message);
    }
}

type Sides = (Option<Ratio>, Option<Ratio>);

fn is_apart(own: Sides, all: Sides) -> bool {
    let is_above = |low: Option<Ratio>, high: Option<Ratio>| low.zip(high).is_some_and(|(low, high)| low > high);
    is_above(own.0, all.1) || is_above(all.0, own.1)
}

/// Which side lies outside.
fn beyond(own: Sides, all: Sides) -> Option<&'static str> {
    if own.0.zip(all.0).is_some_and(|(own, all)| own < all) {
        return Some("from");
    }
    own.1.zip(all.1).is_some_and(|(own, all)| own > all).then_some("to")
}
