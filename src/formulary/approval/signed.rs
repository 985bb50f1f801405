//! The approval as it is signed, written and read: `approval.yaml`.

use std::fmt::Write as _;

use data_encoding::{BASE64, HEXLOWER};
use ed25519_dalek::{Signature, VerifyingKey};
use jiff::civil::Date;

use crate::document::{Fields, Item, Refusal, Typed};
use crate::formulary::files::Fingerprint;
use crate::formulary::person::is_same;
use crate::quantity::parse_date;

/// What a person signs of a formulary begins so, and can be taken for nothing else that is signed.
pub const PERSON_STATEMENT: &[u8] = b"countersign formulary statement 1\0";

/// An author's signature, and that of the second pharmacist where there is one, over the sums of the files.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Approval {
    since: Option<String>,
    author: ApprovalSignature,
    second: Option<ApprovalSignature>,
    files: Vec<(String, String)>,
}

/// One signature.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ApprovalSignature {
    /// Who, as the journal knows them.
    pub name: String,
    /// When.
    pub on: Date,
    /// What verifies it: Ed25519.
    pub key: [u8; 32],
    signature: [u8; 64],
}

/// Somebody about to sign.
pub struct Signing<'s> {
    /// Who.
    pub name: &'s str,
    /// When.
    pub on: Date,
    /// What verifies their signatures.
    pub key: [u8; 32],
    /// Signs a statement, after [`PERSON_STATEMENT`].
    pub sign: &'s dyn Fn(&[u8]) -> [u8; 64],
}

impl Approval {
    /// The author signs: these bytes, changed since those of another fingerprint, or the first that are ever approved.
    #[must_use]
    pub fn by_author(author: &Signing<'_>, since: Option<String>, fingerprint: &Fingerprint) -> Self {
        let files = fingerprint.manifest().to_vec();
        let statement = statement("author", author, since.as_deref(), &fingerprint.to_string(), None);
        Self { since, author: author.signed(&statement), second: None, files }
    }

    /// The second pharmacist signs the same bytes. Nothing where it is the author once more, by name or by key.
    #[must_use]
    pub fn and_second(&self, second: &Signing<'_>) -> Option<Self> {
        if self.is_authors(second.name, &second.key) {
            return None;
        }
        let fingerprint = Fingerprint::of(self.files.clone()).to_string();
        let statement = statement("second", second, self.since.as_deref(), &fingerprint, Some(&self.author.key));
        Some(Self { second: Some(second.signed(&statement)), ..self.clone() })
    }

    /// The fingerprint of the formulary that was approved before, and whose changes were read.
    #[must_use]
    pub fn since(&self) -> Option<&str> {
        self.since.as_deref()
    }

    /// Who wrote the changes.
    #[must_use]
    pub const fn author(&self) -> &ApprovalSignature {
        &self.author
    }

    /// Who read them in their sources.
    #[must_use]
    pub const fn second(&self) -> Option<&ApprovalSignature> {
        self.second.as_ref()
    }

    /// Path and SHA-256 of each file.
    #[must_use]
    pub fn files(&self) -> &[(String, String)] {
        &self.files
    }

    /// Whether somebody is the author.
    #[must_use]
    pub fn is_authors(&self, name: &str, key: &[u8; 32]) -> bool {
        self.author.key == *key || is_same(&self.author.name, name)
    }

