//! The keys of a journal. In: a store key in a file, PINs. Out: one sealing key per scope, one signing key per person.
//!
//! ```text
//! store key -+- HKDF "store signing"  -> Ed25519, signs what no person signs
//!            +- HKDF "key wrapping"   -> seals each key in case-keys/
//!            +- HKDF "proof"          -> tags each event where it is kept
//!            +- with argon2id(PIN)    -> seals each person's signing key
//! ```

mod boxed;
mod case;
mod signature;
mod signer;
mod store;

use std::fmt;
use std::fs;
use std::path::{Path, PathBuf};

use data_encoding::HEXLOWER;
use ed25519_dalek::SigningKey;
use hmac::{Hmac, KeyInit as _, Mac as _};
use sha2::{Digest as _, Sha256};
use zeroize::Zeroizing;

use super::{JournalError, files};

pub use case::{CaseKey, Unsealable};
pub(super) use signature::random;
pub(super) use signer::Cost;
pub use signer::{SealedSigner, Signer, WrongPin};
pub(super) use store::StoreKey;

/// The keys of one journal. Shows nothing of them.
pub struct Keys {
    store: StoreKey,
    signing: SigningKey,
    wrapping: Zeroizing<[u8; 32]>,
    proving: Zeroizing<[u8; 32]>,
    folder: PathBuf,
    cost: Cost,
}

