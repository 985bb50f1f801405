//! Uses of one drug in one area that are divided by age: two that overlap, patients between two whom none covers, and
//! weights that no patient of the ages has.

use crate::check::growth;
use crate::entry::Sex;
use crate::formulary::{Area, Indication};
use crate::pharmacy::lint::rule::{Code, DrugSeen, Looks, Remarks, Rule};
use crate::quantity::{Age, BodyMass, Quantity, Ratio};

static OVERLAP: Code = Code::error("bands-overlap");
static GAP: Code = Code::error("bands-leave-gap");
static WEIGHT: Code = Code::error("weight-unlikely-for-age");

pub(super) const RULE: Rule = Rule { codes: &[&OVERLAP, &GAP, &WEIGHT], looks: Looks::Drug(look) };

fn look(seen: &DrugSeen<'_>, remarks: &mut Remarks) {
    let file = &seen.drug.file;
    for area in seen.formulary.areas() {
        let uses: Vec<&Indication> = seen.drug.indications.iter().filter(|one| one.area == area.name).collect();
        for (at, one) in uses.iter().enumerate() {
            if let Some((heaviest, message)) = weight(one) {
                remarks.add(&WEIGHT, file, &["areas", &one.area, &one.name, "weight"], message).value(heaviest);
            }
            for by in [by_age, by_weight] {
                if let Some(Beside { code, field, ends, message }) = beside(&uses, at, area, by) {
                    remarks.add(code, file, &["areas", &one.area, &one.name, field], message).value(ends);
                }
            }
        }
    }
}

/// A side of a band as a number, and as it is written.
type End = Option<(Ratio, String)>;

/// The lower and the upper end of a band.
type Ends = (End, End);

fn by_age(one: &Indication) -> (&'static str, Ends) {
    let end = |age: Option<Age>| age.map(|age| (age.days(), age.to_string()));
    let ends = one.age.as_ref().map(|age| (end(age.from), end(age.to)));
    ("age", ends.unwrap_or((None, None)))
}

fn by_weight(one: &Indication) -> (&'static str, Ends) {
    let end = |weight: Option<Quantity<_>>| weight.map(|weight| (weight.value(), weight.to_string()));
    let ends = one.weight.hard.as_ref().map(|weight| (end(weight.from), end(weight.to)));
    ("weight", ends.unwrap_or((None, None)))
}

/// Two uses that do not meet: the end of the one and the beginning of the other.
struct Beside {
    code: &'static Code,
    field: &'static str,
    ends: String,
    message: String,
}

/// What is wrong between the use at this place and those beside it.
fn beside(uses: &[&Indication], at: usize, area: &Area, by: fn(&Indication) -> (&'static str, Ends)) -> Option<Beside> {
    let (field, (from, to)) = by(uses[at]);
    let from = from.as_ref()?;
    let others = uses.iter().enumerate().filter(|(other, _)| *other != at).map(|(_, one)| *one);
    // Weights are bands of one order only where the ages are the same.
    let others = others.filter(|one| field == "age" || ages(one) == ages(uses[at]));
    let below: Vec<(&Indication, Ends)> = others.map(|one| (one, by(one).1)).collect();
    // One that begins lower and ends within this one.
    for (other, (other_from, other_to)) in &below {
        let begins_lower = other_from.as_ref().is_none_or(|(other, _)| *other < from.0);
        let Some((end, shown)) = other_to else { continue };
        let ends_within = *end > from.0 && to.as_ref().is_none_or(|(to, _)| end < to);
        if begins_lower && ends_within {
            let message = format!("{field} from {} here, and {} reaches to {shown}", from.1, other.name);
            return Some(Beside { code: &OVERLAP, field, ends: format!("{shown} and {}", from.1), message });
        }
    }
    // Nobody covers what lies right below it, and somebody ends further down.
    let covers = |(_, (low, high)): &(&Indication, Ends)| {
        low.as_ref().is_none_or(|(low, _)| *low < from.0) && high.as_ref().is_none_or(|(high, _)| *high >= from.0)
    };
    if below.iter().any(covers) {
        return None;
    }
    let ended = below.iter().filter_map(|(other, (_, end))| Some((other, end.as_ref()?)));
    let (other, (_, shown)) = ended.filter(|(_, (end, _))| *end < from.0).max_by_key(|(_, (end, _))| *end)?;
    let message = format!(
        "{} ends at {field} {shown}, and this begins at {}: nobody between in {}",
        other.name, from.1, area.name
    );
    Some(Beside { code: &GAP, field, ends: format!("{shown} and {}", from.1), message })
}

fn ages(one: &Indication) -> (Option<Ratio>, Option<Ratio>) {
    let days = |age: Option<Age>| age.map(Age::days);
    one.age.as_ref().map_or((None, None), |age| (days(age.from), days(age.to)))
}

/// The heaviest patient allowed, against the oldest.
fn weight(one: &Indication) -> Option<(Quantity<BodyMass>, String)> {
    let age = one.age.as_ref()?.to?;
    let heaviest = one.weight.hard.as_ref().and_then(|hard| hard.to)?;
    let of = |sex| growth::z_score(sex, age.days().approximate(), heaviest.value().approximate());
    let scores = [of(Sex::Female)?, of(Sex::Male)?];
    // Five standard deviations from the median of the oldest is nobody's weight; chosen.
    let what = if scores.iter().all(|z| *z > 5.0) {
        "far more"
    } else if scores.iter().all(|z| *z < -5.0) {
        "far less"
    } else {
        return None;
    };
    Some((heaviest, format!("{heaviest} is {what} than anybody weighs at {age}, the highest age here")))
}
