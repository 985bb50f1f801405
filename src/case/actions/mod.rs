//! What people do with a set-up: for each thing one request, one function, one response.
//!
//! A request is declared once, with the words under which it is asked. The command line makes its options of them, a page
//! its form, and the interface for programs its schema; none of them reads a value or knows a rule. The function reads
//! every field, writes in one transaction, and gives back what follows.

mod close;
mod correct;
mod read_again;
mod read_back;
mod report;
mod take_round;

use crate::formulary::Formulary;
use crate::journal::Signer;
use crate::quantity::{self, Moment};

use super::error::{CaseError, Refusal};
use super::people::Person;
use super::record::When;

pub use close::{Accounted, Close};
pub use correct::{Correction, Instead};
pub use read_again::{ReadIdentifiers, ReadWeight};
pub use read_back::ReadDisplay;
pub use report::{Did, Report, Reportable, Reported};
pub use take_round::{RoundShown, SignRound, TakeRound};

/// Who acts, at which moment, under which formulary of now.
#[derive(Debug, Clone, Copy)]
pub struct Actor<'a> {
    /// The person.
    pub person: &'a Person,
    /// Their key, unlocked.
    pub signer: &'a Signer,
    /// The formulary in use, where there is one: what is outstanding may follow from it.
    pub current: Option<&'a Formulary>,
    /// The moment.
    pub now: Moment,
}

/// One field of a request, as each front asks for it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Field {
    /// Its name in the interface for programs and in a form; with dashes, on the command line.
    pub name: &'static str,
    /// What is asked.
    pub label: &'static str,
    /// How it is written; empty where the label says enough.
    pub hint: &'static str,
    /// What kind of answer it takes.
    pub takes: Takes,
}

/// What kind of answer a field takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Takes {
    /// A text, as typed.
    Text,
    /// A whole number.
    Number,
    /// Said or not said.
    Yes,
    /// One word of a closed list.
    Word,
}

/// A request that a form or a command line can fill.
pub trait Request: Sized {
    /// Its fields.
    const FIELDS: &'static [Field];

    /// Takes what was typed for each field; a blank counts as left out.
    ///
    /// # Errors
    /// When a number is none.
    fn typed(field: &dyn Fn(&str) -> Option<String>) -> Result<Self, CaseError>;
}

/// What was typed, as a field of a request.
trait Typed: Sized {
    const TAKES: Takes;

    fn typed(field: &'static str, text: Option<String>) -> Result<Self, CaseError>;
}

impl Typed for Option<String> {
    const TAKES: Takes = Takes::Text;

    fn typed(_: &'static str, text: Option<String>) -> Result<Self, CaseError> {
        Ok(text.map(|text| text.trim().to_owned()).filter(|text| !text.is_empty()))
    }
}

impl Typed for bool {
    const TAKES: Takes = Takes::Yes;

    fn typed(_: &'static str, text: Option<String>) -> Result<Self, CaseError> {
        Ok(text.is_some_and(|text| text == "yes"))
    }
}

impl Typed for Option<u16> {
    const TAKES: Takes = Takes::Number;

    fn typed(field: &'static str, text: Option<String>) -> Result<Self, CaseError> {
        let Some(text) = Option::<String>::typed(field, text)? else { return Ok(None) };
        let number = text.parse().map_err(|_| {
            let says = format!("`{}` is not a whole number", quantity::clip(&text));
            CaseError::Refused(Refusal::new("not-a-whole-number", says, "write digits: 2").in_field(field))
        })?;
        Ok(Some(number))
    }
}

/// A word of a closed list, as a field of a request.
macro_rules! word {
    ($name:ident) => {
        impl $crate::case::actions::Typed for Option<$name> {
            const TAKES: $crate::case::actions::Takes = $crate::case::actions::Takes::Word;

            fn typed(field: &'static str, text: Option<String>) -> Result<Self, $crate::case::CaseError> {
                let Some(text) = Option::<String>::typed(field, text)? else { return Ok(None) };
                let unknown = || {
                    let says = format!("`{}` is not one of its words", $crate::quantity::clip(&text));
                    $crate::case::actions::refused(
                        field,
                        "word-unknown",
                        says,
                        format!("write one of: {}", $name::words()),
                    )
                };
                $name::named(&text).map(Some).ok_or_else(unknown)
            }
        }
    };
}
use word;

/// Declares a request: each field with its label, its hint and its kind, once for every front.
macro_rules! request {
    ($(#[$about:meta])* $name:ident { $($(#[$more:meta])* $field:ident: $kind:ty = $label:literal, $hint:literal;)* }) => {
        $(#[$about])*
        #[derive(Debug, Clone, Default, PartialEq, Eq, serde::Deserialize)]
        #[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
        #[serde(deny_unknown_fields, default)]
        pub struct $name {
            $(#[doc = $label] #[doc = ""] #[doc = $hint] $(#[$more])* pub $field: $kind,)*
        }

        impl $crate::case::actions::Request for $name {
            const FIELDS: &'static [$crate::case::actions::Field] = &[$($crate::case::actions::Field {
                name: stringify!($field),
                label: $label,
                hint: $hint,
                takes: <$kind as $crate::case::actions::Typed>::TAKES,
            },)*];

            fn typed(field: &dyn Fn(&str) -> Option<String>) -> Result<Self, $crate::case::CaseError> {
                Ok(Self {
                    $($field: <$kind as $crate::case::actions::Typed>::typed(
                        stringify!($field),
                        field(stringify!($field)),
                    )?,)*
                })
            }
        }
    };
}
use request;

/// Reads the text of a field by a grammar of `quantity`.
fn read<T>(
    field: &'static str,
    text: &str,
    parse: impl FnOnce(&str) -> Result<T, quantity::Refused>,
) -> Result<T, CaseError> {
    let text = text.trim();
    parse(text).map_err(|refused| {
        let refusal = Refusal::new(refused.problem.code(), refused.to_string(), refused.help);
        CaseError::Refused(Refusal { typed: Some((text.to_owned(), refused.range)), ..refusal }.in_field(field))
    })
}

/// As [`read`], of a field that may be left out.
fn optional<T>(
    field: &'static str,
    text: Option<&String>,
    parse: impl FnOnce(&str) -> Result<T, quantity::Refused>,
) -> Result<Option<T>, CaseError> {
    text.map(|text| read(field, text, parse)).transpose()
}

/// When it happened, as typed.
///
/// # Errors
/// When the time is none.
pub fn when(time: Option<&String>, late: Option<&String>, now: Moment) -> Result<When, CaseError> {
    let happened = optional("time", time, |text| Moment::parse_local(text, now))?;
    Ok(When { happened, late: late.cloned() })
}

fn refused(field: &'static str, code: &'static str, says: impl Into<String>, help: impl Into<String>) -> CaseError {
    CaseError::Refused(Refusal::new(code, says, help).in_field(field))
}
