//! `record start`, `rate`, `bolus`, `pause`, `resume`, `syringe` and `stop`: a subcommand for each report, with an option for
//! each field of the request that belongs to it.

use clap::{ArgMatches, Args as _, Command, FromArgMatches, Subcommand, error::ErrorKind};

use crate::case::actions::{Did, Report};
use crate::cli::answer::Answer;
use crate::cli::entry_file::CommandError;

use super::ActArgs;
use super::fields::{self, Spelling};
use super::written::written;

/// One report.
#[derive(Debug)]
pub(in crate::cli) struct ReportCommand {
    did: Did,
    code: String,
    request: Report,
    pub(super) act: ActArgs,
}

/// How `value` is written on the command line.
const fn value(did: Did) -> Spelling {
    match did {
        Did::Rate => Spelling::Positional("TO"),
        Did::Bolus | Did::Flush => Spelling::Positional("GIVEN"),
        _ => Spelling::Option("rate"),
    }
}

fn spelled(did: Did) -> impl Fn(&str) -> Option<Spelling> {
    move |field| match field {
        "did" => None,
        _ if !did.asks(field) => None,
        "value" => Some(value(did)),
        _ => Some(Spelling::AsNamed),
    }
}

impl Subcommand for ReportCommand {
    fn augment_subcommands(command: Command) -> Command {
        Did::ALL.iter().fold(command, |command, one| {
            let sub = fields::set_up(Command::new(one.did.word()));
            let labelled =
                |field: &str| if field == "value" { one.value.map(|value| (value, one.value_hint)) } else { None };
            let sub = fields::augment::<Report>(sub, &spelled(one.did), &labelled);
            command.subcommand(ActArgs::augment_args(sub).about(fields::capitalised(one.says)))
        })
    }

    fn augment_subcommands_for_update(command: Command) -> Command {
        Self::augment_subcommands(command)
    }

    fn has_subcommand(name: &str) -> bool {
        Did::named(name).is_some()
    }
}

impl FromArgMatches for ReportCommand {
    fn from_arg_matches(matches: &ArgMatches) -> Result<Self, clap::Error> {
        let found = matches.subcommand().and_then(|(name, given)| Some((Did::named(name)?, given)));
        let (did, given) = found.ok_or_else(|| clap::Error::new(ErrorKind::MissingSubcommand))?;
        let code = fields::code(given);
        let request = Report { did: Some(did), ..fields::typed(given, &spelled(did))? };
        Ok(Self { did, code, request, act: ActArgs::from_arg_matches(given)? })
    }

    fn update_from_arg_matches(&mut self, matches: &ArgMatches) -> Result<(), clap::Error> {
        *self = Self::from_arg_matches(matches)?;
        Ok(())
    }
}

pub(super) fn report(args: &ReportCommand) -> Result<Answer, CommandError> {
    let did = args.did;
    let request = &args.request;
    written(&args.code, &args.act, |now| request.check(now), |cases, code, by| request.run(cases, code, by))
        .map_err(|refused| fields::placed::<Report>(refused, &spelled(did)))
}
