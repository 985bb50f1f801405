//! The short way through a line of JSON. In: a text; out: the tree that the careful way would give, or nothing where
//! anything in it is not plain: nearly every line is maps, lists and texts without an escape, and each key is there once.

use std::borrow::Cow;

use super::super::{DEPTH_LIMIT, Member, Node, Value, inspect};

/// The tree of a text that is plain from its first sign to its last.
pub(super) fn read(text: &str) -> Option<Node<'_>> {
    let mut reader = Reader { text, at: 0 };
    let root = reader.value(0)?;
    (reader.next().is_none()).then_some(root)
}

/// What ends a text, or makes it one that is not plain: a quote, a backslash, a control character.
const ENDS: [bool; 256] = {
    let mut ends = [false; 256];
    let mut control = 0;
    while control < b' ' as usize {
        ends[control] = true;
        control += 1;
    }
    ends[b'"' as usize] = true;
    ends[b'\\' as usize] = true;
    ends
};

/// Where the first byte stands that ends a text: eight are looked at at once.
fn place_of_end(bytes: &[u8]) -> Option<usize> {
    let (blocks, rest) = bytes.as_chunks::<8>();
    for (number, block) in blocks.iter().enumerate() {
        let found = ends_in(u64::from_le_bytes(*block));
        if found != 0 {
            return Some(8 * number + found.trailing_zeros() as usize / 8);
        }
    }
    rest.iter().position(|byte| ENDS[usize::from(*byte)]).map(|at| 8 * blocks.len() + at)
}

/// The lowest bit that is set lies in the first byte that ends a text; a bit above it says nothing, since what is borrowed in
/// a subtraction goes on to the bytes behind.
const fn ends_in(block: u64) -> u64 {
    const EACH: u64 = u64::from_le_bytes([1; 8]);
    const HIGHEST: u64 = EACH << 7;
    const fn below(block: u64, most: u8) -> u64 {
        block.wrapping_sub(EACH * most as u64) & !block
    }
    (below(block, b' ') | below(block ^ (EACH * b'"' as u64), 1) | below(block ^ (EACH * b'\\' as u64), 1)) & HIGHEST
}

struct Reader<'a> {
    text: &'a str,
    at: usize,
}

impl<'a> Reader<'a> {
    /// The next byte that is not blank, which stays.
    fn next(&mut self) -> Option<u8> {
        let bytes = self.text.as_bytes();
        while matches!(bytes.get(self.at)?, b' ' | b'\t' | b'\n' | b'\r') {
            self.at += 1;
        }
        bytes.get(self.at).copied()
    }

    /// Passes the next byte that is not blank.
    fn pass(&mut self) -> Option<u8> {
        let byte = self.next()?;
        self.at += 1;
        Some(byte)
    }

    /// `depth` is how many lists and maps are around the value.
    fn value(&mut self, depth: usize) -> Option<Node<'a>> {
        let byte = self.next()?;
        let start = self.at;
        let value = match byte {
            b'"' => Value::Text(Cow::Borrowed(self.text()?)),
            b'{' if depth < DEPTH_LIMIT => Value::Map(self.map(depth + 1)?),
            b'[' if depth < DEPTH_LIMIT => Value::List(self.list(depth + 1)?),
            _ => return None,
        };
        Some(Node { range: start..self.at, value })
    }

    /// The text between the quote that is next and the one after it.
    fn text(&mut self) -> Option<&'a str> {
        let start = self.at + 1;
        let rest = self.text.as_bytes().get(start..)?;
        let length = place_of_end(rest)?;
        self.at = start + length + 1;
        (rest[length] == b'"').then(|| &self.text[start..start + length])
    }

    fn map(&mut self, depth: usize) -> Option<Vec<Member<'a>>> {
        self.pass()?;
        if self.next()? == b'}' {
            self.pass()?;
            return Some(Vec::new());
        }
        let mut members = Vec::with_capacity(if depth == 1 { super::ROOT_FIELDS } else { super::FIELDS });
        loop {
            let (b'"', start) = (self.next()?, self.at) else { return None };
            let key = self.text()?;
            let key_range = start..self.at;
            if self.pass()? != b':' {
                return None;
            }
            let node = self.value(depth)?;
            members.push(Member { key: Cow::Borrowed(key), key_range, node });
            match self.pass()? {
                b',' => {}
                b'}' => return (!inspect::may_double(&members)).then_some(members),
                _ => return None,
            }
        }
    }

    fn list(&mut self, depth: usize) -> Option<Vec<Node<'a>>> {
        self.pass()?;
        if self.next()? == b']' {
            self.pass()?;
            return Some(Vec::new());
        }
        let mut nodes = Vec::new();
        loop {
            nodes.push(self.value(depth)?);
            match self.pass()? {
                b',' => {}
                b']' => return Some(nodes),
                _ => return None,
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::carefully;
    use super::{ENDS, place_of_end, read};
    use proptest::prelude::*;
    use rstest::rstest;

    #[rstest]
    #[case(r#"{"drug": "adrenaline", "patient": {"identifiers": ["A-1", "B-2"], "weight": "84.2 kg"}, "reasons": {}}"#)]
    #[case("\t{\"µ\":\"5 µg\u{85}\",\"none\" : [ ]}\r\n ")]
    #[case(r#""5 mg""#)]
    #[case("[[[[[[[[[[[[[[[[]]]]]]]]]]]]]]]]")]
    fn nearly_every_line_goes_the_short_way(#[case] text: &str) {
        let mut faults = Vec::new();
        assert!(read(text).is_some());
        assert_eq!(read(text), carefully(text, &mut faults));
        assert_eq!(faults, []);
    }

    #[rstest]
    #[case::escape(r#"{"a": "\u0035 mg"}"#)]
    #[case::number(r#"{"a": 5}"#)]
    #[case::nothing(r#"{"a": null}"#)]
    #[case::twice(r#"{"a": "1", "a": "2"}"#)]
    #[case::too_deep("[[[[[[[[[[[[[[[[[]]]]]]]]]]]]]]]]]")]
    #[case::trailing_comma(r#"{"a": "1",}"#)]
    #[case::cut_off(r#"{"a": "1""#)]
    #[case::more("{} {}")]
    #[case::tab("{\"a\": \"1\t\"}")]
    #[case::mark("\u{feff}{}")]
    fn what_is_not_plain_goes_the_careful_way(#[case] text: &str) {
        assert_eq!(read(text), None);
    }

    #[test]
    fn a_text_ends_at_the_first_byte_that_ends_one_wherever_it_stands() {
        for byte in 0..=u8::MAX {
            for at in 0..20 {
                let mut bytes = [b'a', 0x7f, 0xc2, b'!', b'#', b'[', b']', 0xff].repeat(4);
                bytes[at] = byte;
                // What stands behind it is not seen.
                bytes[at + 1] = b'"';
                let expected = if ENDS[usize::from(byte)] { at } else { at + 1 };
                assert_eq!(place_of_end(&bytes), Some(expected), "{byte:#x} at {at}");
                assert_eq!(place_of_end(&bytes[..at]), None);
            }
        }
    }

    proptest! {
        #[test]
        fn the_short_way_reads_what_the_careful_way_reads(
            text in r#"[{\[]?("[ab,µ]{0,2}"( ?[:,] ?|\]|\}|\t)|[{}\[\],:" \\]|\{"[abc]":|\["a"|"b"\}){0,12}"#
        ) {
            if let Some(root) = read(&text) {
                let mut faults = Vec::new();
                prop_assert_eq!(Some(root), carefully(&text, &mut faults));
                prop_assert_eq!(faults, vec![]);
            }
        }
    }
}
