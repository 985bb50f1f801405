//! Refusals as JSON: one shape, in the words of the commands, with the status that says what kind it is.

use std::collections::BTreeMap;

use axum::Json;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use utoipa::openapi::content::ContentBuilder;
use utoipa::openapi::response::{Response as Described, ResponseBuilder};
use utoipa::openapi::{Ref, RefOr};
use utoipa::{IntoResponses, ToSchema};

use crate::diagnostic::Fault;
use crate::web::answer::Refusal;
use crate::web::words::in_a_request;

/// A refusal on its way to another program.
#[derive(Debug)]
pub(in crate::web) struct Refused(pub(in crate::web) Refusal);

/// Why a request was not done. Nothing typed about a patient is repeated.
#[derive(Debug, Serialize, ToSchema)]
#[schema(as = Refused)]
pub(super) struct RefusedBody {
    version: u8,
    /// Kebab-case, stable.
    code: String,
    /// What was found.
    message: String,
    /// What to do.
    help: String,
    /// Each field that is at fault, where the request has fields.
    faults: Vec<FaultSaid>,
}

/// What is wrong with one field.
#[derive(Debug, Serialize, ToSchema)]
pub(super) struct FaultSaid {
    /// Its path in the request or in the form: `label.amount`.
    field: String,
    /// Kebab-case, stable.
    code: &'static str,
    /// What was found.
    message: String,
    /// What to do, where there is advice.
    help: Option<String>,
}

/// Refusals of a sign-in.
pub(super) enum AtSignIn {}

/// Refusals of what reads.
pub(super) enum ForReading {}

/// Refusals of what reads one case or set-up.
pub(super) enum ForReadingOne {}

/// Refusals of what writes.
pub(super) enum ForWriting {}

/// Refusals of what anybody may read.
pub(super) enum ForAnybody {}

/// Refusals of what is sent at the door, without a token.
pub(super) enum AtTheDoor {}

const SIGN_IN: (u16, &str) = (401, "Nobody is signed in with this token");
const JOURNAL: [(u16, &str); 2] =
    [(500, "A fault of the program: no number of it may be used"), (503, "The journal cannot be used now")];
const BODY: [(u16, &str); 4] = [
    (400, "The body is not JSON"),
    (413, "The body is larger than 64 KiB"),
    (415, "The body is not said to be application/json"),
    (422, "A field is missing, unknown, or cannot be taken as it is; `faults` says which"),
];
const FOREIGN: (u16, &str) = (403, "Another site sent this, or a name and its PIN do not belong together");
const TOO_MANY: (u16, &str) = (429, "Too many wrong tries from strange devices: send `device`, or wait half a minute");
const NOT_HERE: (u16, &str) = (404, "Nothing is here: the code of the case, or the number, is another");
const NOT_NOW: (u16, &str) =
    (409, "It is not this person's turn, or it cannot be done as things stand; or `idempotency_key` was used");

impl From<Refusal> for Refused {
    fn from(refusal: Refusal) -> Self {
        Self(refusal)
    }
}

impl From<&Fault> for FaultSaid {
    fn from(fault: &Fault) -> Self {
        let Fault { code, field, message, help, .. } = fault;
        Self { field: field.clone(), code, message: message.clone(), help: help.clone() }
    }
}

impl IntoResponse for Refused {
    fn into_response(self) -> Response {
        let (status, code, message, help, faults) = match self.0 {
            Refusal::SignIn => {
                let (says, help) =
                    ("nobody is signed in with this token", "sign in at /api/v1/sign-in, and send the token");
                (StatusCode::UNAUTHORIZED, "sign-in".to_owned(), says.to_owned(), help.to_owned(), Vec::new())
            }
            Refusal::Said(status, code, message, help, faults) => (status, code, message, help, faults),
        };
        let faults = faults.iter().map(FaultSaid::from).collect();
        let help = in_a_request(&help);
        let body = Json(RefusedBody { version: 1, code, message, help, faults });
        if status == StatusCode::UNAUTHORIZED {
            return (status, [(header::WWW_AUTHENTICATE, "Bearer")], body).into_response();
        }
        (status, body).into_response()
    }
}

impl IntoResponses for ForReading {
    fn responses() -> BTreeMap<String, RefOr<Described>> {
        described([SIGN_IN].iter().chain(&JOURNAL))
    }
}

impl IntoResponses for ForAnybody {
    fn responses() -> BTreeMap<String, RefOr<Described>> {
        described(JOURNAL.iter())
    }
}

impl IntoResponses for ForReadingOne {
    fn responses() -> BTreeMap<String, RefOr<Described>> {
        described([SIGN_IN, NOT_HERE, NOT_NOW, BODY[3]].iter().chain(&JOURNAL))
    }
}

impl IntoResponses for ForWriting {
    fn responses() -> BTreeMap<String, RefOr<Described>> {
        described([SIGN_IN, FOREIGN, NOT_HERE, NOT_NOW, TOO_MANY].iter().chain(&BODY).chain(&JOURNAL))
    }
}

impl IntoResponses for AtSignIn {
    fn responses() -> BTreeMap<String, RefOr<Described>> {
        described([FOREIGN, NOT_NOW, TOO_MANY].iter().chain(&BODY).chain(&JOURNAL))
    }
}

impl IntoResponses for AtTheDoor {
    fn responses() -> BTreeMap<String, RefOr<Described>> {
        described([FOREIGN, NOT_NOW].iter().chain(&BODY).chain(&JOURNAL))
    }
}

fn described<'s>(statuses: impl Iterator<Item = &'s (u16, &'s str)>) -> BTreeMap<String, RefOr<Described>> {
    let one = |(status, says): &(u16, &str)| {
        let content = ContentBuilder::new().schema(Some(Ref::from_schema_name("Refused"))).build();
        let described = ResponseBuilder::new().description(*says).content("application/json", content).build();
        (status.to_string(), RefOr::T(described))
    };
    statuses.map(one).collect()
}
