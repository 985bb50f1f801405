//! What stands around every page.

use std::sync::Arc;

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use maud::{DOCTYPE, Markup, html};

use crate::card::DEMONSTRATION;

use crate::web::follow::{self, Topic};
use crate::web::session::{PageSession, Session};
use crate::web::site::Site;

/// A page for somebody who is signed in.
pub(super) fn page(site: &Site, session: &Session, title: &str, inside: Markup) -> Markup {
    let token = session.forms.give();
    let top = html! {
        nav aria-label="Pages" {
            a href="/" { "Cases" }
            a href="/formulary" { "Formulary" }
            a href="/journal" { "Journal" }
        }
        form.who method="post" action="/hand-over" {
            input type="hidden" name="once" value=(token);
            span { (session.person.name) ", " (session.person.role) }
            button { "Hand over the tablet" }
        }
    };
    whole(title, Some(top), site.demonstration, inside)
}

/// Whether somebody is signed in here: nothing, or the way to the door. It keeps no session awake.
pub(super) async fn session(PageSession(_): PageSession) -> StatusCode {
    StatusCode::NO_CONTENT
}

/// Tells a page that follows nothing else when its session has ended.
pub(super) async fn follow(State(site): State<Arc<Site>>, PageSession(session): PageSession) -> Response {
    follow::follow(site, &session, Topic::SessionOnly, String::new(), |_, _| Ok(html! {}))
}

/// A page for a person who may not be signed in.
pub(in crate::web) fn bare(title: &str, inside: Markup) -> Markup {
    whole(title, None, false, inside)
}

/// As [`bare`], saying whether this is a demonstration.
pub(super) fn at_the_door(site: &Site, title: &str, inside: Markup) -> Markup {
    whole(title, None, site.demonstration, inside)
}

fn whole(title: &str, top: Option<Markup>, demonstration: bool, inside: Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title) " - countersign" }
                link rel="icon" href="/own/icon.svg" type="image/svg+xml";
                link rel="stylesheet" href="/own/style.css";
                script src="/own/script.js" defer { }
            }
            body data-session[top.is_some()] {
                a.skip href="#main" { "To the page" }
                @if let Some(top) = top { header { (top) } }
                main #main {
                    @if demonstration { p.notice { (DEMONSTRATION) } }
                    (inside)
                }
                footer {
                    "Not a medical device. Verify against the order, the label and local policy; licensed practitioners \
                     decide. This page records what people did. It does not control the driver."
                }
            }
        }
    }
}
