//! One value on its way into a form: a field or an item of a list, with its path and the list its faults go to.

use std::ops::Range;

use super::{Fields, Member, Node, Path, Refusal, Typed, Value};
use crate::diagnostic::Fault;
use crate::quantity::trimmed;

/// A value that is there, not yet read.
#[derive(Debug)]
#[must_use = "a value that is not read is not checked"]
pub struct Item<'n, 'a, 'f> {
    node: &'n Node<'a>,
    /// Where a fault of an empty value is marked: the key, if there is one.
    mark: Range<usize>,
    path: Path<'f>,
    faults: &'f mut Vec<Fault>,
}

/// The items of a list, not yet read.
#[derive(Debug)]
#[must_use = "a list that is not read is not checked"]
pub struct Items<'n, 'a, 'f> {
    nodes: &'n [Node<'a>],
    path: Path<'f>,
    faults: &'f mut Vec<Fault>,
}

/// The members of a map whose keys a person chooses, not yet read.
#[derive(Debug)]
#[must_use = "a map that is not read is not checked"]
pub struct Entries<'n, 'a, 'f> {
    members: &'n [Member<'a>],
    path: Path<'f>,
    faults: &'f mut Vec<Fault>,
}

impl<'n, 'a, 'f> Item<'n, 'a, 'f> {
    /// The value at this path.
    pub fn of(node: &'n Node<'a>, path: Path<'f>, faults: &'f mut Vec<Fault>) -> Self {
        Self { node, mark: node.range.clone(), path, faults }
    }

    pub(super) fn of_member(member: &'n Member<'a>, path: Path<'f>, faults: &'f mut Vec<Fault>) -> Self {
        Self { node: &member.node, mark: member.key_range.clone(), path, faults }
    }

    /// The value itself, where a form takes more than one shape.
    #[must_use]
    pub const fn node(&self) -> &'n Node<'a> {
        self.node
    }

    /// What `parse` makes of the text; a fault if there is no text, or if `parse` refuses it.
    pub fn text<T>(self, parse: impl FnOnce(&Typed<'n, 'a>) -> Result<T, Refusal>) -> Option<T> {
        let Some(typed) = Typed::of(self.node).filter(|typed| !trimmed(typed.text()).is_empty()) else {
            return self.wrong_shape("a text", "field-not-text");
        };
        match parse(&typed) {
            Ok(value) => Some(value),
            Err(refusal) => {
                self.faults.push(Fault {
                    code: refusal.code,
                    field: self.path.to_string(),
                    message: refusal.message,
                    help: refusal.help,
                    range: Some(typed.place(&refusal.range)),
                });
                None
            }
        }
    }

    /// A fault of the value as a whole, whatever its shape; nothing comes out.
    pub fn refuse<T>(self, refusal: Refusal) -> Option<T> {
        self.faults.push(Fault {
            code: refusal.code,
            field: self.path.to_string(),
            message: refusal.message,
            help: refusal.help,
            range: Some(self.mark),
        });
        None
    }

    /// The fields of the map; a fault if it is not a map.
    #[must_use]
    pub fn fields(self) -> Option<Fields<'n, 'a, 'f>> {
        match &self.node.value {
            Value::Map(members) => Some(Fields::new(members, self.node.range.start, self.path, self.faults)),
            _ => self.wrong_shape("a map of fields", "field-not-map"),
        }
    }

    /// The items of the list; a fault if it is not a list. An empty list is a list.
    #[must_use]
    pub fn items(self) -> Option<Items<'n, 'a, 'f>> {
        match &self.node.value {
            Value::List(nodes) => Some(Items { nodes, path: self.path, faults: self.faults }),
            _ => self.wrong_shape("a list", "field-not-list"),
        }
    }

    /// The members of a map with free keys; a fault if it is not a map. An empty map is a map.
    #[must_use]
    pub fn entries(self) -> Option<Entries<'n, 'a, 'f>> {
        match &self.node.value {
            Value::Map(members) => Some(Entries { members, path: self.path, faults: self.faults }),
            _ => self.wrong_shape("a map", "field-not-map"),
        }
    }

    fn wrong_shape<T>(self, expected: &'static str, code: &'static str) -> Option<T> {
        let fault = match &self.node.value {
            _ if is_blank(self.node) => empty(&self.path).at(self.mark),
            Value::Bare => super::text::not_quoted().at(self.node.range.clone()),
            _ => Fault::new(code, format!("expected {expected}, found {}", self.node.kind()))
                .at(self.node.range.clone())
                .help(match expected {
                    "a text" => "write one value",
                    "a list" => "write a list, in square brackets: [first, second]",
                    _ => "write its fields, each with a name, a colon and a value",
                }),
        };
        self.faults.push(fault.in_field(self.path.to_string()));
        None
    }
}

impl<'n, 'a> Items<'n, 'a, '_> {
    /// How many there are.
    #[must_use]
    pub const fn len(&self) -> usize {
        self.nodes.len()
    }

    /// Whether there is none.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.nodes.is_empty()
    }

    /// Reads every item, also after one was refused; none if any was.
    pub fn read<T>(self, mut read: impl FnMut(Item<'n, 'a, '_>) -> Option<T>) -> Option<Vec<T>> {
        let mut values = Vec::with_capacity(self.nodes.len());
        for (index, node) in self.nodes.iter().enumerate() {
            values.extend(read(Item::of(node, self.path.item(index), self.faults)));
        }
        (values.len() == self.nodes.len()).then_some(values)
    }
}

impl<'n, 'a> Entries<'n, 'a, '_> {
    /// How many there are.
    #[must_use]
    pub const fn len(&self) -> usize {
        self.members.len()
    }

    /// Whether there is none.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.members.is_empty()
    }

    /// Reads every member with its key, also after one was refused; none if any was. A key that stands twice is given
    /// twice: the reader has reported it.
    pub fn read<T>(self, mut read: impl FnMut(&'n Member<'a>, Item<'n, 'a, '_>) -> Option<T>) -> Option<Vec<T>> {
        let mut values = Vec::with_capacity(self.members.len());
        for member in self.members {
            values.extend(read(member, Item::of_member(member, self.path.field(&member.key), self.faults)));
        }
        (values.len() == self.members.len()).then_some(values)
    }
}

pub(super) fn empty(path: &Path<'_>) -> Fault {
    let name = match path {
        Path::Field(_, name) => format!("the field `{}`", crate::quantity::clip(name)),
        Path::Item(..) => "this item of the list".to_owned(),
        Path::Root => "the document".to_owned(),
    };
    Fault::new("field-empty", format!("{name} is empty")).help("write its value, or take it away if it has none")
}

fn is_blank(node: &Node<'_>) -> bool {
    match &node.value {
        Value::Nothing => true,
        Value::Text(text) => text.trim().is_empty(),
        _ => false,
    }
}
