//! `journal`: the record itself is made, proved whole, copied away and brought back.

use std::fmt::Write as _;
use std::fs::{self, File};
use std::io::{self, BufReader, BufWriter};
use std::path::PathBuf;

use clap::{Args, Subcommand};
use serde_json::json;

use crate::card::wrapped;
use crate::case::{Audit, CaseError, Cases, Role, add, correct_clock, good_name, good_pin, unlock};
use crate::diagnostic::Fault;
use crate::formulary::is_same_person;
use crate::journal::{
    AccessKind, Checkpoint, Head, Journal, JournalError, NotAHead, Restore, Signer, VerifyError, folder_is_free,
};
use crate::quantity::Moment;

use super::answer::Answer;
use super::ask::{Prompt, terminal_or_lines};
use super::desk::{CaseArgs, note_read};
use super::entry_file::CommandError;
use super::input::Refused;
use super::journal_arg::{JournalArg, JournalCommandError};
use super::journal_files::{Bar, counted, only_a_file, unreadable};
use super::people::{SignedByTwo, both, new_pin};
use super::{Common, Exit, Format, Now};

#[derive(Debug, Subcommand)]
pub(super) enum JournalCommand {
    /// Makes a new journal in a folder that does not exist yet
    Create(CreateArgs),
    /// Reads every event: hash, link, signature, order; exits 4 at the first that is not as it was written
    Verify(VerifyArgs),
    /// Every event as a line of JSON, with its hash and signature; the last line is a signed head
    Export(ExportArgs),
    /// One signed line that says which event is the last: keep it elsewhere
    Checkpoint(CheckpointArgs),
    /// The whole journal with its keys in one new file under a passphrase
    #[cfg(feature = "backup")]
    Backup(super::journal_backup::BackupArgs),
    /// A backup into a folder that does not exist yet; verified before it is there
    #[cfg(feature = "backup")]
    Restore(super::journal_backup::RestoreArgs),
    /// Not in this program: it was built without backups
    #[cfg(not(feature = "backup"))]
    Backup(NotBuiltIn),
    /// Not in this program: it was built without backups
    #[cfg(not(feature = "backup"))]
    Restore(NotBuiltIn),
    /// The clock was ahead and is right now: two people sign it, and what follows is not held against later times
    Clock(ClockArgs),
    /// Everything that was written down about a case, in order
    Show(super::journal_show::ShowArgs),
    /// Writes down what was decided in cases of an older program; no event that is there is touched
    Upgrade(super::journal_upgrade::UpgradeArgs),
}

#[derive(Debug, Args)]
pub(super) struct CreateArgs {
    /// The folder to be made
    folder: PathBuf,
    /// For trying out: everything made with it says so
    #[arg(long)]
    demonstration: bool,
    /// The first two administrators, who keep the people of the house together; asked for where they are left out
    #[arg(long = "administrator", value_name = "NAME", num_args = 1)]
    administrators: Vec<String>,
    #[command(flatten)]
    now: Now,
    #[command(flatten)]
    common: Common,
}

#[derive(Debug, Args)]
pub(super) struct VerifyArgs {
    /// A file of checkpoints, one a line: none may be missing from the journal
    #[arg(long, value_name = "FILE")]
    checkpoint: Vec<PathBuf>,
    /// The number and hash of an event, as a card shows them
    #[arg(long, value_name = "SEQ:HEX")]
    head: Vec<String>,
    /// An earlier export: each of its events must be in the journal
    #[arg(long, value_name = "FILE")]
    export: Vec<PathBuf>,
    /// Writes the index of cases that are not over anew, where every event is whole and only the index is not
    #[arg(long)]
    mend: bool,
    /// Work every decision out once more too, and name those for which this program comes to something else
    #[arg(long)]
    decisions: bool,
    #[command(flatten)]
    journal: JournalArg,
    #[command(flatten)]
    common: Common,
}

#[derive(Debug, Args)]
pub(super) struct ExportArgs {
    #[command(flatten)]
    journal: JournalArg,
}

#[derive(Debug, Args)]
pub(super) struct CheckpointArgs {
    #[command(flatten)]
    journal: JournalArg,
    #[command(flatten)]
    now: Now,
}

#[derive(Debug, Args)]
pub(super) struct ClockArgs {
    #[command(flatten)]
    by: SignedByTwo,
    #[command(flatten)]
    desk: CaseArgs,
}

#[cfg(not(feature = "backup"))]
#[derive(Debug, Args)]
pub(super) struct NotBuiltIn {
    #[arg(hide = true, trailing_var_arg = true, allow_hyphen_values = true)]
    words: Vec<String>,
}

#[cfg(not(feature = "backup"))]
impl NotBuiltIn {
    fn refuse(&self) -> Result<Answer, JournalCommandError> {
        let fault = Fault::new("not-built-in", "this program was built without backups");
        let place = self.words.first().map_or("journal backup", String::as_str);
        Err(Refused::one(place, fault.help("build it with `cargo build --profile dist --features full`")).into())
    }
}

