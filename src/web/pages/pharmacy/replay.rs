//! What the proposed formulary would have done to the set-ups of this journal: counts, and no value of any entry.

use std::path::Path;
use std::sync::Arc;

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use maud::{Markup, html};

use super::{changes, for_pharmacists, shown, wide};
use crate::formulary::Formulary;
use crate::pharmacy::alerts::share;
use crate::pharmacy::diff::{Change, Risk, diff};
use crate::pharmacy::replay::{Replay, ReplayError};
use crate::web::answer::Refusal;
use crate::web::session::PageSession;
use crate::web::site::{Aside, Site};

pub(super) async fn page(
    State(site): State<Arc<Site>>,
    PageSession(session): PageSession,
) -> Result<Response, Refusal> {
    for_pharmacists(&session)?;
    const TITLE: &str = "Past set-ups against a proposal";
    let Some(folder) = site.proposed.folder().map(Path::to_owned) else {
        return Ok(shown(&site, &session, StatusCode::OK, TITLE, without_one()));
    };
    let (shared, who) = (Arc::clone(&site), Arc::clone(&session));
    let inside = site.run_in_background(move |aside| {
        let proposal = super::opened(&aside.cases, &folder)?;
        let closed = changes::closed_to(&shared, &who, &proposal.formulary).is_some();
        let changed = if closed { None } else { Some(diff(&aside.in_use, &proposal.formulary)?) };
        Ok(drawn(&replayed(aside, proposal.formulary)?, changed.as_deref()))
    });
    Ok(shown(&site, &session, StatusCode::OK, TITLE, inside.await?))
}

/// What a server without a proposal says.
pub(super) fn without_one() -> Markup {
    html! {
        p { "This server was started without a proposed formulary." }
        p { "Copy the folder of the formulary, change the copy, and start the server with it: " }
        p.code { "countersign serve --journal DIR --formulary DIR --proposed DIR" }
    }
}

fn replayed(aside: &Aside, proposed: Formulary) -> Result<Replay, Refusal> {
    let now = Formulary::kept("in use", aside.in_use.files().to_vec())?.taken_as_approved();
    let proposed = proposed.taken_as_approved();
    let mut replay = Replay::default();
    aside.cases.each_settled_entry(|name, entry| -> Result<(), Refusal> {
        match replay.add(&name, entry, &now, &proposed, aside.now) {
            Ok(()) => Ok(()),
            Err(ReplayError::Faulty(faulty)) => Err(faulty.into()),
            Err(ReplayError::Fault(message)) => Err(Refusal::fault(&message)),
        }
    })?;
    Ok(replay)
}

fn drawn(replay: &Replay, changed: Option<&[Change]>) -> Markup {
    let (all, uses, rules) = (replay.moved_in_all(), replay.moved_uses(), replay.moved_rules());
    html! {
        p { "Each set-up of this journal that is settled, agreed or stopped, checked as of its own time by the formulary in use and by the proposed one, both as if approved. One entry counts for each. No card is made." }
        @if let Some(changed) = changed {
            h2 { "What is changed" }
            @if changed.is_empty() { p { "Nothing that somebody answers for." } }
            ul {
                @for risk in Risk::ALL {
                    @let count = changed.iter().filter(|change| change.risk == risk).count();
                    @if count > 0 { li { (risk.says()) ": " (count) } }
                }
            }
        }
        h2 { "In all" }
        dl.sums {
            div { dt { "Would newly stop" } dd { (share(all.newly_stopped, all.set_ups)) } }
            div { dt { "Would newly need a reason" } dd { (share(all.newly_asked, all.set_ups)) } }
            div { dt { "Would no longer stop" } dd { (share(all.no_longer_stopped, all.set_ups)) } }
            div { dt { "Would no longer need a reason" } dd { (share(all.no_longer_asked, all.set_ups)) } }
        }
        h2 { "By drug and use" }
        @if uses.is_empty() { p { "Nothing would end otherwise." } } @else {
            (wide("By drug and use", html! {
                table {
                    caption { "Set-ups that would end otherwise, by drug and use" }
                    thead { tr {
                        th scope="col" { "Drug, area, indication" } th scope="col" { "Set-ups" }
                        th scope="col" { "Newly stopped" } th scope="col" { "Newly need a reason" }
                        th scope="col" { "No longer stopped" } th scope="col" { "No longer need a reason" }
                    } }
                    tbody {
                        @for used in &uses {
                            tr {
                                th scope="row" { (used.names.join(", ")) }
                                td { (used.set_ups) }
                                @for count in [used.newly_stopped, used.newly_asked, used.no_longer_stopped, used.no_longer_asked] { td { (count) " of " (used.set_ups) } }
                            }
                        }
                    }
                }
            }))
        }
        h2 { "By rule" }
        @if rules.is_empty() { p { "No rule would speak otherwise." } } @else {
            (wide("By rule", html! {
                table {
                    caption { "Rules that would speak otherwise, of " (all.set_ups) " set-ups" }
                    thead { tr {
                        th scope="col" { "Rule" } th scope="col" { "Speaks now" } th scope="col" { "Would speak" }
                        th scope="col" { "Newly said" } th scope="col" { "No longer said" }
                    } }
                    tbody {
                        @for rule in &rules {
                            tr {
                                th scope="row" { span.code { (rule.code) } }
                                @for count in [rule.now, rule.proposed, rule.newly, rule.no_longer] { td { (count) } }
                            }
                        }
                    }
                }
            }))
        }
    }
}
