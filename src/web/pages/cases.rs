//! The list of cases with what is owed, and a new case.

use std::sync::Arc;

use axum::extract::State;
use axum::response::{Html, IntoResponse, Redirect, Response};
use maud::{Markup, html};

use crate::case::Row;

use super::frame;
use crate::web::answer::Refusal;
use crate::web::follow;
use crate::web::sent::Sent;
use crate::web::session::Here;
use crate::web::site::{Desk, Site};
use crate::web::words::on_the_page;

pub(super) async fn list(State(site): State<Arc<Site>>, Here(session): Here) -> Result<Response, Refusal> {
    let rows = site.with(drawn).await?;
    let once = session.forms.give();
    let inside = html! {
        h1 { "Cases" }
        form method="post" action="/" {
            input type="hidden" name="once" value=(once);
            p { button.main { "Open a case" } " " a.button href="/emergency" { "Emergency entry" } }
        }
        div #state data-follow="/follow" aria-live="polite" { (rows) }
        noscript { p { a.button href="/" { "Look again" } } }
    };
    Ok(Html(frame::page(&site, &session, "Cases", inside).into_string()).into_response())
}

/// The part that follows what others do.
pub(super) async fn follow(State(site): State<Arc<Site>>, Here(session): Here) -> Response {
    follow::follow(site, &session, |_, desk| drawn(desk))
}

pub(super) async fn open(State(site): State<Arc<Site>>, Sent { session, .. }: Sent) -> Result<Response, Refusal> {
    let code = site.with(move |desk| Ok(desk.cases.open(desk.now, Some(&session.signer))?)).await?;
    Ok(Redirect::to(&format!("/case/{code}")).into_response())
}

fn drawn(desk: &mut Desk) -> Result<Markup, Refusal> {
    let rows = desk.cases.list(Some(&*desk.formulary), desk.now)?;
    let (over, open): (Vec<&Row>, Vec<&Row>) = rows.iter().partition(|row| row.over && row.owed.is_empty());
    Ok(html! {
        @if open.is_empty() { p { "Nothing to show." } }
        ul.rows { @for row in &open { (shown(row)) } }
        @if !over.is_empty() {
            details { summary { "Come to their end: " (over.len()) } ul.rows { @for row in &over { (shown(row)) } } }
        }
    })
}

/// A set-up in a list: where it stands, what runs, what is owed.
pub(super) fn shown(row: &Row) -> Markup {
    let name = row.set_up.map_or_else(|| row.case.to_string(), |set_up| set_up.to_string());
    html! {
        li {
            a.code href=(format!("/case/{}", row.case)) { (name) }
            p { (row.stands) }
            @if let Some(runs) = &row.runs {
                p { (runs.drug) ", " (runs.strength) ", driver " (runs.driver) ", " (runs.rate.as_deref().map_or_else(|| "paused".to_owned(), |rate| format!("at {rate}"))) }
            }
            @for owed in &row.owed { p.owed { strong { "Owed: " } (on_the_page(&owed.says)) " " span.code { "[" (owed.code) "]" } } }
        }
    }
}
