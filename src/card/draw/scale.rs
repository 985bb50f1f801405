//! Where a dose lies between its limits, on a logarithmic scale.

use crate::card::block::{Scale, ScaleMark};

use super::{Anchor, Canvas, Shade};

/// What the shades mean, by their lightness: those of the zones, from the inside out.
pub(in crate::card) const LEGEND: [(Shade, &str); 4] = [
    (Shade::Middle, "usual"),
    (Shade::Light, "within soft limits"),
    (Shade::Paper, "a reason is needed"),
    (Shade::Dark, "stopped"),
];

/// Its height in millimetres.
pub(super) const HEIGHT: f64 = 21.0;

/// Room on either side, in powers of ten.
const MARGIN: f64 = 0.2;
const BAR: (f64, f64) = (9.0, 5.0);
const SMALL: f64 = 2.6;

/// Draws it over a width in millimetres.
pub(super) fn draw(canvas: &mut dyn Canvas, scale: &Scale, width: f64) {
    let marks = [scale.hard_from, scale.soft_from, scale.usual_from, scale.usual_to, scale.soft_to, scale.hard_to];
    let log = |mark: ScaleMark| mark.0.approximate().log10();
    let all = || marks.iter().flatten().copied().chain([scale.dose]).map(log);
    let least = all().fold(f64::INFINITY, f64::min) - MARGIN;
    let most = all().fold(f64::NEG_INFINITY, f64::max) + MARGIN;
    let at = |mark: ScaleMark| (log(mark) - least) / (most - least) * width;
    let side = |mark: Option<ScaleMark>, end: f64| mark.map_or(end, &at);
    let (top, high) = BAR;
    // Each zone over the one outside it: stopped, reason, allowed, usual.
    canvas.rectangle(0.0, top, width, high, Shade::Dark);
    let zones = [
        (scale.hard_from, scale.hard_to, Shade::Paper),
        (scale.soft_from, scale.soft_to, Shade::Light),
        (scale.usual_from, scale.usual_to, Shade::Middle),
    ];
    for (from, to, shade) in zones {
        let (left, right) = (side(from, 0.0), side(to, width));
        canvas.rectangle(left, top, right - left, high, shade);
    }
    // Numbers under the bar, in two rows where they would touch.
    let mut taken = [f64::NEG_INFINITY; 3];
    let mut placed: Vec<ScaleMark> = marks.iter().flatten().copied().collect();
    placed.dedup_by(|one, other| one.0 == other.0);
    for mark in placed {
        let (x, text) = (at(mark), mark.shown());
        #[expect(clippy::cast_precision_loss, reason = "a few letters")]
        let half = text.len() as f64 * SMALL * 0.3 + 0.5;
        let row = taken.iter().position(|end| x - half > *end).unwrap_or(taken.len() - 1);
        taken[row] = x + half;
        #[expect(clippy::cast_precision_loss, reason = "one of three rows")]
        let y = top + high + 1.2 + SMALL * (row as f64 + 0.9);
        canvas.line(&[(x, top + high), (x, y - SMALL * 0.8)], 0.15);
        canvas.text((x.clamp(half, width - half), y), SMALL, Anchor::Middle, false, &text);
    }
    let x = at(scale.dose);
    canvas.surface(&[(x, top + 0.4), (x - 1.6, top - 2.6), (x + 1.6, top - 2.6)], Shade::Ink);
    canvas.line(&[(x, top), (x, top + high)], 0.5);
    let says = format!("{} {}", scale.dose.shown(), scale.unit);
    let anchor = if x < width * 0.3 {
        Anchor::Start
    } else if x > width * 0.7 {
        Anchor::End
    } else {
        Anchor::Middle
    };
    canvas.text((x, top - 3.4), 3.2, anchor, true, &says);
}

/// The same in words.
pub(super) fn says(scale: &Scale) -> String {
    let band = |from: Option<ScaleMark>, to: Option<ScaleMark>| match (from, to) {
        (Some(from), Some(to)) => format!("{} to {}", from.shown(), to.shown()),
        (Some(from), None) => format!("from {}", from.shown()),
        (None, Some(to)) => format!("to {}", to.shown()),
        (None, None) => "none".to_owned(),
    };
    format!(
        "The dose, {} {}, between its limits: usual {}, soft limits {}, hard limits {}",
        scale.dose.shown(),
        scale.unit,
        band(scale.usual_from, scale.usual_to),
        band(scale.soft_from, scale.soft_to),
        band(scale.hard_from, scale.hard_to)
    )
}
