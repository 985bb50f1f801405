//! How often the rules speak in this journal, what came of it, and which doses ran. Only pharmacists see it; nobody is named
//! in it.

use std::collections::BTreeMap;
use std::sync::Arc;

use axum::extract::{Form, RawQuery, State};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use maud::{Markup, html};

use super::{card, for_pharmacists, shown};
use crate::card::DEMONSTRATION;
use crate::pharmacy::alerts::{Alerts, Dimension, Selection, for_committee};
use crate::pharmacy::report::Report;
use crate::quantity::parse_date;
use crate::web::answer::Refusal;
use crate::web::session::PageSession;
use crate::web::site::Site;

pub(super) async fn page(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
    asked: RawQuery,
    Form(chosen): Form<BTreeMap<String, String>>,
) -> Result<Response, Refusal> {
    for_pharmacists(&session)?;
    let report = counted(&site, &chosen).await?;
    let inside = html! { (form(&chosen)) (ways(&query(asked))) (report.markup()) };
    Ok(shown(&site, &session, StatusCode::OK, &report.title, inside))
}

/// The same counts, one a line, for a spreadsheet.
pub(super) async fn csv(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
    Form(chosen): Form<BTreeMap<String, String>>,
) -> Result<Response, Refusal> {
    for_pharmacists(&session)?;
    let text = counted(&site, &chosen).await?.csv();
    let named = [
        (header::CONTENT_TYPE, "text/csv; charset=utf-8"),
        (header::CONTENT_DISPOSITION, "attachment; filename=\"alerts.csv\""),
    ];
    Ok((named, text).into_response())
}

/// The same counts on one sheet, to be printed and signed.
pub(super) async fn sheet(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
    asked: RawQuery,
    Form(chosen): Form<BTreeMap<String, String>>,
) -> Result<Response, Refusal> {
    for_pharmacists(&session)?;
    let report = counted(&site, &chosen).await?;
    let notice = site.demonstration.then_some(DEMONSTRATION);
    let sheet = for_committee(report, notice);
    let back = format!("/formulary/alerts{}", query(asked));
    Ok(card::given(&sheet, &[(&back, "Back to the counts")]))
}

/// The counts that were chosen.
async fn counted(site: &Arc<Site>, chosen: &BTreeMap<String, String>) -> Result<Report, Refusal> {
    let selection = selection(chosen)?;
    site.run_in_background(|aside| Ok(Alerts::of(&aside.cases, selection, aside.now)?.report())).await
}

/// What was chosen, as a part of an address.
fn query(asked: RawQuery) -> String {
    asked.0.filter(|query| !query.is_empty()).map(|query| format!("?{query}")).unwrap_or_default()
}

fn ways(query: &str) -> Markup {
    html! {
        p {
            a.button href=(format!("/formulary/alerts/sheet{query}")) { "One sheet to print" }
            a.button href=(format!("/formulary/alerts.csv{query}")) { "As CSV" }
        }
    }
}

fn selection(chosen: &BTreeMap<String, String>) -> Result<Selection, Refusal> {
    let given = |name: &str| chosen.get(name).map(|value| value.trim()).filter(|value| !value.is_empty());
    let day = |name| {
        given(name).map(parse_date).transpose().map_err(|refused| {
            let help = "Write the day as 2026-03-14.";
            Refusal::said(StatusCode::UNPROCESSABLE_ENTITY, refused.problem.code(), refused.to_string(), help)
        })
    };
    let only = Dimension::WORDS.iter().filter_map(|word| Some((Dimension::written(word)?, given(word)?.to_owned())));
    let by = given("by").and_then(Dimension::written);
    let all =
        [Dimension::Drug, Dimension::Area, Dimension::Phase, Dimension::Role, Dimension::Hour, Dimension::Edition];
    Ok(Selection {
        from: day("from")?,
        to: day("to")?,
        only: only.collect(),
        by: by.map_or_else(|| all.to_vec(), |one| vec![one]),
    })
}

fn form(chosen: &BTreeMap<String, String>) -> Markup {
    let value = |name: &str| chosen.get(name).cloned().unwrap_or_default();
    html! {
        details {
            summary { "Choose set-ups" }
            form method="get" action="/formulary/alerts" {
                @for name in ["from", "to"].iter().chain(Dimension::WORDS) {
                    p.field {
                        label for={ "only-" (name) } { (name) }
                        input id={ "only-" (name) } name=(name) value=(value(name)) autocomplete="off";
                    }
                }
                p.field {
                    label for="by" { "table by" }
                    select id="by" name="by" {
                        option value="" { "all" }
                        @for word in Dimension::WORDS { option value=(word) selected[value("by") == *word] { (word) } }
                    }
                }
                p { button type="submit" { "Count" } }
            }
        }
    }
}
