//! countersign.
#[macro_use]
extern crate uom;
pub mod agreement;
pub mod card;
pub mod check;
pub mod cli;
pub mod diagnostic;
pub mod document;
pub mod entry;
pub mod formulary;
pub mod infusion;
pub mod quantity;
pub mod upkeep;
