//! Tokens of forms for which nobody has signed in. A token is signed by a key of the running server, with its purpose, its
//! end and the browser it was given to: however many are given out, none is kept, and none throws out another. An emergency
//! form that is sent twice makes one case all the same: its token is kept with the event.

use std::time::{Duration, Instant};

use data_encoding::BASE64URL_NOPAD;
use hmac::{Hmac, KeyInit as _, Mac as _};
use sha2::Sha256;
use zeroize::Zeroizing;

/// An open form is good for a shift.
const LASTS: Duration = Duration::from_hours(12);

const NONCE: usize = 16;
const SECONDS: usize = 8;
const MAC: usize = 32;

/// What a form is for: a token of one is none of the other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Purpose {
    SignIn,
    Emergency,
}

/// Signs tokens.
pub(super) struct DoorTokens {
    key: Zeroizing<[u8; 32]>,
    /// Ends are counted from here, so that no clock that is set moves them.
    began: Instant,
}

impl Default for DoorTokens {
    fn default() -> Self {
        Self { key: Zeroizing::new(random_bytes()), began: Instant::now() }
    }
}

impl std::fmt::Debug for DoorTokens {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("DoorTokens")
    }
}

impl DoorTokens {
    /// A new token for a form of this browser.
    pub(super) fn give(&self, purpose: Purpose, browser: &str) -> String {
        let (nonce, end) = (random_bytes::<NONCE>(), (self.began.elapsed() + LASTS).as_secs());
        let mac = self.mac(purpose, browser, end, nonce).finalize().into_bytes();
        BASE64URL_NOPAD.encode(&[&end.to_be_bytes()[..], &nonce, &mac].concat())
    }

    /// Whether this server gave a form to this browser, and it has not ended.
    pub(super) fn knows(&self, purpose: Purpose, browser: &str, token: &str) -> bool {
        self.read(purpose, browser, token).is_some()
    }

    fn read(&self, purpose: Purpose, browser: &str, token: &str) -> Option<()> {
        // A length is looked at first: nothing long is decoded.
        (token.len() < 128).then_some(())?;
        let bytes = BASE64URL_NOPAD.decode(token.as_bytes()).ok()?;
        let (end, rest) = bytes.split_first_chunk::<SECONDS>()?;
        let (nonce, mac) = rest.split_first_chunk::<NONCE>()?;
        let (end, mac) = (u64::from_be_bytes(*end), <[u8; MAC]>::try_from(mac).ok()?);
        self.mac(purpose, browser, end, *nonce).verify((&mac).into()).ok()?;
        (self.began.elapsed().as_secs() < end).then_some(())
    }

    fn mac(&self, purpose: Purpose, browser: &str, end: u64, nonce: [u8; NONCE]) -> Hmac<Sha256> {
        let purpose: &[u8] = match purpose {
            Purpose::SignIn => b"sign-in\0",
            Purpose::Emergency => b"emergency\0",
        };
        let mac = Hmac::<Sha256>::new_from_slice(&*self.key).expect("any length is a key of HMAC");
        // What comes before the browser has a fixed length, so no two parts run into each other.
        mac.chain_update(purpose).chain_update(end.to_be_bytes()).chain_update(nonce).chain_update(browser)
    }
}

fn random_bytes<const N: usize>() -> [u8; N] {
    let mut bytes = [0; N];
    getrandom::fill(&mut bytes).expect("the machine gave random bytes for the journal, and gives them still");
    bytes
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_token_is_good_for_its_purpose_and_its_browser_however_many_are_given_out() {
        let tokens = DoorTokens::default();
        let token = tokens.give(Purpose::Emergency, "one");
        for _ in 0..5_000 {
            tokens.give(Purpose::Emergency, "other");
        }
        assert!(tokens.knows(Purpose::Emergency, "one", &token));
        assert!(!tokens.knows(Purpose::SignIn, "one", &token), "of another purpose");
        assert!(!tokens.knows(Purpose::Emergency, "other", &token), "of another browser");
        let other_server = DoorTokens::default();
        assert!(!other_server.knows(Purpose::Emergency, "one", &tokens.give(Purpose::Emergency, "one")));
        for changed in ["", "AAAA", &token[1..], &format!("{token}A")] {
            assert!(!tokens.knows(Purpose::Emergency, "one", changed), "{changed}");
        }
    }
}
