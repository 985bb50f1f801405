//! The lint of a formulary: every rule with a file that it remarks on and one that it does not, what is shown and
//! explained, what `--fix` writes, the schemas, and any bytes at all.

#[path = "lint/accepted.rs"]
mod accepted;
#[path = "lint/cases.rs"]
mod cases;
#[path = "lint/codes.rs"]
mod codes;
#[path = "lint/command.rs"]
mod command;
#[path = "lint/demonstration.rs"]
mod demonstration;
#[path = "lint/fix.rs"]
mod fix;
#[path = "lint/hostile.rs"]
mod hostile;
#[path = "lint/rules.rs"]
mod rules;
#[path = "lint/schema.rs"]
mod schema;
#[path = "lint/small.rs"]
mod small;
