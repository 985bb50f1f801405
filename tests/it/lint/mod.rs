//! The lint of a formulary: every rule with a file that it remarks on and one that it does not, what is shown and
//! explained, what `--fix` writes, the schemas, and any bytes at all.

mod accepted;
mod cases;
mod codes;
mod command;
mod demonstration;
mod fix;
mod hostile;
mod rules;
mod schema;
mod small;
