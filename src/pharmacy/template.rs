//! The files of a new house: one area and one drug with invented values, and comments that say what to write instead.

/// Path from the new folder on, and text, of every file.
pub const FILES: [(&str, &str); 4] = [
    ("areas.yaml", include_str!("template/areas.yaml")),
    ("drugs/dobutamine.yaml", include_str!("template/drugs/dobutamine.yaml")),
    ("equipment.yaml", include_str!("template/equipment.yaml")),
    ("formulary.yaml", include_str!("template/formulary.yaml")),
];

#[cfg(test)]
mod tests {
    use super::FILES;
    use crate::formulary::Files;
    use crate::pharmacy::lint::lint;
    use crate::quantity::Moment;

    fn linted(change: impl Fn(&str) -> String) -> crate::pharmacy::lint::Report {
        let files = FILES.map(|(path, text)| (path.to_owned(), change(text)));
        lint(Files::of_texts("new", files.to_vec()), Moment::parse("2026-03-14T08:00:00+00:00").expect("a moment"))
    }

    #[test]
    fn the_new_folder_has_neither_an_error_nor_a_remark() {
        let report = linted(str::to_owned);
        assert!(report.files.is_empty(), "{:?}", report.files);
        assert_eq!(report.drugs, 1);
    }

    // hazard: H-LIMITS
    #[test]
    fn no_invented_value_is_left_without_an_error_once_it_is_for_patients() {
        let report = linted(|text| text.replace("demonstration: true", "demonstration: false"));
        let faults = report.files.iter().flat_map(|file| &file.faults);
        let named = faults.filter(|fault| fault.code == "demonstration-value").count();
        // The areas are read first: drugs follow once they can be used.
        assert_eq!(named, FILES[0].1.matches("source: demonstration value").count());
        let areas = linted(|text| {
            let text = text.replace("demonstration: true", "demonstration: false");
            if text.contains("standard_equipment") { text.replace("demonstration value", "committee") } else { text }
        });
        let left: usize = areas.files.iter().map(|file| file.faults.len()).sum();
        assert_eq!(left, FILES[1].1.matches("source: demonstration value").count(), "{:?}", areas.files);
    }
}
