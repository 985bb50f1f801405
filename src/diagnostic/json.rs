//! Faults for another program: in come a source and its faults, out comes JSON without any line of the text.

use serde_json::{Value, json};

use super::{Fault, Source};

/// `{"source": NAME, "faults": [...]}`, each fault as [`fault`] gives it.
#[must_use]
pub fn report(source: &Source, faults: &[Fault]) -> Value {
    json!({
        "source": source.name,
        "faults": faults.iter().map(|each| fault(source, each)).collect::<Vec<_>>(),
    })
}

/// `{"code", "field", "message", "help", "line", "column"}`; help, line and column are null where there is none. Line
/// and column count from 1, the column in characters.
#[must_use]
pub fn fault(source: &Source, fault: &Fault) -> Value {
    let place = fault.range.as_ref().map(|range| source.place(range.start));
    json!({
        "code": fault.code,
        "field": fault.field,
        "message": fault.message,
        "help": fault.help,
        "line": place.map(|place| place.line),
        "column": place.map(|place| place.column),
    })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use serde_json::json;

    use super::{fault, report};
    use crate::diagnostic::{Fault, Source};

    #[test]
    fn a_fault_has_its_place_in_lines_and_characters() {
        let source = Source::new("a.yaml", "drug: x\ndöse: .5 mg\n");
        let faults = [
            Fault::new("number-leading-point", "found `.5`").in_field("dose").at(15..17).help("write 0.5"),
            Fault::new("field-missing", "`weight` is missing"),
        ];
        assert_eq!(
            report(&source, &faults),
            json!({"source": "a.yaml", "faults": [
                {"code": "number-leading-point", "field": "dose", "message": "found `.5`", "help": "write 0.5", "line": 2, "column": 7},
                {"code": "field-missing", "field": "", "message": "`weight` is missing", "help": null, "line": null, "column": null},
            ]})
        );
    }

    #[test]
    fn a_line_of_a_batch_is_numbered_in_its_file() {
        let source = Source::of_line("many.jsonl", 12, "{}");
        assert_eq!(fault(&source, &Fault::new("any", "any").at(1..2))["line"], 12);
    }

    proptest! {
        #[test]
        fn any_range_is_placed(text in any::<String>(), start in any::<usize>(), end in any::<usize>()) {
            let value = fault(&Source::new("x", text), &Fault::new("any", "any").at(start..end));
            prop_assert!(value["line"].as_u64() >= Some(1) && value["column"].as_u64() >= Some(1));
        }
    }
}
