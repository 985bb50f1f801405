//! Everything about one set-up. In: its container, line, driver and rate as entered, and the circumstances; out: a
//! [`Delivery`].

use serde::{Deserialize, Serialize};

use crate::entry::{Access, LineFilled};
use crate::formulary::{Container, ContainerKind, Driver, DriverKind, Line, ThroughTheLine};
use crate::infusion::Computed;
use crate::quantity::{self, Quantity, Ratio, UnitKind};

use super::arrival::{Arrival, Passage, Shape, arrival};
use super::assumption::Assumption;
use super::estimate::{Estimate, Modelled};
use super::height::{self, HeightChange};
use super::interval::Interval;
use super::not_modelled::NotModelled;
use super::occlusion::{Blockage, Blocked};
use super::parameter::{self, SyringeSize};
use super::pressure;
use super::shared::SharedSpace;
use super::si::{
    Compliance, Diffusivity, Flow, Length, Pressure, Time, Viscosity, Volume,
    flow::millilitre_per_hour,
    length::{centimetre, millimetre},
    time::hour,
    volume::millilitre,
};
use super::source::{HOUSE, SET_UP};
use super::start_up::{Purge, StartUpVolumes, volumes};
use super::transit::{mean_bore, mean_transit, transit};

/// Below this rate a large syringe sticks and slips. Neal & Lin 2009, Pediatr Crit Care Med 10:592 (read in source).
const SLOW_ML_PER_H: f64 = 0.5;
/// Up to this rate a large syringe took more than an hour to a steady flow. Schmidt 2010 (read in source: 50 mL, 0.4 to 1.0
/// mL/h).
const SLOW_START_ML_PER_H: f64 = 1.0;
/// From this bore on solutions of different density run past each other. Computed.
const WIDE_MM: f64 = 3.0;

/// What is set up, as the formulary and the entry say it.
#[derive(Debug, Clone, Copy)]
pub struct DeliverySetUp<'a> {
    /// The syringe or bag.
    pub container: &'a Container,
    /// The line.
    pub line: &'a Line,
    /// What pushes.
    pub driver: &'a Driver,
    /// The rate that is set, in mL/h.
    pub rate: Ratio,
}

impl DeliverySetUp<'_> {
    /// What flows.
    pub(super) fn flow(&self) -> Result<Flow, NoFlow> {
        let flow = flow_of(self.rate);
        if flow <= flow * 0.0 { Err(NoFlow) } else { Ok(flow) }
    }

    pub(super) fn size(&self) -> SyringeSize {
        SyringeSize::of(volume_of(self.container.size))
    }

    /// Whether anything is known of when something arrives.
    pub(super) fn timed(&self, how: &Circumstances) -> Result<(), NotModelled> {
        how.alone().and(refuse(&[(sticks_and_slips(self.container, self.rate), NotModelled::SlowLargeSyringe)]))
    }

    /// Whether a driver pushes a syringe.
    pub(super) fn syringe(&self) -> Result<(), NotModelled> {
        refuse(&[(self.driver.kind != DriverKind::SyringeDriver, NotModelled::NoSyringe)])
    }
}

/// What is in the syringe, as far as it matters to how it moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Solution {
    /// A dissolved drug of small molecules.
    SmallMolecules,
    /// A dissolved protein.
    LargeMolecules,
    /// An emulsion or a suspension.
    Dispersed,
    /// A drug that sticks to plastic.
    SticksToWall,
}

/// How it is set up.
#[derive(Debug, Clone, PartialEq)]
pub struct Circumstances {
    /// How the driver was prepared.
    pub purge: Purge,
    /// With what the line is filled.
    pub filled: LineFilled,
    /// Into which kind of vessel; for the volume after the line, where none was entered.
    pub access: Access,
    /// The volume after the line: catheter, shared part.
    pub beyond: Option<Quantity<quantity::Volume>>,
    /// How many stopcocks the drug has to come through, after the line.
    pub stopcocks: u8,
    /// The rate of a carrier through the volume after the line, in mL/h.
    pub carrier: Option<Ratio>,
    /// What is in the syringe.
    pub solution: Solution,
    /// Whether further drivers run into the same line.
    pub several_drivers: bool,
    /// Whether a valve that needs pressure to open is in the line.
    pub valve: bool,
    /// Whether a filter is in the line.
    pub filter: bool,
    /// Whether the line was connected to a closed tap.
    pub connected_closed: bool,
    /// Air in syringe and line, at the pressure of the room.
    pub air: Volume,
    /// What the house has measured or read off its equipment.
    pub house: House,
}

/// Values of the house, each in place of a published one.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct House {
    /// The compliance of the syringe in its driver.
    pub compliance: Option<Interval<Compliance>>,
    /// The pressure at which the driver alarms.
    pub alarm: Option<Interval<Pressure>>,
    /// The bore of the line.
    pub bore: Option<Length>,
    /// The diffusivity of the drug.
    pub diffusivity: Option<Interval<Diffusivity>>,
    /// The viscosity of the solution.
    pub viscosity: Option<Interval<Viscosity>>,
}

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

/// Nothing is delivered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the rate is nothing: nothing is delivered, and nothing can be said of when")]
pub struct NoFlow;

impl From<ThroughTheLine> for Solution {
    fn from(way: ThroughTheLine) -> Self {
        match way {
            ThroughTheLine::Dissolved => Self::SmallMolecules,
            ThroughTheLine::Protein => Self::LargeMolecules,
            ThroughTheLine::Emulsion => Self::Dispersed,
            ThroughTheLine::SticksToPlastic => Self::SticksToWall,
        }
    }
}

