//! The round at a handover: the person who takes over reads every driver, without the record; then what differs is named,
//! and the person who hands over signs.

use std::sync::Arc;

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Response};
use maud::{Markup, html};

use crate::case::actions::{RoundShown, SignRound, TakeRound};
use crate::case::{CaseCode, DriverTyped, RoundRead, Signed};

use super::frame;
use crate::web::answer::Refusal;
use crate::web::sent::{CasePath, Sent, TypedFields, said, text};
use crate::web::session::{PageSession, Session};
use crate::web::site::Site;

/// Number of drivers asked for at once, the same for everybody: how many there are is read at the patient.
const SHOWN: usize = 4;
/// And so many more where they are asked for.
const MOST: usize = 12;

const FIELDS: [(&str, &str, &str); 4] = [
    ("drug", "Drug on the syringe", "as it is written there"),
    ("strength", "Strength on the syringe", "with its unit: 80 mcg/mL"),
    ("rate", "Rate on the display", "with its unit: 7.2 mL/h; 0 mL/h while it does not run"),
    ("slot", "Slot", "the driver's own label; blank where it has none"),
];

pub(super) async fn page(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
    CasePath(code): CasePath,
) -> Result<Response, Refusal> {
    let round = site.read(move |desk| Ok(desk.cases.case(code)?.round_to_sign().cloned())).await?;
    let round = round.filter(|round| round.by != session.person.id);
    Ok(drawn(&site, &session, code, &Vec::new(), None, round.as_ref()))
}

pub(super) async fn sent(
    State(site): State<Arc<Site>>,
    CasePath(code): CasePath,
    Sent { session, typed }: Sent,
) -> Result<Response, Refusal> {
    let round = TakeRound { drivers: drivers(&typed) };
    let by = Arc::clone(&session);
    match site.with_journal(move |desk| desk.acts(&by, |cases, actor| round.run(cases, code, actor))).await {
        Ok(round) => Ok(done(&site, &session, code, &round)),
        Err(refusal) if refusal.code() != "fault" => Ok(drawn(&site, &session, code, &typed, Some(&refusal), None)),
        Err(fault) => Err(fault),
    }
}

pub(super) async fn sign(
    State(site): State<Arc<Site>>,
    CasePath(code): CasePath,
    Sent { session, .. }: Sent,
) -> Result<Response, Refusal> {
    let by = Arc::clone(&session);
    let round = site.with_journal(move |desk| desk.acts(&by, |cases, actor| SignRound {}.run(cases, code, actor)));
    Ok(done(&site, &session, code, &round.await?))
}

/// The drivers of which anything was typed.
fn drivers(typed: &TypedFields) -> Vec<DriverTyped> {
    let one = |nth: usize| {
        let field = |name: &str| text(typed, &format!("{name}-{nth}")).trim().to_owned();
        let slot = said(typed, &format!("slot-{nth}")).map(str::to_owned);
        DriverTyped { slot, drug: field("drug"), strength: field("strength"), rate: field("rate") }
    };
    (1..=MOST).map(one).filter(|one| *one != DriverTyped::default()).collect()
}

fn asked(nth: usize, typed: &TypedFields) -> Markup {
    html! {
        fieldset {
            legend { "Driver " (nth) }
            @for (name, label, hint) in FIELDS {
                @let id = format!("{name}-{nth}");
                div.question {
                    label for=(id) { (label) }
                    p.hint id=(format!("h-{id}")) { (hint) }
                    input id=(id) name=(id) value=(text(typed, &id)) autocomplete="off" spellcheck="false" aria-describedby=(format!("h-{id}"));
                }
            }
        }
    }
}

fn drawn(
    site: &Site,
    session: &Session,
    code: CaseCode,
    typed: &TypedFields,
    wrong: Option<&Refusal>,
    waits: Option<&Signed<RoundRead>>,
) -> Response {
    let status = if wrong.is_some() { StatusCode::UNPROCESSABLE_ENTITY } else { StatusCode::OK };
    let more =
        (SHOWN + 1..=MOST).any(|nth| FIELDS.iter().any(|(name, ..)| !text(typed, &format!("{name}-{nth}")).is_empty()));
    let inside = html! {
        p { a href=(format!("/case/{code}")) { "Case " (code) } }
        h1 { "Take over: the round" }
        @if let Some(wrong) = wrong { (wrong.shown()) }
        @if let Some(waits) = waits { (to_sign(session, code, waits)) }
        p { "Go from driver to driver at the patient. Read each syringe and each display, and nothing else. What differs from the record is named afterwards." }
        form.card method="post" action=(format!("/case/{code}/round")) {
            input type="hidden" name="once" value=(session.forms.give());
            div.done { @for nth in 1..=SHOWN { (asked(nth, typed)) } }
            details open[more] {
                summary { "More drivers" }
                div.done { @for nth in SHOWN + 1..=MOST { (asked(nth, typed)) } }
            }
            p { button.main.large { "Sign the round" } }
        }
    };
    (status, Html(frame::page(site, session, "The round", inside).into_string())).into_response()
}

fn done(site: &Site, session: &Session, code: CaseCode, round: &RoundShown) -> Response {
    let inside = html! {
        p { a href=(format!("/case/{code}")) { "Case " (code) } }
        h1 { "The round" }
        @if round.differences.is_empty() { p.right role="status" { "Every driver is as the record says." } }
        @else {
            div role="alert" {
                p.wrong { strong { "THE ROUND DIFFERS FROM THE RECORD" } }
                ul { @for says in &round.differences { li { strong { (says) } "." } } }
            }
            p { "Each stays outstanding until the driver is set right and read back, or what it shows is recorded." }
        }
        @if round.signed { p.right { "Both have signed the round." } }
        @else { p { "Next: the person who hands over signs in, and presses “Countersign the round” on the page of the case." } }
        p { a.button.main href=(format!("/case/{code}")) { "Look at the board" } }
    };
    Html(frame::page(site, session, "The round", inside).into_string()).into_response()
}

/// The round that waits for the second signature, with what differs.
fn to_sign(session: &Session, code: CaseCode, round: &Signed<RoundRead>) -> Markup {
    html! {
        form.card method="post" action=(format!("/case/{code}/round/sign")) {
            h2 { "The round of " (round.at.local()) }
            input type="hidden" name="once" value=(session.forms.give());
            @if round.what.differences.is_empty() { p { "Every driver was as the record says." } }
            @else { ul { @for says in &round.what.differences { li { strong { (says) } "." } } } }
            button.main { "Countersign the round" }
        }
        h2 { "Or take the round yourself" }
    }
}
