//! YAML and JSON read into one tree that remembers where everything stood.
//!
//! In: the text of a file or of one line. Out: a [`Node`] with byte ranges, in which every scalar is still the text that
//! was typed, and from which [`Fields`] collects all faults at once; only a text that cannot be read at all is refused
//! with its first fault alone.

use std::borrow::Cow;
use std::ops::Range;

mod fields;
mod file;
mod inspect;
mod json;
mod near;
mod path;
mod text;
mod typed;
mod yaml;

pub use fields::{Entries, Fields, Item, Items};
pub use file::{read_file, read_stream};
pub use json::read_json;
pub use path::Path;
pub use typed::{Presence, Refusal, Typed};
pub use yaml::read_yaml;

/// The longest entry that is read, in bytes: about thirty times a long one, and short enough to be read in a blink.
pub const ENTRY_LIMIT: usize = 64 * 1024;
/// The longest file about one drug, in bytes: room for every area, phase and source a drug has.
pub const DRUG_LIMIT: usize = 256 * 1024;
/// The longest line of a file with one entry a line, in bytes: the same entry, the same limit.
pub const LINE_LIMIT: usize = ENTRY_LIMIT;
/// The deepest nesting that is read. The deepest form has about six levels; a text that goes on opening brackets is not
/// an entry, and must not use up the stack.
pub const DEPTH_LIMIT: usize = 16;

/// A value with the bytes it was read from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Node<'a> {
    /// Bytes of the source text, quotes and brackets included; on whole characters, and always inside the text.
    pub range: Range<usize>,
    /// What stood there.
    pub value: Value<'a>,
}

/// What can stand in a document.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Value<'a> {
    /// A text as typed: `5.0`, `1_000` and `yes` too. Borrowed if and only if it stands in the source in this very form.
    Text(Cow<'a, str>),
    /// A list.
    List(Vec<Node<'a>>),
    /// A map, in the order written; a key may stand twice, and the reader has reported that already.
    Map(Vec<Member<'a>>),
    /// Nothing: an empty YAML value, `~` or `null`.
    Nothing,
    /// A JSON number, `true` or `false`: in JSON everything typed must stand in quotes, or its digits are not kept.
    Bare,
}

/// One field of a map.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Member<'a> {
    /// The key, without quotes.
    pub key: Cow<'a, str>,
    /// Bytes of the key in the source text, quotes included.
    pub key_range: Range<usize>,
    /// The value.
    pub node: Node<'a>,
}

/// Reads a form, in either of the two ways in which one is written.
#[must_use]
pub fn read_form<'a>(text: &'a str, json: bool, faults: &mut Vec<crate::diagnostic::Fault>) -> Option<Node<'a>> {
    if json { read_json(text, ENTRY_LIMIT, faults) } else { read_yaml(text, ENTRY_LIMIT, faults) }
}

impl<'a> Node<'a> {
    /// The first member with this key, if this is a map.
    #[must_use]
    pub fn member(&self, key: &str) -> Option<&Member<'a>> {
        match &self.value {
            Value::Map(members) => members.iter().find(|member| member.key == key),
            _ => None,
        }
    }

    /// The bytes, key and value, of every member with this key anywhere in the tree: what an excerpt must not show.
    #[must_use]
    pub fn places_of(&self, key: &str) -> Vec<Range<usize>> {
        let mut places = Vec::new();
        self.collect_places_of(key, &mut places);
        places
    }

    /// What this is, as a message says it.
    #[must_use]
    pub const fn kind(&self) -> &'static str {
        match self.value {
            Value::Text(_) => "a text",
            Value::List(_) => "a list",
            Value::Map(_) => "a map of fields",
            Value::Nothing => "nothing",
            Value::Bare => "a value without quotes",
        }
    }

    fn collect_places_of(&self, key: &str, places: &mut Vec<Range<usize>>) {
        match &self.value {
            Value::List(nodes) => nodes.iter().for_each(|node| node.collect_places_of(key, places)),
            Value::Map(members) => {
                for member in members {
                    if member.key == key {
                        places.push(member.key_range.start..member.node.range.end.max(member.key_range.end));
                    } else {
                        member.node.collect_places_of(key, places);
                    }
                }
            }
            Value::Text(_) | Value::Nothing | Value::Bare => {}
        }
    }
}

#[cfg(test)]
mod tests;
