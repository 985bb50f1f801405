//! A request of somebody who is signed in at a browser.

use std::sync::Arc;

use axum::extract::FromRequestParts;
use axum::http::request::Parts;

use super::answer::Refusal;
use super::site::Site;

pub(super) use super::sessions::{At, SESSION, Session, cookie};

/// A request of somebody who is signed in.
#[derive(Debug, Clone)]
pub(super) struct PageSession(pub(super) Arc<Session>);

impl FromRequestParts<Arc<Site>> for PageSession {
    type Rejection = Refusal;

    async fn from_request_parts(parts: &mut Parts, site: &Arc<Site>) -> Result<Self, Refusal> {
        site.follow_people();
        let path = parts.uri.path();
        let by_a_person = !path.ends_with("/follow") && path != "/session";
        let found = cookie(&parts.headers, SESSION).and_then(|token| site.sessions.find(At::Page, token, by_a_person));
        found.map(Self).ok_or(Refusal::SignIn)
    }
}
