//! countersign.
pub mod diagnostic;
pub mod quantity;
