//! A line that is blocked at the patient. In: slack, compliance, air, the pressure of the alarm and a flow; out: when
//! the driver alarms, and the most that is set free when the block is released at once.
//!
//! Assumed: total, at the patient's end, no leak, the alarm by pressure alone, compliance constant. A partial block,
//! rubber that stiffens and plastic that creeps are not modelled. The bolus is an upper bound and never a dose.

use super::air;
use super::assumption::Assumption;
use super::estimate::{Estimate, Modelled};
use super::interval::Interval;
use super::parameter::no_pressure;
use super::si::{Compliance, Flow, Pressure, Time, Volume};
use super::source::OCCLUSION;

/// A blocked set-up.
#[derive(Debug, Clone, PartialEq)]
pub struct Blockage {
    /// Free play that is taken up first.
    pub slack: Estimate<Volume>,
    /// Of syringe and line together.
    pub compliance: Estimate<Compliance>,
    /// At which the driver alarms.
    pub alarm: Estimate<Pressure>,
    /// Trapped, at the pressure of the room.
    pub air: Volume,
}

/// What is displaced before the alarm: slack + C (P_alarm - P_0) + V_air P / (P_atm + P). Computed.
#[must_use]
pub fn displaced(slack: Volume, compliance: Compliance, alarm: Pressure, before: Pressure, trapped: Volume) -> Volume {
    slack + compliance * (alarm - before) + air::compressed(trapped, alarm)
}

/// When the driver alarms: what is displaced, over the flow. Computed.
#[must_use]
pub fn time_to_alarm(displaced: Volume, flow: Flow) -> Time {
    displaced / flow
}

/// The most that a release sets free: C (P_alarm - P_out) + V_air P / (P_atm + P). Computed; an upper bound: 0.90 to
/// 1.10 mL were displaced where 0.6 to 0.9 mL came (Rooke & Bowdle 1994, Anesth Analg 78:150, read in source).
#[must_use]
pub fn released(compliance: Compliance, alarm: Pressure, outlet: Pressure, trapped: Volume) -> Volume {
    compliance * (alarm - outlet) + air::compressed(trapped, alarm)
}

impl Blockage {
    /// What is displaced before the alarm, nothing being under pressure before.
    ///
    /// # Errors
    /// [`NotModelled::Air`](super::NotModelled::Air)
    pub fn displaced(&self) -> Modelled<Volume> {
        Ok(&self.slack + &self.under_pressure()?)
    }

    /// When the driver alarms, as wide as may be claimed.
    ///
    /// # Errors
    /// [`NotModelled::Air`](super::NotModelled::Air)
    pub fn time_to_alarm(&self, flow: Flow) -> Modelled<Time> {
        let time = self.displaced()?.through(|displaced| time_to_alarm(displaced, flow));
        Ok(time.noting(&[Assumption::BlockedAtThePatient, Assumption::AlarmByPressureAlone], &[OCCLUSION]).claimed())
    }

    /// The most that a release at the alarm sets free, against no pressure in the vein. Its low edge is nothing: it is
    /// an upper bound.
    ///
    /// # Errors
    /// [`NotModelled::Air`](super::NotModelled::Air)
    pub fn largest_bolus(&self) -> Modelled<Volume> {
        let stored = self.under_pressure()?.claimed();
        let none = stored.high() * 0.0;
        let bound = Interval::new(none, None, stored.high()).expect("a compliance under pressure stores something");
        Ok(stored.of(bound).noting(&[Assumption::UpperBound], &[OCCLUSION]))
    }

    fn under_pressure(&self) -> Modelled<Volume> {
        let stored = self.compliance.with(&self.alarm, |compliance, alarm| compliance * (alarm - no_pressure()));
        Ok(&stored + &air::taken_up(self.air, &self.alarm)?)
    }
}
