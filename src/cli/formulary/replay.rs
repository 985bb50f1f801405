//! `formulary replay`: past set-ups held against a proposed formulary and the one of now.

use std::path::PathBuf;

use clap::Args;

use super::edition::{Editions, Opened};
#[cfg(feature = "journal")]
use crate::case::Cases;
use crate::cli::answer::Answer;
use crate::cli::entry_file::CommandError;
use crate::cli::input::Refused;
use crate::cli::lines::{self, End, Fatal, Fold};
use crate::cli::{Common, Exit, Format, Now};
use crate::diagnostic::Fault;
use crate::document::{LINE_LIMIT, Path as Place, read_json};
use crate::entry::EntryForm;
use crate::formulary::Formulary;
#[cfg(feature = "journal")]
use crate::pharmacy::replay::{DosesMoved, runs_outside};
use crate::pharmacy::replay::{Replay, ReplayError};
use crate::quantity::Moment;

#[derive(Debug, Args)]
pub(crate) struct ReplayArgs {
    /// The proposed formulary: a folder, `demonstration`, or the fingerprint of one that the journal keeps
    new: String,
    /// Files of entries, one JSON object a line; `-` is standard input
    #[arg(value_name = "FILE")]
    files: Vec<PathBuf>,
    /// The formulary of now, named likewise
    #[arg(long, value_name = "OLD")]
    against: String,
    /// On how many cores [default: all]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256))]
    threads: Option<u16>,
    #[command(flatten)]
    editions: Editions,
    #[command(flatten)]
    now: Now,
    #[command(flatten)]
    common: Common,
}

pub(super) fn run(args: &ReplayArgs) -> Answer {
    replayed(args).unwrap_or_else(|no_answer| no_answer.said(args.common.format))
}

fn replayed(args: &ReplayArgs) -> Result<Answer, CommandError> {
    let (proposed, now) = (args.editions.open("NEW", &args.new)?, args.editions.open("--against", &args.against)?);
    // A proposal is tried before anybody approves it.
    let (proposed, now) = (proposed.taken_as_approved(), now.taken_as_approved());
    let at = args.now.moment()?;
    let past = ReplayContext { now: &now.formulary, proposed: &proposed.formulary, at, file: String::new() };
    let mut replay = Replay::default();
    let recorded = from_journal(args, &past, &mut replay)?;
    if args.files.is_empty() && recorded.is_none() {
        let fault = Fault::new("nothing-to-replay", "no past set-ups are named");
        let help = "name a journal (--journal DIR), or files of entries; `formulary sample` makes some to try out";
        return Err(Refused::one("replay", fault.help(help)).into());
    }
    let threads = args.threads.map_or_else(lines::workers, usize::from);
    for file in &args.files {
        let past = ReplayContext { file: file.display().to_string(), ..past };
        let ended = lines::fold(file, &past, threads, false, |part: Replay| {
            replay.merge(part);
            Ok(())
        })?;
        if let End::Fault(message) = ended {
            return Err(CommandError::Fault(message));
        }
    }
    answer(args, &replay, &now, &proposed, recorded)
}

/// What the record of a journal adds: as text, and as fields of the data.
struct FromRecord {
    text: String,
    data: Vec<(&'static str, serde_json::Value)>,
}

fn answer(
    args: &ReplayArgs,
    replay: &Replay,
    now: &Opened,
    proposed: &Opened,
    recorded: Option<FromRecord>,
) -> Result<Answer, CommandError> {
    let notice = [now, proposed].into_iter().any(Opened::is_for_demonstration).then_some(crate::card::DEMONSTRATION);
    Ok(match args.common.format {
        Format::Json => {
            let mut data = replay.json(&proposed.formulary).map_err(Refused::from)?;
            data["now"] = now.said().into();
            data["proposed"] = proposed.said().into();
            data["notice"] = notice.into();
            for (field, value) in recorded.into_iter().flat_map(|recorded| recorded.data) {
                data[field] = value;
            }
            Answer::json(&data, Exit::Proceed)
        }
        Format::Text => {
            let mut text = notice.map(|notice| format!("{notice}\n\n")).unwrap_or_default();
            crate::card::wrapped(&mut text, "now:      ", &now.said());
            crate::card::wrapped(&mut text, "proposed: ", &proposed.said());
            text += &replay.text(&proposed.formulary).map_err(Refused::from)?;
            text += &recorded.map(|recorded| recorded.text).unwrap_or_default();
            Answer::text(text, Exit::Proceed)
        }
    })
}

/// What every past entry is held against.
#[derive(Clone)]
struct ReplayContext<'f> {
    now: &'f Formulary,
    proposed: &'f Formulary,
    at: Moment,
    file: String,
}

impl Fold for ReplayContext<'_> {
    type Done = Replay;

    fn begin(&self, _: usize) -> Replay {
        Replay::default()
    }

    fn line(&self, line: &str, number: usize, done: &mut Replay) -> Result<(), Fatal> {
        let mut faults = Vec::new();
        let entry = read_json(line, LINE_LIMIT, &mut faults)
            .and_then(|root| EntryForm::at(&root, Place::Root).read(&mut faults))
            .filter(|_| faults.is_empty());
        match entry {
            Some(entry) => done
                .add(&format_args!("{} line {number}", self.file), entry, self.now, self.proposed, self.at)
                .map_err(|error| Fatal(error.to_string())),
            None => {
                done.unreadable();
                Ok(())
            }
        }
    }

    fn no_line(&self, _: &str, _: usize, done: &mut Replay) -> Result<(), Fatal> {
        done.unreadable();
        Ok(())
    }
}

#[cfg(feature = "journal")]
fn from_journal(
    args: &ReplayArgs,
    past: &ReplayContext<'_>,
    replay: &mut Replay,
) -> Result<Option<FromRecord>, CommandError> {
    if !args.editions.journal.is_named() {
        return Ok(None);
    }
    let cases = Cases::of(args.editions.journal.open().map_err(CommandError::Journal)?);
    cases.each_settled_entry(|name, entry| -> Result<(), CommandError> {
        Ok(replay.add(&name, entry, past.now, past.proposed, past.at)?)
    })?;
    let mut doses = DosesMoved::default();
    cases.each_judged(past.at, |outcome| doses.add(&outcome, past.now, past.proposed))?;
    let outside = runs_outside(past.proposed, &cases.running_now(past.at)?);
    let mut text = doses.text() + "\nRuns now, outside the proposed limits\n";
    outside.iter().for_each(|says| crate::card::wrapped(&mut text, "  ", says));
    if outside.is_empty() {
        text += "  none\n";
    }
    Ok(Some(FromRecord { text, data: vec![("doses", doses.json()), ("runs_outside", outside.into())] }))
}

#[cfg(not(feature = "journal"))]
#[expect(clippy::unnecessary_wraps, reason = "with a journal, it may be refused")]
const fn from_journal(
    _: &ReplayArgs,
    _: &ReplayContext<'_>,
    _: &mut Replay,
) -> Result<Option<FromRecord>, CommandError> {
    Ok(None)
}

impl From<ReplayError> for CommandError {
    fn from(error: ReplayError) -> Self {
        match error {
            ReplayError::Faulty(faulty) => Refused::from(faulty).into(),
            ReplayError::Fault(message) => Self::Fault(message),
        }
    }
}
