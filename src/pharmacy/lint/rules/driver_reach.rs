//! Rates at usual doses that no driver can run, or none with enough steps.

use crate::formulary::{Driver, Indication, Phase, Stocked};
use crate::pharmacy::lint::patients::{Weights, rate, stocked, weights};
use crate::pharmacy::lint::rule::{Code, DrugSeen, Looks, Remarks, Rule};
use crate::quantity::{DoseRate, Ratio, exact_or_about};

static BELOW: Code = Code::warning("rate-below-every-driver");
static ABOVE: Code = Code::warning("rate-above-every-driver");
static COARSE: Code = Code::note("rate-coarse");

pub(super) const RULE: Rule = Rule { codes: &[&BELOW, &ABOVE, &COARSE], looks: Looks::Drug(look) };

fn look(seen: &DrugSeen<'_>, remarks: &mut Remarks) {
    let drivers = &seen.formulary.equipment().drivers;
    let Some(smallest) = drivers.iter().min_by_key(|driver| driver.smallest.value()) else { return };
    let Some(largest) = drivers.iter().max_by_key(|driver| driver.largest.value()) else { return };
    for indication in &seen.drug.indications {
        let Some(area) = seen.formulary.area(&indication.area) else { continue };
        let weights = weights(area, indication);
        for one in stocked(seen.drug, indication) {
            let keys = ["areas", &indication.area, &indication.name, "strengths"];
            let mut say = |code, end: &End, what: &str, limit: String| {
                let needed = exact_or_about(end.rate);
                let message = format!("{one} (`{}`): {} needs {needed} mL/h, {what} {limit}", one.key, end.shown);
                remarks.add(code, &seen.drug.file, &keys, message);
            };
            if let Some(end) = lowest(indication, one, weights) {
                if end.rate < smallest.smallest.value() {
                    say(&BELOW, &end, "below the smallest rate of every driver,", smallest.smallest.to_string());
                } else if !indication.titrated_to_effect
                    && let Some(step) = coarse(drivers, end.rate, seen.formulary.policy().rounding_justify.value())
                {
                    say(&COARSE, &end, "and the finest step there is", step);
                }
            }
            if let Some(end) = highest(indication, one, weights)
                && end.rate > largest.largest.value()
            {
                say(&ABOVE, &end, "above the largest rate of every driver,", largest.largest.to_string());
            }
        }
    }
}

/// An end of the usual doses, in words, and the rate it needs in mL/h.
struct End {
    shown: String,
    rate: Ratio,
}

/// On the way off a dose goes down to nothing: weaning does not count.
fn lowest(indication: &Indication, stocked: &Stocked, weights: Option<Weights>) -> Option<End> {
    let phases = indication.phases.iter().filter(|(phase, _)| *phase != Phase::Weaning);
    let doses = phases.filter_map(|(_, limits)| limits.usual.from);
    let weight = weights.map(|weights| weights.lightest);
    doses.filter_map(|dose| end(dose, stocked, weight)).min_by_key(|end| end.rate)
}

fn highest(indication: &Indication, stocked: &Stocked, weights: Option<Weights>) -> Option<End> {
    let doses = indication.phases.iter().filter_map(|(_, limits)| limits.usual.to);
    let weight = weights.map(|weights| weights.heaviest);
    doses.filter_map(|dose| end(dose, stocked, weight)).max_by_key(|end| end.rate)
}

fn end(dose: DoseRate, stocked: &Stocked, weight: Option<Ratio>) -> Option<End> {
    let rate = rate(dose, stocked, weight)?;
    let of = match weight {
        Some(weight) => format!(" of a patient of {} kg", exact_or_about(weight)),
        None => String::new(),
    };
    Some(End { shown: format!("the usual dose {dose}{of}"), rate })
}

/// The finest step at this rate, if half of it is more than that percentage of the rate.
fn coarse(drivers: &[Driver], rate: Ratio, most: Ratio) -> Option<String> {
    let able = drivers.iter().filter(|driver| driver.smallest.value() <= rate && rate <= driver.largest.value());
    let steps = able.filter_map(|driver| driver.nearest(rate).ok()).map(|(_, step)| step);
    let finest = steps.min_by_key(|step| step.value())?;
    let percent = finest.value().times(Ratio::whole(50)).and_then(|half| half.over(rate)).ok()?;
    (percent > most).then(|| finest.to_string())
}
