//! What a fault about a patient may say: in comes a fault, out comes one that repeats nothing that was typed there.

use super::{Fault, PATIENT};

/// The fields under `patient`: the only words that a message about one may quote.
const FIELDS: &[&str] =
    &[PATIENT, "identifiers", "weight", "weight_from", "born", "age", "gestation", "sex", "height", "first", "second"];

impl Fault {
    /// The same fault; if it is about a patient, without any quoted text but the names of fields.
    #[must_use]
    pub fn without_what_was_typed(mut self) -> Self {
        if self.is_about_a_patient() {
            self.message = quoting_fields_only(&self.message);
            self.help = self.help.as_deref().map(|help| without_numbers(&quoting_fields_only(help)));
            let known = |key: &&str| FIELDS.contains(&key.split('[').next().unwrap_or_default());
            self.field = self.field.split('.').take_while(known).collect::<Vec<_>>().join(".");
        }
        self
    }
}

impl Fault {
    /// The same fault, with nothing of what was typed: for an entry that somebody else made, and that the reader must not
    /// know. It keeps its code, its field and the names of fields.
    #[must_use]
    pub fn blind(mut self) -> Self {
        let is_name =
            |quoted: &str| !quoted.is_empty() && quoted.bytes().all(|byte| byte.is_ascii_lowercase() || byte == b'_');
        let in_path = |quoted: &str| is_name(quoted) && self.field.split(['.', '[']).any(|key| key == quoted);
        self.message = quoting_only(&self.message, in_path);
        self.help = self.help.as_deref().map(|help| without_numbers(&quoting_only(help, is_name)));
        self
    }
}

/// Every second piece stands between backticks.
fn quoting_only(text: &str, known: impl Fn(&str) -> bool) -> String {
    let pieces = text.split('`').enumerate().map(|(at, piece)| if at % 2 == 0 || known(piece) { piece } else { "…" });
    pieces.collect::<Vec<_>>().join("`")
}

fn quoting_fields_only(text: &str) -> String {
    quoting_only(text, |quoted| FIELDS.contains(&quoted.trim_end_matches(':')))
}

/// A mend repeats the number that was typed, mended; an example that is always the same may stay.
fn without_numbers(help: &str) -> String {
    let is_mend = help.starts_with("write ") && help["write ".len()..].starts_with(|c: char| c.is_ascii_digit());
    if is_mend {
        "write the number as it is meant, with a point as the decimal sign and no zero too many".to_owned()
    } else {
        help.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use rstest::rstest;

    use super::Fault;

    #[rstest]
    #[case("write 72.5, or 725, whichever is meant")]
    #[case("write 0.72")]
    #[case("write 72")]
    fn a_mend_of_a_weight_does_not_tell_it(#[case] help: &str) {
        let fault = Fault::new("any", "any").in_field("first.patient.weight").help(help).without_what_was_typed();
        assert!(!fault.help.expect("it has one").contains(|c: char| c.is_ascii_digit()));
    }

    #[rstest]
    #[case("dose", "`0.080` ends with a zero after the point", "write 0.08", "`…` ends with a zero after the point")]
    #[case("dose", "the field `dose` is empty", "write its value", "the field `dose` is empty")]
    #[case(
        "phase",
        "`maintenence` is not a phase that is known here",
        "write one of: start",
        "`…` is not a phase that is known here"
    )]
    fn a_blind_fault_tells_no_value(
        #[case] field: &str,
        #[case] message: &str,
        #[case] help: &str,
        #[case] shown: &str,
    ) {
        let fault = Fault::new("any", message).in_field(field).help(help).blind();
        assert_eq!(fault.message, shown);
        assert!(!fault.help.expect("it has one").contains(|c: char| c.is_ascii_digit()));
    }

    #[test]
    fn an_example_stays() {
        let help = "write a weight in kg, for example 72.5 kg";
        let fault = Fault::new("any", "any").in_field("patient.weight").help(help).without_what_was_typed();
        assert_eq!(fault.help.as_deref(), Some(help));
    }

    #[rstest]
    #[case("patient.sex", "`QM-30417` is not a sex", "`…` is not a sex", "patient.sex")]
    #[case("patient.weight", "the field `weight` is empty", "the field `weight` is empty", "patient.weight")]
    #[case("patient.QM-30417", "the field `QM-30417` is empty", "the field `…` is empty", "patient")]
    #[case("first.patient.identifiers[1].QM-30417", "`QM-30417`", "`…`", "first.patient.identifiers[1]")]
    #[case("patient.born", "an odd ` and QM-30417", "an odd `…", "patient.born")]
    #[case("dose", "`.5` begins with a point", "`.5` begins with a point", "dose")]
    fn a_fault_about_a_patient_quotes_names_of_fields_only(
        #[case] field: &str,
        #[case] message: &str,
        #[case] shown: &str,
        #[case] shown_field: &str,
    ) {
        let fault = Fault::new("any", message).in_field(field).help(message).without_what_was_typed();
        assert_eq!((fault.message.as_str(), fault.help.as_deref()), (shown, Some(shown)));
        assert_eq!(fault.field, shown_field);
    }
}
