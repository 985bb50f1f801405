//! Who is signed in at which browser. The unlocked key stays in this process's memory, and is wiped when a session ends.

use std::collections::HashMap;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use axum::extract::FromRequestParts;
use axum::http::{HeaderMap, header, request::Parts};

use crate::case::Person;
use crate::journal::{Hash, Signer};

use super::answer::Refusal;
use super::form_tokens::{FormTokens, random};
use super::site::{Site, locked};

/// The cookie of a session.
pub(super) const SESSION: &str = "bedside";

/// Every session, by the hash of what its cookie says.
#[derive(Debug)]
pub(super) struct Sessions {
    open: Mutex<HashMap<String, (Arc<Session>, Instant)>>,
    idle: Duration,
}

/// What a session was begun at: a cookie opens no interface for programs, and a program's token no page.
#[derive(Debug, Clone, Copy)]
pub(super) enum At {
    Page,
    Program,
}

impl At {
    /// A table that leaks gives nobody a cookie.
    fn hashed(self, token: &str) -> String {
        Hash::of(format!("{self:?}\0{token}").as_bytes()).to_string()
    }
}

/// Somebody at one browser.
#[derive(Debug)]
pub(super) struct Session {
    pub(super) person: Person,
    pub(super) signer: Signer,
    pub(super) forms: FormTokens,
    /// What programs chose, so that nothing is written twice.
    pub(super) chosen: FormTokens,
}

/// A request of somebody who is signed in.
#[derive(Debug, Clone)]
pub(super) struct PageSession(pub(super) Arc<Session>);

impl Sessions {
    pub(super) fn idle(idle: Duration) -> Self {
        Self { open: Mutex::default(), idle }
    }

    /// Begins a session, and gives what the cookie or the token says.
    pub(super) fn begin(&self, at: At, person: Person, signer: Signer) -> String {
        let token = random();
        let session = Arc::new(Session { person, signer, forms: FormTokens::default(), chosen: FormTokens::default() });
        self.sweep();
        let mut open = locked(&self.open);
        open.insert(at.hashed(&token), (session, Instant::now()));
        token
    }

    /// Whoever a cookie or a token belongs to. What asks by itself does not keep a session awake.
    pub(super) fn find(&self, at: At, token: &str, by_a_person: bool) -> Option<Arc<Session>> {
        self.sweep();
        let mut open = locked(&self.open);
        let (session, last) = open.get_mut(&at.hashed(token))?;
        if by_a_person {
            *last = Instant::now();
        }
        Some(Arc::clone(session))
    }

    /// Takes those out of memory that nobody has touched for so long.
    pub(super) fn sweep(&self) {
        locked(&self.open).retain(|_, (_, last)| last.elapsed() < self.idle);
    }

    /// Whether a session is open still.
    pub(super) fn holds(&self, session: &Arc<Session>) -> bool {
        self.sweep();
        locked(&self.open).values().any(|(known, _)| Arc::ptr_eq(known, session))
    }

    /// Ends this session.
    pub(super) fn end_this(&self, session: &Arc<Session>) {
        locked(&self.open).retain(|_, (known, _)| !Arc::ptr_eq(known, session));
    }

    /// After so long without a request a session ends.
    pub(super) const fn idle_time(&self) -> Duration {
        self.idle
    }

    /// Ends the session that a cookie belongs to.
    pub(super) fn end(&self, headers: &HeaderMap) {
        if let Some(token) = cookie(headers, SESSION) {
            locked(&self.open).remove(&At::Page.hashed(token));
        }
    }
}

impl FromRequestParts<Arc<Site>> for PageSession {
    type Rejection = Refusal;

    async fn from_request_parts(parts: &mut Parts, site: &Arc<Site>) -> Result<Self, Refusal> {
        let path = parts.uri.path();
        let by_a_person = !path.ends_with("/follow") && path != "/session";
        let found = cookie(&parts.headers, SESSION).and_then(|token| site.sessions.find(At::Page, token, by_a_person));
        found.map(Self).ok_or(Refusal::SignIn)
    }
}

/// The value of a cookie.
pub(super) fn cookie<'h>(headers: &'h HeaderMap, name: &str) -> Option<&'h str> {
    let all = headers.get_all(header::COOKIE).into_iter().filter_map(|value| value.to_str().ok());
    let mut each = all.flat_map(|value| value.split(';')).filter_map(|one| one.trim().split_once('='));
    each.find(|(known, _)| *known == name).map(|(_, value)| value)
}
