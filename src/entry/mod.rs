//! One person's whole reading of one set-up.
//!
//! In: an [`EntryForm`], the raw tree of a file, a line or a prompt. Out: an [`Entry`] in which every field has been
//! read, or every fault of the form at once with its place.

mod asked;
mod form;
mod patient;
mod read;
mod syringe;

pub use asked::{Answers, EQUIPMENT, Need, QUESTIONS, Question, TIMES, written};
pub use form::{Entry, EntryForm, FormContext};
pub use patient::{AgeGiven, Identifiers, Patient, Sex, WeightFrom, body_weight};
pub use syringe::{Access, Bolus, Label, LineFilled, MadeFrom, NotTold, Preparation, Titration};