pub(super) fn run(command: &JournalCommand) -> Answer {
    let (answer, format) = match command {
        JournalCommand::Create(args) => (create(args), args.common.format),
        JournalCommand::Verify(args) => (verify(args), args.common.format),
        JournalCommand::Export(args) => (export(args), Format::Text),
        JournalCommand::Checkpoint(args) => (checkpoint(args), Format::Text),
        #[cfg(feature = "backup")]
        JournalCommand::Backup(args) => return super::journal_backup::backup(args),
        #[cfg(feature = "backup")]
        JournalCommand::Restore(args) => return super::journal_backup::restore(args),
        #[cfg(not(feature = "backup"))]
        JournalCommand::Backup(args) | JournalCommand::Restore(args) => (args.refuse(), Format::Text),
        JournalCommand::Clock(args) => {
            return clock(args).unwrap_or_else(|no_answer| no_answer.said(args.desk.format()));
        }
        JournalCommand::Show(args) => return super::journal_show::run(args),
        JournalCommand::Upgrade(args) => return super::journal_upgrade::run(args),
    };
    answer.unwrap_or_else(|trouble| trouble.answer(format))
}

fn create(args: &CreateArgs) -> Result<Answer, JournalCommandError> {
    let now = args.now.local_moment()?;
    if !folder_is_free(&args.folder) {
        return Err(JournalError::AlreadyThere { path: args.folder.clone() }.into());
    }
    // Who they are is known before anything is made.
    let administrators = first_administrators(args)?;
    let mut journal = Journal::create(&args.folder, args.demonstration, now)?;
    let mut first: Option<Signer> = None;
    for (name, pin) in &administrators {
        add(&mut journal, now, first.as_ref(), name, Role::Administrator, pin)?;
        if first.is_none() {
            first = Some(unlock(&mut journal, now, name, pin)?.1);
        }
    }
    let names: Vec<&String> = administrators.iter().map(|(name, _)| name).collect();
    let (folder, head) = (args.folder.display(), journal.head()?);
    Ok(match args.common.format {
        Format::Json => {
            let data = json!({
                "version": 1, "journal": journal.id(), "demonstration": journal.is_demonstration(),
                "head": head.to_string(), "administrators": names,
            });
            Answer::json(&data, Exit::Proceed)
        }
        Format::Text => {
            let what = if journal.is_demonstration() { "demonstration journal" } else { "journal" };
            let mut text = String::new();
            for name in names {
                let _ = writeln!(text, "Added: {name}, administrator.");
            }
            let _ = write!(
                text,
                "{what} {} made in {folder}\nWithout its store key nothing in it can be opened: keep a backup elsewhere \
                 (countersign journal backup).\n",
                journal.id()
            );
            Answer::text(text, Exit::Proceed)
        }
    })
}

/// The two people who keep the people of a house, with their PINs. A journal for trying out has none unless they are named.
fn first_administrators(args: &CreateArgs) -> Result<Vec<(String, String)>, JournalCommandError> {
    if args.demonstration && args.administrators.is_empty() {
        return Ok(Vec::new());
    }
    if ![0, 2].contains(&args.administrators.len()) {
        let fault = Fault::new("second-person-needed", "one person alone keeps no house");
        return Err(Refused::one("--administrator", fault.help("name two people: give --administrator twice")).into());
    }
    let mut ask = terminal_or_lines();
    let mut known: Vec<(String, String)> = Vec::new();
    for (number, which) in ["first", "second"].into_iter().enumerate() {
        let name = match args.administrators.get(number) {
            Some(name) => name.clone(),
            None => {
                let says = format!("Name of the {which} administrator, who keeps the people of this house:");
                let judge = |typed: &str| match good_name(typed) {
                    Err(CaseError::Refused(wrong)) => Some(Fault::new(wrong.code, wrong.message).help(wrong.help)),
                    _ => None,
                };
                ask.line(&Prompt { says: &says, help: String::new(), offered: Vec::new(), judge: &judge })?
            }
        };
        let name = good_name(&name)?;
        if known.iter().any(|(other, _)| is_same_person(other, &name)) {
            let fault = Fault::new("person-twice", format!("`{name}` is both of them"));
            return Err(Refused::one("--administrator", fault.help("two people keep a house")).into());
        }
        let pin = new_pin(ask.as_mut(), &name)?;
        good_pin(&pin)?;
        known.push((name, pin));
    }
    Ok(known)
}

