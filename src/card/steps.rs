//! The steps of setting up, in the order in which hands do them. In: what a card is drawn from; out: steps to tick. The stop
//! before the start follows the WHO Surgical Safety Checklist (identity, plan, questions).

use crate::entry::{Entry, LineFilled};
use crate::quantity::exact_or_about;

use super::block::Block;
use super::build::Drawn;
use super::made;

pub(super) fn block(drawn: &Drawn<'_, '_>) -> Block {
    let computed = drawn.first.computed();
    let entry = computed.entry();
    let weight = if computed.counts_by_size() { ", weight" } else { "" };
    // One person in an emergency is not held up by a form.
    let consent = if drawn.second.is_some() { ", plan, consent" } else { ", plan" };
    let steps = vec![
        if entry.assumes_volumes() {
            "Syringe label: drug, amount, volume, strength as on this card".to_owned()
        } else {
            format!("Draw up {}; mix; label with drug, amount, volume, strength", draw_up(drawn))
        },
        if entry.assumes_volumes() {
            "Load and lock; size and kind of syringe on the display as in your hand".to_owned()
        } else {
            "Load and lock; size and kind of syringe on the display as on this card".to_owned()
        },
        format!("Prime: {}; driver run until fluid comes; connect", prime(drawn, entry)),
        "Programme the rate in the frame; read back every value on the display".to_owned(),
        "Trace the line, driver to patient; valves in place; driver at heart level".to_owned(),
        format!("Stop: wristband{weight}{consent} aloud; questions answered. Start"),
    ];
    Block::steps("setting_up", "Setting up (programmed is not started)", steps)
}

/// How it is made, and by whose entry where only one tells it.
fn draw_up(drawn: &Drawn<'_, '_>) -> String {
    let entry = drawn.first.computed().entry();
    let second = drawn.second.map(|second| second.computed().entry());
    let compared = drawn.first.computed().names().indication.as_ref().is_ok_and(|one| one.strengths.len() > 1);
    let row = made::row(entry, second, compared);
    if entry.made_from().or_else(|| second.and_then(Entry::made_from)).is_none() {
        return format!("({})", row.value);
    }
    // Whose word it is stands in the label of the row.
    let whose = row.label.split_once('(').map(|(_, rest)| format!(" ({rest}")).unwrap_or_default();
    format!("{}{whose}", row.value)
}

fn prime(drawn: &Drawn<'_, '_>, entry: &Entry) -> String {
    match entry.line_filled() {
        _ if entry.assumes("line") => "the line full, no air".to_owned(),
        LineFilled::FromThisSyringe => {
            format!("{} mL into the line, no air", exact_or_about(drawn.sum.run.priming))
        }
        LineFilled::AlreadyFull => "line full of this drug already, no air".to_owned(),
        LineFilled::WithDiluent => "line filled with diluent, no air".to_owned(),
        LineFilled::Empty => "line empty: fill it, no air left".to_owned(),
    }
}
