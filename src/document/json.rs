//! JSON into the tree: one line in, a [`Node`] out, whose texts are borrowed from the line wherever they have no escape.
//!
//! Nearly every line is read in one go ([`plain`]). For every other one,
//! serde_json checks the grammar and hands over the values; it does not say where they stood. A cursor follows it: what
//! serde_json has accepted is known to be valid, so the next value begins after blanks, commas and colons, and its end
//! is found by its length.

use std::borrow::Cow;
use std::fmt;
use std::ops::Range;

use serde::Deserializer;
use serde::de::{DeserializeSeed, Error, MapAccess, SeqAccess, Visitor};

use super::{DEPTH_LIMIT, Member, Node, Value, inspect, text};
use crate::diagnostic::Fault;

mod plain;

/// Reads one JSON text of at most `limit` bytes. None if it cannot be read; everything that is wrong with it is added to
/// `faults`, doubled keys included, and the tree is still given where only those are wrong.
pub fn read_json<'a>(text: &'a str, limit: usize, faults: &mut Vec<Fault>) -> Option<Node<'a>> {
    if !text::admit(text, limit, faults) {
        return None;
    }
    plain::read(text).or_else(|| carefully(text, faults))
}

fn carefully<'a>(text: &'a str, faults: &mut Vec<Fault>) -> Option<Node<'a>> {
    let mark = text.len() - text.trim_start_matches('\u{feff}').len();
    let mut reader = Reader { text, cursor: mark, suspect: false, too_deep: None };
    let mut deserializer = serde_json::Deserializer::from_str(&text[mark..]);
    let mut root = UNREAD;
    let read = Seed { reader: &mut reader, depth: 0, node: &mut root }.deserialize(&mut deserializer);
    match read.and_then(|()| deserializer.end()) {
        Ok(()) => {
            if reader.suspect {
                inspect::inspect(text, &root, faults);
            }
            Some(root)
        }
        Err(error) => {
            faults.push(match reader.too_deep {
                Some(at) => text::too_deep().at(at..at + 1),
                None => syntax(text, mark, &error),
            });
            None
        }
    }
}

/// The whole entry is the one map with many fields: growing it step by step would copy it four times.
const ROOT_FIELDS: usize = 32;
/// Any other has few; what is larger than a kilobyte costs far more to get and to give back.
const FIELDS: usize = 8;

struct Reader<'a> {
    text: &'a str,
    /// The byte after the last token handed over.
    cursor: usize,
    /// Whether the finished tree must be looked through: a text had an escape, or a key may be doubled.
    suspect: bool,
    too_deep: Option<usize>,
}

impl<'a> Reader<'a> {
    /// The byte at which the next token begins.
    fn next_token(&self) -> usize {
        let rest = self.text.as_bytes().get(self.cursor..).unwrap_or_default();
        let between = |byte: &u8| matches!(byte, b' ' | b'\t' | b'\n' | b'\r' | b',' | b':');
        self.cursor + rest.iter().position(|byte| !between(byte)).unwrap_or(rest.len())
    }

    /// The range of a token of this many bytes, which the cursor passes.
    fn pass(&mut self, start: usize, length: usize) -> Range<usize> {
        self.cursor = (start + length).min(self.text.len());
        start..self.cursor
    }

    fn borrowed(&mut self, text: &str) -> Range<usize> {
        let start = self.next_token();
        self.pass(start, text.len() + 2)
    }

    fn escaped(&mut self) -> Range<usize> {
        self.suspect = true;
        let start = self.next_token();
        let mut bytes = self.text.as_bytes()[start..].iter().enumerate().skip(1);
        let mut length = self.text.len() - start;
        while let Some((at, byte)) = bytes.next() {
            match byte {
                b'\\' => drop(bytes.next()),
                b'"' => {
                    length = at + 1;
                    break;
                }
                _ => {}
            }
        }
        self.pass(start, length)
    }

    fn bare(&mut self) -> Range<usize> {
        let start = self.next_token();
        let rest = &self.text.as_bytes()[start..];
        let ends = |byte: &u8| matches!(byte, b' ' | b'\t' | b'\n' | b'\r' | b',' | b']' | b'}');
        self.pass(start, rest.iter().position(ends).unwrap_or(rest.len()))
    }

