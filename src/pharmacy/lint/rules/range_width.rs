//! A soft range so wide that a tenfold slip stays inside it.

use crate::formulary::{DoseLimits, Indication, Phase};
use crate::pharmacy::lint::rule::{Code, DrugSeen, Looks, Remarks, Rule};
use crate::quantity::{DoseRate, Ratio, exact_or_about};

static TENFOLD: Code = Code::error("soft-range-tenfold");
static WIDE: Code = Code::note("soft-range-wide");

/// The slip that happens most: a misplaced point.
const SLIP: u64 = 10;

pub(super) const RULE: Rule = Rule { codes: &[&TENFOLD, &WIDE], looks: Looks::Drug(look) };

fn look(seen: &DrugSeen<'_>, remarks: &mut Remarks) {
    for indication in &seen.drug.indications {
        for (phase, limits) in &indication.phases {
            let Some((low, slipped, high)) = silent(limits) else { continue };
            let keys = ["areas", &indication.area, &indication.name, "phases", phase.word(), "soft"];
            let slipped = format!("{} {}", exact_or_about(slipped), indication.dose_unit);
            let message = format!("ten times {low} is {slipped}, and no reason is asked for up to {high}");
            let code = if *phase == Phase::Maintenance && is_narrow_at_start(indication) { &WIDE } else { &TENFOLD };
            remarks.add(code, &seen.drug.file, &keys, message).value(high);
        }
    }
}

/// Whether the doses of the start are held to a range in which a slip is seen.
fn is_narrow_at_start(indication: &Indication) -> bool {
    indication.limits(Phase::Start).is_some_and(|limits| silent(limits).is_none())
}

/// The lowest dose that asks for no reason, and ten times that, where it asks for none either.
fn silent(limits: &DoseLimits) -> Option<(DoseRate, Ratio, DoseRate)> {
    let soft = limits.beyond.soft.as_ref()?;
    let (low, high) = (soft.from.or(limits.usual.from)?, soft.to?);
    let slipped = low.number().ratio().times(Ratio::whole(SLIP)).ok()?;
    (slipped <= high.number().ratio()).then_some((low, slipped, high))
}
