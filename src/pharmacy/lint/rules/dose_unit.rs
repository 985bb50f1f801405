//! One drug in several dose units.

use crate::formulary::Indication;
use crate::pharmacy::lint::rule::{Code, DrugSeen, Looks, Remarks, Rule};
use crate::quantity::{DoseRateUnit, Product, Ratio, Unit};

static DIFFERS: Code = Code::note("dose-unit-differs");

pub(super) const RULE: Rule = Rule { codes: &[&DIFFERS], looks: Looks::Drug(look) };

fn look(seen: &DrugSeen<'_>, remarks: &mut Remarks) {
    let uses = &seen.drug.indications;
    for (index, one) in uses.iter().enumerate() {
        // Each other unit is said once, where it first stands.
        let is_new = uses[..index].iter().all(|before| before.dose_unit != one.dose_unit);
        let Some(first) = uses.first().filter(|first| is_new && first.dose_unit != one.dose_unit) else { continue };
        let message = format!(
            "the dose is in {} here, and in {} for {}: {}",
            one.dose_unit,
            first.dose_unit,
            place(first),
            trap(one.dose_unit, first.dose_unit)
        );
        let keys = ["areas", &one.area, &one.name, "dose_unit"];
        remarks.add(&DIFFERS, &seen.drug.file, &keys, message);
    }
}

fn place(indication: &Indication) -> String {
    format!("{} in {}", indication.name, indication.area)
}

/// By how much one number means another dose in the other unit.
fn trap(one: DoseRateUnit, other: DoseRateUnit) -> String {
    let (dose, other_dose) = (one.dose(), other.dose());
    if dose.kind() != other_dose.kind() {
        return "they count different things".to_owned();
    }
    let size = |unit: DoseRateUnit| {
        Product::ONE.unit(unit.dose().amount()).unit(Unit::Hour).over_unit(unit.time()).finish().ok()
    };
    let times = size(one).zip(size(other)).and_then(|(one, other)| {
        let times = if one > other { one.over(other) } else { other.over(one) };
        times.ok().filter(|times| *times != Ratio::ONE)
    });
    let times =
        times.map(|times| format!("the same number is {} times another dose", crate::quantity::exact_or_about(times)));
    let weight = (dose.per() != other_dose.per())
        .then(|| "one counts the body and the other does not, or another measure of it".to_owned());
    [times, weight].into_iter().flatten().collect::<Vec<_>>().join(", and ")
}
