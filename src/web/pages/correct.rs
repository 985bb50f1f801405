//! About something that was written down before: it was otherwise, it did not happen, or why it was done. The old line
//! stays readable.

use std::sync::Arc;

use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use maud::{Markup, html};

use crate::case::actions::{Correction, Instead};
use crate::case::{CaseCode, SetUpCode};
use crate::web::answer::Refusal;
use crate::web::sent::{Sent, TypedFields, text};
use crate::web::session::{PageSession, Session};
use crate::web::site::Site;

use super::record::line;
use super::{fields, frame};

type OneLine = Path<(String, u16, u64)>;

pub(super) async fn page(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
    Path(at): OneLine,
) -> Result<Response, Refusal> {
    let (code, event) = at_line(at)?;
    drawn(&site, &session, code, event, &Vec::new(), None).await
}

pub(super) async fn sent(
    State(site): State<Arc<Site>>,
    Path(at): OneLine,
    Sent { session, typed }: Sent,
) -> Result<Response, Refusal> {
    let (code, event) = at_line(at)?;
    let (by, form) = (Arc::clone(&session), typed.clone());
    let done = site.with_journal(move |desk| {
        let correction: Correction = fields::request(&form)?;
        desk.acts(&by, |cases, actor| correction.run(event, cases, code, actor)).map(|_| ())
    });
    match done.await {
        Ok(()) => Ok(Redirect::to(&format!("/case/{}/{}/record", code.case, code.number)).into_response()),
        Err(refusal) if refusal.code() != "fault" => drawn(&site, &session, code, event, &typed, Some(refusal)).await,
        Err(fault) => Err(fault),
    }
}

fn at_line((case, number, event): (String, u16, u64)) -> Result<(SetUpCode, u64), Refusal> {
    Ok((SetUpCode { case: CaseCode::parse(&case)?, number }, event))
}

async fn drawn(
    site: &Arc<Site>,
    session: &Session,
    code: SetUpCode,
    event: u64,
    typed: &TypedFields,
    wrong: Option<Refusal>,
) -> Result<Response, Refusal> {
    let status = if wrong.is_some() { StatusCode::UNPROCESSABLE_ENTITY } else { StatusCode::OK };
    let old = site.with_journal(move |desk| {
        let (case, people) = (desk.cases.case(code.case)?, desk.cases.people()?);
        let set_up = case.set_up(code.number)?;
        let found = set_up.record.iter().find(|signed| signed.seq == event);
        let missing = || {
            let says = format!("event {event} is no line of the record of {code}");
            Refusal::said(StatusCode::NOT_FOUND, "event-unknown", says, "choose one of the record")
        };
        Ok(line(found.ok_or_else(missing)?, set_up, &people))
    });
    let old = old.await?;
    let asks_even_so = wrong.as_ref().is_some_and(|wrong| wrong.code() == "not-as-agreed");
    let record = format!("/case/{}/{}/record", code.case, code.number);
    let corrects = text(typed, "did") == "correct";
    let was = |corrected: bool| Some(typed).filter(|_| corrected == corrects);
    let how = html! {
        fieldset {
            legend { "How it was" }
            @for (instead, says) in Instead::ALL {
                label.choice { input type="radio" name="instead" value=(instead.word()) checked[corrects && text(typed, "instead") == instead.word()]; span { (says) } }
            }
        }
        (fields::field::<Correction>("correct", "value", was(true)))
        (fields::field::<Correction>("correct", "time", was(true)))
        @if asks_even_so { (fields::field::<Correction>("correct", "even_so", None)) }
        (fields::field::<Correction>("correct", "reason", was(true)))
    };
    let inside = html! {
        p { a href=(record) { "Record of " (code) } }
        h1 { "Event " (event) " of " (code) }
        ul.lines { (old) }
        @if let Some(wrong) = &wrong { (wrong.shown()) }
        h2 { "Correct it" }
        (form(session, &record, event, ("correct", "Correct"), &how))
        h2 { "Give a reason" }
        (form(session, &record, event, ("explain", "Give the reason"), &fields::field::<Correction>("explain", "reason", was(false))))
    };
    Ok((status, Html(frame::page(site, session, "What was written down", inside).into_string())).into_response())
}

fn form(session: &Session, record: &str, event: u64, (did, button): (&str, &str), asks: &Markup) -> Markup {
    html! {
        form.card method="post" action=(format!("{record}/{event}")) {
            input type="hidden" name="once" value=(session.forms.give());
            input type="hidden" name="did" value=(did);
            (asks)
            p { button.main { (button) } }
        }
    }
}
