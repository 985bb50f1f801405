//! countersign checks the set-up of an infusion before a syringe driver starts.
//!
//! Two people read the order, the label and the line, each alone; the program computes exactly, holds both readings
//! against each other and against the hospital's formulary, and prints one set-up card only when everything agrees.
//!
//! ```text
//! what a person typed -> quantity -> entry -> infusion -> check -> agreement -> card -> case
//!                  diagnostic, document, formulary, fhir (beside)   delivery  journal (beneath)   pharmacy, web, cli (on top)
//! ```
//!
//! `EntryForm -> Entry -> Computed -> Checked -> Agreed -> Card`: each stage can only be had from the one before it.
//! Not a medical device: verify against the order, the label and local policy.

#[macro_use]
extern crate uom; // Its macros call each other by their bare names.

// In the order in which data flows: each uses those above it, and none below. A test holds them to it.
pub mod quantity;
pub mod diagnostic;
pub mod document;
pub mod formulary;
pub mod fhir;
pub mod entry;
pub mod infusion;
pub mod delivery;
pub mod check;
pub mod agreement;
pub mod card;
#[cfg(feature = "journal")]
pub mod journal;
#[cfg(feature = "journal")]
pub mod case;
pub mod pharmacy;
#[cfg(feature = "web")]
pub mod web;
pub mod cli;
