//! The codes of a family as one page of Markdown.

use crate::diagnostic::explained::{CodeFamily, Explanation};

pub(super) const FINDINGS: &str = "\
What `check`, `agree` and a case find about a set-up. *Stop, impossible*: it cannot be computed truthfully; no card, \
not even in an emergency. *Stop, beyond*: it is outside the hospital's limits; no agreed card. *Justify*: each of the \
two people writes a reason. *Note*: to be known.";
pub(super) const MARKS: &str = "\
What is odd about something that was recorded. Those of the first chapter are taken only with `--even-so`. For each but \
`not-double-checked` a reason is outstanding until somebody writes it. The last chapter: what the list of cases names as \
still to be done.";
pub(super) const LINT: &str = "\
What `countersign formulary lint` remarks on. A *warning* is mended, or accepted in the drug's file with a written \
reason; a *note* is to be known. Errors, with which a formulary cannot be used, are in [errors.md](errors.md).";
pub(super) const ERRORS: &str = "\
Why something is refused: an entry, a file, an option, a request.";
pub(super) const EVENTS: &str = "\
The kinds of events that a journal holds, in the order in which they begin to occur.";

/// What every page says first.
pub(super) const MADE: &str = "<!-- Made by `countersign explain --all -o docs/reference`. -->";

/// One page: what its codes are about, then every code under its chapter.
pub(super) fn codes(title: &str, about: &str, families: &[CodeFamily]) -> String {
    let mut page = format!("{MADE}\n\n# {title}\n\n{}", paragraph(about));
    for family in families {
        for chapter in family.chapters() {
            page += &format!("\n## {}\n", chapter.title);
            if *family == CodeFamily::Event {
                page += "\n| event | what |\n| --- | --- |\n";
                page.extend(chapter.codes.iter().map(|code| format!("| `{}` | {} |\n", code.code, code.means)));
            } else {
                page.extend(chapter.codes.iter().map(|code| entry(*family, code)));
            }
        }
    }
    page
}

/// A heading, so that a link can lead to it, and one block of text.
fn entry(family: CodeFamily, explanation: &Explanation) -> String {
    let Explanation { code, means, matters, to_do, example } = explanation;
    let weight = super::weight(family, code).map_or_else(String::new, |weight| format!("*{}.* ", capital(weight)));
    let mut entry = format!("\n### `{code}`\n\n");
    entry += &paragraph(&format!("{weight}{means} {matters}"));
    entry += &paragraph(&format!("To do: {}", super::sentence(to_do)));
    if let Some(example) = example {
        entry += &format!("\n```yaml\n{example}\n```\n");
    }
    entry
}

/// Wrapped, with a line end.
pub(super) fn paragraph(text: &str) -> String {
    const WIDTH: usize = 116;
    let options = textwrap::Options::new(WIDTH).word_splitter(textwrap::WordSplitter::NoHyphenation);
    textwrap::wrap(text, options).iter().map(|line| format!("{line}\n")).collect()
}

fn capital(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map_or_else(String::new, |first| format!("{}{}", first.to_uppercase(), letters.as_str()))
}
