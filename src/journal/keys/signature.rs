//! Signatures, each for one purpose, and random bytes of the machine.

use ed25519_dalek::{Signature, Signer as _, SigningKey, VerifyingKey};

use crate::journal::JournalError;

/// Domain separation: a signature for one purpose never verifies for another.
pub(super) const EVENT: &[u8] = b"countersign journal event 1\0";
pub(super) const CHECKPOINT: &[u8] = b"countersign journal checkpoint 1\0";
pub(super) const OTHER: &[u8] = b"countersign store statement 1\0";

pub(in crate::journal) fn random<const N: usize>() -> Result<[u8; N], JournalError> {
    let mut bytes = [0; N];
    getrandom::fill(&mut bytes)?;
    Ok(bytes)
}

pub(super) fn sign(key: &SigningKey, domain: &[u8], bytes: &[u8]) -> [u8; 64] {
    key.sign(&[domain, bytes].concat()).to_bytes()
}

pub(super) fn verify(public: &[u8; 32], domain: &[u8], bytes: &[u8], signature: &[u8; 64]) -> bool {
    let signature = Signature::from_bytes(signature);
    VerifyingKey::from_bytes(public)
        .is_ok_and(|public| public.verify_strict(&[domain, bytes].concat(), &signature).is_ok())
}
