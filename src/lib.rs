//! countersign.
#[macro_use]
extern crate uom;
pub mod diagnostic;
pub mod formulary;
pub mod infusion;
pub mod quantity;
