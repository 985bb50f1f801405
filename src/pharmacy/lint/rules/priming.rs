//! Priming volumes that a line of its kind and length cannot have.

use crate::formulary::{Line, LineKind};
use crate::pharmacy::lint::rule::{AllSeen, Code, Looks, Remarks, Rule};
use crate::quantity::{Ratio, exact_or_about};

static UNLIKELY: Code = Code::warning("priming-volume-unlikely");

/// In mL per metre, a bore of 1.6 mm; between a narrow line (0.6 mL, 0.9 mm) and a standard one (8 mL, 3.2 mm).
const BETWEEN: u64 = 2;

pub(super) const RULE: Rule = Rule { codes: &[&UNLIKELY], looks: Looks::All(look) };

fn look(seen: &AllSeen<'_>, remarks: &mut Remarks) {
    for line in &seen.formulary.equipment().lines {
        let Some(per_metre) = per_metre(line) else { continue };
        let between = Ratio::whole(BETWEEN);
        let unlikely = match line.kind {
            LineKind::Narrow => per_metre > between,
            LineKind::Standard => per_metre < between,
        };
        if unlikely {
            let message = format!(
                "{} in {} are {} mL in each metre: not a {} line",
                line.priming_volume,
                line.length,
                exact_or_about(per_metre),
                line.kind
            );
            remarks.add(&UNLIKELY, "equipment.yaml", &["lines", &line.key, "priming_volume"], message);
        }
    }
}

fn per_metre(line: &Line) -> Option<Ratio> {
    // A length counts in cm.
    line.priming_volume.value().times(Ratio::whole(100)).ok()?.over(line.length.value()).ok()
}
