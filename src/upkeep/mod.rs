//! What keeps a formulary good: every problem of it with its place, every usual set-up of it run through its own checks,
//! and the schema of its files for editors.

pub mod lint;
pub mod schema;
pub mod survey;
