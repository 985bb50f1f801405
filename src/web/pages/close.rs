//! Closing: given + left + in the line + discarded = drawn up, with a witness where the drug asks for one.

use std::sync::Arc;

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Response};
use maud::{Markup, html};

use crate::case::actions::Close;
use crate::case::{Balance, Closing, SetUpCode};
use crate::quantity::exact_or_about;

use super::{fields, frame};
use crate::web::answer::Refusal;
use crate::web::sent::{Sent, SetUpPath, TypedFields, said, text};
use crate::web::session::{PageSession, Session};
use crate::web::site::Site;

pub(super) async fn page(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
    SetUpPath(code): SetUpPath,
) -> Response {
    drawn(&site, &session, code, &Vec::new(), StatusCode::OK, &html! {})
}

pub(super) async fn sent(
    State(site): State<Arc<Site>>,
    SetUpPath(code): SetUpPath,
    Sent { session, typed: sent }: Sent,
) -> Result<Response, Refusal> {
    let witness = match said(&sent, "witness") {
        None => None,
        Some(name) => match site.signs(&session, name, text(&sent, "witness_pin")).await {
            Ok(seen) => Some(seen),
            Err(refusal) => return Ok(drawn(&site, &session, code, &sent, StatusCode::FORBIDDEN, &refusal.shown())),
        },
    };
    let again = match site.signs_again(&session, said(&sent, "pin")).await {
        Ok(again) => again,
        Err(refusal) => return Ok(drawn(&site, &session, code, &sent, StatusCode::FORBIDDEN, &refusal.shown())),
    };
    let (by, request) = (Arc::clone(&session), fields::request::<Close>(&sent)?);
    let done = site.with_journal(move |desk| {
        let seen = witness.as_ref().map(|(person, signer)| (person, signer));
        let signer = again.as_ref().unwrap_or(&by.signer);
        Ok(desk.acts_with(&by, signer, |cases, actor| request.run(cases, code, actor, seen))?.closing)
    });
    match done.await {
        Ok(Closing::ReadAgain { tolerance, by_another }) => {
            let says = Closing::read_again_in_words(&tolerance, by_another);
            let says = html! { p.wrong role="alert" { strong { "NOT CLOSED. " } (says) } };
            // The form is empty again: the second person sees nothing of the first reading.
            Ok(drawn(&site, &session, code, &Vec::new(), StatusCode::OK, &says))
        }
        Ok(Closing::Closed { balance, driver }) => {
            let inside = html! {
                p { a href=(format!("/case/{}", code.case)) { "Case " (code.case) } }
                h1 { "Closed: " (code) }
                @match &balance {
                    Some(balance) => (in_words(balance)),
                    None => p { "Nobody agreed on what was drawn up: there is no account of it." },
                }
                @if let Some(driver) = &driver { p { (driver.says()) } }
            };
            Ok(Html(frame::page(&site, &session, "Closed", inside).into_string()).into_response())
        }
        Err(refusal) if refusal.code() != "fault" => {
            Ok(drawn(&site, &session, code, &sent, StatusCode::UNPROCESSABLE_ENTITY, &refusal.shown()))
        }
        Err(fault) => Err(fault),
    }
}

fn in_words(balance: &Balance) -> Markup {
    let rows = [
        ("Drawn up", balance.drawn_up),
        ("Given", balance.given),
        ("In the line", balance.in_line),
        ("Left, kept", balance.left),
        ("Discarded", balance.discarded),
    ];
    html! {
        dl.sums { @for (name, volume) in rows { div { dt { (name) } dd { (exact_or_about(volume)) " mL" } } } }
        @match balance.mark() {
            Some(mark) => p.wrong { strong { "DIFFERS: " } (mark.says) },
            None => p.right { "Both sides are the same, as far as can be read." },
        }
        p { "Up to " (balance.tolerance_in_words()) "." }
    }
}

fn drawn(
    site: &Site,
    session: &Session,
    code: SetUpCode,
    typed: &TypedFields,
    status: StatusCode,
    says: &Markup,
) -> Response {
    let was = |name: &str| text(typed, name);
    let field = |name| fields::field::<Close>("close", name, Some(typed));
    let inside = html! {
        p { a href=(format!("/case/{}/{}/record", code.case, code.number)) { "Record of " (code) } }
        h1 { "Account for " (code) }
        (says)
        form.card method="post" action=(format!("/case/{}/{}/close", code.case, code.number)) {
            input type="hidden" name="once" value=(session.forms.give());
            @for name in ["in_line", "left", "discarded", "driver_total"] { div.question { (field(name)) } }
            div.question { label for="witness" { "Who saw it" } p.hint { "a controlled drug needs a witness, who signs too" } input #witness name="witness" value=(was("witness")) autocomplete="off"; }
            div.question { label for="witness_pin" { "PIN of the witness" } input #witness_pin name="witness_pin" type="password" autocomplete="off"; }
            div.question { label for="pin" { "Your own PIN" } p.hint { "a controlled drug is signed with it" } input #pin name="pin" type="password" autocomplete="off"; }
            div.question { (field("reason")) }
            details { summary { "Earlier" } @for name in ["time", "late"] { (field(name)) } }
            p { button.main.large { "Close it" } }
        }
    };
    (status, Html(frame::page(site, session, "Account", inside).into_string())).into_response()
}