impl Solution {
    /// As the formulary says; where it does not, a drug that is counted in units is a protein or a peptide (common
    /// practice, no source).
    #[must_use]
    pub fn of(computed: &Computed<'_>) -> Self {
        let in_units = computed.entry().label().strength.amount_unit().kind() == UnitKind::Units;
        match computed.names().drug.as_ref().ok().and_then(|drug| drug.in_the_line) {
            Some(way) => way.into(),
            None if in_units => Self::LargeMolecules,
            None => Self::SmallMolecules,
        }
    }
}

impl Circumstances {
    /// As an entry has it, alone in its line, the driver prepared so.
    #[must_use]
    pub fn of(computed: &Computed<'_>, purge: Purge) -> Self {
        let entry = computed.entry();
        let solution = Solution::of(computed);
        Self { beyond: entry.beyond(), solution, ..Self::plain(purge, entry.line_filled(), entry.access()) }
    }

    /// A small dissolved drug, alone in its line, without valve, filter or air.
    #[must_use]
    pub fn plain(purge: Purge, filled: LineFilled, access: Access) -> Self {
        Self {
            purge,
            filled,
            access,
            beyond: None,
            stopcocks: 0,
            carrier: None,
            solution: Solution::SmallMolecules,
            several_drivers: false,
            valve: false,
            filter: false,
            connected_closed: false,
            air: no_volume(),
            house: House::default(),
        }
    }

    /// Where nothing at all is known of when something arrives.
    pub(super) fn alone(&self) -> Result<(), NotModelled> {
        refuse(&[
            (self.several_drivers, NotModelled::SeveralDrivers),
            (self.valve, NotModelled::Valve),
            (self.filter, NotModelled::Filter),
        ])
    }

    fn diffusivity(&self) -> Modelled<Diffusivity> {
        match self.solution {
            Solution::Dispersed => Err(NotModelled::Dispersed),
            Solution::SticksToWall => Err(NotModelled::SticksToWall),
            Solution::LargeMolecules | Solution::SmallMolecules => match self.house.diffusivity {
                Some(own) => Ok(of_house(own)),
                None if self.solution == Solution::LargeMolecules => Err(NotModelled::LargeMolecules),
                None => Ok(parameter::diffusivity()),
            },
        }
    }

    fn viscosity(&self) -> Modelled<Viscosity> {
        match (self.house.viscosity, self.solution) {
            (Some(own), _) => Ok(of_house(own)),
            (None, Solution::Dispersed | Solution::LargeMolecules) => Err(NotModelled::ViscosityUnknown),
            (None, _) => Ok(parameter::viscosity()),
        }
    }
}

/// Whether a rate in mL/h is below the smallest that a syringe of this size gives steadily: 0.5 mL/h from 20 mL on. Neal &
/// Lin 2009, Pediatr Crit Care Med 10:592 (read in source: a 60 mL syringe at 0.2 mL/h).
#[must_use]
pub fn sticks_and_slips(container: &Container, rate: Ratio) -> bool {
    let size = SyringeSize::of(volume_of(container.size));
    container.kind == ContainerKind::Syringe
        && flow_of(rate) < Flow::new::<millilitre_per_hour>(SLOW_ML_PER_H)
        && size >= SyringeSize::Between
}

/// Whether a start at a rate in mL/h takes a syringe of this size longer than anybody has measured to the end.
#[must_use]
pub fn starts_slowly(container: &Container, rate: Ratio) -> bool {
    container.kind == ContainerKind::Syringe
        && flow_of(rate) <= Flow::new::<millilitre_per_hour>(SLOW_START_ML_PER_H)
        && SyringeSize::of(volume_of(container.size)) >= SyringeSize::Between
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

/// A rate in mL/h as a quantity of SI: for estimates only.
#[must_use]
pub fn flow_of(rate: Ratio) -> Flow {
    Flow::new::<millilitre_per_hour>(rate.approximate())
}

/// A typed volume as a quantity of SI: for estimates only.
#[must_use]
pub fn volume_of(typed: Quantity<quantity::Volume>) -> Volume {
    Volume::new::<millilitre>(typed.value().approximate())
}

/// A typed length as a quantity of SI: for estimates only.
#[must_use]
pub fn length_of(typed: Quantity<quantity::Length>) -> Length {
    Length::new::<centimetre>(typed.value().approximate())
}

/// A typed time as a quantity of SI: for estimates only.
#[must_use]
pub fn time_of(typed: Quantity<quantity::Time>) -> Time {
    Time::new::<hour>(typed.value().approximate())
}

/// By plug flow through one after the other.
fn total(passages: &[Passage]) -> Estimate<Time> {
    let all: Vec<Estimate<Time>> = passages.iter().map(|passage| transit(&passage.holds, passage.flow)).collect();
    all.iter().skip(1).fold(all[0].clone(), |sum, next| &sum + next)
}

pub(super) fn of_house<T: Copy + PartialOrd>(own: Interval<T>) -> Estimate<T> {
    Estimate::new(own, &[], &[HOUSE])
}

fn no_volume() -> Volume {
    Volume::new::<millilitre>(0.0)
}

/// The first that holds.
pub(super) fn refuse(reasons: &[(bool, NotModelled)]) -> Result<(), NotModelled> {
    reasons.iter().find(|(holds, _)| *holds).map_or(Ok(()), |(_, reason)| Err(*reason))
}
