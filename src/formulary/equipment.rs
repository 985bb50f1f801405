//! Containers, lines and drivers: what an entry may name, and what each can do.

use serde::{Deserialize, Serialize};

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
#[derive(Debug, Clone, Serialize, Deserialize)]
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
#[derive(Debug, Clone, Serialize, Deserialize)]
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
#[derive(Debug, Clone, Serialize, Deserialize)]
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
    /// Which values its display shows; the rate among them, but in a file that was kept from earlier.
    pub shows: Vec<String>,
}

/// The value that every display shows: how `shows` names it.
pub const RATE: &str = "rate";

/// Rates up to a limit, and the step in which they are set.
#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
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
    /// The settable rate nearest to an exact rate in mL/h, and the step used: halves away from zero, and never past the
    /// end of a band where that end is nearer. Above the last band its step is used, so that the range check can judge.
    ///
    /// # Errors
    /// [`TooLarge`] when the rate cannot be kept exactly.
    pub fn nearest(&self, rate: Ratio) -> Result<(Ratio, FlowRate), TooLarge> {
        let mut below: Option<&StepBand> = None;
        let mut last = None;
        for band in &self.steps {
            let rounded = rate.to_nearest(band.step.value())?;
            last = Some((rounded, band.step));
            if rounded <= band.up_to.value() {
                let end = below.map(|below| (below.up_to.value(), below.step));
                let nearer = match end {
                    Some((end, _)) => rate.apart(end)? < rate.apart(rounded)?,
                    None => false,
                };
                return Ok(end.filter(|_| nearer).unwrap_or((rounded, band.step)));
            }
            below = Some(band);
        }
        last.ok_or(TooLarge)
    }

    /// Whether it takes this container.
    #[must_use]
    pub fn takes(&self, container: &Container) -> bool {
        self.accepts.contains(&container.key)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rate(text: &str) -> FlowRate {
        FlowRate::parse(text).expect("a rate")
    }

    fn nearest(steps: &[(&str, &str)], exact: (u128, u128)) -> Ratio {
        let steps = steps.iter().map(|(up_to, step)| StepBand { up_to: rate(up_to), step: rate(step) }).collect();
        let driver = Driver {
            key: "any".to_owned(),
            kind: DriverKind::SyringeDriver,
            accepts: Vec::new(),
            smallest: rate("0.1 mL/h"),
            largest: rate("1000 mL/h"),
            steps,
            bolus_rate: rate("1000 mL/h"),
            shows: Vec::new(),
        };
        driver.nearest(Ratio::new(exact.0, exact.1).expect("small")).expect("small").0
    }

    // hazard: H-ARITHMETIC
    #[test]
    fn the_end_of_a_band_may_be_nearer_than_the_next_step() {
        let coarse = [("5 mL/h", "0.1 mL/h"), ("1000 mL/h", "10 mL/h")];
        assert_eq!(nearest(&coarse, (5052, 1000)), Ratio::whole(5));
        assert_eq!(nearest(&coarse, (74, 10)), Ratio::whole(5));
        assert_eq!(nearest(&coarse, (75, 10)), Ratio::whole(10));
        let fine = [("99.9 mL/h", "0.1 mL/h"), ("999 mL/h", "1 mL/h")];
        assert_eq!(nearest(&fine, (9994, 100)), Ratio::new(999, 10).expect("small"));
        assert_eq!(nearest(&fine, (9995, 100)), Ratio::whole(100));
        assert_eq!(nearest(&fine, (9996, 100)), Ratio::whole(100));
    }
}
