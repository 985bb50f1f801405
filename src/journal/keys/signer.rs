//! A person's signing key, and how it is kept: sealed under the store key and the PIN together.

use std::fmt;
use std::sync::{Mutex, MutexGuard, PoisonError};

use argon2::{Algorithm, Argon2, Block, Params, Version};
use data_encoding::{BASE64, HEXLOWER};
use ed25519_dalek::SigningKey;
use serde::{Deserialize, Serialize};
use zeroize::{Zeroize as _, Zeroizing};

use super::boxed;
use super::signature::{self, random};
use super::store::StoreKey;
use crate::journal::JournalError;

/// Who holds the store key tries all PINs of fewer characters in no time.
const PIN_LEAST: usize = 6;

/// What one guess of a PIN costs. It is kept with each sealed key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::journal) struct Cost {
    memory_kib: u32,
    passes: u32,
    lanes: u32,
}

impl Cost {
    /// OWASP Password Storage Cheat Sheet: argon2id, 19 MiB, 2 passes, 1 lane.
    const FOR_PATIENTS: Self = Self { memory_kib: 19 * 1024, passes: 2, lanes: 1 };
    /// In a journal for demonstration a PIN protects invented people alone.
    const FOR_DEMONSTRATION: Self = Self { memory_kib: 1024, passes: 1, lanes: 1 };

    pub(in crate::journal) const fn of_a(demonstration: bool) -> Self {
        if demonstration { Self::FOR_DEMONSTRATION } else { Self::FOR_PATIENTS }
    }
}

/// What a sealed key may ask for at most: it comes out of a file.
const MOST_KIB: u32 = 256 * 1024;
const MOST_PASSES: u32 = 16;
const MOST_LANES: u32 = 8;

/// What derivations work in is used again: given back and asked for anew by one thread after the other, it would stay with
/// each of them, and a server would hold it many times over.
static MEMORY: Mutex<Vec<Vec<Block>>> = Mutex::new(Vec::new());

/// As many are kept as a server derives keys at the same time.
const KEPT_MEMORY: usize = 4;

fn locked() -> MutexGuard<'static, Vec<Vec<Block>>> {
    MEMORY.lock().unwrap_or_else(PoisonError::into_inner)
}

/// A signing key that takes the store key and the PIN to open. Goes into an event as it is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SealedSigner {
    /// Hex, 16 bytes.
    salt: String,
    memory_kib: u32,
    passes: u32,
    lanes: u32,
    /// Base64: nonce and sealed key.
    sealed: String,
    /// Hex: what verifies its signatures.
    public: String,
}

/// An unlocked signing key and the name it signs under. Shows the name only; the key is wiped when it goes.
pub struct Signer {
    id: String,
    key: SigningKey,
    /// Whether a session holds it open, so that no PIN was typed for what it signs.
    held: bool,
}

/// The PIN does not open the key.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the PIN is not the right one")]
pub struct WrongPin;

impl Signer {
    /// The name it signs under.
    #[must_use]
    pub fn id(&self) -> &str {
        &self.id
    }

    /// The same key, held open by a session: what weighs most is not signed with it.
    #[must_use]
    pub fn hold(self) -> Self {
        Self { held: true, ..self }
    }

    /// Whether a session holds it open.
    #[must_use]
    pub const fn is_held(&self) -> bool {
        self.held
    }

    /// What verifies its signatures: Ed25519.
    #[must_use]
    pub fn public(&self) -> [u8; 32] {
        self.key.verifying_key().to_bytes()
    }

    /// Signs a statement that is no event; [`Signer::public`] verifies it. What it begins with says of
    /// which kind it is: `countersign KIND statement N` and a zero byte.
    #[must_use]
    pub fn sign_statement(&self, domain: &[u8], statement: &[u8]) -> [u8; 64] {
        debug_assert!(
            domain.starts_with(b"countersign ") && domain.ends_with(b" statement 1\0"),
            "no event is signed so"
        );
        signature::sign(&self.key, domain, statement)
    }

    /// Seals a note that only this person opens again: what they have typed and not yet signed. Bound to names.
    #[must_use]
    pub fn seal_note(&self, bound_to: &[&str], plain: &[u8]) -> Vec<u8> {
        boxed::seal(&self.note_key(), bound_to, plain)
    }

