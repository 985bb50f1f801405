//! What is compared, one line a field, by meaning. Not compared: names, times, reasons, the plan, the diluent.

use crate::entry::{AgeGiven, Identifiers, NotTold, Preparation};
use crate::infusion::Computed;
use crate::quantity::{Age, Quantity, Ratio};

/// A field of the form and when two readings of it are the same.
#[derive(Debug)]
pub struct Compared {
    /// The field's name, as a disagreement names it.
    pub name: &'static str,
    pub(super) same: fn(&Computed<'_>, &Computed<'_>) -> bool,
}

/// Every compared field, in the order of the form.
pub const COMPARED: &[Compared] = &[
    Compared {
        name: "identifiers",
        same: |a, b| identifiers(&a.entry().patient().identifiers, &b.entry().patient().identifiers),
    },
    Compared { name: "weight", same: |a, b| a.entry().patient().weight == b.entry().patient().weight },
    Compared { name: "born", same: born },
    Compared { name: "gestation", same: |a, b| pregnancy(a) == pregnancy(b) },
    Compared { name: "sex", same: |a, b| !size_counts(a, b) || a.entry().patient().sex == b.entry().patient().sex },
    Compared {
        name: "height",
        same: |a, b| !size_counts(a, b) || a.entry().patient().height == b.entry().patient().height,
    },
    Compared { name: "drug", same: |a, b| drug(a) == drug(b) },
    Compared { name: "area", same: |a, b| folded(a.entry().area()) == folded(b.entry().area()) },
    Compared { name: "indication", same: |a, b| indication(a) == indication(b) },
    Compared { name: "phase", same: |a, b| a.entry().phase() == b.entry().phase() },
    Compared { name: "dose", same: |a, b| a.entry().dose().same_as(b.entry().dose()) },
    Compared { name: "titrate", same: titration },
    Compared { name: "bolus", same: bolus },
    Compared { name: "dosing_weight", same: |a, b| a.weight_choice() == b.weight_choice() },
    Compared { name: "label", same: |a, b| a.entry().label() == b.entry().label() },
    Compared { name: "made_from", same: made_from },
    Compared { name: "access", same: |a, b| a.entry().access() == b.entry().access() },
    Compared { name: "container", same: |a, b| a.entry().container() == b.entry().container() },
    Compared { name: "fill", same: |a, b| a.entry().fill() == b.entry().fill() },
    Compared { name: "line", same: |a, b| a.entry().line() == b.entry().line() },
    Compared { name: "line_filled", same: |a, b| a.entry().line_filled() == b.entry().line_filled() },
    Compared { name: "beyond", same: |a, b| beyond(a) == beyond(b) },
    Compared { name: "driver", same: |a, b| a.entry().driver() == b.entry().driver() },
];

fn identifiers(first: &Identifiers, second: &Identifiers) -> bool {
    match (first, second) {
        (Identifiers::Pending, Identifiers::Pending) => true,
        (Identifiers::Known(first), Identifiers::Known(second)) => {
            Identifiers::folded(first) == Identifiers::folded(second)
        }
        _ => false,
    }
}

/// A date of birth is an identifier too: two different ones are two patients or a slip. An age must fit it.
fn born(first: &Computed<'_>, second: &Computed<'_>) -> bool {
    let age = |computed: &Computed<'_>| computed.entry().patient().age;
    match (age(first), age(second)) {
        (Some(AgeGiven::Born(first)), Some(AgeGiven::Born(second))) => first == second,
        (Some(AgeGiven::Aged(first)), Some(AgeGiven::Aged(second))) => first.days() == second.days(),
        (Some(AgeGiven::Born(born)), Some(AgeGiven::Aged(age))) => fits(born, age, first),
        (Some(AgeGiven::Aged(age)), Some(AgeGiven::Born(born))) => fits(born, age, second),
        _ => true,
    }
}

/// Whether an age is the one that a birth date gives, within the unit in which the age is written.
fn fits(born: jiff::civil::Date, age: Age, on: &Computed<'_>) -> bool {
    let days = Age::days_from(born, on.entry().entered_at().date());
    days.and_then(|days| days.apart(age.days()).ok()).is_some_and(|apart| apart <= age.unit_in_days())
}

/// Where a use stocks two strengths or more, the ampoules tell which one it is: their count and what each holds, where both
/// people told them. One who did not see them agrees with nothing, and the card says whose word it is; bought in and made
/// here contradict each other.
fn made_from(first: &Computed<'_>, second: &Computed<'_>) -> bool {
    let stocks_several = [first, second]
        .iter()
        .any(|one| one.names().indication.as_ref().is_ok_and(|indication| indication.strengths.len() > 1));
    match (first.entry().preparation(), second.entry().preparation()) {
        (Some(Preparation::Told(a)), Some(Preparation::Told(b))) if stocks_several => {
            a.ampoules.ratio() == b.ampoules.ratio() && a.amount == b.amount && a.volume == b.volume
        }
        (Some(Preparation::Told(_)), Some(Preparation::NotTold(NotTold::BoughtIn)))
        | (Some(Preparation::NotTold(NotTold::BoughtIn)), Some(Preparation::Told(_))) => false,
        _ => true,
    }
}

/// Days of pregnancy at birth: one who leaves them out has another weight for the age than one who does not.
fn pregnancy(computed: &Computed<'_>) -> Option<Ratio> {
    computed.entry().patient().gestation.map(Age::days)
}

/// Height and sex count where a weight or surface is worked out from them.
fn size_counts(first: &Computed<'_>, second: &Computed<'_>) -> bool {
    let derived = |computed: &Computed<'_>| {
        use crate::infusion::ComputeError;
        match computed.sum() {
            Ok(sum) => sum.derived.is_some(),
            Err(ComputeError::Size(_)) => true,
            Err(_) => computed.entry().patient().height.is_some(),
        }
    };
    derived(first) || derived(second)
}

fn drug(computed: &Computed<'_>) -> String {
    computed.names().drug.as_ref().map_or_else(|_| folded(computed.entry().drug()), |drug| drug.name.clone())
}

fn indication(computed: &Computed<'_>) -> Option<String> {
    let found = computed.names().indication.as_ref().ok().map(|indication| indication.name.clone());
    found.or_else(|| computed.entry().indication().map(folded))
}

fn titration(first: &Computed<'_>, second: &Computed<'_>) -> bool {
    match (first.entry().titration(), second.entry().titration()) {
        (None, None) => true,
        (Some(a), Some(b)) => {
            let step = match (a.step, b.step) {
                (None, None) => true,
                (Some(a), Some(b)) => a.same_as(b),
                _ => false,
            };
            step && a.from.same_as(b.from) && a.to.same_as(b.to)
        }
        _ => false,
    }
}

fn bolus(first: &Computed<'_>, second: &Computed<'_>) -> bool {
    match (first.entry().bolus(), second.entry().bolus()) {
        (None, None) => true,
        (Some(a), Some(b)) => a.dose.same_as(b.dose) && a.over == b.over,
        _ => false,
    }
}

fn beyond(computed: &Computed<'_>) -> Ratio {
    computed.entry().beyond().map_or(Ratio::ZERO, Quantity::value)
}

fn folded(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase()
}
