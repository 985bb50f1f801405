//! What a lint rule is: it looks at a formulary as it stands and adds what a pharmacist should look at again.

use std::ops::Range;

use crate::diagnostic::explained::{CodeFamily, Explanation};
use crate::diagnostic::{Fault, Level};
use crate::document::{Member, Node, Value};
use crate::formulary::{Drug, Formulary};
use crate::quantity::Moment;

use super::spelling::Written;

/// A kind of remark: its stable name, and how much it weighs. What it means is in `diagnostic::explained`.
#[derive(Debug, PartialEq, Eq)]
pub struct Code {
    /// Kebab-case, stable, unique.
    pub id: &'static str,
    /// How much it weighs.
    pub level: Level,
}

impl Code {
    /// To be mended, or named among the file's exceptions by somebody who answers for it.
    pub(super) const fn error(id: &'static str) -> Self {
        Self { id, level: Level::Error }
    }

    /// To be mended, or accepted with a written reason.
    pub(super) const fn warning(id: &'static str) -> Self {
        Self { id, level: Level::Warning }
    }

    /// To be known.
    pub(super) const fn note(id: &'static str) -> Self {
        Self { id, level: Level::Note }
    }

    /// What it means, why it matters, and what to do about it.
    #[must_use]
    pub fn explanation(&self) -> Option<&'static Explanation> {
        CodeFamily::Lint.explained(self.id)
    }
}

/// One rule: the kinds of remark that it can make, and at what it looks.
#[derive(Debug)]
pub struct Rule {
    /// Every kind of remark that it can make.
    pub codes: &'static [&'static Code],
    pub(super) looks: Looks,
}

/// At what a rule looks.
#[derive(Debug, Clone, Copy)]
pub(super) enum Looks {
    /// At the text of one file, even of one that cannot be used.
    File(fn(&FileSeen<'_>, &mut Remarks)),
    /// At one drug.
    Drug(fn(&DrugSeen<'_>, &mut Remarks)),
    /// At all drugs side by side, at the areas and the equipment.
    All(fn(&AllSeen<'_>, &mut Remarks)),
    /// At a written reason that answers no remark.
    Unanswering(fn(&Drug, &Reason<'_>, &mut Remarks)),
}

/// A file as a tree.
pub(super) struct FileSeen<'s> {
    /// From the formulary folder on.
    pub(super) path: &'s str,
    pub(super) root: &'s Node<'s>,
}

/// A drug, in its formulary, at a moment.
pub(super) struct DrugSeen<'s> {
    pub(super) formulary: &'s Formulary,
    pub(super) now: Moment,
    pub(super) drug: &'s Drug,
    pub(super) root: &'s Node<'s>,
}

/// Every drug that can be used, in its formulary.
pub(super) struct AllSeen<'s> {
    pub(super) formulary: &'s Formulary,
    pub(super) drugs: &'s [&'s Drug],
}

/// A written reason of a drug's file: the code that it names, and its keys from the root on.
pub(super) struct Reason<'r> {
    pub(super) code: &'r str,
    pub(super) keys: &'r [&'r str],
    /// Whether it may answer an error.
    pub(super) is_exception: bool,
}

/// One remark about a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Remark {
    /// Its kind.
    pub code: &'static Code,
    /// The file, from the formulary folder on.
    pub file: String,
    /// What was found, where, and what to do.
    pub fault: Fault,
    /// What `--fix` writes at its place, where that is safe.
    pub fix: Option<String>,
    /// Why the pharmacist lets it stand, if that is written in the file.
    pub accepted: Option<String>,
    /// The value that an exception has to name.
    pub(super) value: Option<String>,
    keys: Vec<String>,
}

impl Remark {
    /// Whether a pharmacist may answer for it by name.
    #[must_use]
    pub const fn is_answerable(&self) -> bool {
        self.value.is_some()
    }
}

/// Every remark of a rule goes in here.
#[derive(Debug, Default)]
pub(super) struct Remarks(Vec<Remark>);

impl Remarks {
    /// A remark about the value under these keys, from the root of the file on; `[0]` is the first item of a list.
    pub(super) fn add(
        &mut self,
        code: &'static Code,
        file: &str,
        keys: &[&str],
        message: impl Into<String>,
    ) -> &mut Remark {
        let to_do = code.explanation().map_or("", |code| &*code.to_do);
        let fault = Fault::new(code.id, message).in_field(field_of(keys)).help(to_do);
        self.0.push(Remark {
            code,
            file: file.to_owned(),
            fault,
            fix: None,
            accepted: None,
            value: None,
            keys: keys.iter().map(|key| (*key).to_owned()).collect(),
        });
        self.0.last_mut().expect("just pushed")
    }

