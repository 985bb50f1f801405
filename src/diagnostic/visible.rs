//! Text from a file made safe to print: in comes anything, out comes text that cannot move a cursor, change a colour or
//! turn the direction of reading.

/// Every character in its visible form; a tab stays, because an excerpt is aligned by it.
pub(super) fn excerpt(text: &str) -> String {
    text.chars().map(|c| if c == '\t' { c } else { visible(c) }).collect()
}

/// As [`excerpt`], for a line of prose: a tab is a space.
pub(super) fn prose(text: &str) -> String {
    text.chars().map(|c| if c == '\t' { ' ' } else { visible(c) }).collect()
}

fn visible(c: char) -> char {
    /// The block of Unicode that has a picture for each of the first 32 control characters.
    const PICTURES: u32 = 0x2400;
    match c {
        '\0'..='\u{1f}' => char::from_u32(PICTURES + u32::from(c)).unwrap_or(char::REPLACEMENT_CHARACTER),
        '\u{7f}' => '\u{2421}',
        // The second set of controls (a terminal takes U+009B for an escape), marks without width, separators and the
        // signs that turn the direction of reading.
        '\u{80}'..='\u{9f}'
        | '\u{ad}'
        | '\u{61c}'
        | '\u{200b}'..='\u{200f}'
        | '\u{2028}'..='\u{202e}'
        | '\u{2060}'..='\u{206f}'
        | '\u{feff}'
        | '\u{fff9}'..='\u{fffb}'
        | '\u{e0000}'..='\u{e007f}' => char::REPLACEMENT_CHARACTER,
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use rstest::rstest;

    use super::{excerpt, prose};

    #[rstest]
    #[case("a\u{1b}[31mb", "a␛[31mb")]
    #[case("a\0b", "a␀b")]
    #[case("a\u{7f}b", "a␡b")]
    #[case("a\u{9b}31mb", "a\u{fffd}31mb")]
    #[case("a\u{202e}b", "a\u{fffd}b")]
    #[case("a\rb", "a␍b")]
    #[case("5 µg für Ärztin", "5 µg für Ärztin")]
    fn controls_become_pictures_and_letters_stay(#[case] raw: &str, #[case] shown: &str) {
        assert_eq!(excerpt(raw), shown);
    }

    proptest! {
        #[test]
        fn nothing_that_is_shown_is_a_control(text in any::<String>()) {
            prop_assert!(prose(&text).chars().all(|c| !c.is_control()));
            prop_assert!(excerpt(&text).chars().all(|c| c == '\t' || !c.is_control()));
        }
    }
}
