//! Names of people, as they are typed: each reads as it is written, and no two look alike by hidden characters.

use crate::quantity::clip;

use super::error::{CaseError, refuse};

/// A name in one line, which reads as it is written.
///
/// # Errors
/// When it holds hidden characters or no letter, or is too long.
pub fn good_name(name: &str) -> Result<String, CaseError> {
    const LONGEST: usize = 80;
    const HELP: &str = "write the person's name in letters, on one line";
    if !is_plain(name) {
        let says = format!("`{}` holds a character that is not seen, or turns the direction of reading", clip(name));
        return Err(refuse("name-not-plain", says, HELP));
    }
    let name = name.split_whitespace().collect::<Vec<_>>().join(" ");
    if name.chars().count() > LONGEST {
        let says = format!("`{}` is longer than {LONGEST} characters", clip(&name));
        return Err(refuse("name-long", says, "write a shorter form of the name"));
    }
    if !name.chars().any(char::is_alphabetic) {
        return Err(refuse("name-empty", format!("`{}` is not a name", clip(&name)), HELP));
    }
    Ok(name)
}

/// Whether every character of a text is seen, and none moves the text beside it.
pub(super) fn is_plain(text: &str) -> bool {
    // Format controls, fillers and selectors of Unicode's list of default ignorable code points, line separators, and the
    // signs of direction.
    let is_hidden = |c: char| {
        matches!(c,
            '\u{ad}' | '\u{34f}' | '\u{61c}' | '\u{115f}' | '\u{1160}' | '\u{17b4}' | '\u{17b5}'
            | '\u{180b}'..='\u{180f}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}'
            | '\u{2800}' | '\u{3164}' | '\u{fe00}'..='\u{fe0f}' | '\u{feff}' | '\u{ffa0}' | '\u{fff0}'..='\u{fffb}'
            | '\u{1bca0}'..='\u{1bca3}' | '\u{1d173}'..='\u{1d17a}' | '\u{e0000}'..='\u{e0fff}')
    };
    !text.chars().any(|c| c.is_control() || is_hidden(c))
}

#[cfg(test)]
mod tests {
    use super::good_name;
    use rstest::rstest;

    #[rstest]
    #[case("A. Idowu", true)]
    #[case("Ńoémi Ó Brien-Çelik", true)]
    #[case("A. \u{202e}Idowu", false)]
    #[case("A. Idowu\u{200b}", false)]
    #[case("A.\nIdowu", false)]
    #[case("A.\u{2028}Idowu", false)]
    #[case("A. Idowu\u{fe0f}", false)]
    #[case("\u{3164}A", false)]
    #[case("7", false)]
    fn a_name_reads_as_it_is_written(#[case] name: &str, #[case] good: bool) {
        assert_eq!(good_name(name).is_ok(), good, "{name:?}");
    }

    #[test]
    fn a_name_is_not_longer_than_80_letters() {
        assert!(good_name(&"x".repeat(80)).is_ok() && good_name(&"x".repeat(81)).is_err());
    }
}
