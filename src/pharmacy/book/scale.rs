//! The limits of a phase drawn on a logarithmic scale. The drawing is in `f64`; every label is the exact number.
#![expect(clippy::float_arithmetic, clippy::cast_possible_truncation, reason = "a drawing")]

use maud::{Markup, html};

use super::limits::range;
use crate::formulary::{Band, DoseLimits};
use crate::quantity::{DoseRate, DoseRateUnit};

/// The drawing, with everything that it says in words beside it.
pub(super) fn drawing(name: &str, unit: DoseRateUnit, limits: &DoseLimits) -> Markup {
    let bands =
        [("usual", Some(&limits.usual)), ("soft", limits.beyond.soft.as_ref()), ("hard", limits.beyond.hard.as_ref())];
    let ends: Vec<f64> =
        bands.iter().filter_map(|(_, band)| *band).flat_map(|band| [band.from, band.to]).flatten().map(size).collect();
    let axis = Axis::over(&ends);
    let says: Vec<String> =
        bands.iter().filter_map(|(kind, band)| band.map(|band| format!("{kind} {}", range(band)))).collect();
    let alt = format!("{name}: {}, on a logarithmic scale", says.join("; "));
    html! {
        svg viewBox={ "0 0 " (WIDTH) " " (HEIGHT) } role="img" aria-label=(alt) xmlns="http://www.w3.org/2000/svg" {
            title { (alt) }
            text x="0" y="12" font-weight="bold" { (name) " (" (unit) ")" }
            @for decade in axis.decades() {
                line x1=(decade.0) y1="18" x2=(decade.0) y2="84" stroke="#999" stroke-width="0.5" stroke-dasharray="2 3" {}
                text x=(decade.0) y="96" text-anchor="middle" fill="#444" { (decade.1) }
            }
            @for (at, (kind, band)) in bands.iter().enumerate() {
                @if let Some(band) = band { (row(&axis, at, kind, band)) }
            }
        }
    }
}

const WIDTH: u32 = 640;
const HEIGHT: u32 = 100;
/// Where the axis begins and ends: labels have room on either side.
const LEFT: f64 = 130.0;
const RIGHT: f64 = 560.0;

fn row(axis: &Axis, at: usize, kind: &str, band: &Band<DoseRate>) -> Markup {
    // Three rows, 22 apart; `at` is 0, 1 or 2.
    let middle = [30_i32, 52, 74][at.min(2)];
    let from = band.from.map_or(LEFT, |dose| axis.at(size(dose)));
    let to = band.to.map_or(RIGHT, |dose| axis.at(size(dose)));
    let (left, width) = (rounded(from), rounded((to - from).max(2.0)));
    let baseline = middle + 4;
    html! {
        text x="0" y=(baseline) { (kind) }
        @match at {
            0 => rect x=(left) y=(middle - 6) width=(width) height="12" fill="#000" {},
            1 => {
                // Open to the left where nothing limits it there.
                @let close = if band.from.is_some() { " Z" } else { "" };
                path d={ "M " (left) " " (middle - 6) " H " (rounded(to)) " V " (middle + 6) " H " (left) (close) } fill="none" stroke="#000" stroke-width="1.5" {}
            }
            _ => {
                line x1=(left) y1=(middle) x2=(rounded(to)) y2=(middle) stroke="#000" stroke-width="1.5" {}
                @if band.from.is_some() { line x1=(left) y1=(middle - 7) x2=(left) y2=(middle + 7) stroke="#000" stroke-width="3" {} }
                @if band.to.is_some() { line x1=(rounded(to)) y1=(middle - 7) x2=(rounded(to)) y2=(middle + 7) stroke="#000" stroke-width="3" {} }
            }
        }
        @if let Some(dose) = band.from { text x=(rounded(from - 6.0)) y=(baseline) text-anchor="end" { (dose.number()) } }
        @if let Some(dose) = band.to { text x=(rounded(to + 6.0)) y=(baseline) { (dose.number()) } }
    }
}

/// A logarithmic axis.
struct Axis {
    least: f64,
    most: f64,
}

impl Axis {
    /// Over these values, with a little room on either side.
    fn over(values: &[f64]) -> Self {
        let least = values.iter().copied().filter(|value| *value > 0.0).fold(f64::INFINITY, f64::min);
        let most = values.iter().copied().fold(0.0, f64::max);
        if least.is_finite() && most > 0.0 {
            Self { least: least.log10() - 0.1, most: most.log10() + 0.1 }
        } else {
            Self { least: -1.0, most: 1.0 }
        }
    }

    fn at(&self, value: f64) -> f64 {
        let share = (value.log10() - self.least) / (self.most - self.least);
        LEFT + share.clamp(0.0, 1.0) * (RIGHT - LEFT)
    }

    /// Where each power of ten lies, and how it is written.
    fn decades(&self) -> Vec<(String, String)> {
        let (first, last) = (self.least.ceil() as i32, self.most.floor() as i32);
        (first..=last).map(|power| (rounded(self.at(10_f64.powi(power))), written(power))).collect()
    }
}

/// A power of ten in full, as numbers are written here.
fn written(power: i32) -> String {
    let zeros = "0".repeat(usize::try_from(power.unsigned_abs()).unwrap_or(0));
    if power >= 0 { crate::quantity::grouped(&format!("1{zeros}")) } else { format!("0.{}1", &zeros[1..]) }
}

fn size(dose: DoseRate) -> f64 {
    dose.number().ratio().approximate()
}

fn rounded(value: f64) -> String {
    format!("{value:.1}")
}
