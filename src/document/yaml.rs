//! YAML into the tree: a file in, a [`Node`] out, in which every plain scalar is the text that was typed.
//!
//! The tree is built from the events of the parser under serde-saphyr, which that crate re-exports: its serde interface
//! resolves plain scalars to numbers, applies merge keys and follows aliases before anyone can refuse them. Here `5.0`
//! and `yes` are never anything but text, and whatever makes a file say something it does not show (anchors, aliases,
//! merges, tags, a second document) is refused.

use std::borrow::Cow;
use std::ops::Range;

use serde_yaml::granit_parser::{self, ErrorKind, Event, Parser, ScalarStyle, ScanError, Span, StructureStyle};

use super::{DEPTH_LIMIT, Member, Node, Path, Value, inspect, text};
use crate::diagnostic::Fault;

/// Reads one YAML document of at most `limit` bytes. None if it cannot be read; everything that is wrong with it is added
/// to `faults`, doubled keys included, and the tree is still given where only those are wrong.
pub fn read_yaml<'a>(text: &'a str, limit: usize, faults: &mut Vec<Fault>) -> Option<Node<'a>> {
    if !text::admit(text, limit, faults) {
        return None;
    }
    let options = granit_parser::options! {
        disallow_directives: true,
        emit_unresolved_aliases: true,
        emit_anchor_events: true,
        emit_comments: false,
        flow_nesting_limit: DEPTH_LIMIT,
        block_nesting_limit: DEPTH_LIMIT,
    };
    let mut builder = Builder { text, open: Vec::new(), root: None, documents: 0, refused: Vec::new() };
    for event in Parser::new_from_str_with_options(text, options) {
        let taken = event.map_err(|error| syntax(text, &error)).and_then(|(event, span)| builder.take(event, span));
        if let Err(stop) = taken {
            faults.append(&mut builder.refused);
            faults.push(stop);
            return None;
        }
    }
    let Builder { root, refused, .. } = builder;
    if !refused.is_empty() {
        faults.extend(refused);
        return None;
    }
    match root {
        Some(Node { value: Value::Nothing, .. }) | None => {
            faults.push(text::empty());
            None
        }
        Some(root) => {
            inspect::inspect(text, &root, faults);
            Some(root)
        }
    }
}

struct Builder<'a> {
    text: &'a str,
    open: Vec<Open<'a>>,
    root: Option<Node<'a>>,
    documents: usize,
    /// What is refused and does not keep the rest of the file from being read; not more than anyone needs to be told.
    refused: Vec<Fault>,
}

/// A list or a map whose end has not been seen.
struct Open<'a> {
    start: usize,
    style: StructureStyle,
    inside: Inside<'a>,
}

enum Inside<'a> {
    List(Vec<Node<'a>>),
    /// The members, and the key whose value comes next.
    Map(Vec<Member<'a>>, Option<(Cow<'a, str>, Range<usize>)>),
}

impl<'a> Builder<'a> {
    /// Takes one event; an error is a fault after which nothing more can be read.
    fn take(&mut self, event: Event<'a>, span: Span) -> Result<(), Fault> {
        let range = self.clamped(&span);
        let tag = event.tag().is_some().then(|| span.tag_span().map_or(range.clone(), |tag| self.clamped(&tag)));
        match event {
            Event::DocumentStart(..) => {
                self.documents += 1;
                if self.documents > 1 {
                    return Err(second_document().at(range));
                }
            }
            Event::Scalar(scalar, style, ..) => self.scalar(&scalar, style, range),
            Event::SequenceStart(style, ..) => self.begin(range.start, style, Inside::List(Vec::new()))?,
            Event::MappingStart(style, ..) => self.begin(range.start, style, Inside::Map(Vec::new(), None))?,
            Event::SequenceEnd | Event::MappingEnd => self.end(&range),
            Event::Anchor(_, name) => self.refuse(anchor(&name).at(range)),
            Event::Alias(_) | Event::UnresolvedAlias(_) => {
                // Under `<<` the merge has been refused, alias and all.
                let merged = matches!(self.inside(), Some(Inside::Map(_, Some((key, _)))) if key == "<<");
                self.place(Node { range: range.clone(), value: Value::Nothing });
                if !merged {
                    self.refuse(alias().at(range));
                }
            }
            _ => {}
        }
        if let Some(tag) = tag {
            self.refuse(self::tag().at(tag));
        }
        Ok(())
    }

