//! What every text must be before anything is read from it: short enough, not empty, and without characters that a
//! person cannot see.

use crate::diagnostic::Fault;

/// Whether the text can be read at all; if not, its fault is in `faults`.
pub(super) fn admit(text: &str, limit: usize, faults: &mut Vec<Fault>) -> bool {
    let fault = if text.len() > limit {
        too_long(&format!("{} bytes long", text.len()), limit)
    } else if text.trim_start_matches('\u{feff}').trim().is_empty() {
        empty()
    } else if let Some((at, c)) = unseen(text) {
        Fault::new("text-unseen-character", format!("there is {}, which cannot be seen", name(c)))
            .at(at..at + c.len_utf8())
            .help("take it away; retyping the line is the surest way")
    } else {
        return true;
    };
    faults.push(fault);
    false
}

pub(super) fn too_long(size: &str, limit: usize) -> Fault {
    Fault::new(
        "text-too-long",
        format!("the text is {size}, and at most {limit} bytes ({} KiB) are read", limit / 1024),
    )
    .help("check that this is the right file; if it is, split it")
}

pub(super) fn empty() -> Fault {
    Fault::new("text-empty", "there is nothing in it").help("check that this is the right file, and that it was saved")
}

pub(super) fn too_deep() -> Fault {
    Fault::new(
        "nesting-too-deep",
        format!("lists and maps stand inside one another more than {} deep", super::DEPTH_LIMIT),
    )
    .help("no form here needs that: look for brackets that are not closed")
}

pub(super) fn not_quoted() -> Fault {
    Fault::new("field-not-quoted", "a value without quotes does not keep its digits as typed")
        .help("write it as a text, in quotes: \"0.10 mg\"")
}

/// Whether a value may not hold this character, however it was written: controls (except tab and line breaks), signs that
/// change the direction of reading, with which a dose can be made to look like another, and spaces and hyphens without
/// width. Joiners stay: some alphabets need them in names.
pub(super) const fn is_unseen(c: char) -> bool {
    matches!(c,
        '\0'..='\u{8}' | '\u{b}' | '\u{c}' | '\u{e}'..='\u{1f}' | '\u{7f}'..='\u{9f}'
        | '\u{ad}' | '\u{61c}' | '\u{200b}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}'
        | '\u{2060}'..='\u{2064}' | '\u{2066}'..='\u{2069}' | '\u{feff}')
}

pub(super) fn name(c: char) -> String {
    match c {
        '\0' => "a NUL character (U+0000)".to_owned(),
        '\u{feff}' => "a byte-order mark (U+FEFF) that is not at the beginning".to_owned(),
        '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => {
            format!("a character that changes the direction of reading (U+{:04X})", u32::from(c))
        }
        '\u{ad}' | '\u{200b}' | '\u{2028}' | '\u{2029}' | '\u{2060}'..='\u{2064}' => {
            format!("a character without width (U+{:04X})", u32::from(c))
        }
        _ => format!("a control character (U+{:04X})", u32::from(c)),
    }
}

/// The first unseen character. The text is looked at a block at a time, because almost every text has none.
fn unseen(text: &str) -> Option<(usize, char)> {
    const BLOCK: usize = 64;
    for (number, block) in text.as_bytes().chunks(BLOCK).enumerate() {
        // Nearly every block is letters, digits and signs of ASCII, which two comparisons tell.
        if !block.iter().fold(false, |found, byte| found | (byte.cast_signed() < 0x20) | (*byte == 0x7f)) {
            continue;
        }
        for at in (number * BLOCK..).zip(block).filter(|(_, byte)| may_begin_unseen(**byte)).map(|(at, _)| at) {
            // A byte that may begin such a character is never the middle of another one, so this is a boundary.
            let c = text.get(at..).and_then(|rest| rest.chars().next());
            if let Some(c) = c.filter(|c| is_unseen(*c) && !(at == 0 && *c == '\u{feff}')) {
                return Some((at, c));
            }
        }
    }
    None
}

/// Controls themselves, and the first bytes of U+0080 to U+00BF, of U+0600 to U+063F, of U+2000 to U+2FFF and of U+F000 to
/// U+FFFF.
const fn may_begin_unseen(byte: u8) -> bool {
    (byte < 0x20 && byte != b'\t' && byte != b'\n' && byte != b'\r') || matches!(byte, 0x7f | 0xc2 | 0xd8 | 0xe2 | 0xef)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use rstest::rstest;

    use super::{admit, is_unseen, unseen};

    #[rstest]
    #[case("a: 1\u{0}", Some(4))]
    #[case("a: \u{1b}[31m", Some(3))]
    #[case("µ: \u{7f}", Some(4))]
    #[case("a: \u{85}", Some(3))]
    #[case("a: 5\u{202e}0", Some(4))]
    #[case("a: 5\u{2067}0", Some(4))]
    #[case("a: 5\u{200b}0", Some(4))]
    #[case("a: 5\u{200f}0", Some(4))]
    #[case("a: 5\u{61c}0", Some(4))]
    #[case("a: 5\u{ad}0", Some(4))]
    #[case("a: 5\u{2060}0", Some(4))]
    #[case("a: \u{200c}\u{200d}ع", None)]
    #[case("a: \u{feff}", Some(3))]
    #[case("\u{feff}a: 1", None)]
    #[case("\u{feff}\u{feff}a: 1", Some(3))]
    #[case("a:\t5 µg €\r\nb: ≥ 世", None)]
    fn an_unseen_character_is_refused_with_its_place(#[case] text: &str, #[case] expected: Option<usize>) {
        assert_eq!(unseen(text).map(|(at, _)| at), expected);
    }

    #[test]
    fn a_character_across_two_blocks_is_found() {
        for before in 60..70 {
            assert_eq!(unseen(&format!("{}\u{202e}", "x".repeat(before))), Some((before, '\u{202e}')));
        }
    }

    #[rstest]
    #[case("", "text-empty")]
    #[case(" \r\n\t", "text-empty")]
    #[case("\u{feff}", "text-empty")]
    #[case("0123456789x", "text-too-long")]
    #[case("\0", "text-unseen-character")]
    fn a_text_that_cannot_be_read_is_one_fault(#[case] text: &str, #[case] code: &str) {
        let mut faults = Vec::new();
        assert!(!admit(text, 10, &mut faults));
        assert_eq!(faults.iter().map(|fault| fault.code).collect::<Vec<_>>(), [code]);
    }

    #[test]
    fn the_size_found_and_the_size_allowed_are_both_told() {
        let mut faults = Vec::new();
        assert!(admit("0123456789", 10, &mut faults));
        admit(&"x".repeat(70_000), crate::document::ENTRY_LIMIT, &mut faults);
        assert_eq!(faults[0].message, "the text is 70000 bytes long, and at most 65536 bytes (64 KiB) are read");
    }

    proptest! {
        #[test]
        fn blocks_find_what_looking_at_each_character_finds(text in "(?s)[ a-zµ€\u{1}\u{85}\u{2028}\u{202e}\u{feff}]{0,200}") {
            let slow = text.char_indices().find(|(at, c)| is_unseen(*c) && !(*at == 0 && *c == '\u{feff}'));
            prop_assert_eq!(unseen(&text), slow);
        }
    }
}