    /// Opens such a note; nothing where it is another person's, has other names, or was changed.
    #[must_use]
    pub fn open_note(&self, bound_to: &[&str], sealed: &[u8]) -> Option<Vec<u8>> {
        boxed::open(&self.note_key(), bound_to, sealed)
    }

    /// A key of its own for notes, so that nothing sealed with it tells of the key that signs.
    fn note_key(&self) -> Zeroizing<[u8; 32]> {
        let seed = Zeroizing::new(self.key.to_bytes());
        let mut key = Zeroizing::new([0; 32]);
        hkdf::Hkdf::<sha2::Sha256>::new(None, &*seed)
            .expand(b"countersign note sealing 1", &mut *key)
            .expect("32 bytes are few enough");
        key
    }

    pub(super) fn random(id: &str) -> Result<Self, JournalError> {
        let seed = Zeroizing::new(random()?);
        Ok(Self { id: id.to_owned(), key: SigningKey::from_bytes(&seed), held: false })
    }

    pub(super) const fn key(&self) -> &SigningKey {
        &self.key
    }
}

impl fmt::Debug for Signer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Signer").field("id", &self.id).finish_non_exhaustive()
    }
}

impl SealedSigner {
    /// What verifies the signatures of the sealed key; nothing when it was written by another hand.
    #[must_use]
    pub fn public(&self) -> Option<[u8; 32]> {
        HEXLOWER.decode(self.public.as_bytes()).ok()?.try_into().ok()
    }

    pub(super) fn seal(store: &StoreKey, signer: &Signer, pin: &str, cost: Cost) -> Result<Self, JournalError> {
        if pin.chars().count() < PIN_LEAST {
            return Err(JournalError::PinTooShort { least: PIN_LEAST });
        }
        let mut sealed = Self {
            salt: HEXLOWER.encode(&random::<16>()?),
            memory_kib: cost.memory_kib,
            passes: cost.passes,
            lanes: cost.lanes,
            sealed: String::new(),
            public: HEXLOWER.encode(&signer.public()),
        };
        let key = sealed.key(store, pin).expect("these parameters are allowed");
        let seed = Zeroizing::new(signer.key.to_bytes());
        sealed.sealed = BASE64.encode(&boxed::seal(&key, &["signer", &signer.id, &sealed.public], &*seed));
        Ok(sealed)
    }

    pub(super) fn open(&self, store: &StoreKey, id: &str, pin: &str) -> Result<Signer, WrongPin> {
        let opened = || {
            let key = self.key(store, pin)?;
            let sealed = BASE64.decode(self.sealed.as_bytes()).ok()?;
            let mut plain = boxed::open(&key, &["signer", id, &self.public], &sealed)?;
            let seed = plain.as_slice().try_into().ok().map(Zeroizing::<[u8; 32]>::new);
            plain.zeroize();
            let signer = Signer { id: id.to_owned(), key: SigningKey::from_bytes(&*seed?), held: false };
            (Some(signer.public()) == self.public()).then_some(signer)
        };
        opened().ok_or(WrongPin)
    }

    fn key(&self, store: &StoreKey, pin: &str) -> Option<Zeroizing<[u8; 32]>> {
        if self.memory_kib > MOST_KIB || self.passes > MOST_PASSES || self.lanes > MOST_LANES {
            return None;
        }
        let parameters = Params::new(self.memory_kib, self.passes, self.lanes, Some(32)).ok()?;
        let salt = HEXLOWER.decode(self.salt.as_bytes()).ok()?;
        let mut hashed = Zeroizing::new([0; 32]);
        let mut memory = locked().pop().unwrap_or_default();
        memory.resize(parameters.block_count(), Block::default());
        let done = Argon2::new(Algorithm::Argon2id, Version::V0x13, parameters).hash_password_into_with_memory(
            pin.as_bytes(),
            &salt,
            &mut *hashed,
            &mut memory[..],
        );
        memory.fill(Block::default());
        let mut kept = locked();
        if kept.len() < KEPT_MEMORY {
            kept.push(memory);
        }
        drop(kept);
        done.ok()?;
        Some(store.derive_with(&hashed, "signer sealing 1"))
    }
}
