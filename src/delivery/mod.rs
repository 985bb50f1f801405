//! The line, the syringe, the driver and a rate in; out: when the drug arrives, what a start costs, which pressure it
//! takes and what a blocked line stores, each as an interval with its assumptions and sources.
//!
//! - [`transit`], [`shared`]: dead space of one's own, and behind a junction with a carrier;
//! - [`start_up`]: slack and compliance as volumes, purged or not;
//! - [`dispersion`], [`arrival`]: 5, 50 and 95 % of the full rate;
//! - [`pressure`], [`occlusion`], [`height`]: resistance and syringe size, alarm and stored bolus, raising and
//!   lowering;
//! - [`told`]: all of it in words, rounded outwards;
//! - [`tolerance`]: graduation, dilution and run time by tolerances alone;
//! - [`parameter`] holds every published number, [`source`] every publication, [`assumption`] what is taken for
//!   granted;
//! - [`Delivery`] gathers all of it for one set-up.
//!
//! Volumes are the measure: start-up, alarm and height cost nearly one volume for a driver, syringe and line, and the
//! time is that volume over the flow. Where the formulas were never shown to hold, the answer is a [`NotModelled`],
//! never a number. Nothing here enters a dose, and nothing is claimed closer than 14 %, which is how far theory and
//! experiment differed (Konings 2016, doi 10.1186/s12938-016-0309-4, read in source). No effect of a drug is modelled,
//! and none of it is a reason to change a rate or to give a bolus.
//!
//! Formulas and numbers say how they were come by: *read in source* (of most, the abstract only), *computed*, *from
//! memory*, or *chosen*.
#![expect(clippy::float_arithmetic, reason = "estimates of physics, as intervals; no dose is made of them")]

pub mod air;
pub mod arrival;
pub mod assumption;
pub mod dispersion;
pub mod estimate;
pub mod estimates;
pub mod gamma;
pub mod height;
pub mod interval;
mod listed;
pub mod not_modelled;
pub mod occlusion;
pub mod parameter;
pub mod pressure;
pub mod set_up;
pub mod shared;
pub mod si;
pub mod source;
pub mod start_up;
pub mod statements;
pub mod tolerance;
pub mod transit;

#[cfg(test)]
mod tests;

/// Nothing is claimed closer than this share: Konings 2016, doi 10.1186/s12938-016-0309-4 (read in source).
pub const CLOSEST_CLAIM: f64 = 0.14;

pub use arrival::Arrival;
pub use assumption::Assumption;
pub use estimate::{Estimate, Modelled};
pub use estimates::{Delivery, StartUp};
pub use interval::Interval;
pub use not_modelled::NotModelled;
pub use occlusion::Blocked;
pub use set_up::{
    Circumstances, DeliverySetUp, House, NoFlow, Solution, length_of, starts_slowly, sticks_and_slips, time_of,
    volume_of,
};
pub use source::{Provenance, Source};
pub use start_up::Purge;
