//! About something that was written down before: it was otherwise, it did not happen, or why it was done. The old line
//! stays readable.

use std::sync::Arc;

use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Redirect, Response};
use maud::{Markup, html};

use crate::case::{CaseCode, Confirmed, ReportedAction, SetUpCode, When};
use crate::web::answer::Refusal;
use crate::web::reported::correction;
use crate::web::sent::{Sent, TypedFields, said, text};
use crate::web::session::{PageSession, Session};
use crate::web::site::Site;

use super::frame;
use super::record::line;

/// What can have happened instead: its word in the form, and what the page says.
const INSTEAD: &[(&str, &str)] = &[
    ("not", "It did not happen"),
    ("time", "It happened at another time"),
    ("rate", "The rate was changed, to the one below"),
    ("bolus", "A bolus was given, the one below"),
    ("pause", "It was paused"),
    ("resume", "It went on, at the rate below or the one before"),
    ("stop", "It was stopped"),
];

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
        let happening = match text(&form, "did") {
            "explain" => ReportedAction::Explained { event },
            _ => correction(event, text(&form, "instead"), said(&form, "value"), said(&form, "time"), desk.now)?,
        };
        let confirmed = Confirmed { even_so: text(&form, "even_so") == "yes", ..Confirmed::default() };
        let by = (&by.person, &by.signer);
        let (reason, now) = (said(&form, "reason"), desk.now);
        Ok(desk.cases.record(code, by, &happening, &When::default(), reason, confirmed, now).map(|_| ())?)
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
    let was = |did: &str, name: &str| if text(typed, "did") == did { text(typed, name) } else { "" };
    let corrects = html! {
        fieldset {
            legend { "How it was" }
            @for (word, says) in INSTEAD {
                label.choice { input type="radio" name="instead" value=(word) checked[was("correct", "instead") == *word]; span { (says) } }
            }
        }
        label for="value" { "The rate or the bolus" }
        p.hint #h-value { "with its unit, as it was" }
        input #value name="value" value=(was("correct", "value")) autocomplete="off" aria-describedby="h-value";
        label for="time" { "When it happened, where that was otherwise" }
        p.hint #h-time { "for example 14:05" }
        input #time name="time" value=(was("correct", "time")) autocomplete="off" aria-describedby="h-time";
    };
    let inside = html! {
        p { a href=(record) { "Record of " (code) } }
        h1 { "Event " (event) " of " (code) }
        ul.lines { (old) }
        @if let Some(wrong) = &wrong { (wrong.shown()) }
        (about(session, &record, event, "correct", "It was otherwise", &corrects, asks_even_so, was("correct", "reason")))
        (about(session, &record, event, "explain", "Why it was done", &html! {}, false, was("explain", "reason")))
    };
    Ok((status, Html(frame::page(site, session, "What was written down", inside).into_string())).into_response())
}

#[expect(clippy::too_many_arguments, reason = "two forms that differ in what they ask")]
fn about(
    session: &Session,
    record: &str,
    event: u64,
    did: &str,
    heading: &str,
    asks: &Markup,
    asks_even_so: bool,
    reason: &str,
) -> Markup {
    let id = format!("{did}-reason");
    html! {
        h2 { (heading) }
        form.card method="post" action=(format!("{record}/{event}")) {
            input type="hidden" name="once" value=(session.forms.give());
            input type="hidden" name="did" value=(did);
            (asks)
            @if asks_even_so {
                label.choice { input type="checkbox" name="even_so" value="yes"; span { "It really happened even so" } }
            }
            label for=(id) { "The reason" }
            input id=(id) name="reason" value=(reason) autocomplete="off";
            p { button.main { "Write it down" } }
        }
    }
}
