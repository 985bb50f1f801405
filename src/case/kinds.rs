//! The kinds of events in words, as a page that counts them says it.

use crate::diagnostic::explained::CodeFamily;

/// A kind of event in words; as it is written, where this program does not write it.
#[must_use]
pub fn kind_in_words(kind: &str) -> &str {
    CodeFamily::Event.explained(kind).map_or(kind, |known| &known.means)
}

#[cfg(test)]
mod tests {
    use super::kind_in_words;
    use crate::diagnostic::explained::CodeFamily;

    #[test]
    fn every_kind_that_is_written_has_its_words() {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src/case");
        let constant = regex::Regex::new(r#"const (OPENED|ENTRY|DECISION|RECOUNT|CARD|WEIGHT|IDENTIFIERS|ORDER|READ_BACK|RECORD|ROUND|ROUND_SIGNED|FORGOTTEN|WITNESSED|TYPED|KEPT|SIGNED|APPROVED|NOT_APPROVED|RECALLED|ADDED|RETIRED|PIN_CHANGED|RENAMED|ADMINISTRATORS_GONE|AGREED|FORGETTING_AGREED|CLOCK_CONFIRMED|PIN_REFUSED|FORM_REFUSED|WRITTEN_LATE): &str = "([a-z-]+)""#)
            .expect("a pattern");
        // The journal's own: its making, a restore, and a clock that was corrected.
        let mut seen = 3;
        for file in std::fs::read_dir(folder).expect("src/case").flatten().filter(|file| file.path().is_file()) {
            let text = std::fs::read_to_string(file.path()).expect("text");
            for found in constant.captures_iter(&text) {
                seen += 1;
                assert_ne!(kind_in_words(&found[2]), &found[2], "{}", &found[2]);
            }
        }
        assert_eq!(seen, CodeFamily::Event.codes().count());
    }
}
