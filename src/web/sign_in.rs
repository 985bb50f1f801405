//! Signing in with name and PIN, and handing the tablet over.

use std::collections::HashMap;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use axum::Form;
use axum::extract::State;
use axum::extract::rejection::FormRejection;
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{Html, IntoResponse, Redirect, Response};
use maud::{Markup, html};
use serde::Deserialize;
use zeroize::Zeroizing;

use crate::case::{CaseError, People, Person, slowed, unlock};
use crate::journal::{Journal, Signer};
use crate::quantity::Moment;

use super::answer::Refusal;
use super::frame;
use super::session::{Here, SESSION, cookie};
use super::site::{Site, locked};

/// Holds the token of the form at the door.
pub(super) const DOOR: &str = "door";

/// For so long wrong tries under a name are remembered, as the journal's are.
const REMEMBERED: Duration = Duration::from_mins(15);
/// So many people try at the same time; others wait.
const AT_ONCE: usize = 32;
const MOST_NAMES: usize = 10_000;
/// However the time of an answer is made up, it ends on a full one of these.
const ROUNDED: Duration = Duration::from_millis(500);

/// Tries under names that nobody here has: answered as slowly as a wrong PIN, so that they are not told apart.
#[derive(Debug)]
pub(super) struct Tries {
    wrong: Mutex<HashMap<String, Arc<tokio::sync::Mutex<Vec<Instant>>>>>,
    at_once: tokio::sync::Semaphore,
}

impl Default for Tries {
    fn default() -> Self {
        Self { wrong: Mutex::default(), at_once: tokio::sync::Semaphore::new(AT_ONCE) }
    }
}

#[derive(Deserialize)]
pub(super) struct Typed {
    once: String,
    name: String,
    pin: String,
}

#[derive(Deserialize)]
pub(super) struct Leaving {
    once: String,
}

pub(super) async fn page(State(site): State<Arc<Site>>) -> Response {
    door(&site, StatusCode::OK, "", None)
}

pub(super) async fn sign_in(
    State(site): State<Arc<Site>>,
    headers: HeaderMap,
    form: Result<Form<Typed>, FormRejection>,
) -> Result<Response, Refusal> {
    let Form(typed) = form?;
    if !at_the_door(&site, &headers, &typed.once) {
        return Ok(door(&site, StatusCode::CONFLICT, &typed.name, Some(&Refusal::not_this_form())));
    }
    let began = Instant::now();
    let opened = site.tries.opened(&site, &typed.name, &typed.pin).await;
    match opened {
        Ok((person, signer)) => {
            site.sessions.end(&headers);
            let token = site.sessions.begin(person, signer);
            Ok(([(header::SET_COOKIE, baked(&site, SESSION, &token))], Redirect::to("/")).into_response())
        }
        Err(refusal) => {
            let over = began.elapsed().as_millis() % ROUNDED.as_millis();
            let rest = u64::try_from(ROUNDED.as_millis() - over).unwrap_or_default();
            tokio::time::sleep(Duration::from_millis(rest)).await;
            Ok(door(&site, StatusCode::FORBIDDEN, &typed.name, Some(&refusal)))
        }
    }
}

pub(super) async fn hand_over(
    State(site): State<Arc<Site>>,
    Here(session): Here,
    headers: HeaderMap,
    form: Result<Form<Leaving>, FormRejection>,
) -> Result<Response, Refusal> {
    let Form(leaving) = form?;
    if !session.forms.take(&leaving.once) {
        return Err(Refusal::not_this_form());
    }
    site.sessions.end(&headers);
    let gone = format!("{SESSION}=; Path=/; Max-Age=0; HttpOnly; SameSite=Strict");
    let clear = [
        (header::SET_COOKIE, gone),
        (header::HeaderName::from_static("clear-site-data"), "\"cache\", \"storage\"".to_owned()),
    ];
    Ok((clear, Redirect::to("/sign-in")).into_response())
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

impl Tries {
    /// Opens a key. A name that nobody has takes as long, and is refused in the same words.
    pub(super) async fn opened(&self, site: &Site, name: &str, pin: &str) -> Result<(Person, Signer), Refusal> {
        let of_name = self.of_name(name);
        let mut wrong = of_name.lock().await;
        let _room = self.at_once.acquire().await;
        let (folder, name, pin, now) =
            (site.folder.clone(), name.to_owned(), Zeroizing::new(pin.to_owned()), site.now());
        let tried = tokio::task::spawn_blocking(move || tried(&folder, &name, &pin, now));
        match tried.await.map_err(|error| Refusal::fault(&error.to_string()))? {
            Ok(Tried::Open(both)) => Ok(*both),
            Ok(Tried::Wrong) => Err(not_known()),
            Ok(Tried::Nobody) => {
                wrong.retain(|at| at.elapsed() < REMEMBERED);
                let wait = slowed(wrong.len());
                if wrong.last().is_none_or(|last| last.elapsed() >= Duration::from_mins(1)) {
                    wrong.push(Instant::now());
                }
                tokio::time::sleep(wait).await;
                Err(not_known())
            }
            Err(refusal) => Err(refusal),
        }
    }

    fn of_name(&self, name: &str) -> Arc<tokio::sync::Mutex<Vec<Instant>>> {
        let mut wrong = locked(&self.wrong);
        if wrong.len() >= MOST_NAMES {
            wrong.clear();
        }
        Arc::clone(wrong.entry(name.trim().to_lowercase()).or_default())
    }
}

enum Tried {
    Open(Box<(Person, Signer)>),
    Wrong,
    Nobody,
}

/// With a journal of its own: a slow answer to one person keeps nobody else waiting.
fn tried(folder: &std::path::Path, name: &str, pin: &str, now: Moment) -> Result<Tried, Refusal> {
    let mut journal = Journal::open(folder)?;
    if People::of(&journal)?.active(name).is_err() {
        // The same work as for a PIN that is wrong.
        let padded = Zeroizing::new(format!("{pin:0<6}"));
        journal.keys().new_signer("nobody", &padded)?;
        return Ok(Tried::Nobody);
    }
    match unlock(&mut journal, now, name, pin) {
        Ok(both) => Ok(Tried::Open(Box::new(both))),
        Err(CaseError::Refused(_)) => Ok(Tried::Wrong),
        Err(other) => Err(other.into()),
    }
}

fn not_known() -> Refusal {
    let help = "type both again; after a wrong one the answer takes longer";
    Refusal::said(StatusCode::FORBIDDEN, "not-signed-in", "name and PIN do not belong together", help)
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
