//! How far a drawn-up and diluted volume may be off by the tolerance of syringes alone. In: nominal sizes and volumes;
//! out: tolerances. They understate what happens: wherever syringes were measured, mixing and counting errors were
//! larger.

use crate::formulary::HowMade;

use super::assumption::Assumption;
use super::estimate::Estimate;
use super::interval::Interval;
use super::si::{Flow, Time, Volume, volume::millilitre};
use super::source::{ISO_7886_1, PROPAGATION, SET_UP};

/// Tolerances that come together, each as a share of its value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Together {
    /// All against us, upwards.
    pub worst_above: f64,
    /// All against us, downwards; below nothing.
    pub worst_below: f64,
    /// Twice the standard uncertainty (k = 2), tolerances as rectangular distributions.
    pub twice_standard: f64,
}

/// By how much an expelled volume may be off the scale. From memory: ISO 7886-1:1993, Table 1; not seen, and a later
/// edition may differ. Half of the nominal size and more: 5 % of the volume (below 5 mL) or 4 %; less than half: 1.5 %
/// of the size and 2 % (below 5 mL) or 1 % of the volume. The two meet at the half (computed).
#[must_use]
pub fn graduation(nominal: Volume, expelled: Volume) -> Volume {
    let small = nominal < Volume::new::<millilitre>(5.0);
    if expelled < nominal * 0.5 {
        nominal * 0.015 + expelled * if small { 0.02 } else { 0.01 }
    } else {
        expelled * if small { 0.05 } else { 0.04 }
    }
}

/// The strength of a dilution, c v / V, with tolerances of the volume drawn and of the volume it is made up to, as
/// shares; `others` multiply as the drawn volume does (a flow). Computed.
#[must_use]
pub fn dilution(drawn: f64, made_up_to: f64, others: &[f64]) -> Together {
    let product = |sign: f64| others.iter().fold(1.0 + sign * drawn, |product, other| product * (1.0 + sign * other));
    let squares = others.iter().fold(drawn * drawn + made_up_to * made_up_to, |sum, other| sum + other * other);
    Together {
        worst_above: product(1.0) / (1.0 - made_up_to) - 1.0,
        worst_below: product(-1.0) / (1.0 + made_up_to) - 1.0,
        twice_standard: 2.0 * (squares / 3.0).sqrt(),
    }
}

/// The strength when drug is added to diluent, c v / (W + v): each tolerance counts by the diluent's part of the whole, for
/// the drug's own volume is above and below the line. Computed; the worst cases are the corners themselves.
#[must_use]
pub fn addition(drawn: f64, diluent: f64, part: f64) -> Together {
    let corner = |sign: f64| {
        let (drug, rest) = ((1.0 - part) * (1.0 + sign * drawn), part * (1.0 - sign * diluent));
        (1.0 + sign * drawn) / (drug + rest) - 1.0
    };
    Together {
        worst_above: corner(1.0),
        worst_below: corner(-1.0),
        twice_standard: 2.0 * part * ((drawn * drawn + diluent * diluent) / 3.0).sqrt(),
    }
}

/// What the scales of two syringes do to the strength of a mixture: the drug drawn up in the one, and the whole (made up
/// to) or the diluent (added to) measured in the other. Nothing where nothing is mixed.
#[must_use]
pub fn preparation(how: HowMade, drawn: Measured, other: Measured) -> Option<Together> {
    let share = |measured: Measured| (graduation(measured.within, measured.volume) / measured.volume).value;
    match how {
        HowMade::MadeUpTo => Some(dilution(share(drawn), share(other), &[])),
        HowMade::AddedTo => {
            let part = (other.volume / (drawn.volume + other.volume)).value;
            Some(addition(share(drawn), share(other), part))
        }
        HowMade::Undiluted => None,
    }
}

/// A volume and the nominal size of the syringe it is measured in.
#[derive(Debug, Clone, Copy)]
pub struct Measured {
    /// How much.
    pub volume: Volume,
    /// In what.
    pub within: Volume,
}

/// A share as a percentage of two significant digits, never told smaller than it is: `4.4 %`.
#[must_use]
pub fn percent_upwards(share: f64) -> String {
    let percent = share.abs() * 100.0;
    if percent <= 0.0 {
        return "0 %".to_owned();
    }
    let scale = 10_f64.powf(1.0 - percent.log10().floor());
    let shown = format!("{:.6}", (percent * scale - 1e-9).ceil() / scale);
    format!("{} %", shown.trim_end_matches('0').trim_end_matches('.'))
}

/// How many times the drug reaches the mixture when a syringe's own dead space is flushed in with it. Computed.
#[must_use]
pub fn flushed_hub(drawn: Volume, dead_space: Volume) -> f64 {
    ((drawn + dead_space) / drawn).value
}

/// How long the fill lasts, the filling volume of the line taken off, by the scale of the syringe alone. The scale
/// counts what is expelled: the nozzle is not taken off again.
#[must_use]
pub fn run_time(nominal: Volume, fill: Volume, line: Volume, flow: Flow) -> Estimate<Time> {
    let off = graduation(nominal, fill);
    let interval = Interval::new(fill - off, Some(fill), fill + off).expect("a tolerance is above nothing");
    Estimate::new(interval, &[Assumption::TolerancesOnly], &[SET_UP, ISO_7886_1, PROPAGATION])
        .through(|fill| (fill - line) / flow)
}
