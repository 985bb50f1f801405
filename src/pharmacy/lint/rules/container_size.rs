//! A strength that is made up in more than any container takes.

use crate::formulary::Composition;
use crate::pharmacy::lint::rule::{Code, DrugSeen, Looks, Remarks, Rule};

static TOO_MUCH: Code = Code::warning("strength-fits-no-container");

pub(super) const RULE: Rule = Rule { codes: &[&TOO_MUCH], looks: Looks::Drug(look) };

fn look(seen: &DrugSeen<'_>, remarks: &mut Remarks) {
    let containers = &seen.formulary.equipment().containers;
    let Some(largest) = containers.iter().max_by_key(|container| container.usable.value()) else { return };
    for one in &seen.drug.strengths {
        let volume = match one.composition {
            Composition::Fixed { volume, .. } | Composition::PerKilogram { volume, .. } => volume,
        };
        if volume.value() > largest.usable.value() {
            let message = format!(
                "`{}` is made up in {volume}, and the largest, `{}`, takes {}",
                one.key, largest.key, largest.usable
            );
            remarks.add(&TOO_MUCH, &seen.drug.file, &["strengths", &one.key, "volume"], message);
        }
    }
}
