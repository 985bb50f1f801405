//! The key of one scope: seals what is private, and hashes it so that nobody can guess.

use std::fmt;

use data_encoding::BASE64;
use hmac::{Hmac, KeyInit as _, Mac as _};
use sha2::Sha256;
use zeroize::{Zeroize as _, Zeroizing};

use super::signature::random;
use super::{boxed, store};
use crate::journal::{Hash, JournalError};

/// A sealed text shows its length only in steps of this.
const PAGE: usize = 1024;

/// Ends the plain text within its last page (ISO/IEC 7816-4: a byte 80, then zeros).
const END: u8 = 0x80;

/// The key of one scope. Shows nothing of it, and is wiped when it goes.
pub struct CaseKey(Zeroizing<[u8; 32]>);

/// It was sealed with another key, or bound to something else, or was changed since.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the seal is not of this key and these names, or it was changed")]
pub struct Unsealable;

impl CaseKey {
    /// Seals bytes, bound to these names (in this order), as base64: XChaCha20-Poly1305, random nonce, padded to a
    /// multiple of 1024 bytes.
    #[must_use]
    pub fn seal(&self, bound_to: &[&str], plain: &[u8]) -> String {
        let mut padded = Zeroizing::new(Vec::with_capacity((plain.len() / PAGE + 1) * PAGE));
        padded.extend_from_slice(plain);
        padded.push(END);
        let whole = padded.len().next_multiple_of(PAGE);
        padded.resize(whole, 0);
        BASE64.encode(&boxed::seal(&self.derive("sealing 1"), bound_to, &padded))
    }

    /// The bytes that were sealed, bound to these very names.
    ///
    /// # Errors
    /// [`Unsealable`].
    pub fn open(&self, bound_to: &[&str], sealed: &str) -> Result<Vec<u8>, Unsealable> {
        let sealed = BASE64.decode(sealed.as_bytes()).map_err(|_| Unsealable)?;
        let mut plain = boxed::open(&self.derive("sealing 1"), bound_to, &sealed).ok_or(Unsealable)?;
        let end = plain.iter().rposition(|byte| *byte != 0).filter(|end| plain[*end] == END).ok_or(Unsealable)?;
        plain.truncate(end);
        Ok(plain)
    }

    /// HMAC-SHA256 under a key derived from this one: without the key nobody finds the text by trying texts.
    #[must_use]
    pub fn salted_hash(&self, bytes: &[u8]) -> Hash {
        let key = self.derive("hashing 1");
        let mac = Hmac::<Sha256>::new_from_slice(&*key).expect("any length is a key of HMAC");
        Hash(mac.chain_update(bytes).finalize().into_bytes().into())
    }

    pub(super) fn random() -> Result<Self, JournalError> {
        random().map(|bytes| Self(Zeroizing::new(bytes)))
    }

    /// As it stands in its file.
    pub(super) fn wrapped(&self, wrapping: &[u8; 32], scope: &str) -> String {
        BASE64.encode(&boxed::seal(wrapping, &["case key", scope], &*self.0)) + "\n"
    }

    pub(super) fn unwrapped(wrapping: &[u8; 32], scope: &str, text: &str) -> Option<Self> {
        let sealed = BASE64.decode(text.as_bytes()).ok()?;
        let mut plain = boxed::open(wrapping, &["case key", scope], &sealed)?;
        let key = plain.as_slice().try_into().ok().map(|bytes| Self(Zeroizing::new(bytes)));
        plain.zeroize();
        key
    }

    fn derive(&self, purpose: &str) -> Zeroizing<[u8; 32]> {
        store::derive(&[], &self.0, purpose)
    }
}

impl fmt::Debug for CaseKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("CaseKey")
    }
}
