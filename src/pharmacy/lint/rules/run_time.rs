//! How long a full syringe lasts at usual doses.

use crate::formulary::{Area, Composition, Formulary, Indication, Stocked};
use crate::pharmacy::lint::patients::{rate, stocked, weights};
use crate::pharmacy::lint::rule::{Code, DrugSeen, Looks, Remarks, Rule};
use crate::quantity::{Quantity, Ratio, duration};

static ALWAYS_SHORT: Code = Code::warning("syringe-never-lasts");
static SHORT: Code = Code::note("syringe-lasts-short");
static EXPIRES: Code = Code::note("syringe-outlives-its-life");

/// The time below which it is said, in hours (common practice, no source): time to make up the next one without haste.
const SHORTEST: (u128, u128) = (1, 2);

pub(super) const RULE: Rule = Rule { codes: &[&ALWAYS_SHORT, &SHORT, &EXPIRES], looks: Looks::Drug(look) };

fn look(seen: &DrugSeen<'_>, remarks: &mut Remarks) {
    let Ok(shortest) = Ratio::new(SHORTEST.0, SHORTEST.1) else { return };
    let life = seen.drug.life.value();
    for indication in &seen.drug.indications {
        let Some(area) = seen.formulary.area(&indication.area) else { continue };
        for one in stocked(seen.drug, indication) {
            let Some(lasts) = lasts(seen.formulary, area, indication, one) else { continue };
            let keys = ["areas", &indication.area, &indication.name, "strengths"];
            let mut say = |code, what: String| {
                let message = format!("a full {} of {one} (`{}`) {what}", lasts.container, one.key);
                remarks.add(code, &seen.drug.file, &keys, message);
            };
            if lasts.longest < shortest {
                say(&ALWAYS_SHORT, format!("lasts {} or less at every usual dose", duration(lasts.longest)));
            } else if lasts.shortest < shortest {
                let lasts = duration(lasts.shortest);
                say(&SHORT, format!("lasts {lasts} at the highest usual dose of the heaviest patient"));
            }
            if lasts.shortest > life {
                let (lasts, life) = (duration(lasts.shortest), duration(life));
                say(&EXPIRES, format!("lasts {lasts} or more at every usual dose, and may be used for {life}"));
            }
        }
    }
}

/// Between which times a full container of the area lasts, in hours.
struct Lasts<'f> {
    container: &'f str,
    longest: Ratio,
    shortest: Ratio,
}

fn lasts<'f>(
    formulary: &'f Formulary,
    area: &'f Area,
    indication: &Indication,
    stocked: &Stocked,
) -> Option<Lasts<'f>> {
    let equipment = formulary.equipment();
    let standard = equipment.container(&area.standard.container)?;
    let line = equipment.line(&area.standard.line)?;
    let made = match stocked.composition {
        Composition::Fixed { volume, .. } | Composition::PerKilogram { volume, .. } => volume.value(),
    };
    // What is more than the standard container takes is made up in the smallest that takes it.
    let larger =
        equipment.containers.iter().filter(|one| one.usable.value() >= made).min_by_key(|one| one.usable.value());
    let container = if standard.usable.value() >= made { standard } else { larger.unwrap_or(standard) };
    let filled = container.usable.value().min(made);
    let left = [container.stays_behind, line.priming_volume].map(Quantity::value);
    let volume = left.into_iter().try_fold(filled, Ratio::less).ok()?;
    let weights = weights(area, indication);
    let doses = |low: bool| {
        let ends =
            indication.phases.iter().map(move |(_, limits)| if low { limits.usual.from } else { limits.usual.to });
        let weight = weights.map(|weights| if low { weights.lightest } else { weights.heaviest });
        ends.flatten().filter_map(move |dose| rate(dose, stocked, weight))
    };
    let (slowest, fastest) = (doses(true).min()?, doses(false).max()?);
    Some(Lasts { container: &container.key, longest: volume.over(slowest).ok()?, shortest: volume.over(fastest).ok()? })
}
