//! Reading the weight again, and identifiers that were to follow: two people, each alone.

use std::sync::Arc;

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Response};
use maud::{Markup, html};

use crate::case::{CaseCode, IdentifiersRead, Twice, WeightRead};
use crate::entry::WeightFrom;
use crate::web::answer::Refusal;
use crate::web::sent::{AtCase, Sent, Typed, text};
use crate::web::session::{Here, Session};
use crate::web::site::Site;

use super::frame;

pub(super) async fn weight(State(site): State<Arc<Site>>, Here(session): Here, AtCase(code): AtCase) -> Response {
    weight_page(&site, &session, code, &Vec::new(), StatusCode::OK, &html! {})
}

pub(super) async fn weight_sent(
    State(site): State<Arc<Site>>,
    AtCase(code): AtCase,
    Sent { session, typed }: Sent,
) -> Result<Response, Refusal> {
    let read = WeightRead { weight: text(&typed, "weight").trim().to_owned(), from: text(&typed, "from").to_owned() };
    let by = Arc::clone(&session);
    match site.with(move |desk| Ok(desk.cases.read_weight(code, &by.signer, &read, desk.now)?)).await {
        Ok(stands) => Ok(done(&site, &session, code, "weight", &stands)),
        Err(refusal) if refusal.code() != "fault" => {
            Ok(weight_page(&site, &session, code, &typed, StatusCode::UNPROCESSABLE_ENTITY, &refusal.shown()))
        }
        Err(fault) => Err(fault),
    }
}

pub(super) async fn identifiers(State(site): State<Arc<Site>>, Here(session): Here, AtCase(code): AtCase) -> Response {
    identifiers_page(&site, &session, code, &Vec::new(), StatusCode::OK, &html! {})
}

pub(super) async fn identifiers_sent(
    State(site): State<Arc<Site>>,
    AtCase(code): AtCase,
    Sent { session, typed }: Sent,
) -> Result<Response, Refusal> {
    let identifiers = ["first", "second"].map(|name| text(&typed, name).trim().to_owned()).to_vec();
    let (by, read) = (Arc::clone(&session), IdentifiersRead { identifiers });
    match site.with(move |desk| Ok(desk.cases.read_identifiers(code, &by.signer, &read, desk.now)?)).await {
        Ok(stands) => Ok(done(&site, &session, code, "identifiers", &stands)),
        Err(refusal) if refusal.code() != "fault" => {
            Ok(identifiers_page(&site, &session, code, &typed, StatusCode::UNPROCESSABLE_ENTITY, &refusal.shown()))
        }
        Err(fault) => Err(fault),
    }
}

fn weight_page(
    site: &Site,
    session: &Session,
    code: CaseCode,
    typed: &Typed,
    status: StatusCode,
    says: &Markup,
) -> Response {
    let fields = html! {
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
    };
    alone(site, session, code, "weight", status, says, &fields)
}

fn identifiers_page(
    site: &Site,
    session: &Session,
    code: CaseCode,
    typed: &Typed,
    status: StatusCode,
    says: &Markup,
) -> Response {
    let fields = html! {
        @for (name, label) in [("first", "First identifier"), ("second", "Second identifier")] {
            div.question {
                label for=(name) { (label) }
                p.hint id=(format!("h-{name}")) { "off the wristband" }
                input id=(name) name=(name) value=(text(typed, name)) autocomplete="off" spellcheck="false" aria-describedby=(format!("h-{name}"));
            }
        }
    };
    alone(site, session, code, "identifiers", status, says, &fields)
}

fn alone(
    site: &Site,
    session: &Session,
    code: CaseCode,
    what: &str,
    status: StatusCode,
    says: &Markup,
    fields: &Markup,
) -> Response {
    let inside = html! {
        p { a href=(format!("/case/{code}")) { "Case " (code) } }
        h1 { "Read the " (what) " of " (code) }
        (says)
        p { "Two people read it, each alone. It counts once both have read the same; until then nobody sees it." }
        form.card method="post" action=(format!("/case/{code}/{what}")) {
            input type="hidden" name="once" value=(session.forms.give());
            (fields)
            p { button.main { "Seal it" } }
        }
    };
    (status, Html(frame::page(site, session, &format!("Read the {what}"), inside).into_string())).into_response()
}

fn done(site: &Site, session: &Session, code: CaseCode, what: &str, stands: &Twice) -> Response {
    let inside = html! {
        p { a href=(format!("/case/{code}")) { "Case " (code) } }
        h1 { "Read the " (what) " of " (code) }
        @match stands {
            Twice::Quiet => p.right role="status" { "Two people read the same " (what) "." },
            Twice::AwaitsSecond { .. } => p role="status" { "Sealed. A second person reads the " (what) " next, without seeing this." },
            Twice::Differ => p.wrong role="alert" { strong { "DISAGREE: " } "the two readings differ in " (what) ". Both read it again, each alone." },
        }
    };
    Html(frame::page(site, session, &format!("Read the {what}"), inside).into_string()).into_response()
}