    fn bracket(&mut self) -> usize {
        let start = self.next_token();
        self.pass(start, 1).start
    }
}

const UNREAD: Node<'_> = Node { range: 0..0, value: Value::Nothing };
const UNREAD_MEMBER: Member<'_> = Member { key: Cow::Borrowed(""), key_range: 0..0, node: UNREAD };

/// Reads one value into its place in the tree: handing it back through every layer of serde would copy it each time.
struct Seed<'r, 'a> {
    reader: &'r mut Reader<'a>,
    /// How many lists and maps are around the value.
    depth: usize,
    node: &'r mut Node<'a>,
}

impl<'a> Seed<'_, 'a> {
    fn open<E: Error>(&mut self) -> Result<(), E> {
        self.node.range.start = self.reader.bracket();
        if self.depth == DEPTH_LIMIT {
            self.reader.too_deep = Some(self.node.range.start);
            return Err(E::custom("nesting too deep"));
        }
        Ok(())
    }

    fn close<E>(self, value: Value<'a>) -> Result<(), E> {
        self.reader.bracket();
        self.node.range.end = self.reader.cursor;
        self.node.value = value;
        Ok(())
    }

    fn plain<E>(self, value: Value<'a>) -> Result<(), E> {
        *self.node = Node { range: self.reader.bare(), value };
        Ok(())
    }
}

impl<'a> DeserializeSeed<'a> for Seed<'_, 'a> {
    type Value = ();

    fn deserialize<D: Deserializer<'a>>(self, deserializer: D) -> Result<(), D::Error> {
        deserializer.deserialize_any(self)
    }
}

impl<'a> Visitor<'a> for Seed<'_, 'a> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a JSON value")
    }

    fn visit_borrowed_str<E>(self, text: &'a str) -> Result<(), E> {
        self.node.range = self.reader.borrowed(text);
        self.node.value = Value::Text(Cow::Borrowed(text));
        Ok(())
    }

    fn visit_str<E>(self, text: &str) -> Result<(), E> {
        *self.node = Node { range: self.reader.escaped(), value: Value::Text(Cow::Owned(text.to_owned())) };
        Ok(())
    }

    fn visit_unit<E>(self) -> Result<(), E> {
        self.plain(Value::Nothing)
    }

    fn visit_bool<E>(self, _: bool) -> Result<(), E> {
        self.plain(Value::Bare)
    }

    fn visit_i64<E>(self, _: i64) -> Result<(), E> {
        self.plain(Value::Bare)
    }

    fn visit_u64<E>(self, _: u64) -> Result<(), E> {
        self.plain(Value::Bare)
    }

    fn visit_f64<E>(self, _: f64) -> Result<(), E> {
        self.plain(Value::Bare)
    }

    fn visit_seq<A: SeqAccess<'a>>(mut self, mut list: A) -> Result<(), A::Error> {
        self.open()?;
        let mut nodes = Vec::new();
        let mut node = UNREAD;
        let depth = self.depth + 1;
        while list.next_element_seed(Seed { reader: self.reader, depth, node: &mut node })?.is_some() {
            nodes.push(std::mem::replace(&mut node, UNREAD));
        }
        self.close(Value::List(nodes))
    }

    fn visit_map<A: MapAccess<'a>>(mut self, mut map: A) -> Result<(), A::Error> {
        self.open()?;
        let mut members = Vec::new();
        let depth = self.depth + 1;
        while let Some(member) =
            map.next_key_seed(Key { reader: self.reader, members: &mut members, usual: ROOT_FIELDS / depth })?
        {
            map.next_value_seed(Seed { reader: self.reader, depth, node: &mut member.node })?;
        }
        self.reader.suspect |= inspect::may_double(&members);
        self.close(Value::Map(members))
    }
}

/// Reads one key into a new member.
struct Key<'r, 'm, 'a> {
    reader: &'r mut Reader<'a>,
    members: &'m mut Vec<Member<'a>>,
    /// How many members a map has here, about.
    usual: usize,
}

