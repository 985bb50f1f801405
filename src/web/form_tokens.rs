//! Tokens that are good once: a form that was forged has none, and one that is sent twice has none left.

use std::collections::VecDeque;
use std::sync::Mutex;

use data_encoding::BASE64URL_NOPAD;

use super::site::locked;

/// Tokens that were given out and not used.
#[derive(Debug, Default)]
pub(super) struct FormTokens(Mutex<VecDeque<String>>);

/// More open forms than this, and the oldest must be loaded again.
const MOST: usize = 1000;

impl FormTokens {
    /// A new token.
    pub(super) fn give(&self) -> String {
        let token = random();
        let mut given = locked(&self.0);
        if given.len() == MOST {
            given.pop_front();
        }
        given.push_back(token.clone());
        token
    }

    /// Whether this was given out and not used. It stays good, and is the last to be dropped.
    pub(super) fn knows(&self, token: &str) -> bool {
        let mut given = locked(&self.0);
        let at = given.iter().position(|known| known == token);
        let Some(found) = at.and_then(|at| given.remove(at)) else { return false };
        given.push_back(found);
        true
    }

    /// Whether this key, chosen by the sender, is new. From now on it is used.
    pub(super) fn is_new(&self, chosen: &str) -> bool {
        let mut known = locked(&self.0);
        if known.iter().any(|one| one == chosen) {
            return false;
        }
        if known.len() == MOST {
            known.pop_front();
        }
        known.push_back(chosen.to_owned());
        true
    }

    /// Whether this was given out; it is not taken again.
    pub(super) fn take(&self, token: &str) -> bool {
        let mut given = locked(&self.0);
        let at = given.iter().position(|known| known == token);
        at.and_then(|at| given.remove(at)).is_some()
    }
}

/// 32 random bytes, as text.
pub(super) fn random() -> String {
    let mut bytes = [0_u8; 32];
    getrandom::fill(&mut bytes).expect("the machine gave random bytes for the journal, and gives them still");
    BASE64URL_NOPAD.encode(&bytes)
}