    /// A remark about a quantity as it is written.
    pub(super) fn add_at(
        &mut self,
        code: &'static Code,
        file: &str,
        written: &Written<'_>,
        message: impl Into<String>,
    ) -> &mut Remark {
        let remark = self.add(code, file, &[&written.path.to_string()], message);
        remark.fault.range = written.range();
        remark
    }

    /// Those from `first` on that have no place yet get theirs in this tree.
    pub(super) fn place_from(&mut self, first: usize, root: &Node<'_>) {
        self.0.iter_mut().skip(first).for_each(|remark| remark.place_in(root));
    }

    pub(super) const fn len(&self) -> usize {
        self.0.len()
    }

    pub(super) fn iter_mut(&mut self) -> impl Iterator<Item = &mut Remark> {
        self.0.iter_mut()
    }

    pub(super) fn into_inner(self) -> Vec<Remark> {
        self.0
    }
}

impl Remark {
    /// Other help than its kind gives.
    pub(super) fn help(&mut self, help: impl Into<String>) -> &mut Self {
        self.fault.help = Some(help.into());
        self
    }

    /// What is judged, and how somebody answers for it by name.
    pub(super) fn value(&mut self, value: impl std::fmt::Display) {
        let value = value.to_string();
        if self.code.level != Level::Error {
            return;
        }
        let (to_do, fault) = (self.fault.help.take().unwrap_or_default(), &self.fault);
        let exception = format!("{{code: {}, at: {}, value: {value}, by: NAME, why: REASON}}", fault.code, fault.field);
        self.fault.help = Some(format!("{to_do}; if it is meant, write under `exceptions`: - {exception}"));
        self.value = Some(value);
    }

    pub(super) fn fix(&mut self, text: impl Into<String>) -> &mut Self {
        self.fix = Some(text.into());
        self
    }

    pub(super) fn place_in(&mut self, root: &Node<'_>) {
        if self.fault.range.is_none() {
            let keys: Vec<&str> = self.keys.iter().map(String::as_str).collect();
            self.fault.range = range_of(root, &keys);
        }
    }
}

/// Where the value under these keys stands: the value where it is short, else its key; where a key is missing, the last
/// one that is there.
pub(super) fn range_of(root: &Node<'_>, keys: &[&str]) -> Option<Range<usize>> {
    let mut node = root;
    let mut found = None;
    for key in keys {
        match &node.value {
            Value::Map(_) => {
                let Some(member) = node.member(key) else { break };
                found = Some(if is_beside(member) { member.node.range.clone() } else { member.key_range.clone() });
                node = &member.node;
            }
            Value::List(nodes) => {
                let index = key.trim_start_matches('[').trim_end_matches(']').parse().ok();
                let Some(item) = index.and_then(|index: usize| nodes.get(index)) else { break };
                found = Some(item.range.clone());
                node = item;
            }
            Value::Text(_) | Value::Nothing | Value::Bare => break,
        }
    }
    found
}

/// Whether a value begins in the line of its key: of a block below it, the key is marked.
fn is_beside(member: &Member<'_>) -> bool {
    /// A quote, a colon and a space or two.
    const NEAR: usize = 4;
    let is_empty = member.node.range.is_empty();
    !is_empty && member.node.range.start.saturating_sub(member.key_range.end) <= NEAR
}

/// `areas.adult theatre.phases`, and `other_names[0]`.
pub(super) fn field_of(keys: &[&str]) -> String {
    let mut field = String::new();
    for key in keys {
        if !field.is_empty() && !key.starts_with('[') {
            field.push('.');
        }
        field.push_str(key);
    }
    field
}
