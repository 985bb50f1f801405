//! The store key: 32 random bytes in a file of their own, from which every other secret of the store is derived.

use std::fs;
use std::io;
use std::path::Path;

use data_encoding::{HEXLOWER, HEXLOWER_PERMISSIVE};
use hkdf::Hkdf;
use sha2::Sha256;
use zeroize::Zeroizing;

use super::signature::random;
use crate::journal::{JournalError, files};

pub(in crate::journal) struct StoreKey(Zeroizing<[u8; 32]>);

impl StoreKey {
    pub(in crate::journal) fn random() -> Result<Self, JournalError> {
        random().map(|bytes| Self(Zeroizing::new(bytes)))
    }

    pub(in crate::journal) fn read(path: &Path) -> Result<Self, JournalError> {
        let text = match fs::read_to_string(path) {
            Ok(text) => Zeroizing::new(text),
            Err(error) if error.kind() == io::ErrorKind::NotFound => {
                return Err(JournalError::StoreKeyMissing { path: path.to_owned() });
            }
            Err(error) if error.kind() == io::ErrorKind::InvalidData => {
                return Err(JournalError::StoreKeyMalformed { path: path.to_owned() });
            }
            Err(error) => return Err(JournalError::file(path)(error)),
        };
        files::only_ours(path)?;
        Self::of_hex(&text).ok_or_else(|| JournalError::StoreKeyMalformed { path: path.to_owned() })
    }

    pub(in crate::journal) fn of_hex(text: &str) -> Option<Self> {
        let bytes = Zeroizing::new(HEXLOWER_PERMISSIVE.decode(text.trim().as_bytes()).ok()?);
        Some(Self(Zeroizing::new(bytes.as_slice().try_into().ok()?)))
    }

    pub(in crate::journal) fn to_hex(&self) -> Zeroizing<String> {
        Zeroizing::new(HEXLOWER.encode(&*self.0) + "\n")
    }

    /// A key for one purpose (HKDF-SHA256, RFC 5869).
    pub(super) fn derive(&self, purpose: &str) -> Zeroizing<[u8; 32]> {
        derive(&[], &self.0, purpose)
    }

    /// A key that takes the store key and something else to derive.
    pub(super) fn derive_with(&self, other: &[u8; 32], purpose: &str) -> Zeroizing<[u8; 32]> {
        derive(other, &self.0, purpose)
    }
}

pub(super) fn derive(salt: &[u8], secret: &[u8; 32], purpose: &str) -> Zeroizing<[u8; 32]> {
    let mut key = Zeroizing::new([0; 32]);
    let info = format!("countersign journal {purpose}");
    Hkdf::<Sha256>::new(Some(salt), secret)
        .expand(info.as_bytes(), &mut *key)
        .expect("32 bytes are far below what HKDF gives at most");
    key
}
