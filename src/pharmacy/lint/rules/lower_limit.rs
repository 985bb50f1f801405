//! Where a lower soft limit is missing: the reader asks for that of the start and of maintenance only.

use crate::pharmacy::lint::rule::{Code, DrugSeen, Looks, Remarks, Rule};

static MISSING: Code = Code::error("lower-limit-missing");
static BOLUS: Code = Code::note("bolus-lower-limit-missing");
pub(super) const RULE: Rule = Rule { codes: &[&MISSING, &BOLUS], looks: Looks::Drug(look) };

fn look(seen: &DrugSeen<'_>, remarks: &mut Remarks) {
    for indication in &seen.drug.indications {
        let (area, name) = (indication.area.as_str(), indication.name.as_str());
        for (phase, limits) in &indication.phases {
            let has_lower = limits.beyond.soft.as_ref().is_some_and(|soft| soft.from.is_some());
            if !has_lower {
                let keys = ["areas", area, name, "phases", phase.word(), "soft"];
                remarks.add(&MISSING, &seen.drug.file, &keys, format!("{phase} has no lower soft limit")).value("none");
            }
        }
        let bolus = indication.bolus.as_ref().and_then(|bolus| bolus.beyond.soft.as_ref());
        if bolus.is_some_and(|soft| soft.from.is_none()) {
            let keys = ["areas", area, name, "bolus", "soft"];
            remarks.add(&BOLUS, &seen.drug.file, &keys, "the bolus has no lower soft limit");
        }
    }
}
