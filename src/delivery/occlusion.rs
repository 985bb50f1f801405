//! A line that is blocked at the patient. In: slack, compliance, air, the pressure of the alarm and a flow; out: when
//! the driver alarms, and the most that is set free when the block is released at once.
//!
//! Assumed: total, at the patient's end, no leak, the alarm by pressure alone, compliance constant. A partial block,
//! rubber that stiffens and plastic that creeps are not modelled. The bolus is an upper bound and never a dose.

use super::air;
use super::assumption::Assumption;
use super::estimate::{Estimate, Modelled};
use super::interval::Interval;
use super::not_modelled::NotModelled;
use super::parameter::{self, no_pressure};
use super::set_up::{Circumstances, DeliverySetUp, NoFlow, of_house, refuse, volume_of};
use super::si::{Compliance, Flow, Pressure, Time, Volume};
use super::source::OCCLUSION;
use super::start_up::{Purge, volumes};

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

/// A set-up as it would be if its line were blocked: what of a [`Delivery`](super::Delivery) is known of that, without the
/// rest of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Blocked {
    blockage: Result<Blockage, NotModelled>,
    /// Whether anything is known of when the driver alarms.
    timed: Result<(), NotModelled>,
    flow: Flow,
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
    /// [`NotModelled::Air`]
    pub fn displaced(&self) -> Modelled<Volume> {
        Ok(&self.slack + &self.under_pressure()?)
    }

    /// When the driver alarms, as wide as may be claimed.
    ///
    /// # Errors
    /// [`NotModelled::Air`]
    pub fn time_to_alarm(&self, flow: Flow) -> Modelled<Time> {
        let time = self.displaced()?.through(|displaced| time_to_alarm(displaced, flow));
        Ok(time.noting(&[Assumption::BlockedAtThePatient, Assumption::AlarmByPressureAlone], &[OCCLUSION]).claimed())
    }

    /// The most that a release at the alarm sets free, against no pressure in the vein. Its low edge is nothing: it is
    /// an upper bound.
    ///
    /// # Errors
    /// [`NotModelled::Air`]
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

impl Blocked {
    /// What is known of this set-up with its line blocked.
    ///
    /// # Errors
    /// [`NoFlow`] where the rate is nothing.
    pub fn estimate(set_up: DeliverySetUp<'_>, how: &Circumstances) -> Result<Self, NoFlow> {
        let flow = set_up.flow()?;
        let blockage = how.alone().and(set_up.syringe()).map(|()| {
            let size = set_up.size();
            let line = Estimate::entered(volume_of(set_up.line.priming_volume));
            let compliance = how.house.compliance.map_or_else(|| parameter::syringe_compliance(size), of_house);
            Blockage {
                slack: parameter::up_to(volumes(size, how.purge).first),
                compliance: &compliance + &parameter::line_compliance(&line),
                alarm: how.house.alarm.map_or_else(parameter::alarm_pressure, of_house),
                air: how.air,
            }
        });
        let timed = set_up.timed(how).and(refuse(&[(how.purge == Purge::Not, NotModelled::NotPurged)]));
        Ok(Self { blockage, timed, flow })
    }

    /// From a total block at the patient to the alarm.
    ///
    /// # Errors
    /// [`NotModelled`], where nothing is known of it.
    pub fn time_to_alarm(&self) -> Modelled<Time> {
        let blockage = self.blockage.as_ref().map_err(|reason| *reason)?;
        self.timed?;
        blockage.time_to_alarm(self.flow)
    }

    /// The most that such a block sets free when it is released.
    ///
    /// # Errors
    /// [`NotModelled`], where nothing is known of it.
    pub fn largest_bolus(&self) -> Modelled<Volume> {
        self.blockage.as_ref().map_err(|reason| *reason)?.largest_bolus()
    }

    pub(super) fn into_blockage(self) -> Result<Blockage, NotModelled> {
        self.blockage
    }
}
