//! A stocked solution whose usual doses are all stopped by the checks themselves.

use crate::pharmacy::lint::patients::stocked;
use crate::pharmacy::lint::rule::{Code, DrugSeen, Looks, Remarks, Rule};
use crate::pharmacy::survey;

static STOPPED: Code = Code::error("usual-doses-all-stopped");

pub(super) const RULE: Rule = Rule { codes: &[&STOPPED], looks: Looks::Drug(look) };

fn look(seen: &DrugSeen<'_>, remarks: &mut Remarks) {
    for indication in &seen.drug.indications {
        let Some(area) = seen.formulary.area(&indication.area) else { continue };
        for one in stocked(seen.drug, indication) {
            let usual = survey::Usual { formulary: seen.formulary, drug: seen.drug, indication, area };
            let Some(codes) = usual.all_stopped(one, seen.now) else { continue };
            let message = format!(
                "{one} (`{}`): every usual dose is stopped, by {}",
                one.key,
                codes.into_iter().collect::<Vec<_>>().join(", ")
            );
            let keys = ["areas", &indication.area, &indication.name, "strengths"];
            remarks.add(&STOPPED, &seen.drug.file, &keys, message).value(one);
        }
    }
}
