//! The read-back: what the driver shows, typed off its display, held against the card or the record.

use std::sync::Arc;

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Response};
use maud::{Markup, html};

use crate::case::actions::ReadDisplay;
use crate::case::{ReadBack, SetUpCode, Shown};

use super::frame;
use crate::web::answer::Refusal;
use crate::web::sent::{Sent, SetUpPath, TypedFields, said, text};
use crate::web::session::{PageSession, Session};
use crate::web::site::Site;

pub(super) async fn page(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
    SetUpPath(code): SetUpPath,
) -> Result<Response, Refusal> {
    drawn(&site, &session, code, &Vec::new(), StatusCode::OK, &html! {}).await
}

pub(super) async fn sent(
    State(site): State<Arc<Site>>,
    SetUpPath(code): SetUpPath,
    Sent { session, typed: sent }: Sent,
) -> Result<Response, Refusal> {
    let named = sent.iter().filter_map(|(name, typed)| Some((name.strip_prefix("shown.")?, typed)));
    let shown = named.map(|(value, typed)| Shown { value: value.to_owned(), typed: typed.clone() }).collect();
    let read = ReadDisplay { shown, because: said(&sent, "because").map(str::to_owned) };
    let by = Arc::clone(&session);
    let done = site.with_journal(move |desk| Ok(desk.acts(&by, |cases, actor| read.run(cases, code, actor))?.0));
    match done.await {
        Ok(read_back) if read_back.differences.is_empty() => {
            drawn(&site, &session, code, &Vec::new(), StatusCode::OK, &in_words(&read_back)).await
        }
        Ok(read_back) => drawn(&site, &session, code, &sent, StatusCode::OK, &in_words(&read_back)).await,
        Err(refusal) if refusal.code() != "fault" => {
            drawn(&site, &session, code, &sent, StatusCode::UNPROCESSABLE_ENTITY, &refusal.shown()).await
        }
        Err(fault) => Err(fault),
    }
}

fn in_words(read_back: &ReadBack) -> Markup {
    html! {
        div role="status" {
            @if read_back.differences.is_empty() {
                @let (compared, kept) = read_back.compared_and_kept();
                @if compared.is_empty() { p.wrong { strong { "NOTHING WAS COMPARED" } ": no value was read that can be held against anything." } }
                @else { p.right { strong { "WHAT WAS COMPARED IS RIGHT" } ": " (compared.join(", ")) ", held against " (read_back.against) "." } }
                @if !kept.is_empty() { p { "Kept as read, and not compared: " (kept.join(", ")) "." } }
            } @else {
                p.wrong { strong { "THE DISPLAY DIFFERS" } ", held against " (read_back.against) ":" }
                ul { @for one in &read_back.differences {
                    li { (one.value) ": it shows " strong { (one.shown) } "; expected " strong { (one.expected) }
                        @if let Some(cause) = &one.cause { ". Perhaps " (cause) } }
                } }
                @for mark in &read_back.marks { p.wrong { (mark.says) " " span.code { "[" (mark.code) "]" } } }
                p { "It stays outstanding until the driver is set right and read back again, or the rate that it shows is recorded." }
            }
        }
    }
}

async fn drawn(
    site: &Arc<Site>,
    session: &Session,
    code: SetUpCode,
    typed: &TypedFields,
    status: StatusCode,
    says: &Markup,
) -> Result<Response, Refusal> {
    let asked = site.with_journal(move |desk| {
        let case = desk.cases.case(code.case)?;
        let named = case.named(case.set_up(code.number)?)?;
        Ok((desk.cases.to_read_back(code, desk.now)?, named, case.patient_in_words()?))
    });
    let (values, named, patient) = asked.await?;
    let record = format!("/case/{}/{}/record", code.case, code.number);
    let inside = html! {
        p { a href=(format!("/case/{}", code.case)) { "Case " (code.case) } }
        h1 { "Read back " (named) }
        @if let Some(patient) = &patient { p { strong { "Patient: " } (patient) } }
        (says)
        div.card { (form(session, code, &values, typed)) }
        p { a.button href=(record) { "Record" } }
    };
    Ok((status, Html(frame::page(site, session, "Read back", inside).into_string())).into_response())
}

/// What is read off the display: the rate first, and a note where something differs.
pub(super) fn form(session: &Session, code: SetUpCode, values: &[String], typed: &TypedFields) -> Markup {
    html! {
        form method="post" action=(format!("/case/{}/{}/readback", code.case, code.number)) {
            input type="hidden" name="once" value=(session.forms.give());
            p { "Read each value off the driver's display, not off the card." }
            @for value in values {
                @let name = format!("shown.{value}");
                div.question {
                    label for=(name) { "Driver shows: " (value) }
                    p.hint id=(format!("h-{value}")) { (ReadDisplay::hint(value)) }
                    input id=(name) name=(name) value=(text(typed, &name)) autocomplete="off" aria-describedby=(format!("h-{value}"));
                }
            }
            div.question {
                label for="because" { "Note on a difference" }
                p.hint { "it stays outstanding all the same" }
                input #because name="because" value=(text(typed, "because")) autocomplete="off";
            }
            p { button.main { "Read back" } }
        }
    }
}
