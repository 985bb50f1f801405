//! `formulary replay`: past set-ups held against the formulary of now and a proposed one.

use std::path::PathBuf;
use std::sync::Mutex;

use clap::Args;

use super::named::Named;
use crate::card::DEMONSTRATION;
use crate::cli::answer::Answer;
use crate::cli::batch::{self, Fatal, Task};
use crate::cli::input::Refused;
use crate::cli::{Common, Exit, Format, Now};
use crate::diagnostic::Fault;
use crate::document::{LINE_LIMIT, Path, read_json};
use crate::entry::EntryForm;
use crate::formulary::Formulary;
use crate::quantity::Moment;
use crate::upkeep::replay::Replay;

#[derive(Debug, Args)]
pub(in crate::cli) struct ReplayArgs {
    /// The proposed formulary: a folder, `demonstration`, or the fingerprint of one that the journal keeps
    new: String,
    /// The formulary of now
    #[arg(long, value_name = "FORMULARY")]
    against: String,
    /// Entries, one JSON object a line; the past cases of the journal besides, where one is named
    files: Vec<PathBuf>,
    #[command(flatten)]
    named: Named,
    #[command(flatten)]
    now: Now,
    #[command(flatten)]
    pub(super) common: Common,
}

pub(super) fn run(args: &ReplayArgs) -> Result<Answer, Refused> {
    let (old, new) = (args.named.open(&args.against)?, args.named.open(&args.new)?);
    // A proposal is tried before it is approved.
    let (old, new) = (old.taken_as_approved(), new.taken_as_approved());
    for formulary in [&old, &new] {
        formulary.load_all().map_err(Refused::from)?;
    }
    let task = Counting { old: &old, new: &new, now: args.now.moment()?, replay: Mutex::default() };
    #[cfg(feature = "journal")]
    let cases = past_cases(args, &task)?;
    #[cfg(not(feature = "journal"))]
    let cases = false;
    if args.files.is_empty() && !cases {
        let fault = Fault::new("nothing-to-replay", "no file of entries and no journal is named").help(
            "name files of entries, or a journal with --journal DIR; `formulary sample` makes entries to try with",
        );
        return Err(Refused::one("formulary replay", fault));
    }
    for file in &args.files {
        let ended = batch::run(file, &task)?;
        if !ended.is_good() {
            return Ok(ended);
        }
    }
    let replay = task.replay.into_inner().unwrap_or_default();
    Ok(match args.common.format {
        Format::Json => Answer::json(&replay.json(&new).map_err(Refused::from)?, Exit::Proceed),
        Format::Text => {
            let demonstration = old.policy().demonstration || new.policy().demonstration;
            let notice = if demonstration { format!("{DEMONSTRATION}\n") } else { String::new() };
            Answer::text(format!("{notice}{}", replay.text(&new).map_err(Refused::from)?), Exit::Proceed)
        }
    })
}

struct Counting<'f> {
    old: &'f Formulary,
    new: &'f Formulary,
    now: Moment,
    replay: Mutex<Replay>,
}

impl Counting<'_> {
    /// Checks outside the lock, counts inside it.
    fn count(&self, name: &str, entry: Option<Box<crate::entry::Entry>>) -> Result<(), Fatal> {
        let held = entry.map(|entry| Replay::hold(entry, self.old, self.new, self.now)).transpose();
        let held = held.map_err(|faulty| Fatal(faulty.to_string()))?;
        let mut replay = self.replay.lock().map_err(|_| Fatal("a part of the program fell over".to_owned()))?;
        match held {
            Some((before, after)) => replay.count(&name, &before, &after),
            None => replay.unreadable(),
        }
        Ok(())
    }
}

impl Task for Counting<'_> {
    fn answer(&self, line: &str, number: usize, _: &mut Vec<u8>) -> Result<(), Fatal> {
        let mut faults = Vec::new();
        let root = read_json(line, LINE_LIMIT, &mut faults);
        let entry = root.and_then(|root| EntryForm::at(&root, Path::Root).read(&mut faults));
        self.count(&format!("line {number}"), entry.filter(|_| faults.is_empty()))
    }

    fn unreadable(&self, _: &str, _: &mut Vec<u8>) -> Result<(), Fatal> {
        self.count("", None)
    }

    const EACH_LINE: bool = false;
}

/// Every settled reading of every case that was not forgotten; whether there is a journal.
#[cfg(feature = "journal")]
fn past_cases(args: &ReplayArgs, task: &Counting<'_>) -> Result<bool, Refused> {
    let Some(cases) = args.named.cases()? else { return Ok(false) };
    let failed = |message: String| {
        Refused::one("the journal", Fault::new("journal-unreadable", message).help("run `countersign journal verify`"))
    };
    cases
        .each_settled_entry(|code, entry| task.count(&code.to_string(), Some(entry)).map_err(|Fatal(message)| message))
        .map_err(|error| failed(error.to_string()))?;
    Ok(true)
}
