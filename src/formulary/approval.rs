//! Who approved which bytes of the formulary: an author who signed them, and a second pharmacist who read every changed
//! value in its source and came to the same. The approval stands outside the fingerprint that it approves.

mod signed;

use jiff::civil::Date;

use crate::diagnostic::Fault;
use crate::document::{DRUG_LIMIT, Fields, Path, read_yaml};

use super::files::Fingerprint;

pub use signed::{Approval, ApprovalSignature, PERSON_STATEMENT, Signing};

/// How a formulary stands with its approval.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ApprovalStatus {
    /// It is for demonstration: nobody approves it, and everything made with it says what it is.
    Demonstration,
    /// Two people approved exactly these bytes.
    Approved {
        /// Who: the author, then the second pharmacist.
        by: Vec<String>,
        /// When the second did.
        on: Date,
    },
    /// The author signed exactly these bytes, and nobody else read them yet.
    Signed {
        /// Who.
        by: String,
        /// When.
        on: Date,
    },
    /// There is no approval.
    Unapproved,
    /// Files were changed, added or taken away after the approval, or a signature is not of these bytes.
    Altered {
        /// Which, with what happened to each.
        changed: Vec<String>,
    },
}

impl ApprovalStatus {
    /// In words, after "approved by".
    #[must_use]
    pub fn said(&self) -> String {
        match self {
            Self::Demonstration => "nobody: it is for demonstration".to_owned(),
            Self::Approved { by, on } => format!("{} on {on}", by.join(" and ")),
            Self::Signed { by, on } => {
                format!("NOBODY YET: signed by its author {by} on {on}, and read by no one else")
            }
            Self::Unapproved => "NOBODY".to_owned(),
            Self::Altered { changed } => format!("NOBODY AS IT IS: altered after its approval: {}", changed.join(", ")),
        }
    }
}

/// Reads an approval and holds it against the bytes as they are.
pub(super) fn standing(
    text: Option<&str>,
    fingerprint: &Fingerprint,
    faults: &mut Vec<Fault>,
) -> Option<(ApprovalStatus, Option<Approval>)> {
    let Some(text) = text else { return Some((ApprovalStatus::Unapproved, None)) };
    let root = read_yaml(text, DRUG_LIMIT, faults)?;
    let approval = Approval::read(Fields::of(&root, Path::Root, faults)?)?;
    let mut changed = changes(approval.files(), fingerprint.manifest());
    changed
        .extend(approval.unsound().map(|name| format!("approval.yaml (the signature of {name} is not of its files)")));
    let author = approval.author();
    let standing = match approval.second() {
        _ if !changed.is_empty() => ApprovalStatus::Altered { changed },
        None => ApprovalStatus::Signed { by: author.name.clone(), on: author.on },
        Some(second) => ApprovalStatus::Approved { by: vec![author.name.clone(), second.name.clone()], on: second.on },
    };
    Some((standing, Some(approval)))
}

fn changes(approved: &[(String, String)], now: &[(String, String)]) -> Vec<String> {
    let find = |list: &[(String, String)], path: &str| {
        list.iter().find(|(known, _)| known == path).map(|(_, sum)| sum.clone())
    };
    let mut changed = Vec::new();
    for (path, sum) in now {
        match find(approved, path) {
            None => changed.push(format!("{path} (added)")),
            Some(approved) if approved != *sum => changed.push(format!("{path} (changed)")),
            Some(_) => {}
        }
    }
    changed.extend(
        approved.iter().filter(|(path, _)| find(now, path).is_none()).map(|(path, _)| format!("{path} (taken away)")),
    );
    changed
}
