//! Closing: given + left + in the line + discarded = drawn up, with a witness where the drug asks for one.

use std::sync::Arc;

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Response};
use maud::{Markup, html};

use crate::case::actions::{Report, when};
use crate::case::{Balance, Closing, SetUpCode, VolumesRead};
use crate::quantity::{Quantity, Refused, Volume, exact_or_about};

use super::{fields, frame};
use crate::web::answer::Refusal;
use crate::web::sent::{Sent, SetUpPath, TypedFields, said, text};
use crate::web::session::{PageSession, Session};
use crate::web::site::Site;

const VOLUMES: &[(&str, &str)] = &[
    ("in_line", "What stayed in the line"),
    ("left", "What was left in the syringes and is kept"),
    ("discarded", "What was discarded"),
];

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
        Some(name) => match site.tries.signs(&site, &session, name, text(&sent, "witness_pin")).await {
            Ok(seen) => Some(seen),
            Err(refusal) => return Ok(drawn(&site, &session, code, &sent, StatusCode::FORBIDDEN, &refusal.shown())),
        },
    };
    let again = match site.tries.signs_again(&site, &session, said(&sent, "pin")).await {
        Ok(again) => again,
        Err(refusal) => return Ok(drawn(&site, &session, code, &sent, StatusCode::FORBIDDEN, &refusal.shown())),
    };
    let (by, typed) = (Arc::clone(&session), sent.clone());
    let volumes: Vec<String> = VOLUMES.iter().map(|(name, _)| text(&sent, name).trim().to_owned()).collect();
    let reason = said(&sent, "reason").map(str::to_owned);
    let done = site.with_journal(move |desk| {
        let volumes: Vec<Quantity<Volume>> =
            volumes.iter().map(|text| Quantity::<Volume>::parse_or_zero(text)).collect::<Result<_, Refused>>()?;
        let [in_line, left, discarded] = volumes[..] else { return Err(Refusal::fault("three volumes are read")) };
        let driver_total = said(&typed, "driver_total").map(Quantity::<Volume>::parse_or_zero).transpose()?;
        let read = VolumesRead { in_line, left, discarded, driver_total };
        let seen = witness.as_ref().map(|(person, signer)| (person, signer));
        let typed = |name| said(&typed, name).map(str::to_owned);
        let when = when(typed("time").as_ref(), typed("late").as_ref(), desk.now)?;
        let by = (&by.person, again.as_ref().unwrap_or(&by.signer));
        Ok(desk.cases.close(code, by, read, seen, &when, reason.as_deref(), desk.now)?.0)
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
            div.question { label for="driver_total" { "Volume given, by the driver itself" } p.hint { "optional; with its unit: 19.2 mL" } input #driver_total name="driver_total" value=(was("driver_total")) autocomplete="off"; }
            div.question { label for="witness" { "Who saw it" } p.hint { "a controlled drug needs a witness, who signs too" } input #witness name="witness" value=(was("witness")) autocomplete="off"; }
            div.question { label for="witness_pin" { "PIN of the witness" } input #witness_pin name="witness_pin" type="password" autocomplete="off"; }
            div.question { label for="pin" { "Your own PIN" } p.hint { "a controlled drug is signed with it" } input #pin name="pin" type="password" autocomplete="off"; }
            div.question { label for="reason" { "Why the two sides differ, where they do" } input #reason name="reason" value=(was("reason")) autocomplete="off"; }
            details { summary { "Earlier" } @for name in ["time", "late"] { (fields::field::<Report>("close", name, Some(typed))) } }
            p { button.main.large { "Close it" } }
        }
    };
    (status, Html(frame::page(site, session, "Account", inside).into_string())).into_response()
}