    fn scalar(&mut self, scalar: &str, style: ScalarStyle, range: Range<usize>) {
        let plain = style == ScalarStyle::Plain;
        let is_key = matches!(self.inside(), Some(Inside::Map(_, None)));
        let merges = plain && is_key && scalar == "<<";
        let written = &self.text[range.clone()];
        // An empty scalar is given as a plain `~` that takes no room; the name of a field may well be `null`.
        let nothing = written.is_empty() || (!is_key && matches!(written, "~" | "null" | "Null" | "NULL"));
        let value = if plain && nothing { Value::Nothing } else { Value::Text(as_written(written, scalar)) };
        self.place(Node { range: range.clone(), value });
        if merges {
            self.refuse(merge().at(range));
        }
    }

    fn inside(&self) -> Option<&Inside<'a>> {
        self.open.last().map(|open| &open.inside)
    }

    fn begin(&mut self, start: usize, style: StructureStyle, inside: Inside<'a>) -> Result<(), Fault> {
        if self.open.len() == DEPTH_LIMIT {
            return Err(text::too_deep().in_field(self.path()).at(start..start));
        }
        self.open.push(Open { start, style, inside });
        Ok(())
    }

    fn end(&mut self, range: &Range<usize>) {
        let Some(Open { start, style, inside }) = self.open.pop() else { return };
        let (last, value) = match inside {
            Inside::List(nodes) => (nodes.last().map(|node| node.range.end), Value::List(nodes)),
            Inside::Map(members, _) => {
                let is_flow = matches!(style, StructureStyle::Flow);
                let members = if is_flow { with_whole_numbers(self.text, members) } else { members };
                (members.last().map(|member| member.node.range.end), Value::Map(members))
            }
        };
        // A block has no closing bracket: its end event stands at whatever comes next.
        let end = match style {
            StructureStyle::Flow => range.end,
            StructureStyle::Block => last.unwrap_or(start),
        };
        self.place(Node { range: start..end.max(start), value });
    }

    /// Puts a finished node where it belongs: into the list, as the map's next key or its value, or as the whole.
    fn place(&mut self, node: Node<'a>) {
        match self.open.last_mut().map(|open| &mut open.inside) {
            None => self.root = Some(node),
            Some(Inside::List(nodes)) => nodes.push(node),
            Some(Inside::Map(members, key @ Some(_))) => {
                if let Some((key, key_range)) = key.take() {
                    members.push(Member { key, key_range, node });
                }
            }
            Some(Inside::Map(_, key @ None)) => match node.value {
                Value::Text(text) => *key = Some((text, node.range)),
                _ => {
                    let fault = key_not_text(node.kind()).at(node.range.clone());
                    *key = Some((Cow::Borrowed("?"), node.range));
                    self.refuse(fault);
                }
            },
        }
    }

    /// Refuses something that belongs to the node placed or begun last.
    fn refuse(&mut self, fault: Fault) {
        if self.refused.len() < inspect::MOST {
            let field = self.path();
            self.refused.push(fault.in_field(field));
        }
    }

    /// The path of the node that was placed or begun last.
    fn path(&self) -> String {
        self.path_from(0, Path::Root)
    }

    fn path_from(&self, at: usize, path: Path<'_>) -> String {
        let innermost = at + 1 >= self.open.len();
        match self.open.get(at).map(|open| &open.inside) {
            None => path.to_string(),
            Some(Inside::List(nodes)) if innermost && nodes.is_empty() => path.to_string(),
            Some(Inside::List(nodes)) => self.path_from(at + 1, path.item(nodes.len() - usize::from(innermost))),
            Some(Inside::Map(members, key)) => {
                match key.as_ref().map(|(key, _)| key).or(members.last().map(|member| &member.key)) {
                    Some(key) => self.path_from(at + 1, path.field(key)),
                    None => path.to_string(),
                }
            }
        }
    }

    /// The span as bytes of the text, on whole characters.
    fn clamped(&self, span: &Span) -> Range<usize> {
        let range = span.byte_range().unwrap_or_default();
        let start = self.text.floor_char_boundary(range.start);
        start..self.text.floor_char_boundary(range.end).max(start)
    }
}

