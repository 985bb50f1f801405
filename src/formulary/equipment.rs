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

    /// The largest settable rate that is not above an exact rate in mL/h, and the step used.
    ///
    /// # Errors
    /// [`TooLarge`] when the rate cannot be kept exactly.
    pub fn at_most(&self, rate: Ratio) -> Result<(Ratio, FlowRate), TooLarge> {
        let mut found = None;
        let mut begins = Ratio::ZERO;
        for band in &self.steps {
            if found.is_some() && rate < begins {
                break;
            }
            let step = band.step.value();
            let whole = Ratio::new(rate.over(step)?.floor(), 1)?.times(step)?.min(band.up_to.value());
            found = Some((whole.max(begins), band.step));
            begins = band.up_to.value();
        }
        found.ok_or(TooLarge)
    }

    /// Whether a rate lies no further from a limit in mL/h than the driver's rounding of that limit itself.
    ///
    /// # Errors
    /// [`TooLarge`] when the limit cannot be kept exactly.
    pub fn covers(&self, limit: Ratio, rate: Ratio) -> Result<bool, TooLarge> {
        let nearest = self.nearest(limit)?.0;
        Ok((limit.min(nearest)..=limit.max(nearest)).contains(&rate))
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

    fn driver(steps: &[(&str, &str)]) -> Driver {
        let steps = steps.iter().map(|(up_to, step)| StepBand { up_to: rate(up_to), step: rate(step) }).collect();
        Driver {
            key: "any".to_owned(),
            kind: DriverKind::SyringeDriver,
            accepts: Vec::new(),
            smallest: rate("0.1 mL/h"),
            largest: rate("1000 mL/h"),
            steps,
            bolus_rate: rate("1000 mL/h"),
            shows: Vec::new(),
        }
    }

    fn ratio((above, below): (u128, u128)) -> Ratio {
        Ratio::new(above, below).expect("small")
    }

    fn nearest(steps: &[(&str, &str)], exact: (u128, u128)) -> Ratio {
        driver(steps).nearest(ratio(exact)).expect("small").0
    }

    // hazard: H-ARITHMETIC
    #[test]
    fn a_rate_at_most_is_the_next_lower_that_can_be_set() {
        let coarse = driver(&[("5 mL/h", "0.1 mL/h"), ("1000 mL/h", "10 mL/h")]);
        let fine = driver(&[("99.9 mL/h", "0.1 mL/h"), ("999 mL/h", "1 mL/h")]);
        for (driver, exact, most) in [
            (&coarse, (312, 100), (31, 10)),
            (&coarse, (31, 10), (31, 10)),
            (&coarse, (52, 10), (5, 1)),
            (&coarse, (99, 10), (5, 1)),
            (&coarse, (10, 1), (10, 1)),
            (&coarse, (195, 10), (10, 1)),
            (&coarse, (5, 100), (0, 1)),
            (&fine, (9996, 100), (999, 10)),
            (&fine, (100, 1), (100, 1)),
            (&fine, (1009, 10), (100, 1)),
        ] {
            assert_eq!(driver.at_most(ratio(exact)).expect("small").0, ratio(most), "{exact:?}");
        }
    }

    // hazard: H-ARITHMETIC
    #[test]
    fn a_limit_covers_its_own_nearest_rate_and_no_other() {
        let driver = driver(&[("1000 mL/h", "0.1 mL/h")]);
        let covers = |limit, rate| driver.covers(ratio(limit), ratio(rate)).expect("small");
        // 5.06 is set as 5.1, and 5.04 as 5.
        assert!(covers((506, 100), (51, 10)) && !covers((506, 100), (52, 10)) && !covers((506, 100), (5, 1)));
        assert!(covers((504, 100), (5, 1)) && !covers((504, 100), (51, 10)) && !covers((504, 100), (49, 10)));
        assert!(covers((5, 1), (5, 1)));
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
