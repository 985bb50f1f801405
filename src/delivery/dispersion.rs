//! How a sharp front spreads in a narrow tube. In: diffusivity, length and flow as one number T; out: when a share of
//! the new concentration has arrived, as a share of V/Q.
//!
//! T = pi D L / Q says how far diffusion evens out the flow across the tube while the drug is in it; the bore drops
//! out. Three regimes: from T = 1 a gamma distribution of N = 24 T tanks (Taylor 1953, Proc R Soc A 219:186; Aris 1956,
//! A 235:67; computed); from 0.02 to 1 a table of a numerical solution (computed); below that only the earliest moment.

use std::f64::consts::PI;

use super::gamma;
use super::not_modelled::NotModelled;
use super::si::{Diffusivity, Flow, Length};
use super::transit::EARLIEST;

/// From this T on the gamma distribution holds.
pub const GAMMA_FROM: f64 = 1.0;
/// From this T on the gamma distribution is used as it is; up to it, it is joined to the table.
const JOINED_AT: f64 = 2.0;
/// From this T on the table holds; below it only the earliest moment is known.
pub const TABLE_FROM: f64 = 0.02;

/// How much of the new concentration has arrived.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Share {
    /// 1 %
    P1,
    /// 5 %
    P5,
    /// 10 %
    P10,
    /// 25 %
    P25,
    /// 50 %
    P50,
    /// 75 %
    P75,
    /// 90 %
    P90,
    /// 95 %
    P95,
    /// 99 %
    P99,
}

/// Which formula holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Regime {
    /// T from 1 on.
    Gamma,
    /// T from 0.02 to 1.
    Table,
    /// T below 0.02.
    EdgeOnly,
}

/// theta = t Q / V at which the outlet has reached a share, by T and in the order of [`Share::ALL`]. Computed: laminar
/// convection with radial diffusion, averaged over the flow, a step at the inlet, no axial diffusion.
const TABLE: [(f64, [f64; 9]); 8] = [
    (0.02, [0.503, 0.516, 0.532, 0.586, 0.728, 1.104, 1.977, 2.515, 3.423]),
    (0.05, [0.504, 0.519, 0.538, 0.596, 0.759, 1.250, 1.856, 2.198, 2.796]),
    (0.1, [0.508, 0.532, 0.550, 0.616, 0.828, 1.283, 1.709, 1.955, 2.396]),
    (0.2, [0.523, 0.549, 0.574, 0.667, 0.923, 1.250, 1.553, 1.732, 2.059]),
    (0.3, [0.534, 0.567, 0.600, 0.723, 0.953, 1.219, 1.467, 1.616, 1.889]),
    (0.5, [0.555, 0.607, 0.660, 0.792, 0.974, 1.177, 1.370, 1.487, 1.704]),
    (1.0, AT_ONE),
    (2.0, [0.703, 0.777, 0.821, 0.899, 0.994, 1.094, 1.187, 1.244, 1.353]),
];
const AT_ONE: [f64; 9] = [0.615, 0.697, 0.752, 0.856, 0.987, 1.130, 1.264, 1.347, 1.502];

impl Share {
    /// Every share, rising.
    pub const ALL: [Self; 9] =
        [Self::P1, Self::P5, Self::P10, Self::P25, Self::P50, Self::P75, Self::P90, Self::P95, Self::P99];

    /// As a part of one.
    #[must_use]
    pub const fn part(self) -> f64 {
        match self {
            Self::P1 => 0.01,
            Self::P5 => 0.05,
            Self::P10 => 0.1,
            Self::P25 => 0.25,
            Self::P50 => 0.5,
            Self::P75 => 0.75,
            Self::P90 => 0.9,
            Self::P95 => 0.95,
            Self::P99 => 0.99,
        }
    }

    const fn column(self) -> usize {
        self as usize
    }
}

impl Regime {
    /// The regime of a T.
    #[must_use]
    pub fn of(spread: f64) -> Self {
        if spread >= GAMMA_FROM {
            Self::Gamma
        } else if spread >= TABLE_FROM {
            Self::Table
        } else {
            Self::EdgeOnly
        }
    }
}

