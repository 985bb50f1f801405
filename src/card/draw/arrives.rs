//! When the drug reaches the patient, as a band between the earliest and the latest moment.

use crate::card::block::{Arrives, Band, Reached};
use crate::quantity::Ratio;

use super::axis::{multiples, shown, step};
use super::{Anchor, Canvas, SMALL, Shade, TITLE};

/// Its height in millimetres, where there is a band.
pub(super) const HEIGHT: f64 = 26.0;

/// Its heading, in words or as a picture.
pub(in crate::card) const HEADING: &str = "Drug arriving at the patient, after the start (estimate)";

const LEFT: f64 = 8.5;
const TOP: f64 = 4.8;
const BOTTOM: f64 = HEIGHT - 7.3;
/// For the times that are written beside each range.
const BESIDE: f64 = 27.0;

/// Draws it over a width in millimetres.
pub(super) fn draw(canvas: &mut dyn Canvas, band: &Band, width: f64) {
    let right = width - BESIDE;
    let [first, half, last] = &band.shares;
    let end = last.to;
    let x = |hours: Ratio| LEFT + hours.approximate() / end.approximate() * (right - LEFT);
    let y = |percent: u8| BOTTOM - f64::from(percent) / 100.0 * (BOTTOM - TOP);
    canvas.text((0.0, 2.8), TITLE, Anchor::Start, true, HEADING);
    let early = [(x(band.earliest.from), BOTTOM), (x(first.from), y(5)), (x(half.from), y(50)), (x(last.from), y(95))];
    let late = [(x(last.to), y(95)), (x(half.to), y(50)), (x(first.to), y(5))];
    canvas.surface(&[early.as_slice(), late.as_slice()].concat(), Shade::Middle);
    canvas.line(&early, 0.3);
    canvas.line(&late, 0.3);
    canvas.line(&[(LEFT, TOP), (LEFT, BOTTOM), (right, BOTTOM)], 0.2);
    for Reached { percent, from, to, says } in &band.shares {
        let at = y(*percent);
        let (from, to) = (x(*from), x(*to));
        canvas.line(&[(from, at), (to, at)], 0.4);
        for edge in [from, to] {
            canvas.line(&[(edge, at - 0.9), (edge, at + 0.9)], 0.4);
        }
        // The text of 5 % stands above its line, so that it does not touch the axis.
        let written = if *percent < 10 { at + 0.2 } else { at + 0.8 };
        canvas.text((LEFT - 1.0, written), SMALL, Anchor::End, false, &format!("{percent} %"));
        canvas.text((width, written), SMALL, Anchor::End, false, says);
    }
    for time in multiples(step(end, 3), end) {
        let at = x(time);
        canvas.line(&[(at, BOTTOM), (at, BOTTOM + 1.0)], 0.2);
        let says = if time.is_zero() { "start".to_owned() } else { shown(time) };
        canvas.text((at, BOTTOM + 3.4), SMALL, Anchor::Middle, false, &says);
    }
    let nothing = nothing_before(band).map_or_else(String::new, |says| format!("{says}; "));
    canvas.text((0.0, BOTTOM + 6.4), SMALL, Anchor::Start, false, &format!("{nothing}% of the full rate"));
}

/// The same in words, one sentence each.
pub(in crate::card) fn lines(arrives: &Arrives) -> Vec<String> {
    let mut lines = match &arrives.band {
        Ok(band) => {
            let share = |one: &Reached| format!("{} % of the full rate: {} after the start.", one.percent, one.says);
            let nothing = nothing_before(band).map(|says| format!("{}.", says.replacen('n', "N", 1)));
            nothing.into_iter().chain(band.shares.iter().map(share)).collect()
        }
        Err(why) => vec![format!("No time is said: {why}.")],
    };
    if !arrives.assumed.is_empty() {
        lines.push(assumed(arrives));
    }
    lines
}

/// What is taken for granted, as one paragraph.
pub(in crate::card) fn assumed(arrives: &Arrives) -> String {
    format!("Taken for granted: {}. No reason to change a rate or to give a bolus.", arrives.assumed.join("; "))
}

fn nothing_before(band: &Band) -> Option<String> {
    (!band.earliest.from.is_zero()).then(|| format!("nothing before {}", band.earliest.says))
}
