//! The code on a card: which data it stands for, and that the store vouches for it. In: a card as data; out: a line of
//! text, and back. The form is described in `docs/card.md`.

use std::fmt;

use data_encoding::{BASE32_NOPAD, HEXLOWER};
use serde_json::Value;

use crate::journal::{Hash, Head, verify_store_signature};

use super::code::SetUpCode;
use super::error::{CaseError, refuse};

/// Which form of the code this is: another form begins otherwise.
const BEGINS: &str = "CARD1";

/// What stands on a card of a case.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CardCode {
    /// Whose card it is.
    pub set_up: SetUpCode,
    /// The hash of its data.
    pub card: Hash,
    /// The fingerprint of the formulary it was checked against.
    pub formulary: Hash,
    /// How far the journal had come with its entries.
    pub head: Head,
    signature: [u8; 64],
}

/// Something in which a card, its code and the journal differ.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Differs {
    /// What: a place in the data, or a part of the code.
    pub what: String,
    /// How.
    pub says: String,
}

impl CardCode {
    /// The code of a card, signed.
    ///
    /// # Errors
    /// A fault of the program when the data lacks what every card of a case has.
    pub(super) fn of(card: &Value, set_up: SetUpCode, sign: impl FnOnce(&[u8]) -> [u8; 64]) -> Result<Self, CaseError> {
        let lacks = || CaseError::Fault("a card without fingerprint or head".to_owned());
        let formulary = text(card, "/limits/fingerprint").parse().map_err(|_| lacks())?;
        let head = text(card, "/case/head").parse().map_err(|_| lacks())?;
        let mut code = Self { set_up, card: hash(card), formulary, head, signature: [0; 64] };
        code.signature = sign(code.signed().as_bytes());
        Ok(code)
    }

    /// Reads a code as it was scanned, in small or large letters, with blanks wherever a line was broken.
    ///
    /// # Errors
    /// When it is not one, or of a form that this program does not know.
    pub fn parse(text: &str) -> Result<Self, CaseError> {
        let text: String = text.split_whitespace().collect::<String>().to_ascii_uppercase();
        let help = "scan it again, the whole of it: it begins with `CARD1:`";
        let not = |why: &str| refuse("code-not-a-card-code", format!("this is not the code of a card: {why}"), help);
        let parts: Vec<&str> = text.split(':').collect();
        let [begins, set_up, card, formulary, seq, head, signature] = parts[..] else {
            return Err(not(&format!("it has {} parts, and a code has seven", parts.len())));
        };
        if begins != BEGINS {
            return Err(not("it begins otherwise, or is of a newer form"));
        }
        let (case, number) = SetUpCode::parse(set_up)?;
        let number = number.ok_or_else(|| not("it names a case and no set-up"))?;
        let hash = |part: &str| -> Result<Hash, CaseError> {
            let bytes: [u8; 32] = bytes(part).ok_or_else(|| not("a hash in it is not one"))?;
            HEXLOWER.encode(&bytes).parse().map_err(|_| not("a hash in it is not one"))
        };
        let number_of_event = Some(seq).filter(|seq| seq.bytes().all(|byte| byte.is_ascii_digit()));
        Ok(Self {
            set_up: SetUpCode { case, number },
            card: hash(card)?,
            formulary: hash(formulary)?,
            head: Head {
                seq: number_of_event
                    .and_then(|seq| seq.parse().ok())
                    .ok_or_else(|| not("the number of its event is none"))?,
                hash: hash(head)?,
            },
            signature: bytes(signature).ok_or_else(|| not("its signature is not one"))?,
        })
    }

    /// Whether the store of this public key signed it.
    #[must_use]
    pub fn is_signed_by(&self, store: &[u8; 32]) -> bool {
        verify_store_signature(store, self.signed().as_bytes(), &self.signature)
    }

    /// In what a card and this code differ, and whether the store of this public key signed it. Needs no journal.
    #[must_use]
    pub fn differs(&self, card: &Value, store: &[u8; 32]) -> Vec<Differs> {
        let mut found = Vec::new();
        let mut differs = |what: &str, says: String| found.push(Differs { what: what.to_owned(), says });
        if !self.is_signed_by(store) {
            let says = "it is not that of this journal's store: the code was altered, or is of another journal";
            differs("signature", says.to_owned());
        }
        if hash(card) != self.card {
            differs("card", "its data are not those that were signed".to_owned());
        }
        for (place, signed) in [
            ("case.code", self.set_up.to_string()),
            ("limits.fingerprint", self.formulary.to_string()),
            ("case.head", self.head.to_string()),
        ] {
            let found = text(card, &format!("/{}", place.replace('.', "/")));
            if found != signed {
                differs(place, format!("the card says {}, and its code {signed}", shown(found)));
            }
        }
        found
    }

