//! Hard limits so far above what is usual that a tenfold slip is not stopped.

use crate::pharmacy::lint::rule::{Code, DrugSeen, Looks, Remarks, Rule};
use crate::quantity::{Ratio, exact_or_about};

static DOSE: Code = Code::error("hard-far-above-usual");
static BOLUS: Code = Code::error("bolus-hard-far-above-usual");

/// The slip that happens most: a misplaced point.
const SLIP: u64 = 10;

pub(super) const RULE: Rule = Rule { codes: &[&DOSE, &BOLUS], looks: Looks::Drug(look) };

fn look(seen: &DrugSeen<'_>, remarks: &mut Remarks) {
    for indication in &seen.drug.indications {
        for (phase, limits) in &indication.phases {
            let hard = limits.beyond.hard.as_ref().and_then(|hard| hard.to);
            let Some((usual, hard)) = limits.usual.to.zip(hard) else { continue };
            if let Some(times) = far_above(usual.number().ratio(), hard.number().ratio()) {
                let keys = ["areas", &indication.area, &indication.name, "phases", phase.word(), "hard"];
                remarks.add(&DOSE, &seen.drug.file, &keys, message(&usual, &hard, times)).value(hard);
            }
        }
        let Some(bolus) = &indication.bolus else { continue };
        let usual = bolus.usual.as_ref().or(bolus.beyond.soft.as_ref()).and_then(|usual| usual.to);
        let hard = bolus.beyond.hard.as_ref().and_then(|hard| hard.to);
        let Some((usual, hard)) = usual.zip(hard) else { continue };
        if let Some(times) = far_above(usual.number().ratio(), hard.number().ratio()) {
            let keys = ["areas", &indication.area, &indication.name, "bolus", "hard"];
            remarks.add(&BOLUS, &seen.drug.file, &keys, message(&usual, &hard, times)).value(hard);
        }
    }
}

/// How many times as much, where ten times the usual is not stopped.
fn far_above(usual: Ratio, hard: Ratio) -> Option<Ratio> {
    hard.over(usual).ok().filter(|times| *times >= Ratio::whole(SLIP))
}

fn message(usual: &impl ToString, hard: &impl ToString, times: Ratio) -> String {
    let (usual, hard) = (usual.to_string(), hard.to_string());
    format!("only more than {hard} is stopped, {} times the highest usual, {usual}", exact_or_about(times))
}
