//! One set-up as its delivery is estimated from: its container, line, driver and rate as entered, and the circumstances.

use serde::{Deserialize, Serialize};

use crate::entry::{Access, LineFilled};
use crate::formulary::{Container, ContainerKind, Driver, DriverKind, Line, ThroughTheLine};
use crate::infusion::Computed;
use crate::quantity::{self, Quantity, Ratio, UnitKind};

use super::estimate::{Estimate, Modelled};
use super::interval::Interval;
use super::not_modelled::NotModelled;
use super::parameter::{self, SyringeSize};
use super::si::{
    Compliance, Diffusivity, Flow, Length, Pressure, Time, Viscosity, Volume, flow::millilitre_per_hour,
    length::centimetre, time::hour, volume::millilitre,
};
use super::source::HOUSE;
use super::start_up::Purge;

/// Below this rate a large syringe sticks and slips. Neal & Lin 2009, Pediatr Crit Care Med 10:592 (read in source).
const SLOW_ML_PER_H: f64 = 0.5;
/// Up to this rate a large syringe took more than an hour to a steady flow. Schmidt 2010 (read in source: 50 mL, 0.4 to 1.0
/// mL/h).
const SLOW_START_ML_PER_H: f64 = 1.0;

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

    pub(super) fn diffusivity(&self) -> Modelled<Diffusivity> {
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

    pub(super) fn viscosity(&self) -> Modelled<Viscosity> {
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

pub(super) fn of_house<T: Copy + PartialOrd>(own: Interval<T>) -> Estimate<T> {
    Estimate::new(own, &[], &[HOUSE])
}

pub(super) fn no_volume() -> Volume {
    Volume::new::<millilitre>(0.0)
}

/// The first that holds.
pub(super) fn refuse(reasons: &[(bool, NotModelled)]) -> Result<(), NotModelled> {
    reasons.iter().find(|(holds, _)| *holds).map_or(Ok(()), |(_, reason)| Err(*reason))
}
