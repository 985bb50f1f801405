//! The limits on weight by which a slip of the scales is found.

use crate::pharmacy::lint::rule::{AllSeen, Code, Looks, Remarks, Rule};

static WEIGHT: Code = Code::warning("weight-limit-missing");

pub(super) const RULE: Rule = Rule { codes: &[&WEIGHT], looks: Looks::All(look) };

fn look(seen: &AllSeen<'_>, remarks: &mut Remarks) {
    for area in seen.formulary.areas() {
        let sides = [("soft", &area.weight.soft), ("hard", &area.weight.hard)].map(|(name, band)| {
            let missing = match band {
                None => Some("has no limits"),
                Some(band) if band.from.is_none() => Some("has no `from`"),
                Some(band) if band.to.is_none() => Some("has no `to`"),
                Some(_) => None,
            };
            missing.map(|missing| format!("`{name}` {missing}"))
        });
        let missing: Vec<String> = sides.into_iter().flatten().collect();
        if !missing.is_empty() {
            let message = format!("the weight of patients in {}: {}", area.name, missing.join(", "));
            remarks.add(&WEIGHT, "areas.yaml", &[&area.name, "weight"], message);
        }
    }
}
