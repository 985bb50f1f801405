//! Peripheral maxima above every strength that is stocked: they can never speak.

use crate::formulary::Composition;
use crate::pharmacy::lint::rule::{Code, DrugSeen, Looks, Remarks, Rule};
use crate::quantity::Ratio;

static NEVER: Code = Code::error("maximum-never-speaks");

/// How many times the strongest stocked solution; chosen: strengths that are not stocked are a little stronger at most.
const FAR: u64 = 10;

pub(super) const RULE: Rule = Rule { codes: &[&NEVER], looks: Looks::Drug(look) };

fn look(seen: &DrugSeen<'_>, remarks: &mut Remarks) {
    let strongest = seen.drug.strengths.iter().filter_map(|one| match one.composition {
        Composition::Fixed { content, .. } => Some((content.per_ml, one)),
        Composition::PerKilogram { .. } => None,
    });
    let Some((strongest, stocked)) = strongest.max_by_key(|(per_ml, _)| *per_ml) else { return };
    let Ok(far) = strongest.times(Ratio::whole(FAR)) else { return };
    let maximum = &seen.drug.peripheral_maximum;
    for (name, band) in [("soft", &maximum.soft), ("hard", &maximum.hard)] {
        let Some(to) = band.as_ref().and_then(|band| band.to) else { continue };
        if to.concentration().per_ml >= far {
            let message = format!("{to} is far above the strongest that is stocked, {stocked} (`{}`)", stocked.key);
            remarks.add(&NEVER, &seen.drug.file, &["peripheral_maximum", name], message).value(to);
        }
    }
}
