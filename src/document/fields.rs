//! The reader a form is built with: a map of the document in, values out, and every fault of the map in one list. A field
//! or an item of a list is a value on its way into the form, with its path.

use std::ops::Range;

use super::{Member, Node, Path, Presence, Refusal, Typed, Value, inspect, near};
use crate::diagnostic::Fault;
use crate::quantity::{clip, look_alike, trimmed};

/// The fields of one map. Each is asked for by its name once; [`Fields::no_others`] then refuses those that were not.
#[derive(Debug)]
#[must_use = "call `no_others` when every field has been asked for"]
pub struct Fields<'n, 'a, 'f> {
    members: &'n [Member<'a>],
    start: usize,
    path: Path<'f>,
    faults: &'f mut Vec<Fault>,
    /// The names asked for so far.
    asked: Vec<&'static str>,
    /// One bit for each of the first 128 members: whether it was asked for.
    found: u128,
    /// Where to look first: forms are mostly written in the order in which they are read.
    next: usize,
    /// One bit for each key, as [`bit_of`] makes it: most fields that a form leaves out are told by it without a search.
    keys: u64,
}

/// A bit that two equal names share; two different ones may share it too.
fn bit_of(name: &str) -> u64 {
    let first = name.as_bytes().first().copied().map_or(0, usize::from);
    1 << ((name.len() * 5 + first) % 64)
}

/// Room for the names that a form asks for, so that it does not grow step by step.
const NAMES: usize = 32;

impl<'n, 'a, 'f> Fields<'n, 'a, 'f> {
    /// The fields of this node; a fault if it is not a map.
    #[must_use]
    pub fn of(node: &'n Node<'a>, path: Path<'f>, faults: &'f mut Vec<Fault>) -> Option<Self> {
        Item::of(node, path, faults).fields()
    }

