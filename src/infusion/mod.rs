//! An entry and a formulary in; rate, dose given after rounding, run time and the working line by line out.
//!
//! [`rate`] is the sum itself, in both directions, with a second, independent route that must agree before anything is
//! shown. [`Computed`] is an entry with everything that follows from it.

mod body;
pub mod body_size;
mod computed;
mod names;
pub mod preparation;
pub mod rate;
mod run;
mod second_route;
mod settable;
pub mod working;

pub use computed::{BolusSum, ComputeError, Computed, Counting, Sum};
pub use names::{Names, NoIndication};
pub use run::Run;
pub use second_route::RoutesDiffer;
pub use settable::{Settable, beyond_flow};