    /// The text of `approval.yaml`.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = String::new();
        if let Some(since) = &self.since {
            let _ = writeln!(text, "since: {since}");
        }
        for (who, signed) in [("author", Some(&self.author)), ("second", self.second.as_ref())] {
            let Some(signed) = signed else { continue };
            let name = serde_json::Value::from(signed.name.as_str());
            let (key, signature) = (HEXLOWER.encode(&signed.key), BASE64.encode(&signed.signature));
            let _ = writeln!(
                text,
                "{who}:\n  name: {name}\n  on: {}\n  key: \"{key}\"\n  signature: \"{signature}\"",
                signed.on
            );
        }
        text.push_str("files:\n");
        for (path, sum) in &self.files {
            let _ = writeln!(text, "  {path}: \"{sum}\"");
        }
        text
    }

    pub(super) fn read(mut fields: Fields<'_, '_, '_>) -> Option<Self> {
        let since = fields.item("since").map(|item| item.text(hex_of::<32>));
        let author = fields.required_item("author").and_then(signed);
        let second = fields.item("second").map(signed);
        let files = fields.required_item("files").and_then(Item::entries).and_then(|entries| {
            entries.read(|member, item| Some((member.key.to_string(), HEXLOWER.encode(&item.text(hex_of::<32>)?))))
        });
        if let (Some(author), Some(Some(second))) = (&author, &second)
            && (author.key == second.key || is_same(&author.name, &second.name))
        {
            let refusal = Refusal::new("approval-by-one", "the author and the second pharmacist are one person");
            fields.refuse(
                "second",
                refusal.help("another pharmacist reads the changes: `countersign formulary approve`"),
            );
            return None;
        }
        fields.no_others();
        let since = match since {
            Some(read) => Some(HEXLOWER.encode(&read?)),
            None => None,
        };
        let second = match second {
            Some(read) => Some(read?),
            None => None,
        };
        Some(Self { since, author: author?, second, files: files? })
    }

    /// Whose signature is not of these files, if anybody's.
    pub(super) fn unsound(&self) -> Option<&str> {
        let fingerprint = Fingerprint::of(self.files.clone()).to_string();
        let said = |role, signed: &ApprovalSignature, author| {
            let signing = Signing { name: &signed.name, on: signed.on, key: signed.key, sign: &|_| signed.signature };
            statement(role, &signing, self.since.as_deref(), &fingerprint, author)
        };
        let sound = |signed: &ApprovalSignature, statement: &[u8]| {
            let signature = Signature::from_bytes(&signed.signature);
            let bytes = [PERSON_STATEMENT, statement].concat();
            VerifyingKey::from_bytes(&signed.key).is_ok_and(|key| key.verify_strict(&bytes, &signature).is_ok())
        };
        if !sound(&self.author, &said("author", &self.author, None)) {
            return Some(&self.author.name);
        }
        let second = self.second.as_ref()?;
        (!sound(second, &said("second", second, Some(&self.author.key)))).then_some(second.name.as_str())
    }
}

impl Signing<'_> {
    fn signed(&self, statement: &[u8]) -> ApprovalSignature {
        ApprovalSignature { name: self.name.to_owned(), on: self.on, key: self.key, signature: (self.sign)(statement) }
    }
}

/// What one of the two signs. The second's names the author's key, so that neither half fits another's.
fn statement(
    role: &str,
    who: &Signing<'_>,
    since: Option<&str>,
    fingerprint: &str,
    author: Option<&[u8; 32]>,
) -> Vec<u8> {
    let author = author.map(|key| HEXLOWER.encode(key)).unwrap_or_default();
    let since = since.unwrap_or_default();
    // Through JSON, so that no name can be written that moves into the next part.
    serde_json::json!([role, who.name, who.on.to_string(), since, fingerprint, author]).to_string().into_bytes()
}

fn signed(item: Item<'_, '_, '_>) -> Option<ApprovalSignature> {
    let mut fields = item.fields()?;
    let name = fields.required("name", |typed| {
        let name = typed.text().trim();
        if name.chars().any(char::is_alphabetic) && !name.chars().any(char::is_control) {
            return Ok(name.to_owned());
        }
        Err(Refusal::new("approval-unreadable", "this is nobody's name").help(AGAIN))
    });
    let on = fields.required("on", |typed| Ok(parse_date(typed.text())?));
    let key = fields.required("key", hex_of::<32>);
    let signature = fields.required("signature", |typed| {
        let decoded = BASE64.decode(typed.text().trim().as_bytes()).ok();
        decoded
            .and_then(|bytes| bytes.try_into().ok())
            .ok_or_else(|| Refusal::new("approval-unreadable", "this is no signature: 64 bytes in base64").help(AGAIN))
    });
    fields.no_others();
    Some(ApprovalSignature { name: name?, on: on?, key: key?, signature: signature? })
}

const AGAIN: &str = "this file is written by `countersign formulary sign` and `approve`: take it from there once more";

fn hex_of<const N: usize>(typed: &Typed<'_, '_>) -> Result<[u8; N], Refusal> {
    let decoded = HEXLOWER.decode(typed.text().trim().as_bytes()).ok();
    decoded.and_then(|bytes| bytes.try_into().ok()).ok_or_else(|| {
        Refusal::new("approval-unreadable", format!("this is not {} hexadecimal digits in small letters", 2 * N))
            .help(AGAIN)
    })
}