impl Keys {
    /// A random key for a scope, sealed in its own file, which is on the disk when this returns.
    ///
    /// # Errors
    /// [`JournalError`] when there is one already, or it cannot be written.
    pub fn new_case(&self, scope: &str) -> Result<CaseKey, JournalError> {
        let path = self.path(scope);
        let there = || JournalError::KeyThere { scope: scope.to_owned() };
        if path.exists() {
            return Err(there());
        }
        let key = CaseKey::random()?;
        let beside = path.with_extension("new");
        // Left by a process that was ended in the middle: its key was never given to anybody.
        match fs::remove_file(&beside) {
            Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
                return Err(JournalError::file(&beside)(error));
            }
            _ => {}
        }
        files::write_new(&beside, key.wrapped(&self.wrapping, scope).as_bytes())
            .map_err(JournalError::file(&beside))?;
        // A name that exists is not replaced: of two processes one keeps its key, and the other learns of it.
        let linked = fs::hard_link(&beside, &path).and_then(|()| fs::remove_file(&beside));
        linked.and_then(|()| files::sync_folder(&self.folder)).map_err(|error| {
            let _ = fs::remove_file(&beside);
            if error.kind() == std::io::ErrorKind::AlreadyExists { there() } else { JournalError::file(&path)(error) }
        })?;
        Ok(key)
    }

    /// The key of a scope; nothing when it was forgotten, or never made.
    ///
    /// # Errors
    /// [`JournalError`] when its file cannot be read, is damaged, or can be read by others.
    pub fn case(&self, scope: &str) -> Result<Option<CaseKey>, JournalError> {
        let path = self.path(scope);
        if !path.exists() {
            return Ok(None);
        }
        files::only_ours(&path)?;
        let text = Zeroizing::new(fs::read_to_string(&path).map_err(JournalError::file(&path))?);
        let key = CaseKey::unwrapped(&self.wrapping, scope, text.trim());
        key.map(Some).ok_or(JournalError::KeyDamaged { path })
    }

    /// Overwrites the key of a scope and takes its file away: what it sealed is not readable any more. Nothing happens
    /// where there is none.
    ///
    /// # Errors
    /// [`JournalError`] when the file cannot be changed.
    pub fn forget(&self, scope: &str) -> Result<(), JournalError> {
        let path = self.path(scope);
        for path in [path.with_extension("new"), path] {
            if path.exists() {
                files::erase(&path).map_err(JournalError::file(&path))?;
            }
        }
        Ok(())
    }

    /// A new signing key for a person, sealed under the store key and the PIN.
    ///
    /// # Errors
    /// [`JournalError::PinTooShort`]; none at random from the machine; `store` for a name.
    pub fn new_signer(&self, id: &str, pin: &str) -> Result<(SealedSigner, Signer), JournalError> {
        if id == super::STORE || id.is_empty() {
            return Err(JournalError::SignerName { id: id.to_owned() });
        }
        let signer = Signer::random(id)?;
        Ok((self.reseal(&signer, pin)?, signer))
    }

    /// The signing key of a person. Takes about a twentieth of a second, whether the PIN is right or not.
    ///
    /// # Errors
    /// [`WrongPin`]; a key sealed for another name, or under another store key, looks the same.
    pub fn unlock(&self, id: &str, sealed: &SealedSigner, pin: &str) -> Result<Signer, WrongPin> {
        sealed.open(&self.store, id, pin)
    }

    /// The same key under a new PIN. A kept copy of the old sealed form still opens with the old PIN.
    ///
    /// # Errors
    /// As [`Keys::new_signer`].
    pub fn reseal(&self, signer: &Signer, pin: &str) -> Result<SealedSigner, JournalError> {
        SealedSigner::seal(&self.store, signer, pin, self.cost)
    }

    pub(super) fn open(store: &Path, folder: &Path) -> Result<Self, JournalError> {
        Ok(Self::of(StoreKey::read(store)?, folder))
    }

    pub(super) fn of(store: StoreKey, folder: &Path) -> Self {
        let signing = SigningKey::from_bytes(&store.derive("store signing 1"));
        let wrapping = store.derive("key wrapping 1");
        let proving = store.derive("proof 1");
        Self { store, signing, wrapping, proving, folder: folder.to_owned(), cost: Cost::of_a(false) }
    }

    /// The same keys, for a journal of this kind.
    pub(super) fn of_a(self, demonstration: bool) -> Self {
        Self { cost: Cost::of_a(demonstration), ..self }
    }

    /// Seals what is kept while the journal cannot be written.
    pub(super) fn seal_reserve(&self, plain: &[u8]) -> Vec<u8> {
        boxed::seal(&self.store.derive("reserve 1"), &["reserve"], plain)
    }

    pub(super) fn open_reserve(&self, sealed: &[u8]) -> Option<Zeroizing<Vec<u8>>> {
        boxed::open(&self.store.derive("reserve 1"), &["reserve"], sealed).map(Zeroizing::new)
    }

    pub(super) fn sign_as_store(&self, bytes: &[u8]) -> [u8; 64] {
        signature::sign(&self.signing, signature::OTHER, bytes)
    }

    pub(super) fn sign_event(&self, by: Option<&Signer>, bytes: &[u8]) -> [u8; 64] {
        signature::sign(by.map_or(&self.signing, Signer::key), signature::EVENT, bytes)
    }

    pub(super) fn sign_checkpoint(&self, bytes: &[u8]) -> [u8; 64] {
        signature::sign(&self.signing, signature::CHECKPOINT, bytes)
    }

    /// HMAC-SHA256 under a key of its own, which only the store key gives.
    pub(super) fn proof(&self, bytes: &[u8]) -> [u8; 32] {
        self.mac(bytes).finalize().into_bytes().into()
    }

    pub(super) fn is_proof(&self, bytes: &[u8], tag: &[u8]) -> bool {
        self.mac(bytes).verify_slice(tag).is_ok()
    }

    fn mac(&self, bytes: &[u8]) -> Hmac<Sha256> {
        let mac = Hmac::<Sha256>::new_from_slice(&*self.proving).expect("any length is a key of HMAC");
        mac.chain_update(bytes)
    }

    pub(super) fn store_public(&self) -> [u8; 32] {
        self.signing.verifying_key().to_bytes()
    }

    #[cfg(feature = "backup")]
    pub(super) const fn store(&self) -> &StoreKey {
        &self.store
    }

    #[cfg(feature = "backup")]
    pub(super) fn folder(&self) -> &Path {
        &self.folder
    }

    /// Any text may be a scope, and the name of a file says nothing of it.
    fn path(&self, scope: &str) -> PathBuf {
        self.folder.join(case_file(scope))
    }
}

impl fmt::Debug for Keys {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Keys").field("folder", &self.folder).finish_non_exhaustive()
    }
}

/// The name of the file that holds the key of a scope.
pub(super) fn case_file(scope: &str) -> String {
    format!("{}.key", HEXLOWER.encode(&Sha256::digest(scope.as_bytes())[..16]))
}

/// Whether the store of this public key signed these bytes with [`super::Journal::sign_as_store`].
#[must_use]
pub fn verify_store_signature(public: &[u8; 32], bytes: &[u8], signature: &[u8; 64]) -> bool {
    signature::verify(public, signature::OTHER, bytes, signature)
}

pub(super) fn verify_event(public: &[u8; 32], bytes: &[u8], signature: &[u8]) -> bool {
    signature.try_into().is_ok_and(|signature| signature::verify(public, signature::EVENT, bytes, signature))
}

pub(super) fn verify_checkpoint(public: &[u8; 32], bytes: &[u8], signature: &[u8; 64]) -> bool {
    signature::verify(public, signature::CHECKPOINT, bytes, signature)
}
