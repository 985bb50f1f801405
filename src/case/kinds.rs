//! The kinds of events in words, as a page that counts them says it.

/// Each kind that this program writes, and what it is called where many are counted.
const KINDS: [(&str, &str); 19] = [
    ("journal-created", "the making of the journal"),
    ("person-added", "people added"),
    ("person-retired", "people retired"),
    ("pin-changed", "PINs changed"),
    ("pin-refused", "wrong PINs"),
    ("form-refused", "forms refused that came from no page of their sender"),
    ("case-opened", "cases opened"),
    ("entry-sealed", "entries sealed"),
    ("weight-sealed", "weights read again"),
    ("identifiers-sealed", "identifiers read later"),
    ("card-given", "cards given out"),
    ("read-back", "read-backs of a driver"),
    ("record", "lines of the record"),
    ("witnessed", "closings witnessed"),
    ("forgotten", "cases forgotten"),
    ("formulary-kept", "formularies kept"),
    ("formulary-signed", "formularies signed by their author"),
    ("formulary-approved", "formularies approved"),
    ("formulary-not-approved", "formularies that a second pharmacist read differently"),
];

/// A kind of event in words; as it is written, where this program does not write it.
#[must_use]
pub fn kind_in_words(kind: &str) -> &str {
    KINDS.iter().find(|(known, _)| *known == kind).map_or(kind, |(_, says)| says)
}

#[cfg(test)]
mod tests {
    use super::{KINDS, kind_in_words};

    #[test]
    fn every_kind_that_is_written_has_its_words() {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src/case");
        let constant = regex::Regex::new(r#"const (OPENED|ENTRY|CARD|WEIGHT|IDENTIFIERS|READ_BACK|RECORD|FORGOTTEN|WITNESSED|KEPT|SIGNED|APPROVED|NOT_APPROVED|ADDED|RETIRED|PIN_CHANGED|PIN_REFUSED|FORM_REFUSED): &str = "([a-z-]+)""#)
            .expect("a pattern");
        let mut seen = 1;
        for file in std::fs::read_dir(folder).expect("src/case").flatten().filter(|file| file.path().is_file()) {
            let text = std::fs::read_to_string(file.path()).expect("text");
            for found in constant.captures_iter(&text) {
                seen += 1;
                assert_ne!(kind_in_words(&found[2]), &found[2], "{}", &found[2]);
            }
        }
        assert_eq!(seen, KINDS.len());
    }
}
