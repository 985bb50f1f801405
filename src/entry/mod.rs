//! One person's whole reading of one set-up.
//!
//! In: an [`EntryForm`], the raw tree of a file, a line or a prompt. Out: an [`Entry`] in which every field has been
//! read, or every fault of the form at once with its place.

mod asked;
pub mod emergency;
mod form;
mod next_syringe;
mod patient;
mod questions;
mod read;
mod syringe;

pub use asked::{Answers, Asking, Need, written};
pub use form::{Entry, EntryForm, FormContext};
pub use next_syringe::{Carried, READ_ALL, READ_ALL_QUESTION};
pub use patient::{AgeGiven, Identifiers, Patient, Sex, WeightFrom, body_weight};
pub use questions::{EQUIPMENT, QUESTIONS, Question, ReadFrom, TIMES};
pub use syringe::{Access, Bolus, Label, LineFilled, MadeFrom, NotTold, Preparation, Titration};
