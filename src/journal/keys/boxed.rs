//! The one sealed box that everything private goes into: XChaCha20-Poly1305, a random nonce in front, bound to names.

use chacha20poly1305::aead::{Aead as _, KeyInit as _, Payload};
use chacha20poly1305::{XChaCha20Poly1305, XNonce};

const NONCE: usize = 24;

/// Seals `plain` so that it opens only with the same key and the same names.
pub(super) fn seal(key: &[u8; 32], bound_to: &[&str], plain: &[u8]) -> Vec<u8> {
    let mut nonce = [0; NONCE];
    getrandom::fill(&mut nonce).expect("the machine gave random bytes for the key, and gives them still");
    let aad = &*names(bound_to);
    let sealed = XChaCha20Poly1305::new(key.into())
        .encrypt(&XNonce::from(nonce), Payload { msg: plain, aad })
        .expect("a plain text that is in memory is shorter than 256 GiB");
    [&nonce[..], &sealed].concat()
}

/// What was sealed; nothing where the key or a name is another, or a bit was changed.
pub(super) fn open(key: &[u8; 32], bound_to: &[&str], sealed: &[u8]) -> Option<Vec<u8>> {
    let (nonce, sealed) = sealed.split_first_chunk::<NONCE>()?;
    let aad = &*names(bound_to);
    XChaCha20Poly1305::new(key.into()).decrypt(&XNonce::from(*nonce), Payload { msg: sealed, aad }).ok()
}

/// Each name with its length in front: `ab`, `c` is not `a`, `bc`.
fn names(bound_to: &[&str]) -> Vec<u8> {
    let mut bytes = b"countersign sealed 1\0".to_vec();
    for name in bound_to {
        let length = u64::try_from(name.len()).expect("a length is at most 64 bits long");
        bytes.extend_from_slice(&length.to_le_bytes());
        bytes.extend_from_slice(name.as_bytes());
    }
    bytes
}
