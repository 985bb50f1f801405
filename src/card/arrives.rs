//! When the drug reaches the patient. In: a computed entry; out: its block, with what is taken for granted, or why nothing
//! is said.
#![expect(
    clippy::float_arithmetic,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "estimates of physics, rounded outwards; no dose is made of them"
)]

use crate::delivery::si::{Time, time::second};
use crate::delivery::{Arrival, Assumption, Circumstances, Delivery, Estimate, NotModelled, Purge, SetUp, Solution};
use crate::infusion::{Computed, Sum};
use crate::quantity::{Kind, Ratio};

use super::block::{Arrives, Band, Block};

/// What the steps of the card ask for, and the estimate rests on.
const PURGED: &str = "the driver was run until fluid came, before the line was connected";
/// What the formulary does not say of a drug.
const DISSOLVED: &str =
    "the drug is dissolved and its molecules are small: no emulsion, no protein, nothing that is lost to plastic";
const ALONE: &str = "no other driver, carrier, valve, filter or air in the line";

/// Nothing where the line or the driver is unknown, or nothing flows.
pub(super) fn block(computed: &Computed<'_>, sum: &Sum) -> Option<Block> {
    let names = computed.names();
    let (Some(container), Some(line), Some(driver)) = (names.container, names.line, names.driver) else { return None };
    let delivery = Delivery::of(SetUp { container, line, driver, rate: sum.set }, &circumstances(computed)).ok()?;
    let band = delivery.arrival.as_ref().map_err(|reason| *reason).and_then(band);
    let assumed = match (&delivery.arrival, &band) {
        (Ok(arrival), Ok(_)) => assumed(arrival),
        _ => Vec::new(),
    };
    Some(Block::Arrives(Box::new(Arrives { band: band.map_err(why), assumed })))
}

/// The card has one number in mL/h, and a reason must not bring another.
fn why(reason: NotModelled) -> String {
    match reason {
        NotModelled::SlowLargeSyringe => {
            "a large syringe at so low a rate sticks and slips: for hours, far less than the rate was measured"
                .to_owned()
        }
        reason => reason.to_string(),
    }
}

/// As the steps of the card have it.
fn circumstances(computed: &Computed<'_>) -> Circumstances {
    let entry = computed.entry();
    let plain = Circumstances::plain(Purge::OnTheDriver, entry.line_filled(), entry.access());
    // What is counted in units is, but for a few, a protein or a peptide (common practice, no source). Of emulsions and of
    // what is lost to plastic the formulary says nothing: that they are not meant is written beside the picture.
    let is_large = entry.label().strength.amount_unit().kind() == Kind::Units;
    let solution = if is_large { Solution::LargeMolecules } else { plain.solution };
    Circumstances { beyond: entry.beyond(), solution, ..plain }
}

fn band(arrival: &Arrival) -> Result<Band, NotModelled> {
    let share = |percent, estimate: &Result<Estimate<Time>, NotModelled>| {
        let estimate = estimate.as_ref().map_err(|reason| *reason)?;
        Ok((percent, earlier(estimate.low()), later(estimate.high())))
    };
    let shares = [share(5, &arrival.first)?, share(50, &arrival.half)?, share(95, &arrival.nearly_all)?];
    Ok(Band { earliest: earlier(arrival.earliest.low()), shares })
}

fn assumed(arrival: &Arrival) -> Vec<String> {
    let shares = [&arrival.first, &arrival.half, &arrival.nearly_all].into_iter().flatten();
    let mut all: Vec<Assumption> =
        shares.chain([&arrival.earliest]).flat_map(|one| one.assumptions().iter().copied()).collect();
    all.sort_unstable();
    all.dedup();
    // Said in full above the others, whatever the estimate notes of it.
    all.retain(|one| *one != Assumption::SmallMolecules);
    let said = [PURGED, ALONE, DISSOLVED].map(str::to_owned);
    said.into_iter().chain(all.iter().map(ToString::to_string)).collect()
}

fn earlier(time: Time) -> Ratio {
    let seconds = time.get::<second>();
    in_steps((seconds / step(seconds)).floor() * step(seconds))
}

fn later(time: Time) -> Ratio {
    let seconds = time.get::<second>();
    in_steps((seconds / step(seconds)).ceil() * step(seconds))
}

/// So fine is it said, in seconds.
fn step(seconds: f64) -> f64 {
    match seconds {
        ..120.0 => 5.0,
        ..1200.0 => 30.0,
        ..7200.0 => 60.0,
        _ => 300.0,
    }
}

fn in_steps(seconds: f64) -> Ratio {
    Ratio::new(seconds.max(0.0) as u128, 3600).unwrap_or(Ratio::ZERO)
}
