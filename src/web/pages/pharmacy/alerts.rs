//! How often the rules speak in this journal, and what came of it. Only pharmacists see it; nobody is named in it.

use std::sync::Arc;

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use maud::{Markup, html};

use super::{chart, for_pharmacists, shown, wide};
use crate::case::Written;
use crate::pharmacy::alerts::{Alerts, READ_FIRST, RuleTally, share};
use crate::web::answer::Refusal;
use crate::web::session::PageSession;
use crate::web::site::Site;

pub(super) async fn page(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
) -> Result<Response, Refusal> {
    for_pharmacists(&session)?;
    let counted = site.run_in_background(|aside| Ok(Alerts::of(&aside.cases, aside.now)?)).await?;
    Ok(shown(&site, &session, StatusCode::OK, "How often the rules speak", drawn(&counted)))
}

fn drawn(counted: &Alerts) -> Markup {
    html! {
        @for says in READ_FIRST { p { (says) } }
        @for says in counted.not_counted() { p { (says) } }
        @if counted.all.set_ups == 0 {
            p { "No set-up of this journal has come to an end yet. There is nothing to count." }
        } @else {
            h2 { "In all" }
            dl.sums {
                div { dt { "Findings that stop" } dd { (share(counted.all.stops, counted.all.set_ups)) } }
                div { dt { "Findings that ask for a reason" } dd { (share(counted.all.asked, counted.all.set_ups)) } }
                div { dt { "Findings that only tell" } dd { (share(counted.all.notes, counted.all.set_ups)) } }
            }
            h2 { "By month" }
            (chart::drawn(counted))
            (months(counted))
            @for (head, rules) in counted.groups() {
                h2 { (head) }
                @if rules.is_empty() { p { "None has spoken." } } @else { (spoke(head, &rules, counted.all.set_ups)) }
            }
        }
    }
}

fn months(counted: &Alerts) -> Markup {
    wide(
        "Findings by month",
        html! {
            table {
                caption { "Findings by month" }
                thead {
                    tr {
                        th scope="col" { "Month" }
                        th scope="col" { "Set-ups" }
                        th scope="col" { "Stops" }
                        th scope="col" { "Reasons asked for" }
                        th scope="col" { "Notes" }
                    }
                }
                tbody {
                    @for (month, of) in &counted.months {
                        tr {
                            th scope="row" { (month) }
                            td { (of.set_ups) }
                            @for count in [of.stops, of.asked, of.notes] { td { (share(count, of.set_ups)) } }
                        }
                    }
                }
            }
        },
    )
}

/// What came of each rule. Of a note nothing is asked, and so nothing comes of it.
fn spoke(head: &str, rules: &[&RuleTally], set_ups: u64) -> Markup {
    let asks = head != "Rules that tell";
    wide(
        head,
        html! {
            table {
                caption { (head) ", of " (set_ups) " set-ups" }
                thead {
                    tr {
                        th scope="col" { "Rule" }
                        th scope="col" { "Spoke" }
                        @if asks {
                            th scope="col" { "Overridden with reasons" }
                            th scope="col" { "Near misses" }
                            th scope="col" { "Passed in an emergency" }
                            th scope="col" { "Started without a card" }
                        }
                    }
                }
                tbody {
                    @for rule in rules {
                        tr {
                            th scope="row" { (rule.code.explanation().map_or(rule.code.id, |code| &*code.means)) " " span.code { "[" (rule.code.id) "]" } }
                            td { (share(rule.fired, set_ups)) }
                            @if asks {
                                td { (rule.overridden) " of " (rule.fired) (reasons(rule)) }
                                td { (rule.near_misses()) " of " (rule.fired) (missed(rule)) }
                                td { (rule.alone) " of " (rule.fired) }
                                td { (rule.ran) " of " (rule.fired) }
                            }
                        }
                    }
                }
            }
        },
    )
}

fn reasons(rule: &RuleTally) -> Markup {
    html! {
        @if !rule.reasons.is_empty() {
            ul { @for (reason, count) in &rule.reasons { li { (reason_in_words(reason)) ": " (count) } } }
        }
    }
}

fn reason_in_words(reason: &Written) -> String {
    match reason {
        Written::Listed(words) => format!("“{words}”"),
        other => other.says().to_owned(),
    }
}

fn missed(rule: &RuleTally) -> Markup {
    html! {
        @if rule.near_misses() > 0 {
            ul {
                @if rule.otherwise > 0 {
                    li {
                        "then entered otherwise: " (rule.otherwise)
                        @if !rule.fields.is_empty() { "; fields: " (rule.fields_in_words()) }
                    }
                }
                @if rule.stopped > 0 { li { "stopped, and nothing entered afterwards: " (rule.stopped) } }
                @if rule.left > 0 { li { "left: " (rule.left) } }
            }
        }
    }
}
