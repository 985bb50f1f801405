//! Everything that is estimated of one set-up: a [`Delivery`].

use crate::entry::{Access, LineFilled};
use crate::quantity::Ratio;

use super::arrival::{Arrival, Passage, Shape, arrival};
use super::assumption::Assumption;
use super::estimate::{Estimate, Modelled};
use super::height::{self, HeightChange};
use super::not_modelled::NotModelled;
use super::occlusion::{Blockage, Blocked};
use super::parameter;
use super::pressure;
use super::set_up::{
    Circumstances, DeliverySetUp, NoFlow, Solution, flow_of, length_of, no_volume, refuse, starts_slowly, volume_of,
};
use super::shared::SharedSpace;
use super::si::{Flow, Length, Pressure, Time, Volume, length::millimetre};
use super::source::SET_UP;
use super::start_up::{Purge, StartUpVolumes, volumes};
use super::transit::{mean_bore, mean_transit, transit};

/// From this bore on solutions of different density run past each other. Computed.
const WIDE_MM: f64 = 3.0;

/// What a start costs.
#[derive(Debug, Clone, PartialEq)]
pub struct StartUp {
    /// In volumes, whatever the rate.
    pub volumes: StartUpVolumes,
    /// Until the first fluid.
    pub first_fluid: Modelled<Time>,
    /// Until the flow is steady.
    pub steady: Modelled<Time>,
}

/// Everything that is estimated of a set-up. Never a reason to change a rate or to give a bolus, and no effect of a
/// drug is meant by any of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Delivery {
    /// What the drug has to come through.
    pub dead_space: Estimate<Volume>,
    /// The mean time through it, the driver already at its rate.
    pub transit: Modelled<Time>,
    /// What the start costs.
    pub start_up: Result<StartUp, NotModelled>,
    /// When the drug reaches the patient.
    pub arrival: Result<Arrival, NotModelled>,
    /// What the flow needs to go through the line.
    pub pressure_drop: Modelled<Pressure>,
    /// From a total block at the patient to the alarm.
    pub time_to_alarm: Modelled<Time>,
    /// The most that such a block sets free when it is released.
    pub largest_bolus: Modelled<Volume>,
    flow: Flow,
    beyond: Estimate<Volume>,
    blockage: Result<Blockage, NotModelled>,
    timed: Result<(), NotModelled>,
}

impl Delivery {
    /// Everything that is estimated of a set-up.
    ///
    /// # Errors
    /// [`NoFlow`] where the rate is nothing.
    pub fn of(set_up: DeliverySetUp<'_>, how: &Circumstances) -> Result<Self, NoFlow> {
        let flow = set_up.flow()?;
        let (timed, syringe) = (set_up.timed(how), set_up.syringe());
        let blocked = Blocked::estimate(set_up, how)?;
        let line = Estimate::entered(volume_of(set_up.line.priming_volume));
        let length = length_of(set_up.line.length);
        let bore = how.house.bore.unwrap_or_else(|| mean_bore(line.low(), length));
        let beyond = match how.beyond {
            Some(entered) => Estimate::entered(volume_of(entered)),
            None => parameter::catheter(how.access == Access::Central),
        };
        let shared_flow = flow + how.carrier.map_or(flow * 0.0, flow_of);
        let mut passages = vec![Passage { holds: beyond.clone(), shape: Shape::Catheter, flow: shared_flow }];
        if how.stopcocks > 0 {
            passages.insert(
                0,
                Passage { holds: parameter::stopcocks(how.stopcocks), shape: Shape::Port, flow: shared_flow },
            );
        }
        if how.filled == LineFilled::WithDiluent {
            passages.insert(0, Passage { holds: line.clone(), shape: Shape::Tube(length), flow });
        }

        let cost = volumes(set_up.size(), how.purge);
        let started = timed.and(refuse(&[
            (how.purge == Purge::Not, NotModelled::NotPurged),
            (how.connected_closed && how.purge != Purge::Running, NotModelled::ConnectedClosed),
            (how.air > no_volume(), NotModelled::Bubbles),
        ]));
        let slow = how.purge != Purge::Running && starts_slowly(set_up.container, set_up.rate);
        let becomes_steady = started.and(refuse(&[(slow, NotModelled::SlowStart)]));
        let start_up = syringe.map(|()| StartUp {
            first_fluid: started.map(|()| cost.first.through(|volume| mean_transit(volume, flow)).claimed()),
            steady: becomes_steady.map(|()| cost.steady.through(|volume| mean_transit(volume, flow)).claimed()),
            volumes: cost.clone(),
        });
        let is_wide = how.filled == LineFilled::WithDiluent && bore >= Length::new::<millimetre>(WIDE_MM);
        let passable = refuse(&[
            (how.filled == LineFilled::Empty, NotModelled::LineEmpty),
            (how.solution == Solution::SticksToWall, NotModelled::SticksToWall),
        ]);
        let arrives = passable
            .and(if how.purge == Purge::Running { Ok(()) } else { syringe })
            .and(becomes_steady)
            .and(refuse(&[(is_wide, NotModelled::WideLine)]));

        let is_measured_bore = how.house.bore.is_some();
        Ok(Self {
            transit: passable.and(timed).map(|()| total(&passages)),
            dead_space: passages.iter().skip(1).fold(passages[0].holds.clone(), |sum, next| &sum + &next.holds),
            start_up,
            arrival: arrives.map(|()| arrival(&passages, &cost.unrecovered, flow, &how.diffusivity())),
            pressure_drop: how.viscosity().and_then(|viscosity| {
                let dropped = pressure::drop(bore, length, flow, &viscosity)?;
                let from: &[_] = if is_measured_bore { &[] } else { &[Assumption::BoreFromVolume] };
                Ok(dropped.noting(from, &[SET_UP]))
            }),
            time_to_alarm: blocked.time_to_alarm(),
            largest_bolus: blocked.largest_bolus(),
            flow,
            beyond,
            blockage: blocked.into_blockage(),
            timed,
        })
    }

    /// What raising (above nothing) or lowering (below nothing) the driver does.
    ///
    /// # Errors
    /// [`NotModelled`], where compliance or rate are such that nothing is known.
    pub fn height_change(&self, by: Length) -> Result<HeightChange, NotModelled> {
        self.timed?;
        let blockage = self.blockage.clone()?;
        height::change(&blockage.compliance, by, blockage.air, self.flow)
    }

    /// The volume after the line as one that is shared with a carrier at this rate in mL/h.
    ///
    /// # Errors
    /// [`NotModelled`], where more than a drug and its carrier run there, a valve or filter is in the way, or the
    /// driver is too slow for its syringe.
    pub fn shared(&self, carrier: Ratio) -> Result<SharedSpace, NotModelled> {
        self.timed?;
        Ok(SharedSpace::new(self.beyond.clone(), self.flow, flow_of(carrier)))
    }
}

/// By plug flow through one after the other.
fn total(passages: &[Passage]) -> Estimate<Time> {
    let all: Vec<Estimate<Time>> = passages.iter().map(|passage| transit(&passage.holds, passage.flow)).collect();
    all.iter().skip(1).fold(all[0].clone(), |sum, next| &sum + next)
}
