//! What keeps a formulary good: every usual set-up of it run through its own checks, and what changed since the last one.

pub mod diff;
pub mod replay;
pub mod survey;
