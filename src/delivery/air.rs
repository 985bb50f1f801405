//! Air in the syringe or the line. In: its volume at the pressure of the room, and a pressure above it; out: by how
//! much it shrinks.

use super::assumption::Assumption;
use super::estimate::{Estimate, Modelled};
use super::interval::Interval;
use super::not_modelled::NotModelled;
use super::parameter::room;
use super::si::{Pressure, Volume, volume::millilitre};
use super::source::{BOYLE, SCHULZ_2000};

/// The most air that was measured, in mL: Schulz 2000, Anaesthesist 49:1018 (read in source).
const MEASURED_UP_TO: f64 = 2.0;

/// By how much air shrinks, V P / (P_atm + P). Boyle, isothermal; computed.
#[must_use]
pub fn compressed(air: Volume, pressure: Pressure) -> Volume {
    air * (pressure / (room() + pressure))
}

/// By how much air shrinks, up to twice what Boyle says: 2 mL made the alarm 2.6 times as late and the bolus 3 times as
/// large, where Boyle gives about 2 (Schulz 2000, read in source).
///
/// # Errors
/// [`NotModelled::Air`] above 2 mL.
pub fn taken_up(air: Volume, pressure: &Estimate<Pressure>) -> Modelled<Volume> {
    if air > Volume::new::<millilitre>(MEASURED_UP_TO) {
        return Err(NotModelled::Air);
    }
    let boyle = pressure.through(|pressure| compressed(air, pressure));
    if air <= Volume::new::<millilitre>(0.0) {
        return Ok(boyle);
    }
    let doubled = Interval::new(boyle.low(), boyle.typical(), boyle.high() * 2.0);
    Ok(boyle
        .of(doubled.expect("twice a volume lies above it"))
        .noting(&[Assumption::AirMayDoubleItsShare], &[BOYLE, SCHULZ_2000]))
}
