//! Limits.
mod area;
mod drug;
mod equipment;
mod limits;
mod policy;
mod words;

pub use area::{Area, StandardEquipment};
pub use drug::{Composition, Drug, Indication, Recipe, Review, Stocked};
pub use equipment::{Container, ContainerKind, Driver, DriverKind, Equipment, Line, LineKind, StepBand};
pub use limits::{Band, BolusLimits, DoseLimits, Origin, Outside, Side, SoftHard};
pub use policy::Policy;
pub use words::{DosingWeight, HowMade, Microgram, Phase, SurfaceFormula};
