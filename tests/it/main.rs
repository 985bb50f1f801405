//! What the program promises, through the library and through the real program. What needs a real browser is in `browser`,
//! what takes long in `slow`.

#[path = "../common/mod.rs"]
mod common;

mod agreement_laws;
mod architecture;
mod bad_input;
mod cases;
mod codes;
mod contract;
mod delivery_command;
mod delivery_laws;
mod example_command;
mod documents;
mod examples;
mod explained;
mod formulary_faults;
mod formulary_read_again;
mod hazards;
mod interception;
mod journal;
mod laws_of_quantities;
mod lint;
mod pages;
mod practice;
mod prepare;
mod prompts;
mod published;
mod published_arithmetic;
mod published_body_size;
mod published_delivery;
mod published_formulary;
mod published_preparations;
mod published_rate_cases;
mod published_rate_tables;
mod published_strengths;
mod published_unit_grid;
mod published_unit_slips;
mod published_worked_examples;
mod readme;
mod record;
mod rules;
mod strengths;
mod terminal;
mod pharmacy;
mod web;
