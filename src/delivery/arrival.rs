//! When the drug reaches the patient. In: the tubes it has to come through, their flows, what a start costs; out: the
//! earliest moment, and when 5, 50 and 95 % of the full rate have arrived.

use super::assumption::Assumption;
use super::dispersion::{Share, rows, spread_number, theta, unknown_spread};
use super::estimate::{Estimate, Modelled};
use super::interval::Interval;
use super::not_modelled::NotModelled;
use super::si::{Diffusivity, Flow, Length, Time, Volume};
use super::source::{CONVECTION, QUANTILES, TAYLOR_ARIS, VOLUME_OVER_FLOW};
use super::transit::{EARLIEST, mean_transit};

/// Something with a volume that the drug has to come through.
#[derive(Debug, Clone, PartialEq)]
pub struct Passage {
    /// What it holds.
    pub holds: Estimate<Volume>,
    /// How a front spreads in it.
    pub shape: Shape,
    /// Everything that flows through it.
    pub flow: Flow,
}

/// How a front spreads in something.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shape {
    /// In a round tube of this length.
    Tube(Length),
    /// In a tube of which the length is not known: anything between no diffusion and a plug.
    Catheter,
    /// In a stopcock or port: anything between a plug and a well-mixed space, which begins to give at once.
    Port,
}

/// When the drug reaches the patient, from the start of the driver on.
#[derive(Debug, Clone, PartialEq)]
pub struct Arrival {
    /// Nothing comes before the low edge.
    pub earliest: Estimate<Time>,
    /// A twentieth of the full rate.
    pub first: Modelled<Time>,
    /// Half of the full rate.
    pub half: Modelled<Time>,
    /// All but a twentieth of the full rate.
    pub nearly_all: Modelled<Time>,
    /// The mean, sum of V/Q: exact, however the drug spreads.
    pub mean: Estimate<Time>,
}

/// When the drug reaches the patient through these, one after the other.
///
/// `lost` is the volume that the start costs and never recovers, at the driver's own flow. The time of a share is taken
/// as the sum of its times through each passage: true for one tube, and for several too early for the first twentieth
/// and too late for the last, which is outwards. No edge lies before 0.5 V/Q of the tubes. Where the diffusivity is not
/// known, only the earliest moment and the mean are.
#[must_use]
pub fn arrival(
    passages: &[Passage],
    lost: &Estimate<Volume>,
    driver: Flow,
    diffusivity: &Modelled<Diffusivity>,
) -> Arrival {
    let start = lost.through(|volume| mean_transit(volume, driver));
    let sum = |one: &dyn Fn(&Passage) -> Modelled<Time>| -> Modelled<Time> {
        passages.iter().try_fold(start.clone(), |sum, passage| Ok(&sum + &one(passage)?))
    };
    let mean = passages
        .iter()
        .fold(start.clone(), |sum, passage| &sum + &passage.mean())
        .noting(&[Assumption::LaminarTube], &[VOLUME_OVER_FLOW]);
    // A start may cost nothing: then the drug comes as early as it can.
    let none = start.low() * 0.0;
    let at_once = Interval::new(none, start.typical(), start.high()).expect("a volume over a flow is above nothing");
    let earliest = passages.iter().fold(start.of(at_once), |sum, passage| &sum + &passage.earliest());
    let share = |share| {
        let diffusivity = diffusivity.as_ref().map_err(|reason| *reason)?;
        let plain = sum(&|passage| passage.reaches(share, diffusivity))?;
        let claimed = plain.claimed();
        Ok(claimed.of(claimed.interval().not_below(earliest.low())))
    };
    Arrival {
        first: share(Share::P5),
        half: share(Share::P50),
        nearly_all: share(Share::P95),
        mean: mean.claimed(),
        earliest: earliest.noting(&[Assumption::LaminarTube], &[VOLUME_OVER_FLOW, CONVECTION]),
    }
}

impl Arrival {
    /// From the earliest that a twentieth to the latest that nearly all of the full rate may arrive.
    ///
    /// # Errors
    /// [`NotModelled`](super::NotModelled), as for either.
    pub fn whole(&self) -> Modelled<Time> {
        let (first, last) = (self.first.clone()?, self.nearly_all.as_ref().map_err(|why| *why)?);
        Ok(first.of(first.interval().hull(&last.interval())).noting_all(last))
    }
}

impl Passage {
    /// V/Q.
    #[must_use]
    pub fn mean(&self) -> Estimate<Time> {
        self.holds.through(|volume| mean_transit(volume, self.flow))
    }

    /// When 5, 50 or 95 % of the full rate has come through.
    ///
    /// # Errors
    /// [`NotModelled::HardlyAnyDiffusion`] where the least T that may be lies below 0.02.
    pub fn reaches(&self, share: Share, diffusivity: &Estimate<Diffusivity>) -> Modelled<Time> {
        let length = match self.shape {
            Shape::Tube(length) => length,
            Shape::Catheter => return Ok(self.between(unknown_spread(share), Assumption::CatheterSpreadUnknown)),
            Shape::Port => {
                let mixed = -(1.0 - share.part()).ln();
                return Ok(self.between((mixed.min(1.0), mixed.max(1.0)), Assumption::PlugOrMixed));
            }
        };
        let spread = diffusivity.through(|diffusivity| spread_number(diffusivity, length, self.flow));
        let thetas = extremes(&spread.interval(), share)?;
        Ok(spread
            .of(thetas)
            .with(&self.mean(), |theta, mean| mean * theta)
            .noting(&[Assumption::LaminarTube], &[TAYLOR_ARIS, QUANTILES]))
    }

    /// The moment before which nothing comes through: 0.5 V/Q in a tube, at once in a well-mixed space.
    fn earliest(&self) -> Estimate<Time> {
        let part = if self.shape == Shape::Port { 0.0 } else { EARLIEST };
        self.mean().through(|time| time * part)
    }

    fn between(&self, (low, high): (f64, f64), assumption: Assumption) -> Estimate<Time> {
        let interval = Interval::new(low, None, high).expect("the least of a list is not above its largest");
        let theta = Estimate::new(interval, &[assumption], &[CONVECTION, QUANTILES]);
        theta.with(&self.mean(), |theta, mean| mean * theta)
    }
}

/// theta over an interval of T. Between the rows of the table it rises or falls throughout, and at 5, 50 and 95 % over
/// all of them: so its extremes lie at the edges, or at a row between them.
fn extremes(spread: &Interval<f64>, share: Share) -> Result<Interval<f64>, NotModelled> {
    let typical = spread.typical().map(|spread| theta(spread, share)).transpose()?;
    let mut all = Interval::exactly(theta(spread.low(), share)?);
    for at in [spread.high()].into_iter().chain(rows().filter(|row| spread.contains(*row))) {
        all = all.hull(&Interval::exactly(theta(at, share)?));
    }
    Ok(Interval::new(all.low(), typical, all.high()).unwrap_or(all))
}
