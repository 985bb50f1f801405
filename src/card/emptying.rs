//! What is in the syringe against time. In: a computed entry; out: its block, with the moment at which the next syringe is
//! needed.

use crate::infusion::{Computed, Sum};
use crate::quantity::{Moment, Ratio};

use super::block::{Block, Emptying};

/// Nothing where an ordered bolus takes all of it.
pub(super) fn block(computed: &Computed<'_>, sum: &Sum, discard_after: Option<Moment>) -> Option<Block> {
    let run = &sum.run;
    let starts_at = computed.entry().starts_at();
    if run.lasts.is_zero() {
        return None;
    }
    // Where no start is given, times count from the entry.
    let from = starts_at.unwrap_or(computed.entry().entered_at());
    let good_for = discard_after.and_then(|discard| Some((discard.hours_since(from)?, discard)));
    let (change_over, discarded_at) = match good_for {
        Some((good_for, discard)) if good_for < run.lasts => (good_for, Some(discard.shown_as(from))),
        _ => (run.lasts, None),
    };
    Some(Block::Emptying(Box::new(Emptying {
        holds: run.fill.less(run.priming).unwrap_or(Ratio::ZERO),
        bolus: sum.bolus.map(|bolus| bolus.volume),
        stays_behind: run.stays_behind,
        lasts: run.lasts,
        change_over,
        discarded_at,
        starts_at,
    })))
}
