//! A range so wide that a slip stays inside it.

use crate::formulary::Band;
use crate::quantity::{DoseRate, Ratio, exact_or_about};
use crate::upkeep::lint::rule::{Code, DrugSeen, Looks, Remarks, Rule};

static USUAL: Code = Code::warning("usual-range-wide");
static SOFT: Code = Code::note("soft-range-wide");

/// The width from which it is said (common practice, no source): three times the slip that happens most, ten.
const WIDEST: u64 = 30;

pub(super) const RULE: Rule = Rule { codes: &[&USUAL, &SOFT], looks: Looks::Drug(look) };

fn look(seen: &DrugSeen<'_>, remarks: &mut Remarks) {
    for indication in &seen.drug.indications {
        for (phase, limits) in &indication.phases {
            let bands = [(&USUAL, "usual", Some(&limits.usual)), (&SOFT, "soft", limits.beyond.soft.as_ref())];
            for (code, name, band) in bands {
                let Some((from, to, times)) = band.and_then(width) else { continue };
                let keys = ["areas", &indication.area, &indication.name, "phases", phase.word(), name];
                let message = format!("`{name}` goes from {from} to {to}, {} times as much", exact_or_about(times));
                remarks.add(code, &seen.drug.file, &keys, message);
            }
        }
    }
}

fn width(band: &Band<DoseRate>) -> Option<(DoseRate, DoseRate, Ratio)> {
    let (from, to) = (band.from?, band.to?);
    let times = to.number().ratio().over(from.number().ratio()).ok()?;
    (times > Ratio::whole(WIDEST)).then_some((from, to, times))
}
