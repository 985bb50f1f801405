//! The hospital's own limits: drugs, areas, equipment and house rules.
//!
//! In: a folder of YAML files, or the demonstration inside the program. Out: a [`Formulary`] of validated values, each
//! limit with its file, line and source, and the fingerprint of the bytes they were read from. A faulty file gives all
//! its faults at once.

mod approval;
mod area;
mod drug;
mod equipment;
mod files;
mod limits;
mod load;
mod person;
mod policy;
mod read;
mod usage;
mod words;

pub use approval::{Approval, ApprovalSignature, ApprovalStatus, PERSON_STATEMENT, Signing};
pub use area::{Area, StandardEquipment};
pub use drug::{Accepted, Composition, Drug, Equivalent, Exception, Indication, Recipe, Review, Stocked};
pub use equipment::{Container, ContainerKind, Driver, DriverKind, Equipment, Line, LineKind, RATE, StepBand};
pub use files::{Files, Fingerprint};
pub use limits::{Band, BolusLimits, DoseLimits, Origin, Outside, Side, SoftHard};
pub use load::{DrugText, Faulty, Formulary, Lookup};
pub use person::is_same as is_same_person;
pub use policy::{Policy, WhereItHangs};
pub use usage::{Named, NotNamed, Use};
pub(crate) use words::words;
pub use words::{DosingWeight, HowMade, Microgram, Phase, PortReading, SharedLumen, SurfaceFormula, ThroughTheLine};
