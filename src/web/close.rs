//! Closing: given + left + in the line + discarded = drawn up, with a witness where the drug asks for one.

use std::sync::Arc;

use axum::Form as Sent;
use axum::extract::rejection::{FormRejection, PathRejection};
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Response};
use maud::{Markup, html};

use crate::case::{Balance, SetUpCode};
use crate::quantity::{Quantity, Refused, Volume, exact_or_about};

use super::answer::Refusal;
use super::drafts::Typed;
use super::frame;
use super::record::{times, when};
use super::session::{Here, Session};
use super::site::Site;
use super::stands::set_up_code;

type OneSetUp = Result<Path<(String, u16)>, PathRejection>;

const VOLUMES: &[(&str, &str)] = &[
    ("in_line", "What stayed in the line"),
    ("left", "What was left in the syringes and is kept"),
    ("discarded", "What was discarded"),
];

pub(super) async fn page(
    State(site): State<Arc<Site>>,
    Here(session): Here,
    path: OneSetUp,
) -> Result<Response, Refusal> {
    Ok(drawn(&site, &session, set_up_code(path?.0)?, &Vec::new(), StatusCode::OK, &html! {}))
}

pub(super) async fn sent(
    State(site): State<Arc<Site>>,
    Here(session): Here,
    path: OneSetUp,
    form: Result<Sent<Typed>, FormRejection>,
) -> Result<Response, Refusal> {
    let (code, Sent(sent)) = (set_up_code(path?.0)?, form?);
    let said = |name: &str| sent.iter().find(|(known, _)| known == name).map_or("", |(_, text)| text.trim()).to_owned();
    if !session.forms.take(&said("once")) {
        return Err(Refusal::not_this_form());
    }
    let witness = match said("witness") {
        name if name.is_empty() => None,
        name => match site.tries.opened(&site, &name, &said("witness_pin")).await {
            Ok(seen) => Some(seen),
            Err(refusal) => return Ok(drawn(&site, &session, code, &sent, StatusCode::FORBIDDEN, &refusal.shown())),
        },
    };
    let (by, typed) = (Arc::clone(&session), sent.clone());
    let volumes: Vec<String> = VOLUMES.iter().map(|(name, _)| said(name)).collect();
    let reason = Some(said("reason")).filter(|reason| !reason.is_empty());
    let done = site.with(move |desk| {
        let volumes: Vec<Quantity<Volume>> =
            volumes.iter().map(|text| Quantity::<Volume>::parse_or_zero(text)).collect::<Result<_, Refused>>()?;
        let [in_line, left, discarded] = volumes[..] else { return Err(Refusal::fault("three volumes are read")) };
        let seen = witness.as_ref().map(|(person, signer)| (person, signer));
        let when = when(&typed, desk.now)?;
        let by = (&by.person, &by.signer);
        Ok(desk.cases.close(code, by, in_line, left, discarded, seen, &when, reason.as_deref(), desk.now)?.0)
    });
    match done.await {
        Ok(balance) => {
            let inside = html! {
                p { a href=(format!("/case/{}", code.case)) { "Case " (code.case) } }
                h1 { "Closed: " (code) }
                (in_words(&balance))
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
            None => p.right { "Both sides are the same." },
        }
    }
}

fn drawn(
    site: &Site,
    session: &Session,
    code: SetUpCode,
    typed: &Typed,
    status: StatusCode,
    says: &Markup,
) -> Response {
    let was = |name: &str| typed.iter().find(|(known, _)| known == name).map_or("", |(_, text)| text.as_str());
    let inside = html! {
        p { a href=(format!("/case/{}/{}/record", code.case, code.number)) { "Record of " (code) } }
        h1 { "Account for " (code) }
        (says)
        form.card method="post" action=(format!("/case/{}/{}/close", code.case, code.number)) {
            input type="hidden" name="once" value=(session.forms.give());
            @for (name, label) in VOLUMES {
                div.question {
                    label for=(name) { (label) }
                    p.hint id=(format!("h-{name}")) { "with its unit: 0.9 mL, or 0 mL" }
                    input id=(name) name=(name) value=(was(name)) autocomplete="off" aria-describedby=(format!("h-{name}"));
                }
            }
            div.question { label for="witness" { "Who saw it" } p.hint { "a controlled drug needs a witness, who signs too" } input #witness name="witness" value=(was("witness")) autocomplete="off"; }
            div.question { label for="witness_pin" { "PIN of the witness" } input #witness_pin name="witness_pin" type="password" autocomplete="off"; }
            div.question { label for="reason" { "Why the two sides differ, where they do" } input #reason name="reason" value=(was("reason")) autocomplete="off"; }
            details { summary { "Earlier" } (times("close", Some(typed))) }
            p { button.main.large { "Close it" } }
        }
    };
    (status, Html(frame::page(site, session, "Account", inside).into_string())).into_response()
}
