//! Where a lower limit is missing that the reader does not ask for.

use crate::diagnostic::Level;
use crate::formulary::Phase;
use crate::upkeep::lint::rule::{Code, DrugSeen, Looks, Remarks, Rule};

static MISSING: Code = Code {
    id: "lower-limit-missing",
    level: Level::Warning,
    means: "A load has no lower soft limit.",
    matters: "A dose that is ten times too low passes unseen, and a patient without effect is given more by hand. Lower \
              limits matter as much as upper ones.",
    to_do: "write `from:` in `soft`",
    example: "soft: {from: 5 mcg/kg/min, to: 40 mcg/kg/min, source: label}",
};
static BOLUS: Code = Code {
    id: "bolus-lower-limit-missing",
    level: Level::Note,
    means: "The soft limits of a bolus have no lower side.",
    matters: "A bolus ten times too small passes unseen, and is followed by another.",
    to_do: "write `from:` in `soft`, or leave it if any smaller bolus is harmless",
    example: "soft: {from: 25 mcg/kg, to: 75 mcg/kg, source: label}",
};
pub(super) const RULE: Rule = Rule { codes: &[&MISSING, &BOLUS], looks: Looks::Drug(look) };

fn look(seen: &DrugSeen<'_>, remarks: &mut Remarks) {
    for indication in &seen.drug.indications {
        let (area, name) = (indication.area.as_str(), indication.name.as_str());
        for (phase, limits) in &indication.phases {
            let has_lower = limits.beyond.soft.as_ref().is_some_and(|soft| soft.from.is_some());
            if *phase == Phase::Load && !has_lower {
                let keys = ["areas", area, name, "phases", phase.word(), "soft"];
                remarks.add(&MISSING, &seen.drug.file, &keys, "the load has no lower soft limit");
            }
        }
        let bolus = indication.bolus.as_ref().and_then(|bolus| bolus.beyond.soft.as_ref());
        if bolus.is_some_and(|soft| soft.from.is_none()) {
            let keys = ["areas", area, name, "bolus", "soft"];
            remarks.add(&BOLUS, &seen.drug.file, &keys, "the bolus has no lower soft limit");
        }
    }
}
