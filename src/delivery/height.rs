//! A driver that is raised or lowered. In: compliance, air, the change of height and a flow; out: the volume that
//! moves, and for how long nothing is delivered after lowering.
//!
//! A column of 50 cm is 36.8 mmHg (computed); 37.5 (4.0) mmHg down and 37.3 (3.1) up were measured (Igarashi, Can J
//! Anesth, read in source).

use super::air;
use super::assumption::Assumption;
use super::estimate::Estimate;
use super::interval::Interval;
use super::not_modelled::NotModelled;
use super::parameter::{density, gravity};
use super::si::{Compliance, Flow, Length, Pressure, Time, Volume};
use super::source::{HYDROSTATIC, IGARASHI};

/// What a change of the driver's height does, the line staying open.
#[derive(Debug, Clone, PartialEq)]
pub struct HeightChange {
    /// Raised: given at once, beyond the rate, at most. Lowered: drawn back, at most.
    pub moves: Estimate<Volume>,
    /// Lowered: nothing is delivered for this long, drawing back included. Raised: nothing of the kind.
    pub without_flow: Option<Estimate<Time>>,
}

/// The pressure of a column of water, rho g h; below nothing where the driver is lowered. Computed.
#[must_use]
pub fn column(height: Length) -> Pressure {
    density() * gravity() * height
}

/// The volume that a change of height moves, C rho g h + V_air P / (P_atm + P), for a height above nothing. Computed.
#[must_use]
pub fn moved(compliance: Compliance, height: Length, trapped: Volume) -> Volume {
    compliance * column(height) + air::compressed(trapped, column(height))
}

/// For how long nothing is delivered after lowering: the volume that moves, over the flow. Computed.
#[must_use]
pub fn without_flow(moved: Volume, flow: Flow) -> Time {
    moved / flow
}

/// What raising (above nothing) or lowering (below nothing) the driver does.
///
/// # Errors
/// [`NotModelled::Air`]
pub fn change(
    compliance: &Estimate<Compliance>,
    by: Length,
    trapped: Volume,
    flow: Flow,
) -> Result<HeightChange, NotModelled> {
    let lowered = by < by * 0.0;
    let size = if lowered { -by } else { by };
    let column = Estimate::new(Interval::exactly(column(size)), &[], &[HYDROSTATIC, IGARASHI]);
    let elastic = compliance.with(&column, |compliance, column| compliance * column);
    let moves = (&elastic + &air::taken_up(trapped, &column)?).claimed();
    let without_flow = lowered.then(|| moves.through(|moved| without_flow(moved, flow)));
    Ok(HeightChange { moves: moves.noting(&[Assumption::UpperBound], &[]), without_flow })
}
