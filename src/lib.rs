//! countersign.
#[macro_use]
extern crate uom;

// In the order in which data flows: each uses those above it, and none below. A blank line between two keeps the order.
pub mod quantity;

pub mod diagnostic;

pub mod document;

pub mod formulary;

pub mod entry;

pub mod infusion;

pub mod check;

pub mod agreement;

pub mod card;

pub mod upkeep;

pub mod cli;
