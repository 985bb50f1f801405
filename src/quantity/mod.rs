//! Text in, exact typed quantities out.
//!
//! One closed table of units ([`Unit`]), one grammar for numbers ([`Number`]), one refusal ([`Refused`]) that says what
//! was found, where, and what to write instead. Nothing is guessed: text that can be read two ways is refused with both
//! readings. Arithmetic is on fractions of whole numbers ([`Ratio`], [`Product`]); no float touches a dose.

mod dose;
mod flow;
mod kept;
mod local_time;
pub(crate) mod look_alike;
mod measure;
mod moment;
mod number;
mod product;
mod ratio;
mod read;
mod refused;
mod show;
mod strength;
mod unit;
mod valued;

pub use dose::{BolusDose, DoseRate, DoseRateUnit, DoseUnit, Per};
pub use flow::{FlowRate, Step};
pub use measure::{Amount, BodyMass, BodySurface, Dimension, Length, Percent, Quantity, Time, Volume};
pub use moment::{Age, Moment, parse_date};
pub use number::{Number, NumberForm};
pub use product::Product;
pub use ratio::{Ratio, TooLarge};
pub use read::trimmed;
pub use refused::{Problem, Refused, clip};
pub use show::{about, duration, exact_or_about, grouped, percent, plain, significant};
pub use strength::{Concentration, Stated, Strength};
pub use unit::{Unit, UnitKind};
pub use valued::{Exact, Valued};
