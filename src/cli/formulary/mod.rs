//! `formulary`: what the pharmacist keeps. One file per command.

#[cfg(feature = "journal")]
mod alerts;
#[cfg(feature = "journal")]
mod approve;
mod book;
mod diff;
mod edition;
#[cfg(feature = "journal")]
mod editions;
mod fingerprint;
mod lint;
mod new;
mod replay;
mod sample;
mod schema;
mod sheet;
#[cfg(feature = "journal")]
mod sign;
mod survey;
mod table;

use std::path::PathBuf;

use clap::{Args, Subcommand};

use super::Against;
use super::answer::Answer;
use super::input::FormularyArg;

#[derive(Debug, Subcommand)]
pub(super) enum FormularyCommand {
    /// A new folder with one area and one drug, and comments that say what to write
    New(new::NewArgs),
    /// Every problem of every file, with its place and what to do about it
    Lint(lint::LintArgs),
    /// The SHA-256 of every file, and of all of them
    Fingerprint(KeepArgs),
    /// Every usual dose, strength and weight against the checks: alerts per 100
    Survey(KeepArgs),
    /// What changed between two formularies, the most dangerous first
    Diff(diff::DiffArgs),
    /// Past set-ups against a proposed formulary: what would be stopped or need a reason that did not before
    Replay(replay::ReplayArgs),
    /// How often each rule spoke in a journal, and what came of it: overridden, or entered otherwise
    #[cfg(feature = "journal")]
    Alerts(alerts::AlertsArgs),
    /// Invented entries, one JSON object a line, to try a replay or a batch with
    Sample(sample::SampleArgs),
    /// Doses and rates of one drug, to read: not a set-up card
    Table(table::TableArgs),
    /// The whole formulary as one page to be printed
    Book(book::BookArgs),
    /// Every value as a row of a spreadsheet
    Export(sheet::ExportArgs),
    /// A new folder from the rows of a spreadsheet
    Import(sheet::ImportArgs),
    /// The author signs exactly these bytes, for a second pharmacist to approve
    #[cfg(feature = "journal")]
    Sign(sign::SignArgs),
    /// A second pharmacist types every changed value from its source, blind; approved where both come to the same
    #[cfg(feature = "journal")]
    Approve(approve::ApproveArgs),
    /// Every edition that was approved in a journal: when, by whom, what it changed; and its files again
    #[cfg(feature = "journal")]
    Editions(editions::EditionsArgs),
    /// No set-up is made with an edition any more, and no card of it is started; what runs is listed, and goes on
    #[cfg(feature = "journal")]
    Recall(editions::RecallArgs),
    /// The JSON Schema of a kind of file, for editors that check as one types
    Schema(schema::SchemaArgs),
}

#[derive(Debug, Args)]
pub(super) struct KeepArgs {
    /// The folder of the formulary [default: as for --formulary]
    folder: Option<PathBuf>,
    #[command(flatten)]
    against: Against,
}

impl KeepArgs {
    fn source(&self) -> FormularyArg {
        FormularyArg { formulary: self.folder.clone().or_else(|| self.against.formulary.formulary.clone()) }
    }
}

pub(super) fn run(command: &FormularyCommand) -> Answer {
    let (answer, format) = match command {
        FormularyCommand::New(args) => return new::run(args),
        FormularyCommand::Lint(args) => (lint::run(args), args.keep.against.format()),
        FormularyCommand::Fingerprint(args) => (fingerprint::run(args), args.against.format()),
        FormularyCommand::Survey(args) => (survey::run(args), args.against.format()),
        FormularyCommand::Diff(args) => return diff::run(args),
        FormularyCommand::Replay(args) => return replay::run(args),
        FormularyCommand::Sample(args) => (sample::run(args), super::Format::Text),
        FormularyCommand::Table(args) => return table::run(args),
        FormularyCommand::Book(args) => return book::run(args),
        FormularyCommand::Export(args) => return sheet::export(args),
        FormularyCommand::Import(args) => return sheet::import(args),
        FormularyCommand::Schema(args) => return schema::run(args),
        #[cfg(feature = "journal")]
        FormularyCommand::Editions(args) => return editions::list(args),
        #[cfg(feature = "journal")]
        FormularyCommand::Recall(args) => return editions::recall(args),
        #[cfg(feature = "journal")]
        FormularyCommand::Alerts(args) => return alerts::run(args),
        #[cfg(feature = "journal")]
        FormularyCommand::Sign(args) => return sign::run(args),
        #[cfg(feature = "journal")]
        FormularyCommand::Approve(args) => return approve::run(args),
    };
    answer.unwrap_or_else(|refused| Answer::refused(&refused, format))
}
