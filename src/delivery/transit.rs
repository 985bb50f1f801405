//! How long a drug takes through a dead space of its own. In: volumes, bores, lengths and a flow; out: times.

use std::f64::consts::PI;

use super::assumption::Assumption;
use super::estimate::Estimate;
use super::si::{Area, Flow, Length, Time, Volume};
use super::source::VOLUME_OVER_FLOW;

/// The share of V/Q before which nothing arrives: the middle of a laminar stream in a round tube is twice as fast as
/// its mean. Computed.
pub const EARLIEST: f64 = 0.5;

/// The mean time of a drug in a volume, V/Q: exact for any profile, as long as nothing sticks to the wall. Computed.
#[must_use]
pub fn mean_transit(volume: Volume, flow: Flow) -> Time {
    volume / flow
}

/// The moment before which nothing comes through a volume, 0.5 V/Q. Computed, for steady laminar flow in a round tube.
#[must_use]
pub fn earliest(volume: Volume, flow: Flow) -> Time {
    mean_transit(volume, flow) * EARLIEST
}

/// The area of a bore, pi d^2 / 4.
#[must_use]
pub fn area(bore: Length) -> Area {
    bore * bore * (PI / 4.0)
}

/// What a tube of this bore and length holds, pi d^2 L / 4.
#[must_use]
pub fn bore_volume(bore: Length, length: Length) -> Volume {
    area(bore) * length
}

/// The bore of the tube of this length that holds this volume, (4 V / (pi L))^0.5. Connectors in the volume make it
/// wider than it is.
#[must_use]
pub fn mean_bore(volume: Volume, length: Length) -> Length {
    let area: Area = volume / length * (4.0 / PI);
    area.sqrt()
}

/// The mean time through a dead space by plug flow, as wide as may be claimed. It is optimistic: a driver that is not
/// yet at its rate makes it later.
#[must_use]
pub fn transit(dead_space: &Estimate<Volume>, flow: Flow) -> Estimate<Time> {
    dead_space
        .through(|volume| mean_transit(volume, flow))
        .noting(&[Assumption::PlugFlow], &[VOLUME_OVER_FLOW])
        .claimed()
}