/// T = pi D L / Q, a pure number: D the diffusivity, L the length of the tube, Q the flow through it. Computed.
#[must_use]
pub fn spread_number(diffusivity: Diffusivity, length: Length, flow: Flow) -> f64 {
    (diffusivity * length / flow).value * PI
}

/// When this share has arrived, as a share of V/Q.
///
/// Between T = 1 and 2 the gamma distribution is multiplied by what it lacks of the table at 1 (up to 1.3 % at 5 %, 50
/// % and 95 %), less and less: without a seam, a faster flow is never later.
///
/// # Errors
/// [`NotModelled::HardlyAnyDiffusion`] below T = 0.02.
pub fn theta(spread: f64, share: Share) -> Result<f64, NotModelled> {
    match Regime::of(spread) {
        Regime::Gamma => {
            let plain = by_gamma(spread, share);
            if spread >= JOINED_AT {
                return Ok(plain);
            }
            let lacks = AT_ONE[share.column()] / by_gamma(GAMMA_FROM, share);
            let fades = spread.ln() / JOINED_AT.ln();
            Ok(plain * (lacks + (1.0 - lacks) * fades))
        }
        Regime::Table => Ok(by_table(spread, share)),
        Regime::EdgeOnly => Err(NotModelled::HardlyAnyDiffusion),
    }
}

/// The T of each row of the table, where [`theta`] bends.
pub(super) fn rows() -> impl Iterator<Item = f64> {
    TABLE.iter().map(|(row, _)| *row)
}

/// By the gamma distribution of N = 24 T tanks alone. Within 1.1 % of the numerical solution from 5 % to 95 % at T = 1,
/// within 0.4 % from T = 2 (computed).
#[must_use]
pub fn by_gamma(spread: f64, share: Share) -> f64 {
    gamma::quantile(tanks(spread), share.part())
}

/// N = 24 T, the number of equal tanks in series that spread a front as much. Computed from Taylor and Aris.
#[must_use]
pub fn tanks(spread: f64) -> f64 {
    24.0 * spread
}

/// The relative variance of the arrival, 1 / (24 T) (1 - 1 / (16 T)), to three digits from T = 1 on. Computed.
#[must_use]
pub fn relative_variance(spread: f64) -> f64 {
    (1.0 - 1.0 / (16.0 * spread)) / (24.0 * spread)
}

/// The share that has arrived by theta = t Q / V without any diffusion: 0 up to a half, then 1 - 1 / (4 theta^2). Read
/// in source (Levenspiel, Chemical Reaction Engineering, 3rd ed., p. 344, as cited by a library).
#[must_use]
pub fn convective_share(theta: f64) -> f64 {
    if theta <= EARLIEST { 0.0 } else { 1.0 - 1.0 / (4.0 * theta * theta) }
}

/// When this share has arrived without any diffusion: 0.5 / (1 - share)^0.5. Computed.
#[must_use]
pub fn convective_arrival(share: Share) -> f64 {
    EARLIEST / (1.0 - share.part()).sqrt()
}

/// How much has spilled, as a share of the tube's volume, when theta tube volumes were pushed in without any diffusion:
/// theta + 1 / (4 theta) - 1 from a half on, 0.25 at 1. Computed: the integral of [`convective_share`].
#[must_use]
pub fn convective_spill(theta: f64) -> f64 {
    if theta <= EARLIEST { 0.0 } else { theta + 1.0 / (4.0 * theta) - 1.0 }
}

/// The earliest and latest arrival of a share in a tube of which only the volume is known: over no diffusion at all,
/// every row of the table, and a plug. Computed.
#[must_use]
pub fn unknown_spread(share: Share) -> (f64, f64) {
    let rows = TABLE.iter().map(|(_, row)| row[share.column()]);
    let all = rows.chain([convective_arrival(share), 1.0]);
    all.fold((f64::INFINITY, 0.0), |(low, high), at| (low.min(at), high.max(at)))
}

/// Straight lines between the rows of the table over the logarithm of T.
fn by_table(spread: f64, share: Share) -> f64 {
    let after = TABLE.partition_point(|(row, _)| *row <= spread).clamp(1, TABLE.len() - 1);
    let ((from, before), (to, next)) = (TABLE[after - 1], TABLE[after]);
    let way = (spread / from).ln() / (to / from).ln();
    let (before, next) = (before[share.column()], next[share.column()]);
    before + (next - before) * way
}
