//! Who looked, written down behind the answer: a reading waits for nothing here. What cannot be written is counted.

use std::collections::HashMap;
use std::path::PathBuf;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Arc, mpsc};

use crate::journal::{Access, AccessKind, AccessLog, Journal, SignIns};
use crate::quantity::Moment;

use super::locked::locked;
use super::peer;

/// How many may wait to be written; more are counted as missed.
const WAITING: usize = 1_024;

/// The accesses of a server.
#[derive(Debug)]
pub(super) struct Accesses {
    to: SyncSender<(Moment, Access)>,
    missed: Arc<AtomicU64>,
    /// What was known of each person's sign-ins before the present one, by their id.
    sign_ins: Mutex<HashMap<String, SignIns>>,
}

impl Accesses {
    pub(super) fn beside(folder: PathBuf) -> Self {
        let (to, written) = sync_channel(WAITING);
        let missed = Arc::new(AtomicU64::new(0));
        let counts = Arc::clone(&missed);
        std::thread::spawn(move || write(&folder, &written, &counts));
        Self { to, missed, sign_ins: Mutex::default() }
    }

    /// Notes an access; returns at once.
    pub(super) fn note(&self, now: Moment, kind: AccessKind, who: Option<&str>, scope: Option<String>) {
        let access = Access { kind, who: who.map(str::to_owned), scope, from: peer::address() };
        if let Err(mpsc::TrySendError::Full(_)) = self.to.try_send((now, access)) {
            self.missed.fetch_add(1, Ordering::Relaxed);
        }
    }

    /// How many could not be written down since the start.
    pub(super) fn missed(&self) -> u64 {
        self.missed.load(Ordering::Relaxed)
    }

    /// Keeps what the first page says to a person who has just signed in.
    pub(super) fn signed_in(&self, who: &str, before: SignIns) {
        locked(&self.sign_ins).insert(who.to_owned(), before);
    }

    /// What was known of a person's sign-ins when they signed in.
    pub(super) fn before_sign_in(&self, who: &str) -> Option<SignIns> {
        locked(&self.sign_ins).get(who).cloned()
    }
}

/// In words, for the person themselves.
pub(super) fn in_words(before: &SignIns) -> Option<String> {
    let wrong = match before.wrong_since {
        0 => String::new(),
        1 => " One wrong try since.".to_owned(),
        more => format!(" {more} wrong tries since."),
    };
    let last = before.last.as_ref().map(|(at, from)| format!("You signed in last at {}, from {from}.", at.local()));
    match (last, before.wrong_since) {
        (None, 0) => None,
        (last, _) => Some(format!("{}{wrong}", last.unwrap_or_default()).trim().to_owned()),
    }
}

fn write(folder: &std::path::Path, accesses: &Receiver<(Moment, Access)>, missed: &AtomicU64) {
    let mut log: Option<AccessLog> = None;
    let mut said = 0;
    while let Ok((now, access)) = accesses.recv() {
        if log.is_none() {
            log = Journal::open(folder).and_then(|journal| journal.accesses()).ok();
        }
        let written = log.as_mut().is_some_and(|log| log.note(now, &access).is_ok());
        if !written {
            missed.fetch_add(1, Ordering::Relaxed);
            log = None;
            continue;
        }
        let lost = missed.load(Ordering::Relaxed);
        if lost > said {
            let from = format!("{} not written down", lost - said);
            let note = Access { kind: AccessKind::Missed, who: None, scope: None, from };
            if log.as_mut().is_some_and(|log| log.note(now, &note).is_ok()) {
                said = lost;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_person_sees_their_own_sign_ins() {
        let at = Moment::parse("2026-03-14T09:00:00+01:00").expect("a moment");
        assert_eq!(in_words(&SignIns { last: None, wrong_since: 0 }), None);
        assert_eq!(in_words(&SignIns { last: None, wrong_since: 1 }).as_deref(), Some("One wrong try since."));
        let both = SignIns { last: Some((at, "10.0.0.5".to_owned())), wrong_since: 3 };
        let says = in_words(&both).expect("words");
        assert!(says.starts_with("You signed in last at ") && says.ends_with(", from 10.0.0.5. 3 wrong tries since."));
    }
}