fn verify(args: &VerifyArgs) -> Result<Answer, JournalCommandError> {
    let cases = Cases::of(args.journal.open_to_verify()?);
    let journal = cases.journal();
    let mut heads: Vec<Head> = Vec::new();
    for text in &args.head {
        heads.push(text.parse().map_err(|NotAHead| {
            let fault = Fault::new("head-malformed", format!("`{}`: {NotAHead}", crate::quantity::clip(text)));
            Refused::one("--head", fault.help("write it as the card does: 12: and the 64 digits"))
        })?);
    }
    let mut kept: Vec<Checkpoint> = Vec::new();
    for path in &args.checkpoint {
        let text = fs::read_to_string(only_a_file(path)?).map_err(unreadable(path))?;
        let checkpoints = journal.checkpoints(&text)?;
        if checkpoints.is_empty() {
            let fault = Fault::new("checkpoint-missing", "there is no checkpoint in it");
            let help = "name a file with the lines that `countersign journal checkpoint` wrote";
            return Err(Refused::one(&path.display().to_string(), fault.help(help)).into());
        }
        kept.extend(checkpoints);
    }
    let kept = journal.told_apart(&kept)?;
    heads.extend(kept.expected);
    let restores: Vec<String> = kept.restores.iter().map(Restore::in_words).collect();
    for path in &args.export {
        let mut file = BufReader::new(File::open(only_a_file(path)?).map_err(unreadable(path))?);
        heads.extend(journal.exported_heads(&mut file)?);
    }
    let bar = Bar::new();
    let verify = || cases.verify(&heads, &mut |done, of| bar.show(done, of));
    let verified = match verify() {
        Err(VerifyError::Index(_)) if args.mend => {
            cases.index_anew()?;
            verify()?
        }
        verified => verified?,
    };
    drop(bar);
    // On a read-only medium the chain of accesses is not opened.
    let accesses = journal.accesses().ok().map(|log| log.each(|_| {})).transpose()?.flatten();
    let audit = args.decisions.then(|| cases.audit()).transpose()?;
    let (events, against) = (verified.head.seq, verified.against);
    Ok(match args.common.format {
        Format::Json => {
            let data = json!({
                "version": 1, "verdict": "whole", "journal": journal.id(), "demonstration": journal.is_demonstration(),
                "events": events,
                "head": verified.head.to_string(), "against": against,
                "accesses": accesses.map(|head| head.to_string()), "restores": restores,
                "decisions": audit.as_ref().map(|audit| json!({
                    "same": audit.same, "differ": audit.differ, "not_recomputed": audit.not_recomputed,
                })),
            });
            Answer::json(&data, Exit::Proceed)
        }
        Format::Text => {
            let held = match against {
                0 => "Held against nothing from elsewhere: an end that was cut off would not show.".to_owned(),
                1 => "Held against 1 head from elsewhere.".to_owned(),
                more => format!("Held against {more} heads from elsewhere."),
            };
            let mut text =
                format!("{}, each as it was written. The last is\n{}\n{held}\n", counted(events), verified.head);
            restores.iter().for_each(|says| wrapped(&mut text, "RESTORED: ", says));
            if let Some(audit) = &audit {
                audit_in_words(&mut text, audit);
            }
            Answer::text(text, Exit::Proceed)
        }
    })
}

/// What every decision comes to when this program works it out.
fn audit_in_words(out: &mut String, audit: &Audit) {
    let many = |count: usize| if count == 1 { "" } else { "s" };
    let same = usize::try_from(audit.same).unwrap_or(usize::MAX);
    let _ = writeln!(out, "{same} decision{} worked out once more, and the same.", many(same));
    for (begins, which) in [("DIFFERS: ", &audit.differ), ("Cannot be worked out: ", &audit.not_recomputed)] {
        which.iter().for_each(|says| wrapped(out, begins, says));
    }
}

/// Written as it is read: a journal may be larger than the memory.
fn export(args: &ExportArgs) -> Result<Answer, JournalCommandError> {
    let journal = args.journal.open()?;
    note_read(&journal, Moment::now(), AccessKind::Export, None);
    match journal.export(&mut BufWriter::new(io::stdout().lock())) {
        Err(JournalError::File { error, .. }) if error.kind() == io::ErrorKind::BrokenPipe => {}
        written => {
            written?;
        }
    }
    Ok(Answer::text(String::new(), Exit::Proceed))
}

fn checkpoint(args: &CheckpointArgs) -> Result<Answer, JournalCommandError> {
    let line = args.journal.open()?.checkpoint(args.now.local_moment()?)?;
    Ok(Answer::text(line + "\n", Exit::Proceed))
}

fn clock(args: &ClockArgs) -> Result<Answer, CommandError> {
    let (mut cases, now) = args.desk.open()?;
    let (first, second) = args.by.unlock(&mut cases, now, terminal_or_lines().as_mut())?;
    let seconds = correct_clock(cases.journal_mut(), now, both(&first, &second))?;
    Ok(match args.desk.format() {
        Format::Json => Answer::json(&json!({"version": 1, "was_ahead_seconds": seconds}), Exit::Proceed),
        Format::Text => {
            let text = format!(
                "Written: the clock was {} min ahead, and it is {} now. What the wrong clock sealed cannot be started: two \
                 people enter it again.\n",
                seconds / 60,
                now.local()
            );
            Answer::text(text, Exit::Proceed)
        }
    })
}
