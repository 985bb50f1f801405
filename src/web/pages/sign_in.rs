//! Signing in with name and PIN, and handing the tablet over.

use std::sync::Arc;

use axum::Form;
use axum::extract::State;
use axum::extract::rejection::FormRejection;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{Html, IntoResponse, Redirect, Response};
use maud::{Markup, html};
use serde::Deserialize;

use super::frame;
use crate::web::answer::Refusal;
use crate::web::sent::Sent;
use crate::web::session::{At, SESSION, cookie};
use crate::web::site::Site;

/// Holds the token of the form at the door.
pub(super) const DOOR: &str = "door";

#[derive(Deserialize)]
pub(super) struct TypedFields {
    once: String,
    name: String,
    pin: String,
}

pub(super) async fn page(State(site): State<Arc<Site>>) -> Response {
    door(&site, StatusCode::OK, "", None)
}

pub(super) async fn sign_in(
    State(site): State<Arc<Site>>,
    headers: HeaderMap,
    form: Result<Form<TypedFields>, FormRejection>,
) -> Result<Response, Refusal> {
    let Form(typed) = form?;
    if !at_the_door(&site, &headers, &typed.once) {
        let refusal = site.refuses(None, Refusal::not_this_form()).await;
        return Ok(door(&site, StatusCode::CONFLICT, &typed.name, Some(&refusal)));
    }
    match site.tries.opened(&site, &typed.name, &typed.pin).await {
        Ok((person, signer)) => {
            site.sessions.end(&headers);
            let token = site.sessions.begin(At::Page, person, signer);
            Ok(([(header::SET_COOKIE, baked(&site, SESSION, &token))], Redirect::to("/")).into_response())
        }
        Err(refusal) => Ok(door(&site, StatusCode::FORBIDDEN, &typed.name, Some(&refusal))),
    }
}

pub(super) async fn hand_over(State(site): State<Arc<Site>>, headers: HeaderMap, _: Sent) -> Response {
    site.sessions.end(&headers);
    let gone = format!("{SESSION}=; Path=/; Max-Age=0; HttpOnly; SameSite=Strict");
    let clear = [
        (header::SET_COOKIE, gone),
        (header::HeaderName::from_static("clear-site-data"), "\"cache\", \"storage\"".to_owned()),
    ];
    (clear, Redirect::to("/sign-in")).into_response()
}

/// Whether a form at the door is one that this browser was given, and was not sent before.
pub(super) fn at_the_door(site: &Site, headers: &HeaderMap, once: &str) -> bool {
    cookie(headers, DOOR) == Some(once) && site.threshold.take(once)
}

/// A cookie that no script reads and no other site sends.
pub(super) fn baked(site: &Site, name: &str, value: &str) -> String {
    let secure = if site.over_tls { "; Secure" } else { "" };
    format!("{name}={value}; Path=/; HttpOnly; SameSite=Strict{secure}")
}

fn door(site: &Site, status: StatusCode, name: &str, wrong: Option<&Refusal>) -> Response {
    let once = site.threshold.give();
    let inside: Markup = html! {
        h1 { "Sign in" }
        @if let Some(wrong) = wrong { (wrong.shown()) }
        form.card method="post" action="/sign-in" {
            input type="hidden" name="once" value=(once);
            p.field { label for="name" { "Name" } input #name name="name" value=(name) required autocomplete="off" autocapitalize="words" spellcheck="false"; }
            p.field { label for="pin" { "PIN" } input #pin name="pin" type="password" required autocomplete="off"; }
            p { button.main { "Sign in" } }
        }
        p { a.button href="/emergency" { "Emergency entry, without a PIN" } }
        p { "An emergency entry makes a card that says it was not double-checked." }
    };
    let page = frame::at_the_door(site, "Sign in", inside);
    (status, [(header::SET_COOKIE, baked(site, DOOR, &once))], Html(page.into_string())).into_response()
}
