//! Volumes and times. In: what a card is drawn from; out: its block, with the moment by which the syringe is changed.

use crate::check::Checked;
use crate::entry::{Entry, LineFilled};
use crate::infusion::{Computed, Sum};
use crate::quantity::{Moment, Ratio, duration, exact_or_about};

use super::block::Block;
use super::blocked;
use super::build::{Drawn, row};

/// The sentence of a plan that one syringe lasts for.
pub(super) const ONE_IS_ENOUGH: &str = "one is enough";

pub(super) fn block(drawn: &Drawn<'_, '_>, sum: &Sum) -> Block {
    let entry = drawn.first.computed().entry();
    if entry.assumes_volumes() {
        let not_told = "not told: nobody read the volume in the syringe";
        return Block::facts("course", "Volumes and times", vec![row("lasts", "Expected run time", not_told)]);
    }
    let run = &sum.run;
    let ml = |value: Ratio| format!("{} mL", exact_or_about(value));
    let with_bolus = if entry.bolus().is_some() { ", the bolus included" } else { "" };
    let mut rows = vec![
        row("fill", "Syringe volume", ml(run.fill)),
        row("priming", "Priming volume", priming(entry, run.priming, ml)),
        row("stays_behind", "Residual volume", ml(run.stays_behind)),
        row("left", "Left to infuse", ml(run.left)),
        row("dead_space", "Dead space", dead_space(entry, drawn.first.computed(), ml)),
        row("lasts", "Expected run time", format!("{}{with_bolus}", duration(run.lasts))),
    ];
    if let Some(start) = entry.starts_at() {
        rows.push(row("starts_at", "Start (first entry)", start.to_string()));
    }
    if let (Some(planned), Some(containers)) = (entry.planned_for(), run.containers) {
        let of = if containers == 1 { ONE_IS_ENOUGH.to_owned() } else { format!("{containers} of these are needed") };
        rows.push(row("planned_for", "Planned (first entry)", format!("{planned}: {of}")));
    }
    let other = drawn.other().computed().entry();
    if let Some(start) = other.starts_at().filter(|start| Some(*start) != entry.starts_at()) {
        rows.push(row("starts_at_second", "Start (second entry)", start.to_string()));
    }
    if let Some(planned) = other.planned_for().filter(|planned| Some(*planned) != entry.planned_for()) {
        rows.push(row("planned_for_second", "Planned (second entry)", planned.to_string()));
    }
    rows.push(row("change_by", "Change this syringe by", change_by(drawn, sum)));
    let through = if run.empty_of_drug.is_zero() {
        "full of this drug already".to_owned()
    } else {
        format!("{} through it on average", duration(run.arrives_after))
    };
    if !run.empty_of_drug.is_zero() {
        rows.push(row("without_drug", "Without drug yet", ml(run.empty_of_drug)));
    }
    rows.push(row("through", "Through the dead space", through));
    rows.extend(blocked::row(drawn.first.computed(), sum));
    Block::facts("course", "Volumes and times", rows)
}

/// The earlier of two moments: when it is empty at this rate, and when the solution is to be discarded. Where nobody planned
/// a start, how long it lasts stands for the one.
fn change_by(drawn: &Drawn<'_, '_>, sum: &Sum) -> String {
    let [first, other] = drawn.both().map(Checked::computed);
    let discard = earlier(first.discard_after(), other.discard_after());
    let start = earlier(first.entry().starts_at(), other.entry().starts_at());
    let shown = |moment: Moment| moment.shown_as(start.unwrap_or_else(|| first.entry().entered_at()));
    let by_discard = |discard: Moment| format!("{}, when the solution is discarded", shown(discard));
    // Nobody starts before the entry: what is discarded by then is never empty first.
    let outlasts =
        |discard: Moment| discard.hours_since(first.entry().entered_at()).is_none_or(|hours| hours <= sum.run.lasts);
    match (start.and_then(|start| start.after(sum.run.lasts)), discard) {
        (Some(empty), Some(discard)) if discard.is_before(empty) => by_discard(discard),
        (Some(empty), _) => format!("{empty}, when it is empty at this rate"),
        (None, Some(discard)) if outlasts(discard) => by_discard(discard),
        (None, Some(discard)) => {
            format!("{} after the start, and no later than {}", duration(sum.run.lasts), shown(discard))
        }
        (None, None) => format!("{} after the start", duration(sum.run.lasts)),
    }
}

fn priming(entry: &Entry, priming: Ratio, ml: impl Fn(Ratio) -> String) -> String {
    match entry.line_filled() {
        LineFilled::FromThisSyringe => format!("{}, out of this syringe", ml(priming)),
        LineFilled::AlreadyFull => "none: the line is full already".to_owned(),
        LineFilled::WithDiluent | LineFilled::Empty => "none out of this syringe".to_owned(),
    }
}

fn dead_space(entry: &Entry, computed: &Computed<'_>, ml: impl Fn(Ratio) -> String) -> String {
    let line = computed.names().line.map_or(Ratio::ZERO, |line| line.priming_volume.value());
    match entry.beyond() {
        Some(beyond) => format!("{} line + {} beyond", ml(line), ml(beyond.value())),
        None => format!("{} line, cannula or extension not entered", ml(line)),
    }
}

/// The earlier of two moments; the one that is known, where only one is.
pub(super) fn earlier(first: Option<Moment>, second: Option<Moment>) -> Option<Moment> {
    match (first, second) {
        (Some(first), Some(second)) => Some(if second.is_before(first) { second } else { first }),
        (first, second) => first.or(second),
    }
}