/// Inside braces a comma ends a value: YAML reads `{to: 0,5 mg}` as `0` and a field `5 mg`. The number is put together
/// again as it was typed, and its reader refuses the comma.
fn with_whole_numbers<'a>(text: &'a str, members: Vec<Member<'a>>) -> Vec<Member<'a>> {
    let mut whole: Vec<Member<'a>> = Vec::with_capacity(members.len());
    for member in members {
        let digit = |c: char| c.is_ascii_digit();
        let is_rest = matches!(member.node.value, Value::Nothing)
            && member.node.range.is_empty()
            && member.key.starts_with(digit)
            && text.get(member.key_range.clone()) == Some(&*member.key);
        if is_rest
            && let Some(Node { range, value }) = whole.last_mut().map(|last| &mut last.node)
            && let Value::Text(Cow::Borrowed(number)) = value
            && number.starts_with(digit)
            && number.ends_with(digit)
            && text.get(range.end..member.key_range.start) == Some(",")
            && let Some(typed) = text.get(range.start..member.key_range.end)
        {
            (*range, *value) = (range.start..member.key_range.end, Value::Text(Cow::Borrowed(typed)));
        } else {
            whole.push(member);
        }
    }
    whole
}

/// Borrowed if the scalar stands in the source in this very form, with or without quotes around it.
fn as_written<'a>(written: &'a str, scalar: &str) -> Cow<'a, str> {
    let unquoted = written.get(1..written.len().saturating_sub(1));
    match unquoted {
        _ if written == scalar => Cow::Borrowed(written),
        Some(unquoted) if unquoted == scalar => Cow::Borrowed(unquoted),
        _ => Cow::Owned(scalar.to_owned()),
    }
}

fn second_document() -> Fault {
    Fault::new("yaml-second-document", "a second document begins here").help("write one document a file, without `---`")
}

fn anchor(name: &str) -> Fault {
    Fault::new("yaml-anchor", "an anchor (`&`) stands here, and hides where its value is used again").help(format!(
        "take `&{}` away, and write the value out in full wherever it belongs",
        crate::quantity::clip(name)
    ))
}

fn alias() -> Fault {
    Fault::new("yaml-alias", "an alias (`*`) stands here instead of a value").help("write the value out in full here")
}

fn merge() -> Fault {
    Fault::new("yaml-merge", "a merge (`<<`) brings in fields that are not written here")
        .help("write every field out in full here")
}

fn tag() -> Fault {
    Fault::new("yaml-tag", "a tag (`!`) changes how the value after it is read")
        .help("take the tag away; a text that begins with `!` belongs in quotes")
}

fn key_not_text(kind: &str) -> Fault {
    Fault::new("yaml-key", format!("the name of a field is {kind}"))
        .help("write a name, a colon, a space and the value")
}

