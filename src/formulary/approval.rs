//! Who approved which bytes of the formulary. The approval stands outside the fingerprint that it approves.

use jiff::civil::Date;

use crate::diagnostic::Fault;
use crate::document::{DRUG_LIMIT, Fields, Path, Refusal, read_yaml};
use crate::quantity::parse_date;

use super::files::Fingerprint;

/// How a formulary stands with its approval.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Standing {
    /// Two people approved exactly these bytes.
    Approved {
        /// Who.
        by: Vec<String>,
        /// When.
        on: Date,
    },
    /// There is no approval.
    Unapproved,
    /// Files were changed, added or taken away after the approval.
    Altered {
        /// Which, with what happened to each.
        changed: Vec<String>,
    },
}

/// How many people must approve.
pub const APPROVERS: usize = 2;

/// Reads an approval and holds it against the bytes as they are.
pub(super) fn standing(text: Option<&str>, fingerprint: &Fingerprint, faults: &mut Vec<Fault>) -> Option<Standing> {
    let Some(text) = text else { return Some(Standing::Unapproved) };
    let root = read_yaml(text, DRUG_LIMIT, faults)?;
    let mut fields = Fields::of(&root, Path::Root, faults)?;
    let by = fields
        .required_item("approved_by")
        .and_then(crate::document::Item::items)
        .and_then(|items| items.read(|item| item.text(|typed| Ok(typed.text().trim().to_owned()))));
    let on = fields.required("approved_on", |typed| Ok(parse_date(typed.text())?));
    let files = fields.required_item("files").and_then(crate::document::Item::entries).and_then(|entries| {
        entries
            .read(|member, item| Some((member.key.to_string(), item.text(|typed| Ok(typed.text().trim().to_owned()))?)))
    });
    if by.as_ref().is_some_and(|by| different_people(by) < APPROVERS) {
        let refusal =
            Refusal::new("approval-by-one", "fewer than two people approved it").help("two people approve a formulary");
        fields.refuse("approved_by", refusal);
    }
    fields.no_others();
    let (by, on, files) = (by?, on?, files?);
    let changed = changes(&files, fingerprint.manifest());
    Some(if changed.is_empty() { Standing::Approved { by, on } } else { Standing::Altered { changed } })
}

/// How many different people a list of names holds. A name has a letter.
#[must_use]
pub fn different_people(names: &[String]) -> usize {
    let named = |name: &&String| name.chars().any(char::is_alphabetic);
    let mut people: Vec<&String> = Vec::new();
    for name in names.iter().filter(named) {
        if !people.iter().any(|known| super::person::is_same(known, name)) {
            people.push(name);
        }
    }
    people.len()
}

/// The text of an approval of these bytes.
#[must_use]
pub fn approval_text(by: &[String], on: Date, fingerprint: &Fingerprint) -> String {
    use std::fmt::Write as _;
    let quoted = |name: &String| format!("\"{}\"", name.replace(['"', '\\'], ""));
    let names = by.iter().map(quoted).collect::<Vec<_>>().join(", ");
    let mut text = format!("approved_by: [{names}]\napproved_on: {on}\nfiles:\n");
    for (path, sum) in fingerprint.manifest() {
        let _ = writeln!(text, "  {path}: {sum}");
    }
    text
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
