//! What a house leaves out of its rules, so that nothing is checked.

use crate::pharmacy::lint::rule::{AllSeen, Code, Looks, Remarks, Rule};

static NOT_COMPARED: Code = Code::warning("next-syringe-not-compared");

pub(super) const RULE: Rule = Rule { codes: &[&NOT_COMPARED], looks: Looks::All(look) };

fn look(seen: &AllSeen<'_>, remarks: &mut Remarks) {
    if seen.formulary.policy().next_syringe_times.is_none() {
        let message =
            "`next_syringe_times` is missing: the dose of a next syringe is not compared with the dose that runs";
        remarks.add(&NOT_COMPARED, "formulary.yaml", &["policy"], message);
    }
}