impl<'m, 'a> Key<'_, 'm, 'a> {
    fn push<E>(self, key: Cow<'a, str>, key_range: Range<usize>) -> Result<&'m mut Member<'a>, E> {
        if self.members.is_empty() {
            self.members.reserve(self.usual);
        }
        // Written in place, part by part: a member built first and copied then waits for its own parts to arrive.
        let member = self.members.push_mut(UNREAD_MEMBER);
        member.key = key;
        member.key_range = key_range;
        Ok(member)
    }
}

impl<'m, 'a> DeserializeSeed<'a> for Key<'_, 'm, 'a> {
    type Value = &'m mut Member<'a>;

    fn deserialize<D: Deserializer<'a>>(self, deserializer: D) -> Result<Self::Value, D::Error> {
        deserializer.deserialize_str(self)
    }
}

impl<'m, 'a> Visitor<'a> for Key<'_, 'm, 'a> {
    type Value = &'m mut Member<'a>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a key in quotes")
    }

    fn visit_borrowed_str<E>(self, key: &'a str) -> Result<Self::Value, E> {
        let range = self.reader.borrowed(key);
        self.push(Cow::Borrowed(key), range)
    }

    fn visit_str<E>(self, key: &str) -> Result<Self::Value, E> {
        let range = self.reader.escaped();
        self.push(Cow::Owned(key.to_owned()), range)
    }
}

/// A fault from serde_json's own words, which are `WHAT at line L column C`, the column in bytes from 1.
fn syntax(text: &str, mark: usize, error: &serde_json::Error) -> Fault {
    let body = &text[mark..];
    let line = error.line().saturating_sub(1);
    let line_start: usize = body.split_inclusive('\n').take(line).map(str::len).sum();
    let at = text.floor_char_boundary(mark + line_start + error.column().saturating_sub(1));
    let end = text[at..].chars().next().map_or(at, |c| at + c.len_utf8());

    let said = error.to_string();
    let said = said.rsplit_once(" at line ").map_or(&*said, |(what, _)| what);
    if said == "number out of range" {
        return text::not_quoted().at(at..end);
    }
    let (what, help) = plain_words(said);
    Fault::new("json-syntax", format!("this is not JSON: {what}")).at(at..end).help(help)
}

fn plain_words(said: &str) -> (&str, &'static str) {
    match said {
        "EOF while parsing an object" => {
            ("it ends inside a map", "close the map with `}`; the text may have been cut off")
        }
        "EOF while parsing a list" => {
            ("it ends inside a list", "close the list with `]`; the text may have been cut off")
        }
        "EOF while parsing a string" => {
            ("it ends inside a text", "close the text with `\"`; the text may have been cut off")
        }
        "EOF while parsing a value" => ("it ends where a value should stand", "write the value"),
        "expected `:`" => ("a colon is missing after a field's name", "write \"name\": \"value\""),
        "expected `,` or `}`" => {
            ("a comma or `}` is missing here", "put a comma between two fields, and `}` after the last")
        }
        "expected `,` or `]`" => {
            ("a comma or `]` is missing here", "put a comma between two items, and `]` after the last")
        }
        "trailing comma" => ("a comma stands before the closing bracket", "take the comma away"),
        "trailing characters" => ("something follows after its end", "write one entry a line, and nothing after it"),
        "key must be a string" => ("a field's name is not in quotes", "write \"name\": \"value\""),
        "expected value" | "expected ident" => {
            ("a value should stand here", "write every value in double quotes: \"0.10 mg\"")
        }
        "invalid number" => ("this is no number", "write every value in double quotes: \"0.10 mg\""),
        "invalid escape" => ("a backslash begins an escape that JSON does not have", "write two backslashes for one"),
        "control character (\\u0000-\\u001F) found while parsing a string" => {
            ("a text goes over the end of its line, or holds a tab", "write \\n for a line break and \\t for a tab")
        }
        other => (other, "the JSON standard (RFC 8259) says what may stand here"),
    }
}

#[cfg(test)]
mod tests;
