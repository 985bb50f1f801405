//! countersign.
pub mod diagnostic;
pub mod document;
