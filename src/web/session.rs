//! Who is signed in at which browser. The unlocked key stays in this process's memory, and is wiped when a session ends.

use std::collections::HashMap;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant, SystemTime};

use axum::extract::FromRequestParts;
use axum::http::{HeaderMap, header, request::Parts};

use crate::case::{CaseError, People, Person};
use crate::journal::{Hash, Journal, Signer};
use crate::quantity::Moment;

use super::answer::Refusal;
use super::form_tokens::{FormTokens, random};
use super::site::{Site, locked};

/// The cookie of a session.
pub(super) const SESSION: &str = "bedside";

/// Every session, by the hash of what its cookie says.
#[derive(Debug)]
pub(super) struct Sessions {
    open: Mutex<HashMap<String, (Arc<Session>, Touch)>>,
    idle: Duration,
    /// How many changes of people the open sessions were held against.
    changes: Mutex<u64>,
}

/// When somebody touched a session last, by both clocks: the one stops while a laptop sleeps, the other may be set.
#[derive(Debug, Clone, Copy)]
struct Touch {
    steady: Instant,
    wall: SystemTime,
}

impl Touch {
    fn now() -> Self {
        Self { steady: Instant::now(), wall: SystemTime::now() }
    }

    /// How long ago that was at `now`: the longer of the two.
    fn until(self, now: Self) -> Duration {
        let by_the_wall = now.wall.duration_since(self.wall).unwrap_or_default();
        now.steady.saturating_duration_since(self.steady).max(by_the_wall)
    }
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

/// A signed-in session.
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
        Self { open: Mutex::default(), idle, changes: Mutex::default() }
    }

    /// Begins a session, and gives what the cookie or the token says.
    pub(super) fn begin(&self, at: At, person: Person, signer: Signer) -> String {
        let token = random();
        let signer = signer.hold();
        let session = Arc::new(Session { person, signer, forms: FormTokens::default(), chosen: FormTokens::default() });
        self.sweep();
        let mut open = locked(&self.open);
        open.insert(at.hashed(&token), (session, Touch::now()));
        token
    }

    /// The session of a cookie or a token. What asks by itself does not keep a session awake.
    pub(super) fn find(&self, at: At, token: &str, by_a_person: bool) -> Option<Arc<Session>> {
        self.sweep();
        let mut open = locked(&self.open);
        let (session, last) = open.get_mut(&at.hashed(token))?;
        if by_a_person {
            *last = Touch::now();
        }
        Some(Arc::clone(session))
    }

    /// Removes expired sessions.
    pub(super) fn sweep(&self) {
        let now = Touch::now();
        locked(&self.open).retain(|_, (_, last)| last.until(now) < self.idle);
    }

    /// Ends the sessions of people who were retired, renamed or got a new PIN since they signed in, and of guests whose time
    /// is over.
    pub(super) fn follow_people(&self, journal: &Journal, now: Moment) -> Result<(), CaseError> {
        locked(&self.open).retain(|_, (session, _)| session.person.is_here(now));
        let changes = People::changes(journal)?;
        let mut known = locked(&self.changes);
        if *known != changes {
            let people = People::of(journal)?;
            let is_as_it_was = |session: &Session| {
                let person = people.by_id(&session.person.id);
                person.is_some_and(|known| {
                    known.is_here(now)
                        && known.sealed_as() == session.person.sealed_as()
                        && known.name == session.person.name
                })
            };
            locked(&self.open).retain(|_, (session, _)| is_as_it_was(session));
            *known = changes;
        }
        Ok(())
    }

    /// How many sessions are open.
    pub(super) fn how_many(&self) -> usize {
        self.sweep();
        locked(&self.open).len()
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
        site.follow_people();
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_laptop_that_slept_was_idle() {
        let before = Touch::now();
        let hour = Duration::from_hours(1);
        let slept = Touch { steady: before.steady + Duration::from_secs(1), wall: before.wall + hour };
        assert_eq!(before.until(slept), hour);
        let set_back = Touch { steady: before.steady + hour, wall: before.wall - hour };
        assert_eq!(before.until(set_back), hour);
    }
}
