//! What a driver takes up before it delivers. In: the size of the syringe, whether driver and line were purged, a flow;
//! out: the volumes that are never recovered, and the times they take.
//!
//! Over independent papers start-up costs nearly one volume for a driver, syringe and line: the time is that volume
//! over the flow (computed). What resists is free play and friction, not the line: its resistance times the compliance
//! is seconds (computed), and start-up takes minutes to more than an hour (read).

use super::assumption::Assumption;
use super::estimate::Estimate;
use super::parameter::{SyringeSize, in_order};
use super::si::{Compliance, Flow, Length, Pressure, Time, Volume, time::second, volume::millilitre};
use super::source::{NEAL_2009, NEFF_2001, NEFF_2007, QUASI_STATIC};
use super::transit::area;

/// How the driver was prepared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purge {
    /// It pushed fluid through the line before the line was connected.
    OnTheDriver,
    /// It did not.
    Not,
    /// It has been running at about this rate.
    Running,
}

/// The volumes that a start costs, whatever the rate.
#[derive(Debug, Clone, PartialEq)]
pub struct StartUpVolumes {
    /// Displaced before the first fluid leaves.
    pub first: Estimate<Volume>,
    /// Displaced before the flow is steady.
    pub steady: Estimate<Volume>,
    /// Never recovered: between the least of the first and the most of the second.
    pub unrecovered: Estimate<Volume>,
}

/// The course of a start: nothing until free play is taken up, then towards the rate as compliance fills. Computed, an
/// empirical form: q = Q (1 - exp(-(t - t0) / tau)), t0 = Vs / Q, tau = Vc / Q.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Course {
    /// Vs, displaced before the first fluid.
    pub slack: Volume,
    /// Vc, taken up while the flow rises.
    pub stored: Volume,
    /// Q, the rate that was set.
    pub flow: Flow,
}

/// The volumes that a start costs.
///
/// Read, volumes computed. Not purged: first 0.11 to 0.95, steady 0.33 to 1.27 mL; purged: first 0.005 to 0.018, steady
/// 0.10 to 0.19 mL (Neff T 2001, Paediatr Anaesth 11:561, four drivers, syringe size not in the abstract). Purged, 10
/// mL: steady 0.06 to 0.10 mL (Neff SB 2007, Eur J Anaesthesiol 24:602; Neal & Lin 2009, Pediatr Crit Care Med 10:592);
/// below 10 mL: 0.047 to 0.113 mL (Neal & Lin, 3 mL, one SD about the mean).
#[must_use]
pub fn volumes(size: SyringeSize, purge: Purge) -> StartUpVolumes {
    let one = [Assumption::OneVolumeForEachRate];
    let (first, steady, assumptions, sources): (_, _, &[Assumption], &[_]) = match purge {
        Purge::Running => ((0.0, 0.0), (0.0, 0.0), &[], &[]),
        Purge::Not => (
            (0.11, 0.95),
            (0.33, 1.27),
            &[Assumption::OneDriverMayDifferFromAnother, Assumption::SyringeSizeNotStated],
            &[NEFF_2001],
        ),
        Purge::OnTheDriver => {
            let steady = match size {
                SyringeSize::Small => (0.047, 0.113),
                SyringeSize::Ten => (0.06, 0.10),
                SyringeSize::Between => (0.06, 0.19),
                SyringeSize::Large => (0.10, 0.19),
            };
            ((0.005, 0.018), steady, &[Assumption::SyringeSizeNotStated], &[NEFF_2001, NEFF_2007, NEAL_2009])
        }
    };
    let between = |(low, high): (f64, f64)| {
        let typical = (low == high).then_some(low);
        let interval = in_order(low, typical, high).through(Volume::new::<millilitre>);
        Estimate::new(interval, assumptions, sources).noting(&one, &[QUASI_STATIC])
    };
    StartUpVolumes { first: between(first), steady: between(steady), unrecovered: between((first.0, steady.1)) }
}

/// The volume of a free play: area of the bore x play. Computed.
#[must_use]
pub fn slack_volume(bore: Length, play: Length) -> Volume {
    area(bore) * play
}

/// The volume that compliance takes up under a pressure, C P. Computed, quasi-static. The pressure is that which
/// overcomes friction ([`from_force`](super::pressure::from_force); 4.5 N drawing and 5.5 N expelling were read for a
/// dry syringe of two parts, Kiselev 2020) and that of the outlet, less what is trapped already.
#[must_use]
pub fn stored_volume(compliance: Compliance, pressure: Pressure) -> Volume {
    compliance * pressure
}

impl Course {
    /// t0, when the first fluid leaves.
    #[must_use]
    pub fn first_fluid(&self) -> Time {
        self.slack / self.flow
    }

    /// tau, in which the flow comes e-fold nearer to its rate.
    #[must_use]
    pub fn lag(&self) -> Time {
        self.stored / self.flow
    }

    /// The flow at a time after the start.
    #[must_use]
    pub fn flow_at(&self, time: Time) -> Flow {
        self.flow * (1.0 - self.missing(time))
    }

    /// What has left by a time after the start. What was displaced is this and what was taken up.
    #[must_use]
    pub fn delivered_by(&self, time: Time) -> Volume {
        if time <= self.first_fluid() {
            return self.slack * 0.0;
        }
        self.flow * (time - self.first_fluid()) - self.stored * (1.0 - self.missing(time))
    }

    /// What the set-up has taken up by a time after the start, and not delivered.
    #[must_use]
    pub fn taken_up_by(&self, time: Time) -> Volume {
        if time <= self.first_fluid() {
            return self.flow * time;
        }
        self.slack + self.stored * (1.0 - self.missing(time))
    }

    /// When the flow reaches a share of its rate, from 0 to below 1: t90 = (Vs + 2.3026 Vc) / Q.
    #[must_use]
    pub fn time_to(&self, share: f64) -> Time {
        self.first_fluid() + self.lag() * -(1.0 - share).ln()
    }

    /// What is never recovered, Vs + Vc.
    #[must_use]
    pub fn unrecovered(&self) -> Volume {
        self.slack + self.stored
    }

    /// What the flow still lacks of its rate, as a share.
    fn missing(&self, time: Time) -> f64 {
        let since = time - self.first_fluid();
        if since < Time::new::<second>(0.0) {
            return 1.0;
        }
        // Without compliance the rate is there at once.
        if self.stored <= self.slack * 0.0 { 0.0 } else { (-(since / self.lag()).value).exp() }
    }
}
