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
use crate::web::device::{Device, KEPT_SECONDS};
use crate::web::door_tokens::Purpose;
use crate::web::form_tokens::random;
use crate::web::sent::Sent;
use crate::web::session::{At, SESSION, cookie};
use crate::web::site::Site;

/// Names a browser at which nobody has signed in, so that a form of one is good in no other.
pub(super) const DOOR: &str = "door";

#[derive(Deserialize)]
pub(super) struct TypedFields {
    once: String,
    name: String,
    pin: String,
}

pub(super) async fn page(State(site): State<Arc<Site>>, headers: HeaderMap) -> Response {
    door(&site, &headers, StatusCode::OK, "", None)
}

pub(super) async fn sign_in(
    State(site): State<Arc<Site>>,
    headers: HeaderMap,
    form: Result<Form<TypedFields>, FormRejection>,
) -> Result<Response, Refusal> {
    let Form(typed) = form?;
    // It may be sent again: only name and PIN open anything.
    if !site.threshold.knows(Purpose::SignIn, &browser(&headers), &typed.once) {
        let refusal = site.refuses(None, Refusal::not_this_form()).await;
        return Ok(door(&site, &headers, StatusCode::CONFLICT, &typed.name, Some(&refusal)));
    }
    let device = Device::of(&headers);
    match site.unlocks(&device, &typed.name, &typed.pin).await {
        Ok((person, signer)) => {
            site.sessions.end(&headers);
            let mut response = Redirect::to("/").into_response();
            let known = site.statement_for(&device, &person).await.map(|statement| {
                let kept = format!("; Max-Age={KEPT_SECONDS}");
                baked(&site, &device.next_name(), &statement) + &kept
            });
            let token = site.sessions.begin(At::Page, person, signer);
            for cookie in [Some(baked(&site, SESSION, &token)), known].into_iter().flatten() {
                response.headers_mut().append(header::SET_COOKIE, cookie.parse().map_err(fault)?);
            }
            Ok(response)
        }
        Err(refusal) => Ok(door(&site, &headers, refusal.status(), &typed.name, Some(&refusal))),
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

/// What stands for this browser in the tokens of its forms; nothing for one that has none yet.
pub(super) fn browser(headers: &HeaderMap) -> String {
    cookie(headers, DOOR).unwrap_or_default().to_owned()
}

/// What will stand for this browser: it keeps what it has, so that a second page does not close the form of the first.
pub(super) fn browser_or_new(headers: &HeaderMap) -> String {
    Some(browser(headers)).filter(|known| (16..=64).contains(&known.len())).unwrap_or_else(random)
}

/// A cookie that no script reads and no other site sends.
pub(super) fn baked(site: &Site, name: &str, value: &str) -> String {
    let secure = if site.over_tls { "; Secure" } else { "" };
    format!("{name}={value}; Path=/; HttpOnly; SameSite=Strict{secure}")
}

fn fault(error: impl std::fmt::Display) -> Refusal {
    Refusal::fault(&error.to_string())
}

fn door(site: &Site, headers: &HeaderMap, status: StatusCode, name: &str, wrong: Option<&Refusal>) -> Response {
    let browser = browser_or_new(headers);
    let once = site.threshold.give(Purpose::SignIn, &browser);
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
    (status, [(header::SET_COOKIE, baked(site, DOOR, &browser))], Html(page.into_string())).into_response()
}
