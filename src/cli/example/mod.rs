//! `example`: a pair of entries that travels inside the program, its times moved to now, and what `agree` answers.

mod pairs;

use std::fmt::Write as _;

use clap::Args;

use crate::card::wrapped;
use crate::diagnostic::Fault;
use crate::formulary::Formulary;
use crate::quantity::clip;

use super::answer::Answer;
use super::entry_file::{CommandError, read_text};
use super::input::Refused;
use super::{Drawing, Exit, Now, agree};

use pairs::{EXAMPLES, Example};

#[derive(Debug, Args)]
pub(super) struct ExampleArgs {
    /// Which example; --list names them
    #[arg(default_value = EXAMPLES[0].name)]
    name: String,
    /// Name every example, one a line
    #[arg(long, conflicts_with_all = ["name", "at", "format", "output"])]
    list: bool,
    #[command(flatten)]
    now: Now,
    #[command(flatten)]
    drawing: Drawing,
}

pub(super) fn run(args: &ExampleArgs) -> Answer {
    if args.list {
        return Answer::text(list(), Exit::Proceed);
    }
    answer(args).unwrap_or_else(|no_answer| no_answer.said(args.drawing.plain()))
}

fn list() -> String {
    let width = EXAMPLES.iter().map(|example| example.name.len()).max().unwrap_or_default();
    EXAMPLES.iter().fold(String::new(), |mut out, example| {
        let _ = writeln!(out, "{:width$}  {}", example.name, example.says);
        out
    })
}

fn answer(args: &ExampleArgs) -> Result<Answer, CommandError> {
    let now = args.now.moment()?;
    let Some(example) = EXAMPLES.iter().find(|example| example.name == args.name) else {
        let fault = Fault::new("example-unknown", format!("there is no example `{}`", clip(&args.name)))
            .help("`countersign example --list` names them all");
        return Err(Refused::one("example", fault).into());
    };
    let read = |text: &str, which: &str| read_text(format!("{}, {which} entry", example.name), text.to_owned(), false);
    let (first, second) = (read(example.first, "first")?, read(example.second, "second")?);
    let later = if first.entered_at().is_before(second.entered_at()) { second } else { first }.entered_at();
    let Some(moved) = example.moved(later, now) else {
        let fault = Fault::new("time-too-far", format!("the dates of an example cannot be moved to {now}"))
            .help("write a moment of this century, or leave --at out");
        return Err(Refused::one("--at", fault).into());
    };
    let (first, second) = (read(&moved.first, "first")?, read(&moved.second, "second")?);
    let says = introduction(example);
    let answer =
        agree::compare((first, second), &Formulary::demonstration().map_err(Refused::from)?, now, &args.drawing)?;
    Ok(if args.drawing.is_text_to_read() {
        answer.beginning_with(&format!("{says}\n"))
    } else {
        answer.with_diagnostics(says)
    })
}

/// What this is, before the answer itself.
fn introduction(example: &Example) -> String {
    let mut out = String::new();
    wrapped(&mut out, "", &format!("Example {}: {}.", example.name, example.says));
    let what = "Two invented people entered this set-up, neither seeing the other's entry. This is what `countersign agree` answers.";
    wrapped(&mut out, "", what);
    out.push_str("DEMONSTRATION: invented people; times moved to now.\n");
    out
}
