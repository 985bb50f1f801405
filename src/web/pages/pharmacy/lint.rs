//! What the lint says, as a list: how much each remark weighs, where it stands, what was found and what to do.

use std::sync::Arc;

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use maud::{Markup, html};

use super::shown;
use crate::diagnostic::{Fault, Level, Source};
use crate::formulary::Files;
use crate::pharmacy::lint::{File, Remark, Report, lint};
use crate::web::answer::Refusal;
use crate::web::session::PageSession;
use crate::web::site::Site;

pub(super) async fn page(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
) -> Result<Response, Refusal> {
    let report = site.run_in_background(|aside| {
        let files = aside.in_use.files().to_vec();
        Ok(lint(Files::of_texts("formulary", files), aside.now))
    });
    Ok(shown(&site, &session, StatusCode::OK, "What the lint says", list(&report.await?)))
}

/// Every file with anything in it.
pub(super) fn list(report: &Report) -> Markup {
    html! {
        p { (report.summary()) }
        @if report.files.is_empty() { p.right { "Nothing is to be looked at again." } }
        @for file in &report.files {
            h2 { (file.source.name) }
            ul.rows { @for fault in &file.faults { (item(file, "Keeps the file from being used", fault, None)) } @for remark in &file.remarks { (remarked(file, remark)) } }
        }
    }
}

fn remarked(file: &File, remark: &Remark) -> Markup {
    let weight = match (&remark.accepted, remark.code.level) {
        (Some(_), _) => "Accepted",
        (None, Level::Note) => "To be known",
        (None, Level::Warning) => "To be mended, or accepted with a reason",
        (None, Level::Error) if remark.is_answerable() => "To be mended, or answered for by name under `exceptions`",
        (None, Level::Error) => "To be mended: nobody can sign or approve it as it is",
    };
    let answer = match (&remark.accepted, &remark.fix) {
        (Some(reason), _) => Some(format!("The reason written in the file: {reason}")),
        (None, Some(fix)) => Some(format!("Write {fix}")),
        (None, None) => None,
    };
    item(file, weight, &remark.fault, answer)
}

fn item(file: &File, weight: &str, fault: &Fault, answer: Option<String>) -> Markup {
    html! {
        li {
            p { strong { (weight) ": " } (fault.message) " " span.code { "[" (fault.code) "]" } }
            p.hint { (place(&file.source, fault)) }
            @if let Some(help) = answer.as_ref().or(fault.help.as_ref()) { p { "To do: " (help) } }
        }
    }
}

fn place(source: &Source, fault: &Fault) -> String {
    let line = fault.range.as_ref().map(|range| format!("line {}", source.place(range.start).line));
    let field = Some(fault.field.clone()).filter(|field| !field.is_empty());
    let place: Vec<String> = line.into_iter().chain(field).collect();
    if place.is_empty() { "The file as a whole".to_owned() } else { place.join(", ") }
}
