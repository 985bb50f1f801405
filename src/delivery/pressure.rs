//! The pressure that a flow needs, and that a force makes. In: viscosity, bores, lengths, flows, forces; out:
//! resistances and pressures, and what a wrongly entered syringe size does to both.

use std::f64::consts::PI;

use super::assumption::Assumption;
use super::estimate::{Estimate, Modelled};
use super::not_modelled::NotModelled;
use super::parameter::density;
use super::si::{Compliance, Density, Flow, Force, Length, Pressure, Resistance, Time, Viscosity};
use super::source::POISEUILLE;
use super::transit::area;

/// Flow is laminar below about this Reynolds number. From first principles (computed); that cannulae at the flows of
/// resuscitation are past it was read in McPherson 2009, Anesth Analg 108:1198.
pub const LAMINAR_BELOW: f64 = 2000.0;

/// What a syringe of another bore than the entered one does, in a driver that knows the entered one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SizeMistake {
    /// The flow that comes, by the one that was set.
    pub flow_factor: f64,
    /// The pressure in the syringe at the alarm, by the one that was set.
    pub alarm_factor: f64,
}

/// The resistance of a tube, 128 mu L / (pi d^4). Hagen-Poiseuille, computed: steady, laminar, Newtonian, rigid, round
/// and straight, without effects of the entry.
#[must_use]
pub fn resistance(viscosity: Viscosity, bore: Length, length: Length) -> Resistance {
    viscosity * length / (bore * bore * bore * bore) * (128.0 / PI)
}

/// The Reynolds number, 4 rho Q / (pi mu d). Computed.
#[must_use]
pub fn reynolds(density: Density, viscosity: Viscosity, bore: Length, flow: Flow) -> f64 {
    (density * flow / (viscosity * bore)).value * (4.0 / PI)
}

/// The time in which a line with a compliance before it comes e-fold nearer to its flow, R C: seconds. Computed.
#[must_use]
pub fn settling(resistance: Resistance, compliance: Compliance) -> Time {
    resistance * compliance
}

/// The pressure that a force makes in a bore, F / A. Computed.
#[must_use]
pub fn from_force(force: Force, bore: Length) -> Pressure {
    force / area(bore)
}

/// The pressure that a watery solution loses in a line, as wide as may be claimed.
///
/// # Errors
/// [`NotModelled::NotLaminar`] where the flow may be too fast.
pub fn drop(bore: Length, length: Length, flow: Flow, viscosity: &Estimate<Viscosity>) -> Modelled<Pressure> {
    if reynolds(density(), viscosity.low(), bore, flow) >= LAMINAR_BELOW {
        return Err(NotModelled::NotLaminar);
    }
    let plain = viscosity.through(|viscosity| resistance(viscosity, bore, length) * flow);
    Ok(plain.noting(&[Assumption::LaminarTube], &[POISEUILLE]).claimed())
}

impl SizeMistake {
    /// A syringe of one bore where another was entered: the driver moves at the speed for the entered one and alarms at
    /// its force. Computed: ratios of the areas.
    #[must_use]
    pub fn of(entered: Length, loaded: Length) -> Self {
        let flow_factor = (area(loaded) / area(entered)).value;
        Self { flow_factor, alarm_factor: flow_factor.recip() }
    }
}
