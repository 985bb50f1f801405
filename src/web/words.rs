//! Advice names commands and their options; at a page it names the page's own buttons and fields instead.

/// A command by its first words, and what does the same here. The first that fits.
const COMMANDS: &[(&str, &str)] = &[
    ("case emergency", "“Emergency entry”"),
    ("case enter", "“Enter a set-up”"),
    ("case identifiers", "“Patient arrived: read the wristband”"),
    ("case list", "the list of cases"),
    ("case open", "“Open a case”"),
    ("case round", "“Take over: the round”"),
    ("case second", "“Do the second check”"),
    ("case sign-round", "“Countersign the round”"),
    ("case status", "the page of the case"),
    ("case weight", "“Weigh: read the weight”"),
    ("formulary approve", "“The proposed formulary”"),
    ("formulary lint", "“What the lint says”"),
    ("formulary sign", "“The proposed formulary”"),
    ("journal verify", "“Journal”"),
    ("record close", "“Account for what was drawn up”"),
    ("record correct", "“Correct event”"),
    ("record hang", "“Note line”"),
    ("record reason", "“Correct event”"),
    ("record resume", "“Resume”"),
    ("record show", "the record"),
    ("record rate", "“Change rate”"),
    ("record start", "“Start”"),
    ("record stop", "“Stop”"),
];

/// An option, and the field or button that stands for it here. The first that fits.
const OPTIONS: &[(&str, &str)] = &[
    ("and type it with --dose-again", "and type it in “Dose again”"),
    ("add --as and the name of somebody who is here; their PIN is asked", "sign in as somebody who is here"),
    ("--reason \"read off another driver\"", "“Why it was done, or why it is corrected”"),
    ("--rate \"RATE mL/h\"", "“Another rate”"),
    ("--anew", "“Discard and enter again”"),
    ("--dose-changes", "“The dose is changed on purpose”"),
    ("--even-so", "“It really happened, although it is not as agreed”"),
    ("--late", "“Why it is recorded only now”"),
    ("--not", "“It did not happen”"),
    ("--reason", "“Why”"),
    ("--time", "“It happened at another time”"),
    ("--witness", "“Who saw it”"),
];

/// An option or a page, and the field or address of a request that stands for it.
const FIELDS: &[(&str, &str)] = &[
    ("confirm the time on the page Journal", "confirm the time: POST /api/v1/clock"),
    ("--reason \"read off another driver\"", "`reason`"),
    ("--rate \"RATE mL/h\"", "`value`"),
    ("--dose-again", "`dose_again`"),
    ("--dose-changes", "`dose_changes`"),
    ("--even-so", "`even_so`"),
    ("--late", "`late`"),
    ("--reason", "`reason`"),
    ("--time", "`time`"),
    ("--witness", "`witness`"),
];

/// The same advice, in the fields of a request.
pub(super) fn in_a_request(advice: &str) -> String {
    FIELDS.iter().fold(advice.to_owned(), |text, (option, field)| text.replace(option, field))
}

/// The same advice, in the words of the page.
pub(super) fn on_the_page(advice: &str) -> String {
    let mut out = String::with_capacity(advice.len());
    for (at, part) in advice.split('`').enumerate() {
        let command = part.strip_prefix("countersign ").unwrap_or(part);
        let here = COMMANDS.iter().find(|(known, _)| at % 2 == 1 && command.starts_with(known));
        match here {
            Some(_) if command.contains("--anew") => out.push_str("“Discard and enter again”"),
            Some((_, here)) => out.push_str(here),
            None if at % 2 == 1 => {
                out.push('`');
                out.push_str(part);
                out.push('`');
            }
            None => out.push_str(part),
        }
    }
    OPTIONS.iter().fold(out, |text, (option, here)| text.replace(option, here))
}

#[cfg(test)]
mod tests {
    use rstest::rstest;

    use super::on_the_page;

    #[rstest]
    #[case("see `countersign case status K7M-4QX`", "see the page of the case")]
    #[case("begin again: `countersign case enter K7M-4QX/1 --anew`", "begin again: “Discard and enter again”")]
    #[case("`case enter K7M-4QX` for another set-up", "“Enter a set-up” for another set-up")]
    #[case("`84 lb` is not in kg", "`84 lb` is not in kg")]
    #[case(
        "if it really happened, say so with --even-so",
        "if it really happened, say so with “It really happened, although it is not as agreed”"
    )]
    fn advice_names_what_the_page_has(#[case] advice: &str, #[case] here: &str) {
        assert_eq!(on_the_page(advice), here);
    }

    // Advice that names a button nobody finds is worse than none.
    #[test]
    fn every_button_and_field_that_advice_names_stands_on_a_page() {
        let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
        let mut pages = String::new();
        for folder in ["web/pages", "web/pages/pharmacy", "case/actions"] {
            for file in std::fs::read_dir(root.join(folder)).expect("it is there").flatten() {
                pages.extend(std::fs::read_to_string(file.path()));
            }
        }
        let named = super::COMMANDS.iter().chain(super::OPTIONS).flat_map(|(_, here)| here.split('“').skip(1));
        let named: Vec<&str> = named.filter_map(|rest| rest.split('”').next()).collect();
        assert!(named.len() > 20, "{named:?}");
        let missing: Vec<&&str> = named.iter().filter(|words| !pages.contains(&format!("\"{words}"))).collect();
        assert!(missing.is_empty(), "{missing:?}");
    }

    /// What pages do not do, and so is left as the command.
    const NOT_HERE: &[&str] = &[
        "people list",
        "journal create",
        "journal export",
        "formulary fingerprint",
        "formulary editions",
        "journal clock",
    ];

    #[test]
    fn no_advice_of_a_case_names_a_command_that_has_a_page() {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src/case");
        let mut seen = 0;
        for file in std::fs::read_dir(folder).expect("src/case").flatten().filter(|file| file.path().is_file()) {
            let text = std::fs::read_to_string(file.path()).expect("text");
            for rest in text.split("`countersign ").skip(1) {
                let words: Vec<&str> = rest.split([' ', '`']).take(2).collect();
                let command = words.join(" ");
                if command.contains('{') || NOT_HERE.contains(&command.as_str()) {
                    continue;
                }
                seen += 1;
                let advice = format!("`countersign {command}`");
                assert_ne!(on_the_page(&advice), advice, "{:?}", file.path());
            }
        }
        assert!(seen > 20, "{seen}");
    }
}
