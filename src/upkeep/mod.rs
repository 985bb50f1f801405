//! What keeps a formulary good: every usual set-up of it run through its own checks.

pub mod survey;
