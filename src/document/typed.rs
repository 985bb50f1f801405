//! One scalar as typed, and the refusal of it: a place inside the text in, a place in the file out.

use std::borrow::Cow;
use std::ops::Range;

use super::{Node, Value};

/// The text of a scalar with the node it was read from.
#[derive(Debug, Clone, Copy)]
pub struct Typed<'n, 'a> {
    text: &'n str,
    node: &'n Node<'a>,
}

/// Why a text is refused, and where in it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refusal {
    /// Stable, kebab-case.
    pub code: &'static str,
    /// What was found and why it cannot stand.
    pub message: String,
    /// What to write instead.
    pub help: Option<String>,
    /// Bytes of the typed text (not of the file) that are at fault.
    pub range: Range<usize>,
}

/// Whether a field is there: a field that was refused has been reported, and must not be reported as missing too.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[must_use]
pub enum Presence<T> {
    /// Not written.
    Absent,
    /// Written, and refused; its fault is in the list.
    Refused,
    /// Written and read.
    Present(T),
}

impl<'n, 'a> Typed<'n, 'a> {
    /// The scalar at this node; none if it is not a text.
    #[must_use]
    pub fn of(node: &'n Node<'a>) -> Option<Self> {
        match &node.value {
            Value::Text(text) => Some(Self { text, node }),
            _ => None,
        }
    }

    /// The text as typed, without the quotes around it.
    #[must_use]
    pub const fn text(&self) -> &'n str {
        self.text
    }

    /// The node.
    #[must_use]
    pub const fn node(&self) -> &'n Node<'a> {
        self.node
    }

    /// The bytes of the file for these bytes of the text; the whole scalar if it was written with escapes, where the
    /// two do not run side by side.
    #[must_use]
    pub fn place(&self, range: &Range<usize>) -> Range<usize> {
        let whole = self.node.range.clone();
        let Value::Text(Cow::Borrowed(_)) = self.node.value else { return whole };
        // Borrowed, so the bytes between the quotes are the text itself: what is over is one quote on either side.
        let quote = whole.len().saturating_sub(self.text.len()) / 2;
        let start = self.text.floor_char_boundary(range.start);
        let end = self.text.floor_char_boundary(range.end).max(start);
        whole.start + quote + start..whole.start + quote + end
    }
}

impl Refusal {
    /// A refusal of the whole text, without help yet.
    #[must_use]
    pub fn new(code: &'static str, message: impl Into<String>) -> Self {
        Self { code, message: message.into(), help: None, range: 0..usize::MAX }
    }

    /// The same refusal, of these bytes of the text.
    #[must_use]
    pub fn at(mut self, range: Range<usize>) -> Self {
        self.range = range;
        self
    }

    /// The same refusal, saying what to write instead.
    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }
}

impl From<crate::quantity::Refused> for Refusal {
    fn from(refused: crate::quantity::Refused) -> Self {
        Self {
            code: refused.problem.code(),
            message: refused.to_string(),
            help: Some(refused.help),
            range: refused.range,
        }
    }
}

impl<T> Presence<T> {
    /// The value, if there is one.
    #[must_use]
    pub fn value(self) -> Option<T> {
        match self {
            Self::Present(value) => Some(value),
            Self::Absent | Self::Refused => None,
        }
    }

    /// Whether nothing was written, right or wrong.
    #[must_use]
    pub const fn is_absent(&self) -> bool {
        matches!(self, Self::Absent)
    }
}

impl<T> From<Option<T>> for Presence<T> {
    /// What was read from a field that is there; none was refused.
    fn from(read: Option<T>) -> Self {
        read.map_or(Self::Refused, Self::Present)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use rstest::rstest;

    use super::Typed;
    use crate::document::{ENTRY_LIMIT, read_json, read_yaml};

    #[rstest]
    #[case::plain("a: µ 84,2 kg", "84,2", "84,2")]
    #[case::double_quoted("a: \"µ 84,2 kg\"", "84,2", "84,2")]
    #[case::single_quoted("a: 'µ 84,2 kg'", "84,2", "84,2")]
    #[case::escaped("a: \"\\u00b5 84,2 kg\"", "84,2", "\"\\u00b5 84,2 kg\"")]
    #[case::doubled_quote("a: 'it''s 84,2'", "84,2", "'it''s 84,2'")]
    #[case::folded("a: 84,2\n  kg", "84,2", "84,2\n  kg")]
    #[case::as_long_as_plain("a: \"\\L\\n\"", "\n", "\"\\L\\n\"")]
    fn a_place_in_a_yaml_text_is_found_in_the_file(#[case] file: &str, #[case] part: &str, #[case] expected: &str) {
        let mut faults = Vec::new();
        let root = read_yaml(file, ENTRY_LIMIT, &mut faults).expect("the test's file can be read");
        check(file, Typed::of(&root.member("a").expect("there is a field").node), part, expected);
    }

    #[rstest]
    #[case::quoted(r#"{"a": "µ 84,2 kg"}"#, "84,2", "84,2")]
    #[case::escaped(r#"{"a": "\u00b5 84,2 kg"}"#, "84,2", r#""\u00b5 84,2 kg""#)]
    fn a_place_in_a_json_text_is_found_in_the_file(#[case] file: &str, #[case] part: &str, #[case] expected: &str) {
        let mut faults = Vec::new();
        let root = read_json(file, ENTRY_LIMIT, &mut faults).expect("the test's file can be read");
        check(file, Typed::of(&root.member("a").expect("there is a field").node), part, expected);
    }

    #[track_caller]
    fn check(file: &str, typed: Option<Typed<'_, '_>>, part: &str, expected: &str) {
        let typed = typed.expect("the field is a text");
        let start = typed.text().find(part).expect("the part is in the text");
        assert_eq!(&file[typed.place(&(start..start + part.len()))], expected);
    }

    proptest! {
        #[test]
        fn any_place_is_inside_the_scalar(text in "[a-zµ世\"\\\\\n]{1,12}", start in 0usize..20, end in any::<usize>()) {
            let file = serde_json::json!({ "a": text }).to_string();
            let mut faults = Vec::new();
            let root = read_json(&file, ENTRY_LIMIT, &mut faults).expect("written by a JSON writer");
            let node = &root.member("a").expect("there is a field").node;
            let place = Typed::of(node).expect("the field is a text").place(&(start..end));
            prop_assert!(file.get(place.clone()).is_some());
            prop_assert!(place.start >= node.range.start && place.end <= node.range.end);
        }
    }
}
