//! A device on which somebody has signed in before. It holds a statement of that, signed by the store and bound to the
//! person's key: a guesser elsewhere has none. It opens nothing; it only gives the device a budget of its own.

use axum::http::HeaderMap;
use data_encoding::BASE64URL_NOPAD;

use crate::case::Person;
use crate::journal::{Hash, Journal, verify_store_signature};

use super::form_tokens::random;
use super::session::{Session, cookie};

const NAME: &str = "known";
/// For so long a device stays known without another sign-in, in seconds: a quarter of a year.
pub(super) const KEPT_SECONDS: u64 = 90 * 86_400;
/// More statements than this are not looked at: no tablet is shared by more people.
const MOST: usize = 64;

/// What a request brings of earlier sign-ins.
#[derive(Debug, Clone, Default)]
pub(super) struct Device {
    statements: Vec<String>,
    /// Who is signed in there.
    session: Option<String>,
}

impl Device {
    /// The cookies of a browser.
    pub(super) fn of(headers: &HeaderMap) -> Self {
        let mut said = Vec::new();
        for at in 0..MOST {
            match cookie(headers, &format!("{NAME}{at}")) {
                Some(statement) if statement.len() < 200 => said.push(statement.to_owned()),
                _ => break,
            }
        }
        Self { statements: said, session: None }
    }

    /// What a program was given with its token.
    pub(super) fn said(statement: Option<&String>) -> Self {
        Self { statements: statement.filter(|one| one.len() < 200).cloned().into_iter().collect(), session: None }
    }

    /// The device of somebody who is signed in, for the witness who types a PIN beside them: a budget of those two.
    pub(super) fn beside(session: &Session) -> Self {
        Self { statements: Vec::new(), session: Some(session.person.id.clone()) }
    }

    /// Whether it says nothing of an earlier sign-in of anybody.
    pub(super) fn is_strange(&self) -> bool {
        self.statements.is_empty() && self.session.is_none()
    }

    /// As what this device is known for a person.
    pub(super) fn known_as(&self, person: &Person, store: &[u8; 32]) -> Option<String> {
        if self.session.is_some() {
            return self.session.clone();
        }
        self.statements.iter().find_map(|statement| {
            let (nonce, signature) = statement.split_once('.')?;
            let signature: [u8; 64] = BASE64URL_NOPAD.decode(signature.as_bytes()).ok()?.try_into().ok()?;
            verify_store_signature(store, &bytes(person, nonce), &signature).then(|| nonce.to_owned())
        })
    }

    /// A statement for this person, signed by the store.
    pub(super) fn statement(person: &Person, journal: &Journal) -> String {
        let nonce = random();
        let signature = journal.sign_as_store(&bytes(person, &nonce));
        format!("{nonce}.{}", BASE64URL_NOPAD.encode(&signature))
    }

    /// The cookie that keeps a statement: the name that is free, or the oldest.
    pub(super) fn next_name(&self) -> String {
        format!("{NAME}{}", self.statements.len() % MOST)
    }
}

/// A new PIN seals the key anew, and the statements of before hold no longer: a device is known for the PIN of now.
fn bytes(person: &Person, nonce: &str) -> Vec<u8> {
    format!("device\0{}\0{}\0{nonce}", person.id, Hash::of(person.sealed_as().as_bytes())).into_bytes()
}
