//! Whether two typed names are one person: folded, not verified.

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

use crate::quantity::look_alike;

/// The same name, whatever the letter case, marks, points, titles, look-alike letters and order of its words.
#[must_use]
pub fn is_same(first: &str, second: &str) -> bool {
    let (first, second) = (words(first), words(second));
    let sorted = |words: &[String]| {
        let mut sorted = words.to_vec();
        sorted.sort();
        sorted
    };
    sorted(&first) == sorted(&second) || first.concat() == second.concat()
}

/// Words that say what somebody is, and not who.
const TITLES: &[&str] =
    &["dr", "prof", "professor", "doctor", "mr", "mrs", "ms", "miss", "sr", "sister", "nurse", "md", "rn"];

fn words(name: &str) -> Vec<String> {
    let plain: String = name.nfkd().filter(|c| !is_combining_mark(*c)).collect();
    let latin = look_alike::in_latin(&plain).unwrap_or(plain).to_lowercase();
    let all = latin.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty());
    let named: Vec<String> = all.clone().filter(|word| !TITLES.contains(word)).map(str::to_owned).collect();
    if named.is_empty() { all.map(str::to_owned).collect() } else { named }
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
    #[case("А. Idowu", "A. Idowu", true)] // Cyrillic А
    #[case("Dr A. Idowu", "A. Idowu", true)]
    #[case("AIdowu", "A. Idowu", true)]
    #[case("A. Idowu", "B. Idowu", false)]
    #[case("A. Idowu", "M. Tamm", false)]
    fn names_are_folded(#[case] first: &str, #[case] second: &str, #[case] same: bool) {
        assert_eq!(is_same(first, second), same);
    }
}
