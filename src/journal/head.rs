//! Hashes of events, and the head of a journal: which event was the last, as it is written on a card.

use std::fmt;
use std::str::FromStr;

use data_encoding::HEXLOWER;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use sha2::{Digest as _, Sha256};

/// A SHA-256, shown as 64 small hex digits.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, std::hash::Hash)]
pub struct Hash(pub(super) [u8; 32]);

impl Hash {
    /// What the first event names as the one before.
    pub(super) const NONE: Self = Self([0; 32]);

    /// The SHA-256 of these bytes.
    #[must_use]
    pub fn of(bytes: &[u8]) -> Self {
        Self(Sha256::digest(bytes).into())
    }

    /// Its 32 bytes.
    #[must_use]
    pub const fn as_bytes(&self) -> &[u8; 32] {
        &self.0
    }
}

/// Number and hash of one event, the last at some time. Shown as `SEQ:HEX`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Head {
    /// The number of the event; the first is 1.
    pub seq: u64,
    /// The hash of its bytes.
    pub hash: Hash,
}

/// Not a hash, or not a head.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("not a number, a colon and 64 hex digits")]
pub struct NotAHead;

impl FromStr for Hash {
    type Err = NotAHead;

    fn from_str(text: &str) -> Result<Self, NotAHead> {
        let bytes = HEXLOWER.decode(text.as_bytes()).map_err(|_| NotAHead)?;
        bytes.try_into().map(Self).map_err(|_| NotAHead)
    }
}

impl FromStr for Head {
    type Err = NotAHead;

    fn from_str(text: &str) -> Result<Self, NotAHead> {
        let (seq, hash) = text.trim().split_once(':').ok_or(NotAHead)?;
        if !seq.bytes().all(|byte| byte.is_ascii_digit()) {
            return Err(NotAHead);
        }
        Ok(Self { seq: seq.parse().map_err(|_| NotAHead)?, hash: hash.to_ascii_lowercase().parse()? })
    }
}

impl fmt::Display for Hash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&HEXLOWER.encode(&self.0))
    }
}

impl fmt::Debug for Hash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl fmt::Display for Head {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}", self.seq, self.hash)
    }
}

impl Serialize for Hash {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Hash {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        String::deserialize(from)?.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_head_reads_as_it_is_shown() {
        let head = Head { seq: 12, hash: Hash::of(b"") };
        let text = "12:e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855";
        assert_eq!(head.to_string(), text);
        assert_eq!(text.parse(), Ok(head));
        assert_eq!(text.to_ascii_uppercase().parse(), Ok(head));
        for other in ["12", "12:", ":e3", "+1:e3", "12:e3b0", "", "x:y", &text[..text.len() - 1]] {
            assert_eq!(other.parse::<Head>(), Err(NotAHead), "{other}");
        }
    }
}
