//! Many entries, one JSON object a line: order kept, all cores, bounded memory. A line that cannot be read is answered
//! too, and the batch goes on.

use std::io::{self, IsTerminal as _, Write as _};
use std::path::Path;

use serde::Serialize;

use crate::agreement::{NotComparable, Outcome, agree};
use crate::check::{Audience, Checked, Verdict};
use crate::diagnostic::{Fault, Source, json};
use crate::document::{LINE_LIMIT, Node, Path as Place, read_json};
use crate::entry::{Entry, EntryForm};
use crate::formulary::Formulary;
use crate::quantity::Moment;

use super::Exit;
use super::answer::{Answer, RefusedJson};
use super::entry_file::{CommandError, check, in_one_line, without_what_was_typed};
use super::input::Refused;
use super::lines::{self, Fatal, Fold};
use super::report::{CheckedJson, DisagreeJson, code};

/// What is done with each line.
pub(super) trait Task: Sync {
    /// Appends the answer, without the line break.
    fn answer(&self, line: &str, number: usize, out: &mut Vec<u8>) -> Result<(), Fatal>;
}

/// Each line is one entry.
pub(super) struct Single<'f> {
    pub(super) formulary: &'f Formulary,
    pub(super) now: Moment,
}

/// Each line is a pair of entries.
pub(super) struct Pairs<'f> {
    pub(super) formulary: &'f Formulary,
    pub(super) now: Moment,
}

impl Task for Single<'_> {
    fn answer(&self, line: &str, number: usize, out: &mut Vec<u8>) -> Result<(), Fatal> {
        let mut faults = Vec::new();
        let entry = read_json(line, LINE_LIMIT, &mut faults).and_then(|root| form(&root, Place::Root, &mut faults));
        let Some(entry) = entry.filter(|_| faults.is_empty()) else { return refuse(line, number, faults, out) };
        match check(entry, self.formulary, self.now) {
            Ok(checked) => {
                let verdict = checked.verdict();
                write(out, &CheckedJson::of(&checked, verdict, checked.findings(), Audience::Reader))
            }
            Err(no_answer) => unanswered(no_answer, out),
        }
    }
}

impl Task for Pairs<'_> {
    fn answer(&self, line: &str, number: usize, out: &mut Vec<u8>) -> Result<(), Fatal> {
        let mut faults = Vec::new();
        let pair = read_json(line, LINE_LIMIT, &mut faults).and_then(|root| pair(&root, &mut faults));
        let Some((first, second)) = pair.filter(|_| faults.is_empty()) else {
            return refuse(line, number, faults.into_iter().map(Fault::blind).collect(), out);
        };
        let check = |entry| -> Result<Checked<'_>, CommandError> { check(entry, self.formulary, self.now) };
        let (first, second) = match (check(first), check(second)) {
            (Ok(first), Ok(second)) => (first, second),
            (Err(no_answer), _) | (_, Err(no_answer)) => return unanswered(no_answer, out),
        };
        let answer = |pair: &crate::agreement::Pair<'_>, verdict, out: &mut Vec<u8>| {
            write(
                out,
                &CheckedJson::of(pair.first(), verdict, pair.findings(), Audience::of_pair(verdict)).agreed(true),
            )
        };
        match agree(first, second) {
            Err(NotComparable::RatesDiffer) => Err(Fatal(NotComparable::RatesDiffer.to_string())),
            Err(refused) => {
                refuse(line, number, vec![Fault::new(code(&refused), refused.to_string()).help(refused.help())], out)
            }
            Ok(Outcome::Differ(differ)) => write(out, &DisagreeJson::of(differ.fields())),
            Ok(Outcome::Stopped(pair)) => answer(&pair, Verdict::Stop, out),
            Ok(Outcome::ReasonsMissing(pair)) => answer(&pair, Verdict::Justify, out),
            Ok(Outcome::Agreed(agreed)) => answer(agreed.pair(), Verdict::Proceed, out),
        }
    }
}

/// Answers every line of a file.
pub(super) fn run(path: &Path, task: &impl Task) -> Result<Answer, Refused> {
    let workers = lines::workers();
    let quiet = io::stdout().is_terminal();
    let ended = lines::fold(path, &Answering(task), workers, quiet, |bytes: Vec<u8>| {
        io::stdout().write_all(&bytes).and_then(|()| io::stdout().flush()).map_err(lines::ended)
    })?;
    Ok(match ended {
        lines::End::Whole | lines::End::PipeClosed => Answer::text(String::new(), Exit::Proceed),
        lines::End::Fault(message) => Answer::fault(&message),
    })
}

/// The answers of a block are its bytes.
struct Answering<'t, T>(&'t T);

impl<T: Task> Fold for Answering<'_, T> {
    type Done = Vec<u8>;

    fn begin(&self, length: usize) -> Vec<u8> {
        Vec::with_capacity(length / 2)
    }

    fn line(&self, line: &str, number: usize, done: &mut Vec<u8>) -> Result<(), Fatal> {
        self.0.answer(line, number, done)?;
        done.push(b'\n');
        Ok(())
    }

    fn no_line(&self, message: &str, _: usize, done: &mut Vec<u8>) -> Result<(), Fatal> {
        refuse_line(done, message)?;
        done.push(b'\n');
        Ok(())
    }
}

fn form(node: &Node<'_>, place: Place<'_>, faults: &mut Vec<Fault>) -> Option<Box<Entry>> {
    EntryForm::at(node, place).read(faults)
}

fn pair(root: &Node<'_>, faults: &mut Vec<Fault>) -> Option<(Box<Entry>, Box<Entry>)> {
    let mut fields = crate::document::Fields::of(root, Place::Root, faults)?;
    let (first, second) = (fields.node("first"), fields.node("second"));
    if first.is_none() {
        let _ = fields.required_item("first");
    }
    if second.is_none() {
        let _ = fields.required_item("second");
    }
    fields.no_others();
    let first = first.and_then(|node| form(node, Place::Root.field("first"), faults));
    let second = second.and_then(|node| form(node, Place::Root.field("second"), faults));
    first.zip(second)
}

fn refuse(line: &str, number: usize, faults: Vec<Fault>, out: &mut Vec<u8>) -> Result<(), Fatal> {
    let faults = without_what_was_typed(faults);
    let source = Source::of_line("line", number, line);
    // What is missing has no place in the line, and the line has one in the file.
    let placed = |fault| {
        let mut data = json::fault(&source, fault);
        if data["line"].is_null() {
            data["line"] = number.into();
        }
        data
    };
    let data = faults.iter().map(placed).collect();
    write(out, &RefusedJson::new(&in_one_line(&faults), data))
}

fn refuse_line(out: &mut Vec<u8>, message: &str) -> Result<(), Fatal> {
    write(out, &RefusedJson::new(message, Vec::new()))
}

fn unanswered(no_answer: CommandError, out: &mut Vec<u8>) -> Result<(), Fatal> {
    match no_answer {
        CommandError::Refused(refused) => refuse_line(out, &refused.first_message()),
        CommandError::Fault(message) => Err(Fatal(message)),
        #[cfg(feature = "journal")]
        CommandError::Journal(_) => Err(Fatal("a batch has no journal".to_owned())),
    }
}

fn write(out: &mut Vec<u8>, value: &impl Serialize) -> Result<(), Fatal> {
    serde_json::to_writer(out, value).map_err(|error| Fatal(error.to_string()))
}
