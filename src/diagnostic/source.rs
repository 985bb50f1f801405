//! A text with the name a person knows it by: byte offsets in, lines and columns out.

use std::ops::Range;

/// A text that was read, with the name the person gave it, and what of it must never be shown.
#[derive(Debug, Clone)]
pub struct Source {
    /// File name as the person gave it.
    pub name: String,
    /// The whole text, or the one line of a file of many lines.
    pub text: String,
    first_line: usize,
    withheld: Vec<Range<usize>>,
}

/// Where something stands, counted as an editor counts: from 1, the column in characters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Place {
    /// Line, from 1.
    pub line: usize,
    /// Column, from 1, in characters (not bytes).
    pub column: usize,
}

impl Source {
    /// A whole file.
    #[must_use]
    pub fn new(name: impl Into<String>, text: impl Into<String>) -> Self {
        Self::of_line(name, 1, text)
    }

    /// One line of a file that holds one entry a line: `line` counts from 1, and every place is given in the file.
    #[must_use]
    pub fn of_line(name: impl Into<String>, line: usize, text: impl Into<String>) -> Self {
        Self { name: name.into(), text: text.into(), first_line: line, withheld: Vec::new() }
    }

    /// From now on no excerpt shows a line that any of these bytes stand on.
    pub fn withhold(&mut self, range: Range<usize>) {
        self.withheld.push(range);
    }

    /// Line and column of a byte; a byte past the end, or inside a character, is taken for the next one before it.
    #[must_use]
    pub fn place(&self, offset: usize) -> Place {
        let place = Place::of(&self.text, offset);
        Place { line: place.line.saturating_add(self.first_line).saturating_sub(1), ..place }
    }

    /// The bytes of the line that `offset` stands on, without its line break.
    pub(super) fn line_around(&self, offset: usize) -> Range<usize> {
        let offset = boundary(&self.text, offset);
        let start = line_start(&self.text, offset);
        let rest = &self.text[start..];
        let line = rest.split('\n').next().unwrap_or(rest);
        start..start + line.strip_suffix('\r').unwrap_or(line).len()
    }

    /// The part of `range` that lies in the text, on whole characters.
    pub(super) fn clamped(&self, range: &Range<usize>) -> Range<usize> {
        let start = boundary(&self.text, range.start);
        start..boundary(&self.text, range.end).max(start)
    }

    /// Whether any withheld byte stands on this line.
    pub(super) fn withholds(&self, line: &Range<usize>) -> bool {
        self.withheld.iter().any(|range| {
            let end = range.end.max(range.start.saturating_add(1));
            range.start <= line.end && end > line.start
        })
    }
}

impl Place {
    /// Line and column of a byte in this text; a byte past the end, or inside a character, is taken for the next one
    /// before it.
    #[must_use]
    pub fn of(text: &str, offset: usize) -> Self {
        let offset = boundary(text, offset);
        let start = line_start(text, offset);
        Self {
            line: text.as_bytes()[..start].iter().filter(|byte| **byte == b'\n').count() + 1,
            column: text[start..offset].chars().count() + 1,
        }
    }
}

fn boundary(text: &str, offset: usize) -> usize {
    text.floor_char_boundary(offset)
}

fn line_start(text: &str, offset: usize) -> usize {
    text[..offset].rfind('\n').map_or(0, |at| at + 1)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use rstest::rstest;

    use super::{Place, Source};

    #[rstest]
    #[case("abc", 0, 1, 1)]
    #[case("abc", 2, 1, 3)]
    #[case("abc", 99, 1, 4)]
    #[case("a\nb", 1, 1, 2)]
    #[case("a\nb", 2, 2, 1)]
    #[case("a\r\nb", 3, 2, 1)]
    #[case("µé: 5", 4, 1, 3)]
    #[case("µé: 5", 6, 1, 5)]
    #[case("µ", 1, 1, 1)]
    #[case("", 0, 1, 1)]
    #[case("a\n", 2, 2, 1)]
    fn lines_and_columns_count_from_one_in_characters(
        #[case] text: &str,
        #[case] offset: usize,
        #[case] line: usize,
        #[case] column: usize,
    ) {
        assert_eq!(Source::new("x", text).place(offset), Place { line, column });
    }

    #[test]
    fn a_line_of_a_larger_file_is_placed_in_the_file() {
        assert_eq!(Source::of_line("x", 12, "abc").place(1), Place { line: 12, column: 2 });
    }

    #[rstest]
    #[case::line_before(0..3, false)]
    #[case::line_before_with_its_break(0..4, false)]
    #[case::into_the_line(0..5, true)]
    #[case::nothing_long_at_its_start(4..4, true)]
    #[case::inside(5..6, true)]
    #[case::at_its_end(7..7, true)]
    #[case::line_after(8..9, false)]
    fn a_line_is_withheld_when_any_byte_of_it_is(#[case] withheld: std::ops::Range<usize>, #[case] expected: bool) {
        let mut source = Source::new("x", "abc\ndef\nghi");
        source.withhold(withheld);
        assert_eq!(source.withholds(&source.line_around(5)), expected);
    }

    proptest! {
        #[test]
        fn any_range_is_clamped_into_the_text(text in any::<String>(), start in 0usize..200, end in 0usize..200) {
            let source = Source::new("x", text);
            prop_assert!(source.text.get(source.clamped(&(start..end))).is_some());
            prop_assert!(source.text.get(source.line_around(start)).is_some_and(|line| !line.contains('\n')));
            prop_assert!(source.place(usize::MAX).line >= source.place(start).line);
        }
    }
}