fn syntax(text: &str, error: &ScanError) -> Fault {
    let at = text.floor_char_boundary(error.marker().byte_offset().unwrap_or_default());
    let end = text[at..].chars().next().filter(|c| !matches!(c, '\r' | '\n')).map_or(at, |c| at + c.len_utf8());
    if matches!(error.kind(), ErrorKind::RecursionLimitExceeded) {
        return text::too_deep().at(at..end);
    }
    let (what, help) = plain_words(error.kind());
    let code = if help == TAB { "yaml-tab" } else { "yaml-syntax" };
    Fault::new(code, format!("this is not YAML: {what}")).at(at..end).help(help)
}

const TAB: &str = "write spaces; most editors can show tabs, and replace them";
const COLON: &str = "one field a line, its name, a colon, a space and the value; a value with `: ` or ` #` in it belongs in \
                     quotes; look at the line before as well";
const INDENT: &str = "begin the fields of one map in the same column, with spaces";
const BRACKET: &str = "close every bracket with its partner, and put a comma between two values";
const QUOTE: &str =
    "close the quotes; inside double quotes a backslash is written twice, inside single quotes a quote is";

fn plain_words(kind: &ErrorKind) -> (Cow<'static, str>, &'static str) {
    use ErrorKind as K;
    let (what, help) = match kind {
        K::TabNotAllowed
        | K::TabInBlockIndentation
        | K::TabInIndentation
        | K::TabInPlainScalar
        | K::TabAtBlockScalarStart => ("a tab is used to indent", TAB),
        K::MappingValueNotAllowed | K::InvalidColonPlacement | K::FlowMappingValueAdjacentCollection => {
            ("a colon stands where no field can begin", COLON)
        }
        K::SimpleKeyExpected | K::ExpectedBlockMappingKey | K::InvalidSimpleKey | K::MappingKeyNotAllowed => {
            ("a field's name and its colon are expected here", COLON)
        }
        K::InvalidIndentation
        | K::InvalidBlockScalarIndent
        | K::InvalidQuotedScalarIndent
        | K::InvalidFlowScalarIndent => ("this line begins in a column that fits nothing above it", INDENT),
        K::BlockSequenceEntryNotAllowed | K::ExpectedBlockSequenceEntry | K::BlockEntryInFlowCollection => {
            ("a `-` stands where no item of a list can begin", INDENT)
        }
        K::UnclosedQuotedScalar | K::DocumentIndicatorInQuotedScalar => ("a quote is opened and not closed", QUOTE),
        K::InvalidTrailingDoubleQuotedScalar | K::InvalidTrailingSingleQuotedScalar => {
            ("something follows after the closing quote", QUOTE)
        }
        K::UnknownQuotedScalarEscape | K::InvalidQuotedScalarHexEscape | K::InvalidUnicodeEscape => {
            ("a backslash begins an escape that YAML does not have", QUOTE)
        }
        K::UnclosedFlowCollection { open } => return (format!("`{open}` is opened and not closed").into(), BRACKET),
        K::MismatchedFlowCollectionEnd { open, close } => {
            return (format!("`{open}` is closed by `{close}`").into(), BRACKET);
        }
        K::MisplacedFlowCollectionEnd => ("a bracket is closed that was not opened", BRACKET),
        K::UnexpectedEofFlowMapping
        | K::UnexpectedEofFlowSequence
        | K::UnexpectedEofImplicitFlowMapping
        | K::ExpectedFlowMappingSeparator
        | K::ExpectedFlowSequenceSeparator => ("a comma or a closing bracket is missing here", BRACKET),
        K::UnexpectedCharacter { character } => {
            let what = format!("a value cannot begin with `{}`", character.escape_debug());
            return (what.into(), "put the value in quotes");
        }
        K::DirectiveDisallowed => ("a line that begins with `%` is a directive", "take the line away"),
        K::CommentNotSeparated | K::CommentInterceptedScalar => {
            ("a comment stands inside a value", "put a space before `#`, or the value in quotes")
        }
        other => return (other.to_string().into(), "look at this line and the one before it"),
    };
    (Cow::Borrowed(what), help)
}

#[cfg(test)]
mod tests;
