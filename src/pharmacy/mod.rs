//! What keeps a formulary good: every problem of it with its place, every usual set-up of it run through its own checks,
//! what changed since the last one, and the schema of its files for editors.

#[cfg(feature = "journal")]
pub mod alerts;
pub mod approval;
pub mod book;
pub mod diff;
#[cfg(feature = "journal")]
pub mod editions;
pub mod lint;
pub mod overview;
pub mod replay;
pub mod report;
pub mod sample;
pub mod schema;
pub mod sheet;
pub mod survey;
pub mod table;
pub mod template;
