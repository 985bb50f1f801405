//! Why a request is not done, in the words of the commands, as a page.

use axum::extract::rejection::{FormRejection, PathRejection};
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use maud::{Markup, html};

use crate::case::{CaseError, SetUpCode};
use crate::diagnostic::{Fault, Source};
use crate::formulary::Faulty;
use crate::quantity;

use super::pages::frame;
use super::words::on_the_page;

/// Why a request is not done.
#[derive(Debug)]
pub(super) enum Refusal {
    /// Nobody is signed in here.
    SignIn,
    /// What was asked is not done: status, stable code, what was found, what to do; and each field that is at fault.
    Said(StatusCode, String, String, String, Vec<Fault>),
}

impl Refusal {
    pub(super) fn said(status: StatusCode, code: &str, message: impl Into<String>, help: impl Into<String>) -> Self {
        Self::Said(status, code.to_owned(), message.into(), help.into(), Vec::new())
    }

    /// A fault of the program: no number of it may be used.
    pub(super) fn fault(message: &str) -> Self {
        let help = "This is a fault of the program. No rate is shown. Do the sum by hand and report this.";
        Self::said(StatusCode::INTERNAL_SERVER_ERROR, "fault", message, help)
    }

    /// Something long is under way.
    pub(super) fn busy() -> Self {
        let says = "something long is being worked out for somebody else";
        Self::said(StatusCode::SERVICE_UNAVAILABLE, "busy", says, "ask again in a minute")
    }

    /// It was sealed; its card is not given out.
    pub(super) fn without_a_card(code: SetUpCode, why: CaseError) -> Self {
        let why = Self::from(why);
        if why.code() == "fault" {
            return why;
        }
        let says = format!("the entry is sealed as {code}, and no card is given out");
        let help = format!("do not send it again; {}", why.in_words());
        Self::said(StatusCode::CONFLICT, "sealed-without-a-card", says, help)
    }

    /// What was found and what to do, on one line.
    fn in_words(&self) -> String {
        match self {
            Self::SignIn => "sign in first".to_owned(),
            Self::Said(_, code, message, help, _) => format!("{message} [{code}]; {help}"),
        }
    }

    /// A form without a token of this session, or one that was used.
    pub(super) fn not_this_form() -> Self {
        let says = "this form was sent before, or does not come from a page of this session";
        Self::said(StatusCode::CONFLICT, "form-not-open", says, "load the page again; what is in the journal stays")
    }

    pub(super) const fn status(&self) -> StatusCode {
        match self {
            Self::SignIn => StatusCode::UNAUTHORIZED,
            Self::Said(status, ..) => *status,
        }
    }

    pub(super) fn code(&self) -> &str {
        match self {
            Self::SignIn => "sign-in",
            Self::Said(_, code, ..) => code,
        }
    }

    /// A paragraph for the page that was sent.
    pub(super) fn shown(&self) -> Markup {
        match self {
            Self::SignIn => html! { p.wrong role="alert" { "Sign in first." } },
            Self::Said(_, code, message, help, _) => html! {
                p.wrong role="alert" { strong { (if code == "sealed-without-a-card" { "No card: " } else { "Not done: " }) } (on_the_page(message)) "; " (on_the_page(help)) " " span.code { "[" (code) "]" } }
            },
        }
    }
}

impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        match &self {
            Self::SignIn => Redirect::to("/sign-in").into_response(),
            Self::Said(status, ..) => {
                let page = frame::bare(
                    "Not done",
                    html! { h1 { "Not done" } (self.shown()) p { a href="/" { "To the cases" } } },
                );
                (*status, Html(page.into_string())).into_response()
            }
        }
    }
}

impl From<CaseError> for Refusal {
    fn from(error: CaseError) -> Self {
        match error {
            CaseError::Refused(refusal) if refusal.field.is_some() => {
                let fault = Fault::new(refusal.code, refusal.message).help(refusal.help);
                Self::of_fields(vec![fault.in_field(refusal.field.unwrap_or_default())])
            }
            CaseError::Refused(refusal) => {
                let status =
                    if refusal.code.starts_with("code-") { StatusCode::NOT_FOUND } else { StatusCode::CONFLICT };
                Self::said(status, refusal.code, refusal.message, refusal.help)
            }
            CaseError::Form(faults) => Self::of_faults(&faults),
            CaseError::Journal(error) if error.is_fault() || error.is_damage() => Self::fault(&error.to_string()),
            CaseError::Journal(error) => {
                Self::said(StatusCode::SERVICE_UNAVAILABLE, error.code(), error.to_string(), error.help())
            }
            CaseError::Fault(message) => Self::fault(&message),
        }
    }
}

impl Refusal {
    fn of_faults(faults: &[(Source, Vec<Fault>)]) -> Self {
        Self::of_fields(faults.iter().flat_map(|(_, faults)| faults).cloned().collect())
    }

    /// Fields of a form that cannot be taken as they are.
    pub(super) fn of_fields(all: Vec<Fault>) -> Self {
        let says: Vec<String> = all.iter().map(|fault| format!("{}: {}", fault.field, fault.message)).collect();
        let code = all.first().map_or("form", |fault| fault.code);
        let help = all.first().and_then(|fault| fault.help.clone()).unwrap_or_default();
        Self::Said(StatusCode::UNPROCESSABLE_ENTITY, code.to_owned(), says.join("; "), help, all)
    }
}

impl From<Faulty> for Refusal {
    fn from(faulty: Faulty) -> Self {
        Self::of_faults(&faulty.0)
    }
}

impl From<quantity::Refused> for Refusal {
    fn from(refused: quantity::Refused) -> Self {
        Self::said(StatusCode::UNPROCESSABLE_ENTITY, refused.problem.code(), refused.to_string(), refused.help)
    }
}

impl From<crate::journal::JournalError> for Refusal {
    fn from(error: crate::journal::JournalError) -> Self {
        CaseError::from(error).into()
    }
}

impl From<quantity::TooLarge> for Refusal {
    fn from(error: quantity::TooLarge) -> Self {
        CaseError::from(error).into()
    }
}

impl From<FormRejection> for Refusal {
    fn from(rejection: FormRejection) -> Self {
        let help = "send the form of the page, as it is";
        Self::said(rejection.status(), "form-not-read", "the form cannot be read", help)
    }
}

impl From<PathRejection> for Refusal {
    fn from(_: PathRejection) -> Self {
        Self::said(StatusCode::NOT_FOUND, "not-here", "nothing is here", "go back to the list of cases")
    }
}
