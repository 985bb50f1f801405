//! A strength that is called one per kg, and is the same for every patient.

use crate::pharmacy::lint::rule::{Code, DrugSeen, Looks, Remarks, Rule};

static NOT_PER_KG: Code = Code::error("strength-not-per-kg");

pub(super) const RULE: Rule = Rule { codes: &[&NOT_PER_KG], looks: Looks::Drug(look) };

fn look(seen: &DrugSeen<'_>, remarks: &mut Remarks) {
    for one in seen.drug.strengths.iter().filter(|one| one.key.contains("per kg") && !one.is_per_kilogram()) {
        let message = format!("`{}` is {one}, whatever the patient weighs", one.key);
        remarks.add(&NOT_PER_KG, &seen.drug.file, &["strengths", &one.key, "amount"], message).value(one);
    }
}