    pub(super) fn new(members: &'n [Member<'a>], start: usize, path: Path<'f>, faults: &'f mut Vec<Fault>) -> Self {
        let keys = members.iter().fold(0, |keys, member| keys | bit_of(&member.key));
        Self { members, start, path, faults, asked: Vec::with_capacity(NAMES), found: 0, next: 0, keys }
    }

    /// The text of a field that must be there.
    pub fn required<T>(
        &mut self,
        name: &'static str,
        parse: impl FnOnce(&Typed<'n, 'a>) -> Result<T, Refusal>,
    ) -> Option<T> {
        self.required_item(name)?.text(parse)
    }

    /// The text of a field that may be left out; a field that is there and empty is refused. None both when it is absent
    /// and when it was refused: where that matters, see [`Fields::typed`].
    pub fn optional<T>(
        &mut self,
        name: &'static str,
        parse: impl FnOnce(&Typed<'n, 'a>) -> Result<T, Refusal>,
    ) -> Option<T> {
        self.typed(name, parse).value()
    }

    /// As [`Fields::optional`], telling an absent field from a refused one.
    pub fn typed<T>(
        &mut self,
        name: &'static str,
        parse: impl FnOnce(&Typed<'n, 'a>) -> Result<T, Refusal>,
    ) -> Presence<T> {
        self.item(name).map_or(Presence::Absent, |item| item.text(parse).into())
    }

    /// The map in this field, if it is there.
    pub fn map(&mut self, name: &'static str) -> Presence<Fields<'n, 'a, '_>> {
        self.item(name).map_or(Presence::Absent, |item| item.fields().into())
    }

    /// The list in this field, if it is there.
    pub fn list(&mut self, name: &'static str) -> Presence<Items<'n, 'a, '_>> {
        self.item(name).map_or(Presence::Absent, |item| item.items().into())
    }

    /// The map with free keys in this field, if it is there.
    pub fn entries(&mut self, name: &'static str) -> Presence<Entries<'n, 'a, '_>> {
        self.item(name).map_or(Presence::Absent, |item| item.entries().into())
    }

    /// The value of a field that must be there, whatever its shape; a fault if it is absent.
    #[must_use]
    pub fn required_item(&mut self, name: &'static str) -> Option<Item<'n, 'a, '_>> {
        let found = self.find(name);
        if found.is_none() {
            self.missing(name);
        }
        found.map(|member| Item::of_member(member, self.path.field(name), self.faults))
    }

    /// The value of a field, whatever its shape, if it is there.
    #[must_use]
    pub fn item(&mut self, name: &'static str) -> Option<Item<'n, 'a, '_>> {
        self.find(name).map(|member| Item::of_member(member, self.path.field(name), self.faults))
    }

    /// The node of a field, if it is there; the caller reads it and reports what is wrong with it.
    #[must_use]
    pub fn node(&mut self, name: &'static str) -> Option<&'n Node<'a>> {
        self.find(name).map(|member| &member.node)
    }

    /// A fault of a field that only shows beside the others: at its value if it is there, else at the map.
    pub fn refuse(&mut self, name: &'static str, refusal: Refusal) {
        let member = self.members.iter().find(|member| member.key == name);
        let range = match member {
            Some(member) => {
                Typed::of(&member.node).map_or_else(|| member.node.range.clone(), |typed| typed.place(&refusal.range))
            }
            None => self.start..self.start,
        };
        self.faults.push(Fault {
            code: refusal.code,
            field: self.path.field(name).to_string(),
            message: refusal.message,
            help: refusal.help,
            range: Some(range),
        });
    }

    /// Where this map stands in the document.
    #[must_use]
    pub const fn path(&self) -> Path<'f> {
        self.path
    }

    /// Refuses every field that was never asked for, with the name that was probably meant.
    pub fn no_others(self) {
        // A member is unknown exactly if it was not found, unless its key is doubled: that has been reported already.
        if self.members.len() <= FLAGS && self.found.count_ones() as usize == self.members.len() {
            return;
        }
        let asked = self.asked;
        let unknown = self.members.iter().filter(|member| !asked.iter().any(|name| *name == member.key));
        let mut rest = 0usize;
        for (number, member) in unknown.enumerate() {
            if number < inspect::MOST {
                self.faults.push(unknown_field(member, &asked, &self.path));
            } else {
                rest += 1;
            }
        }
        if rest > 0 {
            let message = format!("{rest} more fields are not known here");
            self.faults.push(Fault::new("field-unknown", message).in_field(self.path.to_string()));
        }
    }

    fn find(&mut self, name: &'static str) -> Option<&'n Member<'a>> {
        self.asked.push(name);
        if self.keys & bit_of(name) == 0 {
            return None;
        }
        let (before, after) = self.members.split_at(self.next.min(self.members.len()));
        // Most keys differ in length or first letter, which is seen without a call.
        let first = name.as_bytes().first();
        let is = |member: &Member<'a>| {
            member.key.len() == name.len() && member.key.as_bytes().first() == first && member.key == name
        };
        let at = match after.iter().position(is) {
            Some(at) => before.len() + at,
            None => before.iter().position(is)?,
        };
        if at < FLAGS {
            self.found |= 1 << at;
        }
        self.next = at + 1;
        self.members.get(at)
    }

    fn missing(&mut self, name: &'static str) {
        let place = match self.path {
            Path::Root => String::new(),
            _ => format!(" in `{}`", self.path),
        };
        self.faults.push(Fault {
            code: "field-missing",
            field: self.path.field(name).to_string(),
            message: format!("the field `{name}` is missing{place}"),
            help: Some(format!("write `{name}:` and its value{place}")),
            // There is no place for what is not there; a map inside another one is at least somewhere to begin.
            range: (!self.path.is_root()).then_some(self.start..self.start),
        });
    }
}

/// As many as there are bits in `found`.
const FLAGS: usize = 128;

fn unknown_field(member: &Member<'_>, known: &[&'static str], path: &Path<'_>) -> Fault {
    let mut names = known.to_vec();
    names.sort_unstable();
    names.dedup();
    let list = names.iter().map(|name| format!("`{name}`")).collect::<Vec<_>>().join(", ");
    let retype = look_alike::named(&member.key);
    let unspaced = member.key.split_once(':').filter(|(name, value)| known.contains(name) && !value.is_empty());
    if let Some((name, value)) = unspaced {
        return Fault::new("field-unknown", format!("a space is missing after the colon of `{name}`"))
            .in_field(path.field(name).to_string())
            .at(member.key_range.clone())
            .help(format!("write `{name}: {}`", clip(value)));
    }
    let help = match near::nearest(&member.key, known) {
        Some(name) => format!("{retype}did you mean `{name}`? The fields here are {list}"),
        // Only inside braces can a name stand without a colon.
        None if matches!(member.node.value, super::Value::Nothing) && member.node.range.is_empty() => {
            format!("a comma ends a value inside braces: put a text with a comma in quotes. The fields here are {list}")
        }
        None if member.key.contains(':') => {
            format!("a space follows the colon after a name. The fields here are {list}")
        }
        None => format!("the fields here are {list}"),
    };
    Fault::new("field-unknown", format!("the field `{}` is not known here", clip(&member.key)))
        .in_field(path.field(&member.key).to_string())
        .at(member.key_range.clone())
        .help(help)
}

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

#[cfg(test)]
mod tests;
