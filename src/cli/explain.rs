//! `explain`: what a code means, why it matters and what to do; with `--all`, the whole reference as Markdown.

mod commands;
mod reference;

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use serde_json::{Value, json};

use super::answer::Answer;
use super::input::Refused;
use super::{Exit, Format};
use crate::check;
use crate::diagnostic::Fault;
use crate::diagnostic::explained::{CodeFamily, Explanation, explained, nearest};
use crate::pharmacy::lint;

#[derive(Debug, Args)]
pub(super) struct ExplainArgs {
    /// The code as a screen shows it: of a finding, a mark, a remark, an error, an event, or an exit code
    #[arg(required_unless_present = "all")]
    code: Option<String>,
    /// The whole reference as Markdown, or one part of it
    #[arg(long, value_enum, value_name = "PART", num_args = 0..=1, default_missing_value = "everything",
        conflicts_with_all = ["code", "format"])]
    all: Option<Part>,
    /// The folder into which each part is written as a file of its own
    #[arg(short, long, value_name = "DIR", requires = "all", conflicts_with = "code")]
    output: Option<PathBuf>,
    #[command(flatten)]
    common: super::Common,
}

/// A part of the reference: one page.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Part {
    /// All of them
    Everything,
    /// What a check finds about a set-up
    Findings,
    /// Marks of the record, and what is outstanding
    Marks,
    /// Remarks of the lint
    Lint,
    /// Why something is refused
    Errors,
    /// Kinds of events in a journal
    Events,
    /// Every command with its options, and the exit codes
    Commands,
}

impl Part {
    const PAGES: [Self; 6] = [Self::Findings, Self::Marks, Self::Lint, Self::Errors, Self::Events, Self::Commands];

    fn pages(self) -> Vec<Self> {
        if self == Self::Everything { Self::PAGES.to_vec() } else { vec![self] }
    }

    fn markdown(self) -> String {
        match self {
            Self::Everything => Self::PAGES.map(Self::markdown).join("\n"),
            Self::Findings => reference::codes("Findings", reference::FINDINGS, &[CodeFamily::Finding]),
            Self::Marks => {
                reference::codes("Marks of the record", reference::MARKS, &[CodeFamily::Mark, CodeFamily::Outstanding])
            }
            Self::Lint => reference::codes("Remarks of the lint", reference::LINT, &[CodeFamily::Lint]),
            Self::Errors => reference::codes("Errors", reference::ERRORS, &[CodeFamily::Error]),
            Self::Events => reference::codes("Events", reference::EVENTS, &[CodeFamily::Event]),
            Self::Commands => commands::markdown(),
        }
    }

    const fn file(self) -> &'static str {
        match self {
            Self::Everything | Self::Commands => "commands.md",
            Self::Findings => "findings.md",
            Self::Marks => "marks.md",
            Self::Lint => "lint.md",
            Self::Errors => "errors.md",
            Self::Events => "events.md",
        }
    }
}

pub(super) fn run(args: &ExplainArgs) -> Answer {
    let format = args.common.format;
    match (args.all, &args.output, &args.code) {
        (Some(part), Some(folder), _) => {
            write(part, folder).unwrap_or_else(|refused| Answer::refused(&refused, format))
        }
        (Some(part), None, _) => Answer::text(part.markdown(), Exit::Proceed),
        (None, _, code) => one(code.as_deref().unwrap_or_default(), format),
    }
}

fn write(part: Part, folder: &Path) -> Result<Answer, Refused> {
    let mut said = String::new();
    for page in part.pages() {
        let path = folder.join(page.file());
        std::fs::create_dir_all(folder).and_then(|()| std::fs::write(&path, page.markdown())).map_err(|error| {
            let fault = Fault::new("file-not-written", error.to_string());
            Refused::one(&path.display().to_string(), fault.help("look at the permissions of the folder"))
        })?;
        said += &format!("{}\n", path.display());
    }
    Ok(Answer::text(said, Exit::Proceed))
}

