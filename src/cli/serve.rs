//! `serve`: the bedside page, for browsers. The one command that calls `web`.

use std::net::SocketAddr;
use std::path::PathBuf;
use std::time::Duration;

use clap::Args;

use crate::case::Cases;
use crate::diagnostic::Fault;
use crate::journal::CheckpointPlace;
use crate::web::{Clock, Listen, Site, serve};

use super::answer::Answer;
use super::entry_file::CommandError;
use super::input::{FormularyArg, Refused};
use super::journal_arg::JournalArg;
use super::{Exit, Format, Now};

#[derive(Debug, Args)]
pub(super) struct ServeArgs {
    /// Where it listens; other machines reach it only with a certificate
    #[arg(long, value_name = "ADDRESS:PORT", default_value = "127.0.0.1:8440")]
    address: SocketAddr,
    /// The certificate, a PEM file
    #[arg(long, value_name = "FILE", requires = "key")]
    certificate: Option<PathBuf>,
    /// The certificate's key, a PEM file
    #[arg(long, value_name = "FILE", requires = "certificate")]
    key: Option<PathBuf>,
    /// A name that people type for this server, besides its address; may be given more than once
    #[arg(long = "host", value_name = "NAME")]
    hosts: Vec<String>,
    /// Minutes without a touch after which a session ends
    #[arg(long, value_name = "MINUTES", default_value = "5", value_parser = clap::value_parser!(u64).range(1..=60))]
    idle: u64,
    /// The folder of a proposed formulary: pharmacists look at it, sign it and approve it at the page
    #[arg(long, value_name = "DIR")]
    proposed: Option<PathBuf>,
    /// A folder to which checkpoints go by themselves, best on another machine; may be given more than once
    #[arg(long = "checkpoints", value_name = "DIR")]
    checkpoint_folders: Vec<PathBuf>,
    /// A program that gets each checkpoint on its standard input; it is started by no shell
    #[arg(long = "checkpoint-program", value_name = "FILE")]
    checkpoint_programs: Vec<PathBuf>,
    /// Minutes between checkpoints; one more goes at every hundredth event
    #[arg(long, value_name = "MINUTES", default_value = "60", value_parser = clap::value_parser!(u64).range(1..=1440))]
    checkpoint_every: u64,
    /// Write a line of JSON for each request to the standard error, without a value in it
    #[arg(long)]
    log: bool,
    #[command(flatten)]
    journal: JournalArg,
    #[command(flatten)]
    formulary: FormularyArg,
    #[command(flatten)]
    now: Now,
}

pub(super) fn run(args: &ServeArgs) -> Answer {
    served(args).unwrap_or_else(|no_answer| no_answer.said(Format::Text))
}

fn served(args: &ServeArgs) -> Result<Answer, CommandError> {
    let journal = args.journal.open().map_err(CommandError::Journal)?;
    if args.now.at.is_some() && !journal.is_demonstration() {
        let fault = Fault::new("time-is-the-clock", "in a journal for patients, the clock says which moment it is")
            .help("leave --at out");
        return Err(Refused::one("--at", fault).into());
    }
    let clock = match &args.now.at {
        Some(_) => Clock::Stands(args.now.local_moment()?),
        None => Clock::Machine,
    };
    let formulary = args.formulary.open_whole()?;
    let certificate = args.certificate.clone().zip(args.key.clone());
    let (listen, tls) = (
        Listen { address: args.address, certificate: certificate.clone(), hosts: args.hosts.clone() },
        certificate.is_some(),
    );
    let cases = Cases::of(journal);
    cases.fill_index()?;
    let formulary = match cases.replaced_by(&formulary)? {
        None => formulary,
        Some(later) => {
            later.load_all().map_err(Refused::from)?;
            let version = &later.policy().version;
            let said = format!(
                "Another edition was approved after the one in this folder: {version} is served, out of the journal.\n"
            );
            let _ = Answer::text(said, Exit::Proceed).write();
            later
        }
    };
    let site = Site::new(cases, formulary, clock, Duration::from_mins(args.idle), tls);
    if let Some(folder) = &args.proposed {
        if !folder.is_dir() {
            let fault = Fault::new("not-a-folder", format!("there is no folder {}", folder.display()));
            return Err(Refused::one("--proposed", fault.help("name the folder of the proposed formulary")).into());
        }
        site.propose(folder.clone());
    }
    site.send_checkpoints(places(args)?, Duration::from_mins(args.checkpoint_every));
    if args.log {
        super::request_log::begin();
    }
    super::go_on_after_a_panic();
    let scheme = if tls { "https" } else { "http" };
    let ready = |address| {
        // Somebody waits for this line, and the command does not end: it is written at once.
        let _ = Answer::text(format!("Serving at {scheme}://{address}/\n"), Exit::Proceed).write();
    };
    serve(site, &listen, ready).map_err(|not_served| {
        let fault = Fault::new("not-served", not_served.to_string()).help(not_served.help());
        CommandError::from(Refused::one("serve", fault))
    })?;
    Ok(Answer::text(String::new(), Exit::Proceed))
}

/// Where checkpoints go. A place that is not there is refused before anything is served.
fn places(args: &ServeArgs) -> Result<Vec<CheckpointPlace>, Refused> {
    let mut places = Vec::new();
    for folder in &args.checkpoint_folders {
        if !folder.is_dir() {
            let fault = Fault::new("not-a-folder", format!("there is no folder {}", folder.display()));
            return Err(Refused::one("--checkpoints", fault.help("make it first; best it lies on another machine")));
        }
        places.push(CheckpointPlace::Folder(folder.clone()));
    }
    for program in &args.checkpoint_programs {
        if !program.is_file() {
            let fault = Fault::new("not-a-file", format!("there is no program {}", program.display()));
            return Err(Refused::one("--checkpoint-program", fault.help("name its file; it gets no arguments")));
        }
        places.push(CheckpointPlace::Program(program.clone()));
    }
    Ok(places)
}
