//! A range so wide that a slip stays inside it.

use crate::diagnostic::Level;
use crate::formulary::Band;
use crate::quantity::{DoseRate, Ratio, exact_or_about};
use crate::upkeep::lint::rule::{Code, DrugSeen, Looks, Remarks, Rule};

static USUAL: Code = Code {
    id: "usual-range-wide",
    level: Level::Warning,
    means: "The usual range of one phase reaches over more than 30 times its lower end.",
    matters: "A tenfold slip of a usual dose is again a usual dose: nothing is said about it.",
    to_do: "make it narrower, or divide it: `start`, `maintenance` and `weaning` have ranges of their own, and two uses are two indications",
    example: "usual: {from: 0.02 mcg/kg/min, to: 0.3 mcg/kg/min, source: label}",
};
static SOFT: Code = Code {
    id: "soft-range-wide",
    level: Level::Note,
    means: "The soft limits of one phase lie more than 30 times apart.",
    matters: "Between them nobody is asked for a reason, so a tenfold slip in the middle passes with none.",
    to_do: "bring the soft limits nearer to the usual range, where care allows it",
    example: "soft: {from: 0.02 mcg/kg/min, to: 0.5 mcg/kg/min, source: local}",
};

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
