//! Containers, lines and drivers: what an entry may name, and what each can do.

use crate::quantity::{FlowRate, Length, Quantity, Ratio, TooLarge, Volume};

use super::words::words;

words! {
    /// What holds the solution.
    ContainerKind {
        /// A syringe, for a syringe driver.
        Syringe = "syringe",
        /// A bag, for a volumetric pump.
        Bag = "bag",
    }
    /// How wide a line is.
    LineKind {
        /// Holds little: a rate change arrives soon, little compliance.
        Narrow = "narrow",
        /// A standard infusion line.
        Standard = "standard",
    }
    /// What pushes.
    DriverKind {
        /// Pushes a syringe.
        SyringeDriver = "syringe driver",
        /// Draws from a bag.
        VolumetricPump = "volumetric pump",
    }
}

/// Everything that an entry may name.
#[derive(Debug, Clone, Default)]
pub struct Equipment {
    /// Syringes and bags.
    pub containers: Vec<Container>,
    /// Lines.
    pub lines: Vec<Line>,
    /// Drivers and pumps.
    pub drivers: Vec<Driver>,
}

/// A syringe or a bag.
#[derive(Debug, Clone)]
pub struct Container {
    /// What a person types.
    pub key: String,
    /// Which of the two.
    pub kind: ContainerKind,
    /// Its nominal size.
    pub size: Quantity<Volume>,
    /// The most that may be filled in.
    pub usable: Quantity<Volume>,
    /// What cannot be pushed out.
    pub stays_behind: Quantity<Volume>,
}

/// A line from the container to the patient.
#[derive(Debug, Clone)]
pub struct Line {
    /// What a person types.
    pub key: String,
    /// How wide.
    pub kind: LineKind,
    /// How long.
    pub length: Quantity<Length>,
    /// What fills it.
    pub priming_volume: Quantity<Volume>,
}

/// A syringe driver or a volumetric pump.
#[derive(Debug, Clone)]
pub struct Driver {
    /// What a person types.
    pub key: String,
    /// Which of the two.
    pub kind: DriverKind,
    /// Keys of the containers that it takes.
    pub accepts: Vec<String>,
    /// The smallest rate that can be set.
    pub smallest: FlowRate,
    /// The largest rate that can be set.
    pub largest: FlowRate,
    /// Bands of rates in rising order, each with its step.
    pub steps: Vec<StepBand>,
    /// The fastest bolus.
    pub bolus_rate: FlowRate,
    /// Which values its display shows.
    pub shows: Vec<String>,
}

/// Rates up to a limit, and the step in which they are set.
#[derive(Debug, Clone, Copy)]
pub struct StepBand {
    /// The largest rate of the band.
    pub up_to: FlowRate,
    /// The step in it.
    pub step: FlowRate,
}

impl Equipment {
    /// The container that is typed so.
    #[must_use]
    pub fn container(&self, key: &str) -> Option<&Container> {
        self.containers.iter().find(|item| item.key == key)
    }

    /// The line that is typed so.
    #[must_use]
    pub fn line(&self, key: &str) -> Option<&Line> {
        self.lines.iter().find(|item| item.key == key)
    }

    /// The driver that is typed so.
    #[must_use]
    pub fn driver(&self, key: &str) -> Option<&Driver> {
        self.drivers.iter().find(|item| item.key == key)
    }
}

impl Driver {
    /// The settable rate nearest to an exact rate in mL/h, and the step used: the first band that holds the rounded
    /// rate. Above the last band its step is used, so that the range check can name the rate.
    ///
    /// # Errors
    /// [`TooLarge`] when the rate cannot be kept exactly.
    pub fn nearest(&self, rate: Ratio) -> Result<(Ratio, FlowRate), TooLarge> {
        let mut last = None;
        for band in &self.steps {
            let rounded = rate.to_nearest(band.step.value())?;
            last = Some((rounded, band.step));
            if rounded <= band.up_to.value() {
                break;
            }
        }
        last.ok_or(TooLarge)
    }

    /// Whether it takes this container.
    #[must_use]
    pub fn takes(&self, container: &Container) -> bool {
        self.accepts.contains(&container.key)
    }
}
