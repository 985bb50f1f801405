//! The rates of the ordered range's ends and of the bolus: a small table apart from the one rate that is set at the start,
//! each behind its dose.

use crate::infusion::{Computed, Sum};
use crate::quantity::{DoseRate, Ratio, exact_or_about};

use super::block::{Block, FactRow};

/// Nothing where neither a range nor a bolus was ordered.
pub(super) fn block(computed: &Computed<'_>, sum: &Sum) -> Option<Block> {
    let entry = computed.entry();
    let mut rows = Vec::new();
    if let Some(range) = entry.titration() {
        rows.push(FactRow {
            key: "from".into(),
            label: "Range, lower end".into(),
            value: end(computed, sum, range.from)?,
        });
        rows.push(FactRow { key: "to".into(), label: "Range, upper end".into(), value: end(computed, sum, range.to)? });
    }
    if let (Some(ordered), Some(found)) = (entry.bolus(), sum.bolus) {
        let rate = found.volume.over(found.over).ok()?;
        let value = format!("{} over {}: {}", ordered.dose, ordered.over, in_words(rate));
        rows.push(FactRow { key: "bolus".into(), label: "Bolus".into(), value });
    }
    let heading = "Other doses and their rates: NOT the rate to start at";
    (!rows.is_empty()).then_some(Block::facts("other_rates", heading, rows))
}

/// What stands for a rate that is the one to set.
pub(super) const THE_RATE_ABOVE: &str = "the rate above";

/// A dose, and the rate that the driver is set to for it.
fn end(computed: &Computed<'_>, sum: &Sum, dose: DoseRate) -> Option<String> {
    let (_, set) = computed.rates_of(dose)?;
    let driver = computed.names().driver?;
    let reached = set >= driver.smallest.value() && set <= driver.largest.value();
    let rate = match (set == sum.set, reached) {
        (true, _) => THE_RATE_ABOVE.to_owned(),
        (false, true) => in_words(set),
        (false, false) => "this driver cannot be set to it".to_owned(),
    };
    Some(format!("{dose}: {rate}"))
}

fn in_words(rate: Ratio) -> String {
    format!("{} mL/h", exact_or_about(rate))
}
