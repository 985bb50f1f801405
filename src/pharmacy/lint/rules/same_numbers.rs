//! A use with the very numbers of another drug: a file that was copied and renamed.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use crate::formulary::{Band, Drug, Indication};
use crate::pharmacy::lint::patients::stocked;
use crate::pharmacy::lint::rule::{AllSeen, Code, Looks, Remarks, Rule};
use crate::quantity::DoseRate;

static SAME: Code = Code::error("same-numbers-as-another-drug");

pub(super) const RULE: Rule = Rule { codes: &[&SAME], looks: Looks::All(look) };

fn look(seen: &AllSeen<'_>, remarks: &mut Remarks) {
    let mut by_numbers: BTreeMap<String, &Drug> = BTreeMap::new();
    for drug in seen.drugs {
        let numbers: Vec<(&Indication, String)> =
            drug.indications.iter().map(|indication| (indication, numbers(drug, indication))).collect();
        let copied = numbers.iter().find_map(|(indication, numbers)| Some((indication, by_numbers.get(numbers)?)));
        if let Some((indication, other)) = copied {
            let place = format!("{} in {}", indication.name, indication.area);
            let message = format!("every strength and every limit for {place} is that of {}", other.name);
            remarks.add(&SAME, &drug.file, &["areas", &indication.area, &indication.name], message).value(&other.name);
        }
        for (_, numbers) in numbers {
            by_numbers.entry(numbers).or_insert(drug);
        }
    }
}

/// A use without the name of its drug: where, what for, and every number.
fn numbers(drug: &Drug, indication: &Indication) -> String {
    let mut numbers = format!("{}, {}, {}", indication.area, indication.name, indication.dose_unit);
    for one in stocked(drug, indication) {
        let _ = write!(numbers, ", {one}");
    }
    for (phase, limits) in &indication.phases {
        let _ = write!(numbers, ", {phase}");
        let bands = [Some(&limits.usual), limits.beyond.soft.as_ref(), limits.beyond.hard.as_ref()];
        bands.into_iter().flatten().for_each(|band| add(&mut numbers, band));
    }
    numbers
}

fn add(numbers: &mut String, band: &Band<DoseRate>) {
    for side in [band.from, band.to] {
        match side {
            Some(side) => _ = write!(numbers, " {side}"),
            None => numbers.push_str(" none"),
        }
    }
}
