//! The proposed formulary that a server was started with, and who has looked at its values here: whoever did can no
//! longer type them blind.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, OnceLock};

use super::locked::locked;
use super::sessions::Session;

/// A folder, where one is under discussion.
#[derive(Debug, Default)]
pub(super) struct Proposed {
    folder: OnceLock<PathBuf>,
    shown_to: Mutex<BTreeSet<String>>,
}

impl Proposed {
    /// Said once, at the start.
    pub(super) fn set(&self, folder: PathBuf) {
        let _ = self.folder.set(folder);
    }

    pub(super) fn folder(&self) -> Option<&Path> {
        self.folder.get().map(PathBuf::as_path)
    }

    /// Somebody is shown its values.
    pub(super) fn shown_to(&self, session: &Session) {
        locked(&self.shown_to).insert(session.person.id.clone());
    }

    /// Whether somebody was.
    pub(super) fn was_shown_to(&self, session: &Session) -> bool {
        locked(&self.shown_to).contains(&session.person.id)
    }

    /// It was approved: what comes next is another proposal.
    pub(super) fn approved(&self) {
        locked(&self.shown_to).clear();
    }
}
