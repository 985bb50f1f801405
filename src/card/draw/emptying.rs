//! What is in the syringe against the clock, or against the time after the start, with the moment of change-over.

use crate::card::block::Emptying;
use crate::card::page::font;
use crate::quantity::{Moment, Ratio, duration, exact_or_about};

use super::axis::{multiples, shown, step};
use super::{Anchor, Canvas, SMALL, Shade, TITLE, dashed};

/// Its height in millimetres.
pub(super) const HEIGHT: f64 = 28.0;

const LEFT: f64 = 3.0;
const TOP: f64 = 9.8;
const BOTTOM: f64 = HEIGHT - 6.7;

/// Draws it over a width in millimetres.
pub(super) fn draw(canvas: &mut dyn Canvas, emptying: &Emptying, width: f64) {
    let right = width - LEFT;
    let (holds, lasts) = (emptying.holds.approximate(), emptying.lasts.approximate());
    let x = |hours: Ratio| LEFT + hours.approximate() / lasts * (right - LEFT);
    let y = |volume: f64| BOTTOM - volume / holds * (BOTTOM - TOP);
    let bolus = emptying.bolus.map_or(0.0, Ratio::approximate);
    let stays = emptying.stays_behind.approximate();
    canvas.text((0.0, 2.8), TITLE, Anchor::Start, true, title(emptying));
    canvas.surface(&[(LEFT, y(holds - bolus)), (right, y(stays)), (right, BOTTOM), (LEFT, BOTTOM)], Shade::Light);
    if stays > 0.0 {
        canvas.surface(&[(LEFT, y(stays)), (right, y(stays)), (right, BOTTOM), (LEFT, BOTTOM)], Shade::Dark);
    }
    canvas.line(&[(LEFT, y(holds)), (LEFT, y(holds - bolus)), (right, y(stays))], 0.5);
    canvas.line(&[(LEFT, TOP), (LEFT, BOTTOM), (right, BOTTOM)], 0.2);

    // Where the next syringe is needed, over everything else.
    let change = x(emptying.change_over);
    dashed(canvas, (change, TOP - 3.6), (change, BOTTOM + 1.0));
    let behind =
        if stays > 0.0 { format!("; {} mL stay behind", exact_or_about(emptying.stays_behind)) } else { String::new() };
    let behind = if emptying.discarded_at.is_some() { "; solution discarded".to_owned() } else { behind };
    let says = format!("change over: {}{behind}", change_over(emptying));
    // Over its mark where there is room, else as near as it fits.
    let wide = font::width(&says, true) * SMALL;
    let from = (change - wide / 2.0).clamp(0.0, (width - wide).max(0.0));
    canvas.text((from, TOP - 4.0), SMALL, Anchor::Start, true, &says);

    let mut day = String::new();
    for time in multiples(step(emptying.lasts, 5), emptying.lasts) {
        let at = x(time);
        canvas.line(&[(at, BOTTOM), (at, BOTTOM + 1.0)], 0.2);
        let (clock, date) = clock(emptying.starts_at, time);
        // Nothing is written where it would touch the edge or the volume at the end.
        let anchor = if at < LEFT + 4.0 { Anchor::Start } else { Anchor::Middle };
        let at = if anchor == Anchor::Start { 0.0 } else { at };
        if at > right - 3.0 {
            continue;
        }
        canvas.text((at, BOTTOM + 3.4), SMALL, anchor, false, &clock);
        if date != day {
            canvas.text((at, BOTTOM + 6.3), SMALL, anchor, false, &date);
            day = date;
        }
        // An ordered bolus makes two volumes of the one at the start.
        if let Some(volume) = left_at(emptying, time).filter(|_| !time.is_zero() || emptying.bolus.is_none()) {
            let says = format!("{} mL", exact_or_about(volume));
            canvas.text((x(time) + 0.4, y(volume.approximate()) - 0.8), SMALL, Anchor::Start, false, &says);
        }
    }
}

/// The same in words.
pub(super) fn says(emptying: &Emptying) -> String {
    let bolus = emptying.bolus.map_or_else(String::new, |bolus| {
        format!(", {} mL of it given as the ordered bolus, drawn at the start", exact_or_about(bolus))
    });
    format!(
        "{}: {} mL at the start{bolus}, falling evenly to {} mL, which stay behind, after {}. Change over: {}, when {}.",
        title(emptying),
        exact_or_about(emptying.holds),
        exact_or_about(emptying.stays_behind),
        duration(emptying.lasts),
        change_over(emptying),
        if emptying.discarded_at.is_some() { "the solution is discarded" } else { "the syringe is empty" }
    )
}

const fn title(emptying: &Emptying) -> &'static str {
    if emptying.starts_at.is_some() {
        "Left in the syringe, against the clock"
    } else {
        "Left in the syringe, after the start"
    }
}

/// At the clock where it is known, else after the start.
fn change_over(emptying: &Emptying) -> String {
    let at = emptying.starts_at.and_then(|start| start.after(emptying.change_over));
    match (emptying.discarded_at, at) {
        (Some(moment), _) => format!("by {moment}"),
        (None, Some(moment)) => moment.to_string(),
        (None, None) => format!("after {}", duration(emptying.change_over)),
    }
}

/// Time and day, or the time after the start alone.
fn clock(starts_at: Option<Moment>, time: Ratio) -> (String, String) {
    let Some(moment) = starts_at.and_then(|start| start.after(time)) else {
        return (if time.is_zero() { "start".to_owned() } else { shown(time) }, String::new());
    };
    let text = moment.to_string();
    let mut parts = text.split(' ');
    let date = parts.next().unwrap_or_default().to_owned();
    (parts.next().unwrap_or_default().to_owned(), date)
}

/// By the straight line, exactly.
fn left_at(emptying: &Emptying, time: Ratio) -> Option<Ratio> {
    let from = emptying.holds.less(emptying.bolus.unwrap_or(Ratio::ZERO)).ok()?;
    let gone = from.less(emptying.stays_behind).ok()?.times(time.over(emptying.lasts).ok()?).ok()?;
    from.less(gone).ok()
}
