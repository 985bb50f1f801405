//! Trying name and PIN: slowly after a wrong one, and no faster under a name that nobody has.

use std::collections::HashMap;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use axum::http::StatusCode;
use zeroize::Zeroizing;

use crate::case::{CaseError, People, Person, slowed, unlock};
use crate::journal::{Journal, Signer};
use crate::quantity::Moment;

use super::answer::Refusal;
use super::site::{Site, locked};

/// For so long wrong tries under a name are remembered, as the journal's are.
const REMEMBERED: Duration = Duration::from_mins(15);
/// So many people try at the same time; others wait.
const AT_ONCE: usize = 32;
const MOST_NAMES: usize = 10_000;
/// However the time of an answer is made up, it ends on a full one of these.
const ROUNDED: Duration = Duration::from_millis(500);

/// Tries under names that nobody here has: answered as slowly as a wrong PIN, so that they are not told apart.
#[derive(Debug)]
pub(super) struct SignInThrottle {
    wrong: Mutex<HashMap<String, Arc<tokio::sync::Mutex<Vec<Instant>>>>>,
    at_once: tokio::sync::Semaphore,
}

impl Default for SignInThrottle {
    fn default() -> Self {
        Self { wrong: Mutex::default(), at_once: tokio::sync::Semaphore::new(AT_ONCE) }
    }
}

impl SignInThrottle {
    /// Opens a key. A name that nobody has takes as long, and is refused in the same words.
    pub(super) async fn opened(&self, site: &Site, name: &str, pin: &str) -> Result<(Person, Signer), Refusal> {
        let began = Instant::now();
        let opened = self.tried(site, name, pin).await;
        if opened.is_err() {
            let over = began.elapsed().as_millis() % ROUNDED.as_millis();
            let rest = u64::try_from(ROUNDED.as_millis() - over).unwrap_or_default();
            tokio::time::sleep(Duration::from_millis(rest)).await;
        }
        opened
    }

    async fn tried(&self, site: &Site, name: &str, pin: &str) -> Result<(Person, Signer), Refusal> {
        let of_name = self.of_name(name);
        let mut wrong = of_name.lock().await;
        let _room = self.at_once.acquire().await;
        let (folder, name, pin, now) =
            (site.folder.clone(), name.to_owned(), Zeroizing::new(pin.to_owned()), site.now());
        let tried = tokio::task::spawn_blocking(move || tried(&folder, &name, &pin, now));
        match tried.await.map_err(|error| Refusal::fault(&error.to_string()))? {
            Ok(Tried::Open(both)) => Ok(*both),
            Ok(Tried::Wrong) => Err(not_known()),
            Ok(Tried::Nobody) => {
                wrong.retain(|at| at.elapsed() < REMEMBERED);
                let wait = slowed(wrong.len());
                if wrong.last().is_none_or(|last| last.elapsed() >= Duration::from_mins(1)) {
                    wrong.push(Instant::now());
                }
                tokio::time::sleep(wait).await;
                Err(not_known())
            }
            Err(refusal) => Err(refusal),
        }
    }

    fn of_name(&self, name: &str) -> Arc<tokio::sync::Mutex<Vec<Instant>>> {
        let mut wrong = locked(&self.wrong);
        if wrong.len() >= MOST_NAMES {
            wrong.clear();
        }
        Arc::clone(wrong.entry(name.trim().to_lowercase()).or_default())
    }
}

enum Tried {
    Open(Box<(Person, Signer)>),
    Wrong,
    Nobody,
}

/// With a journal of its own: a slow answer to one person keeps nobody else waiting.
fn tried(folder: &std::path::Path, name: &str, pin: &str, now: Moment) -> Result<Tried, Refusal> {
    let mut journal = Journal::open(folder)?;
    if People::of(&journal)?.active(name).is_err() {
        // The same work as for a PIN that is wrong.
        let padded = Zeroizing::new(format!("{pin:0<6}"));
        journal.keys().new_signer("nobody", &padded)?;
        return Ok(Tried::Nobody);
    }
    match unlock(&mut journal, now, name, pin) {
        Ok(both) => Ok(Tried::Open(Box::new(both))),
        Err(CaseError::Refused(_)) => Ok(Tried::Wrong),
        Err(other) => Err(other.into()),
    }
}

fn not_known() -> Refusal {
    let help = "type both again; after a wrong one the answer takes longer";
    Refusal::said(StatusCode::FORBIDDEN, "not-signed-in", "name and PIN do not belong together", help)
}
