//! What the pharmacist keeps: the formulary as a book, and what the lint says of it.

use std::sync::Arc;

use axum::extract::State;
use axum::response::{Html, IntoResponse, Response};
use maud::html;

use crate::diagnostic::terminal::Palette;
use crate::formulary::Files;
use crate::upkeep::{book, lint as rules};

use super::card;
use super::frame;
use crate::web::answer::Refusal;
use crate::web::session::Here;
use crate::web::site::Site;

pub(super) async fn book(State(site): State<Arc<Site>>, Here(_): Here) -> Result<Response, Refusal> {
    let page = site.with(|desk| {
        desk.formulary.load_all()?;
        Ok(book::book(&desk.formulary)?)
    });
    Ok(card::given(page.await?))
}

pub(super) async fn lint(State(site): State<Arc<Site>>, Here(session): Here) -> Result<Response, Refusal> {
    let said = site.with(|desk| {
        let report = rules::lint(Files::of_texts("formulary", desk.formulary.files().to_vec()), desk.now);
        Ok((report.summary(), report.text(Palette::Plain)))
    });
    let (summary, text) = said.await?;
    let inside = html! { h1 { "What the lint says" } p { (summary) } pre.picture tabindex="0" { (text) } };
    Ok(Html(frame::page(&site, &session, "Lint", inside).into_string()).into_response())
}
