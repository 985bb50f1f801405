//! A strength that is made up in more than any container takes.

use crate::diagnostic::Level;
use crate::formulary::Composition;
use crate::upkeep::lint::rule::{Code, DrugSeen, Looks, Remarks, Rule};

static TOO_MUCH: Code = Code {
    id: "strength-fits-no-container",
    level: Level::Warning,
    means: "The volume of a strength is more than any syringe or bag of the equipment takes.",
    matters: "It cannot be made up as written: part of it is left over, or it is made up otherwise, by head.",
    to_do: "write the volume that is really made up, or add the container to equipment.yaml",
    example: "single: {amount: 50 mg, volume: 50 mL, source: label}",
};

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
