//! HL7 FHIR R4 (4.0.1) resources, read and written: nothing here knows a case.
//!
//! In: the JSON of a `MedicationRequest`. Out: an [`Ordered`], or every fault at once with its path. The reader is narrow
//! and infers nothing: an element that could change what an order means, and that is not read here, is refused by name.

mod contained;
mod drug;
mod element;
mod order;
mod ucum;

pub use drug::ordered_drug;
pub use order::{Ordered, OrderedAccess, OrderedCode, OrderedRate, read_order};
