//! Reading the weight again, and identifiers that were to follow: two people, each alone.

use std::sync::Arc;

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Response};
use maud::{Markup, html};

use crate::case::{CaseCode, CaseError, IdentifiersRead, ReadAgainDone, Twice, WeightRead};
use crate::entry::WeightFrom;
use crate::web::answer::Refusal;
use crate::web::sent::{CasePath, Sent, TypedFields, text};
use crate::web::session::{PageSession, Session};
use crate::web::site::{JournalWorker, Site};

use super::frame;

pub(super) async fn weight(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
    CasePath(code): CasePath,
) -> Response {
    page(&site, &session, code, Reads::Weight, &Vec::new(), None)
}

pub(super) async fn weight_sent(
    State(site): State<Arc<Site>>,
    CasePath(code): CasePath,
    sent: Sent,
) -> Result<Response, Refusal> {
    let typed = &sent.typed;
    let read = WeightRead { weight: text(typed, "weight").trim().to_owned(), from: text(typed, "from").to_owned() };
    sealed(&site, code, sent, Reads::Weight, move |by, desk| desk.cases.read_weight(code, &by.signer, &read, desk.now))
        .await
}

pub(super) async fn identifiers(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
    CasePath(code): CasePath,
) -> Response {
    page(&site, &session, code, Reads::Identifiers, &Vec::new(), None)
}

pub(super) async fn identifiers_sent(
    State(site): State<Arc<Site>>,
    CasePath(code): CasePath,
    sent: Sent,
) -> Result<Response, Refusal> {
    let identifiers = ["first", "second"].map(|name| text(&sent.typed, name).trim().to_owned()).to_vec();
    let read = IdentifiersRead { identifiers };
    sealed(&site, code, sent, Reads::Identifiers, move |by, desk| {
        desk.cases.read_identifiers(code, &by.signer, &read, desk.now)
    })
    .await
}

/// What two people read, each alone.
#[derive(Debug, Clone, Copy)]
enum Reads {
    Weight,
    Identifiers,
}

impl Reads {
    /// In words, and at the end of the address.
    const fn what(self) -> &'static str {
        match self {
            Self::Weight => "weight",
            Self::Identifiers => "identifiers",
        }
    }

    fn fields(self, typed: &TypedFields) -> Markup {
        match self {
            Self::Weight => weight_fields(typed),
            Self::Identifiers => identifiers_fields(typed),
        }
    }
}

async fn sealed(
    site: &Arc<Site>,
    code: CaseCode,
    Sent { session, typed }: Sent,
    reads: Reads,
    seal: impl FnOnce(&Session, &mut JournalWorker) -> Result<ReadAgainDone, CaseError> + Send + 'static,
) -> Result<Response, Refusal> {
    let by = Arc::clone(&session);
    match site.with_journal(move |desk| Ok(seal(&by, desk)?)).await {
        Ok(stands) => Ok(done(site, &session, code, reads.what(), &stands)),
        Err(refusal) if refusal.code() != "fault" => Ok(page(site, &session, code, reads, &typed, Some(&refusal))),
        Err(fault) => Err(fault),
    }
}

fn weight_fields(typed: &TypedFields) -> Markup {
    html! {
        div.question {
            label for="weight" { "Weight now" }
            p.hint id="h-weight" { "with its unit, read off the scale or the order: 84.2 kg" }
            input #weight name="weight" value=(text(typed, "weight")) autocomplete="off" aria-describedby="h-weight";
        }
        fieldset {
            legend { "Where it comes from" }
            @for word in WeightFrom::WORDS {
                label.choice { input type="radio" name="from" value=(word) checked[text(typed, "from") == *word]; span { (word) } }
            }
        }
    }
}

fn identifiers_fields(typed: &TypedFields) -> Markup {
    html! {
        @for (name, label) in [("first", "First identifier"), ("second", "Second identifier")] {
            div.question {
                label for=(name) { (label) }
                p.hint id=(format!("h-{name}")) { "off the wristband" }
                input id=(name) name=(name) value=(text(typed, name)) autocomplete="off" spellcheck="false" aria-describedby=(format!("h-{name}"));
            }
        }
    }
}

fn page(
    site: &Site,
    session: &Session,
    code: CaseCode,
    reads: Reads,
    typed: &TypedFields,
    wrong: Option<&Refusal>,
) -> Response {
    let (what, status) =
        (reads.what(), if wrong.is_some() { StatusCode::UNPROCESSABLE_ENTITY } else { StatusCode::OK });
    let inside = html! {
        p { a href=(format!("/case/{code}")) { "Case " (code) } }
        h1 { "Read the " (what) " of " (code) }
        @if let Some(wrong) = wrong { (wrong.shown()) }
        p { "Two people read it, each alone. It counts once both have read the same; until then nobody sees it." }
        form.card method="post" action=(format!("/case/{code}/{what}")) {
            input type="hidden" name="once" value=(session.forms.give());
            (reads.fields(typed))
            p { button.main { "Seal it" } }
        }
    };
    (status, Html(frame::page(site, session, &format!("Read the {what}"), inside).into_string())).into_response()
}

fn done(site: &Site, session: &Session, code: CaseCode, what: &str, done: &ReadAgainDone) -> Response {
    let inside = html! {
        p { a href=(format!("/case/{code}")) { "Case " (code) } }
        h1 { "Read the " (what) " of " (code) }
        @match done.stands {
            Twice::Quiet => p.right role="status" { "Two people read the same " (what) "." },
            Twice::AwaitsSecond { .. } => p role="status" { "Sealed. A second person reads the " (what) " next, without seeing this." },
            Twice::Differ => p.wrong role="alert" { strong { "DISAGREE: " } "the two readings differ in " (what) ". Both read it again, each alone." },
        }
        @if let Some(clock) = &done.clock { p { "Marked: " (clock) "." } }
        @if !done.recounts.is_empty() {
            ul.recounts { @for one in &done.recounts { li { strong { (one.named) } ": " (one.says) "." } } }
            p { a.button.main href=(format!("/case/{code}")) { "Look at the case" } }
        }
    };
    Html(frame::page(site, session, &format!("Read the {what}"), inside).into_string()).into_response()
}
