//! Where a case stands, and what may be done with it now.

use std::sync::Arc;

use axum::extract::State;
use axum::response::{Html, IntoResponse, Response};
use maud::{Markup, html};

use crate::case::{Author, CaseCode, Turn};

use super::cases::shown;
use super::frame;
use crate::web::answer::Refusal;
use crate::web::follow::{self, Topic};
use crate::web::sent::CasePath;
use crate::web::session::{PageSession, Session};
use crate::web::site::{JournalWorker, Site};

pub(super) async fn page(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
    CasePath(code): CasePath,
) -> Result<Response, Refusal> {
    let shared = Arc::clone(&session);
    let stands = site.drawn(key(code, &session), move |desk| drawn(code, &shared, desk)).await?;
    let inside = html! {
        h1 { "Case " (code) }
        div #state data-follow=(format!("/case/{code}/follow")) aria-live="polite" { (stands) }
        noscript { p { a.button href=(format!("/case/{code}")) { "Look again" } } }
        p {
            a.button href=(format!("/case/{code}/enter")) { "Enter a set-up" }
            a.button href=(format!("/case/{code}/weight")) { "Weigh: read the weight" }
        }
    };
    Ok(Html(frame::page(&site, &session, &format!("Case {code}"), inside).into_string()).into_response())
}

/// The part that follows what others do.
pub(super) async fn follow(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
    CasePath(code): CasePath,
) -> Response {
    let topic = Topic::Case(code.scope());
    follow::follow(site, &session, topic, key(code, &session), move |session, desk| drawn(code, session, desk))
}

/// Whose turn it is differs from one person to the next.
fn key(code: CaseCode, session: &Session) -> String {
    format!("case {code} for {}", session.person.id)
}

fn drawn(code: CaseCode, session: &Session, desk: &mut JournalWorker) -> Result<Markup, Refusal> {
    let case = desk.cases.case(code)?;
    if let Some(at) = case.forgotten_at {
        return Ok(html! { p { "Forgotten at " (at.local()) "." } });
    }
    let rows = desk.cases.rows(&case, Some(&*desk.formulary), desk.now)?;
    let author = Author::Signed(&session.person, &session.signer);
    // Whether it is this person's turn, and whether only some fields are read again.
    let may = |number, turn| {
        let task = desk.cases.task((code, Some(number)), turn, &author, desk.now);
        task.ok().map(|task| task.fields.is_some())
    };
    let mut marked = Vec::new();
    for row in &rows {
        let number = row.set_up.map(|set_up| set_up.number);
        let first = number.and_then(|number| may(number, Turn::First { anew: false }));
        let second = number.and_then(|number| may(number, Turn::Second));
        marked.push((row, number, first, second));
    }
    let follow = rows.iter().any(|row| row.owed.iter().any(|owed| owed.code == "identifiers"));
    Ok(html! {
        @if follow { p { a.button.main href=(format!("/case/{code}/identifiers")) { "Patient arrived: read the wristband" } } }
        ul.rows {
            @for (row, number, first, second) in &marked {
                (shown(row))
                @if let Some(number) = number {
                    @let at = format!("/case/{code}/{number}");
                    li.may {
                        @if let Some(again) = second { a.button.main href=(format!("{at}/enter/second")) { (if *again { "Read again" } else { "Do the second check" }) } }
                        @if row.has_card { a.button href=(format!("{at}/card")) { "Card" } }
                        @if row.has_card && !row.started { a.button href=(format!("{at}/readback")) { "Read back" } }
                        a.button.main[row.has_card && second.is_none()] href=(format!("{at}/record")) { (if row.has_card && !row.started { "Start" } else { "Record" }) }
                        @if let Some(again) = first {
                            @let says = if *again { "Read again" } else if row.started { "Prepare next syringe" } else { "Enter" };
                            a.button.main[*again] href=(format!("{at}/enter/first")) { (says) }
                        }
                        @if !row.started { a.button href=(format!("{at}/enter/anew")) { "Discard and enter again" } }
                    }
                }
            }
        }
    })
}
