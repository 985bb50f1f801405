//! `journal backup` and `journal restore`: the whole journal in one file under a passphrase, and back.

use std::fs::{self, File};
use std::io::{self, BufReader, IsTerminal as _};
use std::path::PathBuf;

use clap::Args;
use serde_json::json;
use zeroize::Zeroizing;

use crate::diagnostic::Fault;
use crate::journal::{self, BackedUp};

use super::answer::Answer;
use super::ask::terminal_or_lines;
use super::input::Refused;
use super::journal_arg::{JournalArg, JournalCommandError};
use super::journal_files::{Bar, counted, only_a_file, unreadable};
use super::{Common, Exit, Format, Now};

/// A backup holds every key, and can be tried for as long as somebody likes.
const PASSPHRASE_LEAST: usize = 12;

#[derive(Debug, Args)]
pub(super) struct BackupArgs {
    /// The file to be written
    file: PathBuf,
    #[command(flatten)]
    passphrase: Passphrase,
    #[command(flatten)]
    journal: JournalArg,
    #[command(flatten)]
    now: Now,
    #[command(flatten)]
    common: Common,
}

#[derive(Debug, Args)]
pub(super) struct RestoreArgs {
    /// The backup
    file: PathBuf,
    /// The folder to be made
    folder: PathBuf,
    /// An export made after the backup: what was forgotten since then stays forgotten
    #[arg(long, value_name = "EXPORT")]
    forgotten_in: Option<PathBuf>,
    #[command(flatten)]
    passphrase: Passphrase,
    #[command(flatten)]
    now: Now,
    #[command(flatten)]
    common: Common,
}

#[derive(Debug, Args)]
struct Passphrase {
    /// A file whose first line is the passphrase [default: it is asked for]
    #[arg(long, value_name = "FILE")]
    passphrase_file: Option<PathBuf>,
}

pub(super) fn backup(args: &BackupArgs) -> Answer {
    backed_up(args).unwrap_or_else(|trouble| trouble.answer(args.common.format))
}

pub(super) fn restore(args: &RestoreArgs) -> Answer {
    restored(args).unwrap_or_else(|trouble| trouble.answer(args.common.format))
}

fn backed_up(args: &BackupArgs) -> Result<Answer, JournalCommandError> {
    let journal = args.journal.open()?;
    let passphrase = args.passphrase.chosen()?;
    let BackedUp { head, accesses_left_out } = journal.backup(&args.file, &passphrase, args.now.local_moment()?)?;
    let left_out = accesses_left_out.map(|error| error.to_string());
    Ok(match args.common.format {
        Format::Json => {
            let data = json!({
                "version": 1, "journal": journal.id(), "events": head.seq, "head": head.to_string(),
                "accesses_left_out": left_out,
            });
            Answer::json(&data, Exit::Proceed)
        }
        Format::Text => {
            let text = format!(
                "{} and every key in {}\n{}It is worth what its passphrase is: keep that elsewhere, and try a restore.\n",
                counted(head.seq),
                args.file.display(),
                left_out.map(|why| not_with_it(&why)).unwrap_or_default(),
            );
            Answer::text(text, Exit::Proceed)
        }
    })
}

fn restored(args: &RestoreArgs) -> Result<Answer, JournalCommandError> {
    let passphrase = args.passphrase.known()?;
    let bar = Bar::new();
    let later = args
        .forgotten_in
        .as_ref()
        .map(|path| File::open(only_a_file(path)?).map_err(unreadable(path)).map(BufReader::new));
    let mut later = later.transpose()?;
    let later = later.as_mut().map(|file| file as &mut dyn io::BufRead);
    let now = args.now.local_moment()?;
    let progress = &mut |done, of| bar.show(done, of);
    let restored = journal::restore(&args.file, &args.folder, &passphrase, later, now, progress)?;
    drop(bar);
    let head = restored.verified.head;
    Ok(match args.common.format {
        Format::Json => {
            let data = json!({
                "version": 1, "events": head.seq, "head": head.to_string(), "case_keys": restored.case_keys,
                "forgotten": restored.forgotten, "made": restored.made.map(|made| made.to_utc()),
                "accesses": restored.accesses.map(|last| last.to_string()),
                "accesses_left_out": restored.accesses_left_out,
            });
            Answer::json(&data, Exit::Proceed)
        }
        Format::Text => {
            let made = restored.made.map(|made| format!(", made at {}", made.local())).unwrap_or_default();
            let text = format!(
                "{}, each as it was written, in {}. The last is\n{head}\n{} keys of cases; {} forgotten stay \
                 forgotten. What was written after the backup{made} is not in it; the next event says that.\n{}",
                counted(head.seq),
                args.folder.display(),
                restored.case_keys,
                restored.forgotten,
                restored.accesses_left_out.map(|why| not_with_it(&why)).unwrap_or_default(),
            );
            Answer::text(text, Exit::Proceed)
        }
    })
}

/// Who looked is lost, and everything else is there.
fn not_with_it(why: &str) -> String {
    format!("WITHOUT WHO LOOKED: the chain of accesses is left out: {why}.\n")
}

impl Passphrase {
    /// One that is used from now on: long, and typed twice.
    fn chosen(&self) -> Result<Zeroizing<String>, JournalCommandError> {
        let passphrase = self.known()?;
        if passphrase.chars().count() < PASSPHRASE_LEAST {
            let fault = Fault::new("passphrase-short", format!("it has fewer than {PASSPHRASE_LEAST} characters"));
            return Err(Refused::one("passphrase", fault.help("take four words or more, drawn at random")).into());
        }
        if self.passphrase_file.is_none() && *asked("The same again")? != *passphrase {
            let fault = Fault::new("passphrase-differs", "the two differ");
            return Err(Refused::one("passphrase", fault.help("do it again; nothing was written")).into());
        }
        Ok(passphrase)
    }

    fn known(&self) -> Result<Zeroizing<String>, JournalCommandError> {
        let Some(path) = &self.passphrase_file else {
            return asked("Passphrase of the backup");
        };
        let text = Zeroizing::new(fs::read_to_string(only_a_file(path)?).map_err(unreadable(path))?);
        Ok(Zeroizing::new(text.lines().next().unwrap_or_default().to_owned()))
    }
}

/// Typed without being shown; never from a pipe, where nobody would know that it is asked for.
fn asked(prompt: &str) -> Result<Zeroizing<String>, JournalCommandError> {
    if !io::stdin().is_terminal() {
        let fault = Fault::new("passphrase-missing", "there is nobody to ask for the passphrase");
        let help = "run this on a terminal, or give --passphrase-file FILE";
        return Err(Refused::one("--passphrase-file", fault.help(help)).into());
    }
    Ok(Zeroizing::new(terminal_or_lines().secret(prompt)?))
}
