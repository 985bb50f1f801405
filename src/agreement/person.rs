//! Whether two typed names are one person: folded, not verified.

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

/// The same name, whatever the letter case, marks, points and order of its words.
pub(super) fn is_same(first: &str, second: &str) -> bool {
    folded(first) == folded(second)
}

fn folded(name: &str) -> Vec<String> {
    let plain: String = name.nfkd().filter(|c| !is_combining_mark(*c)).flat_map(char::to_lowercase).collect();
    let mut words: Vec<String> =
        plain.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty()).map(str::to_owned).collect();
    words.sort();
    words
}

#[cfg(test)]
mod tests {
    use super::is_same;
    use rstest::rstest;

    // hazard: H-INDEPENDENCE
    #[rstest]
    #[case("A. Idowu", "a idowu", true)]
    #[case("A. Idowu", "Idowu, A.", true)]
    #[case("José Brás", "JOSE BRAS", true)]
    #[case("Ａ． Ｉｄｏｗｕ", "A. Idowu", true)]
    #[case("A. Idowu", "B. Idowu", false)]
    #[case("A. Idowu", "M. Tamm", false)]
    fn names_are_folded(#[case] first: &str, #[case] second: &str, #[case] same: bool) {
        assert_eq!(is_same(first, second), same);
    }
}