fn one(code: &str, format: Format) -> Answer {
    let known = explained(code);
    if known.is_empty() {
        let near = nearest(code).join(", ");
        let message = format!("no code is called `{}`", crate::quantity::clip(code));
        let help = format!("write the code as it is shown; near it are: {near}");
        return Answer::refused(&Refused::one("explain", Fault::new("code-unknown", message).help(help)), format);
    }
    match format {
        Format::Text => {
            let pages: Vec<String> = known.iter().map(|(family, code)| page(*family, code)).collect();
            Answer::text(pages.join("\n"), Exit::Proceed)
        }
        Format::Json => {
            let all: Vec<Value> = known.iter().map(|(family, code)| data(*family, code)).collect();
            Answer::json(&json!({"version": 1, "explanations": all}), Exit::Proceed)
        }
    }
}

/// What the code weighs, where its family knows that: only the rule that uses a code says so.
fn weight(family: CodeFamily, code: &str) -> Option<&'static str> {
    match family {
        CodeFamily::Finding => check::codes().find(|known| known.id == code).map(|known| known.severity.with_kind()),
        CodeFamily::Lint => lint::codes().find(|known| known.id == code).map(|known| known.level.word()),
        #[cfg(feature = "journal")]
        CodeFamily::Mark if crate::case::needs_even_so(code) => Some("confirmed with --even-so"),
        _ => None,
    }
}

/// `finding: stop, beyond`, or the family alone.
fn heading(family: CodeFamily, code: &str) -> String {
    weight(family, code).map_or_else(|| family.word().to_owned(), |weight| format!("{}: {weight}", family.word()))
}

/// As it is read at a terminal.
fn page(family: CodeFamily, explanation: &Explanation) -> String {
    const WIDTH: usize = 96;
    let Explanation { code, means, matters, to_do, example } = explanation;
    let mut page = format!("{code} ({})\n", heading(family, code));
    for (title, text) in [("What it means", means), ("Why it matters", matters), ("What to do", to_do)] {
        if text.is_empty() {
            continue;
        }
        page += &format!("\n{title}\n");
        for line in textwrap::wrap(&sentence(text), WIDTH) {
            page += &format!("  {line}\n");
        }
    }
    if let Some(example) = example {
        page += "\nExample\n";
        for line in example.lines() {
            page += &format!("  {line}\n");
        }
    }
    page
}

fn data(family: CodeFamily, explanation: &Explanation) -> Value {
    let Explanation { code, means, matters, to_do, example } = explanation;
    json!({
        "code": code, "family": family.word(), "weight": weight(family, code),
        "means": means, "matters": matters, "to_do": to_do, "example": example,
    })
}

/// With a capital and a full stop: advice is kept as the end of a message.
fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|first| first.to_uppercase().to_string()).unwrap_or_default();
    let stop = if text.ends_with(['.', '!', '?']) { "" } else { "." };
    format!("{first}{}{stop}", letters.as_str())
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use crate::cli::Exit;
    use crate::diagnostic::explained::CodeFamily;

    fn codes(family: CodeFamily) -> BTreeSet<&'static str> {
        family.codes().map(|code| code.code.as_str()).collect()
    }

    #[test]
    fn findings_remarks_and_marks_are_those_of_the_rules() {
        assert_eq!(codes(CodeFamily::Finding), crate::check::codes().map(|code| code.id).collect());
        assert_eq!(codes(CodeFamily::Lint), crate::pharmacy::lint::codes().map(|code| code.id).collect());
        #[cfg(feature = "journal")]
        {
            assert_eq!(codes(CodeFamily::Mark), crate::case::marks().collect());
            let first = CodeFamily::Mark.chapters().next().expect("a chapter");
            assert_eq!(first.title, "Taken only when somebody confirms that it really happened");
            for code in CodeFamily::Mark.codes() {
                assert_eq!(first.codes.contains(code), crate::case::needs_even_so(&code.code), "{}", code.code);
            }
        }
    }

    #[test]
    fn exit_codes_are_those_of_the_program() {
        let all = [Exit::Proceed, Exit::Refused, Exit::Justify, Exit::Stopped, Exit::Disagree, Exit::Fault];
        let known: BTreeSet<String> = all.iter().map(|exit| exit.code().to_string()).collect();
        assert_eq!(codes(CodeFamily::Exit), known.iter().map(String::as_str).collect());
    }
}
