//! Amount, volume and strength on the label say the same.

use crate::check::cause;
use crate::check::finding::Code;
use crate::check::rule::{Findings, Judges, Rule};
use crate::infusion::Computed;
use crate::quantity::{Ratio, TooLarge};

static INCONSISTENT: Code = Code::impossible("label-inconsistent");

pub(super) const RULE: Rule = Rule { codes: &[&INCONSISTENT], judges: Judges::Entry, check };

fn check(computed: &Computed<'_>, findings: &mut Findings) {
    let label = computed.entry().label();
    let stated = label.strength.concentration();
    let held = label.content.concentration();
    if stated == held {
        return;
    }
    // A rounded strength is said on the card, beside the amount and volume that count.
    if stated.kind == held.kind && is_rounding(stated.per_ml, held.per_ml) {
        return;
    }
    let both = format!("{} in {} is {}", label.amount, label.volume, held.shown_in(label.amount.unit()));
    let slip = if stated.kind == held.kind { cause::of_ratio(stated.per_ml, held.per_ml) } else { None };
    let slip = slip.map(|slip| format!(". Perhaps {slip}")).unwrap_or_default();
    let message = format!("the label says {}, and {both}{slip}", label.strength);
    let help = "read all three off the syringe again; a label that contradicts itself is not used";
    findings.add(INCONSISTENT.found("label.strength", message).help(help));
}

/// Within half of the third significant digit: a label printed to three digits.
fn is_rounding(stated: Ratio, held: Ratio) -> bool {
    // Only where the exact strength needs more than three digits can it have been rounded.
    let needs_more = !crate::quantity::significant(held, 3).1;
    let half = third_digit(held).and_then(|one| one.over(Ratio::whole(2)));
    needs_more && stated.apart(held).is_ok_and(|apart| half.is_ok_and(|most| apart <= most))
}

/// One in the third significant digit of a value: 1 for 133.33, and 0.01 for 1.3333.
fn third_digit(value: Ratio) -> Result<Ratio, TooLarge> {
    let (ten, mut one) = (Ratio::whole(10), Ratio::ONE);
    while value < one.times(Ratio::whole(100))? {
        one = one.over(ten)?;
    }
    while value >= one.times(Ratio::whole(1000))? {
        one = one.times(ten)?;
    }
    Ok(one)
}
