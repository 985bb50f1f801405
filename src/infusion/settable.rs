//! Which rate a driver is set to for an exact one: the nearest of its rates, but never above a hard maximum that the exact
//! rate keeps; and whether that rate lies beyond a limit. A check, a table and a list of strengths all judge by it.

use crate::formulary::{Band, DoseLimits, Driver, Outside, Side, SoftHard};
use crate::quantity::{FlowRate, Ratio, Strength, TooLarge};

use super::rate::{Body, RateError, rate_for};

/// A driver, and the hard maxima of a use as exact rates in mL/h.
#[derive(Debug)]
pub struct Settable<'f> {
    driver: &'f Driver,
    maxima: Vec<Ratio>,
}

impl<'f> Settable<'f> {
    /// With the hard maxima of a phase and of a use.
    ///
    /// # Errors
    /// [`RateError::RoutesDiffer`]. A maximum of another kind than the strength counts for nothing here.
    pub fn with(
        driver: &'f Driver,
        limits: Option<&DoseLimits>,
        flow: Option<&SoftHard<FlowRate>>,
        body: Body,
        strength: Strength,
    ) -> Result<Self, RateError> {
        let dose = limits.and_then(|limits| limits.beyond.hard.as_ref()?.to);
        let of_dose = match dose.map(|dose| rate_for(dose, body, Some(strength))) {
            Some(Err(differ @ RateError::RoutesDiffer(_))) => return Err(differ),
            Some(Ok(rate)) => Some(rate),
            Some(Err(_)) | None => None,
        };
        let of_flow = flow.and_then(|flow| flow.hard.as_ref()?.to).map(FlowRate::value);
        Ok(Self { driver, maxima: of_dose.into_iter().chain(of_flow).collect() })
    }

    /// The rate that is set, and the driver's step there.
    ///
    /// # Errors
    /// [`TooLarge`] when it cannot be kept exactly.
    pub fn rate(&self, exact: Ratio) -> Result<(Ratio, FlowRate), TooLarge> {
        let nearest = self.driver.nearest(exact)?;
        let crosses = self.maxima.iter().any(|most| exact <= *most && nearest.0 > *most);
        if crosses { self.driver.at_most(exact) } else { Ok(nearest) }
    }
}

/// How a set rate lies beyond a limit on the rate. A limit covers its own nearest rate of the driver; a hard maximum covers
/// nothing beyond itself.
pub fn beyond_flow<'b>(
    set: Ratio,
    band: &'b Band<FlowRate>,
    hard: bool,
    driver: &Driver,
) -> Option<Outside<'b, FlowRate>> {
    let outside = band.outside(set)?;
    let rounds_down = hard && outside.side == Side::Above;
    let covered = !rounds_down && driver.covers(outside.limit.value(), set).is_ok_and(|covers| covers);
    (!covered).then_some(outside)
}
