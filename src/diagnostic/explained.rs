//! What every code means that a screen can show: findings, marks of the record, lint remarks, errors, kinds of events,
//! exit codes. In: the YAML files beside this one, which travel inside the program. Out: one [`Explanation`] for a code.

use std::collections::HashMap;
use std::sync::OnceLock;

use serde::Deserialize;

/// What a code belongs to: one word may name a finding of the check and a mark of the record.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum CodeFamily {
    /// What a check finds about a set-up.
    Finding,
    /// What is odd about something that was recorded.
    Mark,
    /// What is still to be done about a set-up.
    Outstanding,
    /// What the lint remarks on in a formulary.
    Lint,
    /// Why something is refused.
    Error,
    /// A kind of event in a journal.
    Event,
    /// How the program ends.
    Exit,
}

/// One code, explained.
#[derive(Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Explanation {
    /// Kebab-case, stable.
    pub code: String,
    /// What it means, in one sentence; a few words for a kind of event.
    pub means: String,
    /// Why it matters. Empty for a kind of event.
    #[serde(default)]
    pub matters: String,
    /// What to do about it. Empty for a kind of event.
    #[serde(default)]
    pub to_do: String,
    /// An example as it is written in a file, where there is one.
    pub example: Option<String>,
}

/// Codes that are about one thing.
#[derive(Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Chapter {
    /// What they are about.
    pub title: String,
    /// In the order in which a person would look.
    pub codes: Vec<Explanation>,
}

macro_rules! files {
    ($($family:ident: $($name:literal),+;)+) => {
        const FILES: &[(CodeFamily, &str, &str)] =
            &[$($((CodeFamily::$family, $name, include_str!(concat!("explained/", $name)))),+),+];
    };
}

files! {
    Finding: "findings-order.yaml", "findings-syringe.yaml";
    Mark: "marks.yaml";
    Outstanding: "outstanding.yaml";
    Lint: "lint.yaml";
    Error: "errors-entry.yaml", "errors-numbers.yaml", "errors-files.yaml", "errors-formulary.yaml", "errors-orders.yaml", "errors-cases.yaml",
        "errors-pharmacy.yaml", "errors-journal.yaml", "errors-web.yaml";
    Event: "events.yaml";
    Exit: "exits.yaml";
}

impl CodeFamily {
    /// Every family, in the order in which they are shown.
    pub const ALL: [Self; 7] =
        [Self::Finding, Self::Mark, Self::Outstanding, Self::Lint, Self::Error, Self::Event, Self::Exit];

    /// What one of its codes is called.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Finding => "finding",
            Self::Mark => "mark of the record",
            Self::Outstanding => "outstanding",
            Self::Lint => "lint remark",
            Self::Error => "error",
            Self::Event => "kind of event",
            Self::Exit => "exit code",
        }
    }

    /// Its chapters, in the order in which a person would look.
    pub fn chapters(self) -> impl Iterator<Item = &'static Chapter> {
        chapters().iter().filter(move |(family, _)| *family == self).map(|(_, chapter)| chapter)
    }

    /// Its codes, in the same order.
    pub fn codes(self) -> impl Iterator<Item = &'static Explanation> {
        self.chapters().flat_map(|chapter| &chapter.codes)
    }

    /// One of its codes.
    #[must_use]
    pub fn explained(self, code: &str) -> Option<&'static Explanation> {
        static BY_CODE: OnceLock<HashMap<(CodeFamily, &str), &Explanation>> = OnceLock::new();
        let by_code = BY_CODE.get_or_init(|| {
            let all = Self::ALL.into_iter().flat_map(|family| family.codes().map(move |code| (family, code)));
            all.map(|(family, code)| ((family, code.code.as_str()), code)).collect()
        });
        by_code.get(&(self, code)).copied()
    }
}

/// Everything that a code means, in each family that has it.
#[must_use]
pub fn explained(code: &str) -> Vec<(CodeFamily, &'static Explanation)> {
    CodeFamily::ALL.into_iter().filter_map(|family| Some((family, family.explained(code)?))).collect()
}

/// The three codes that are spelled most like this one, nearest first.
#[must_use]
pub fn nearest(code: &str) -> Vec<&'static str> {
    let all = CodeFamily::ALL.into_iter().flat_map(CodeFamily::codes).map(|known| known.code.as_str());
    let mut near: Vec<(usize, &str)> = all.map(|known| (strsim::osa_distance(known, code), known)).collect();
    near.sort_unstable();
    near.dedup();
    near.into_iter().take(3).map(|(_, known)| known).collect()
}

fn chapters() -> &'static [(CodeFamily, Chapter)] {
    static CHAPTERS: OnceLock<Vec<(CodeFamily, Chapter)>> = OnceLock::new();
    CHAPTERS.get_or_init(|| {
        let read = |&(family, name, text): &(CodeFamily, &str, &str)| {
            let chapters: Vec<Chapter> =
                serde_yaml::from_str(text).unwrap_or_else(|error| panic!("src/diagnostic/explained/{name}: {error}"));
            chapters.into_iter().map(move |chapter| (family, chapter))
        };
        FILES.iter().flat_map(read).collect()
    })
}

#[cfg(test)]
mod tests {
    use super::{CodeFamily, explained, nearest};

    #[test]
    fn every_file_is_read_and_no_code_is_explained_twice_in_a_family() {
        for family in CodeFamily::ALL {
            let mut codes: Vec<&str> = family.codes().map(|code| code.code.as_str()).collect();
            assert!(!codes.is_empty(), "{family:?}");
            codes.sort_unstable();
            let twice: Vec<_> = codes.windows(2).filter(|two| two[0] == two[1]).collect();
            assert!(twice.is_empty(), "{family:?}: {twice:?}");
        }
    }

    #[test]
    fn every_code_says_what_it_means_why_it_matters_and_what_to_do() {
        for family in CodeFamily::ALL.into_iter().filter(|family| *family != CodeFamily::Event) {
            for code in family.codes() {
                for says in [&code.means, &code.matters] {
                    let begins =
                        says.starts_with(|c: char| c.is_uppercase() || c.is_ascii_digit() || "`.µ".contains(c));
                    let begins = begins || ["mcg", "mL"].iter().any(|unit| says.starts_with(unit));
                    assert!(begins && says.ends_with(['.', '?']) && !says.contains('\n'), "{}: {says}", code.code);
                }
                assert!(!code.to_do.is_empty() && !code.to_do.ends_with('.'), "{}: {}", code.code, code.to_do);
            }
        }
    }

    #[test]
    fn a_mistyped_code_is_guessed() {
        assert_eq!(nearest("strength-tenfold").first(), Some(&"strengths-tenfold"));
        assert_eq!(nearest("dose-above-hard-limt").first(), Some(&"dose-above-hard-limit"));
        assert!(explained("strength-tenfold").is_empty());
    }

    #[test]
    fn a_code_that_two_families_have_is_explained_in_both() {
        let families: Vec<CodeFamily> =
            explained("dose-above-hard-limit").into_iter().map(|(family, _)| family).collect();
        assert_eq!(families, [CodeFamily::Finding, CodeFamily::Mark]);
    }
}