    /// Everything that the signature is about.
    fn signed(&self) -> String {
        let base32 = |hash: &Hash| BASE32_NOPAD.encode(hash.as_bytes());
        let Head { seq, hash } = self.head;
        format!("{BEGINS}:{}:{}:{}:{seq}:{}", self.set_up, base32(&self.card), base32(&self.formulary), base32(&hash))
    }
}

/// As it stands on the card: capitals, digits and `-/:` alone, which a QR code holds in little room.
impl fmt::Display for CardCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}", self.signed(), BASE32_NOPAD.encode(&self.signature))
    }
}

/// Where the data of two cards differ.
pub(super) fn compared(shown_card: &Value, journals: &Value) -> Vec<Differs> {
    let mut found = Vec::new();
    compare("", shown_card, journals, &mut found);
    found
}

fn compare(place: &str, card: &Value, journals: &Value, found: &mut Vec<Differs>) {
    let below = |name: &str| if place.is_empty() { name.to_owned() } else { format!("{place}.{name}") };
    match (card, journals) {
        (Value::Object(card), Value::Object(own)) => {
            for (name, value) in own {
                compare(&below(name), card.get(name).unwrap_or(&Value::Null), value, found);
            }
            for (name, value) in card.iter().filter(|(name, _)| !own.contains_key(*name)) {
                compare(&below(name), value, &Value::Null, found);
            }
        }
        (Value::Array(card), Value::Array(own)) => {
            for at in 0..card.len().max(own.len()) {
                let of = |values: &[Value]| values.get(at).cloned().unwrap_or(Value::Null);
                compare(&below(&(at + 1).to_string()), &of(card), &of(own), found);
            }
        }
        (card, own) if card != own => {
            let says = |value: &Value| match value {
                Value::Null => "nothing".to_owned(),
                Value::String(text) => shown(text),
                other => shown(&other.to_string()),
            };
            found.push(Differs {
                what: place.to_owned(),
                says: format!("the card says {}, and the journal {}", says(card), says(own)),
            });
        }
        _ => {}
    }
}

/// The SHA-256 of a card's data without blanks, the names of each object in order: the order in which they were
/// written, and the blanks between them, do not matter.
fn hash(card: &Value) -> Hash {
    let mut ordered = card.clone();
    ordered.sort_all_objects();
    Hash::of(ordered.to_string().as_bytes())
}

fn text<'c>(card: &'c Value, place: &str) -> &'c str {
    card.pointer(place).and_then(Value::as_str).unwrap_or_default()
}

fn shown(text: &str) -> String {
    if text.is_empty() { "nothing".to_owned() } else { format!("`{text}`") }
}

fn bytes<const N: usize>(text: &str) -> Option<[u8; N]> {
    BASE32_NOPAD.decode(text.as_bytes()).ok()?.try_into().ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn order_and_blanks_do_not_matter_and_every_value_does() {
        let one: Value = serde_json::from_str(r#"{"b": ["2", "1"], "a": {"y": "1", "x": "2"}}"#).expect("JSON");
        let other: Value = serde_json::from_str(r#"{"a":{"x":"2","y":"1"},"b":["2","1"]}"#).expect("JSON");
        assert_eq!(hash(&one), hash(&other));
        // echo -n '{"a":{"x":"2","y":"1"},"b":["2","1"]}' | sha256sum
        assert_eq!(hash(&one).to_string(), "ec92b6805ef4e3821d0322e3b818fd97f32be3ac0a1045cf44445294820c91b9");
        assert_ne!(hash(&one), hash(&json!({"a": {"x": "2", "y": "1"}, "b": ["1", "2"]})));
    }

    #[test]
    fn what_differs_is_named_by_its_place() {
        let own = json!({"rate": {"value": "5.1"}, "findings": [{"code": "a"}], "at": "now"});
        let card = json!({"rate": {"value": "51"}, "findings": [], "at": "now", "more": "x"});
        let found = compared(&card, &own);
        let places: Vec<&str> = found.iter().map(|one| one.what.as_str()).collect();
        assert_eq!(places, ["rate.value", "findings.1", "more"]);
        assert_eq!(found[0].says, "the card says `51`, and the journal `5.1`");
        assert_eq!(compared(&own, &own), []);
    }
}
