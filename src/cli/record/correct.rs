//! `record correct` and `record reason`: about something that was recorded before.

use clap::{Arg, ArgAction, ArgGroup, ArgMatches, Args, Command, FromArgMatches};

use crate::case::actions::{Actor, Correction, Instead};
use crate::cli::answer::Answer;
use crate::cli::entry_file::CommandError;
use crate::cli::input::Refused;
use crate::diagnostic::Fault;

use super::ActArgs;
use super::fields::{self, Spelling};
use super::written::written;

/// How a line was otherwise.
#[derive(Debug)]
pub(in crate::cli) struct CorrectArgs {
    code: String,
    event: u64,
    instead: Instead,
    request: Correction,
    pub(super) act: ActArgs,
}

/// The reason for a line.
#[derive(Debug, Args)]
pub(in crate::cli) struct ReasonArgs {
    /// The set-up, or the case where it has one alone
    code: String,
    /// The event, by its number in `record show`
    #[arg(long, value_name = "SEQ")]
    event: u64,
    /// Why it was done
    #[arg(long, value_name = "REASON")]
    reason: Option<String>,
    #[command(flatten)]
    pub(super) act: ActArgs,
}

/// What happened instead is an option of its own: a rate and a bolus with their value.
const fn takes_value(instead: Instead) -> bool {
    matches!(instead, Instead::Rate | Instead::Bolus)
}

/// The fields that every correction has.
fn common(field: &str) -> Option<Spelling> {
    (!matches!(field, "instead" | "value")).then_some(Spelling::AsNamed)
}

fn spelled(instead: Instead) -> impl Fn(&str) -> Option<Spelling> {
    move |field| match field {
        "value" => Some(Spelling::Option(instead.word())),
        _ => Some(Spelling::AsNamed),
    }
}

impl Args for CorrectArgs {
    fn augment_args(command: Command) -> Command {
        let event =
            Arg::new("event").long("event").value_name("SEQ").required(true).value_parser(clap::value_parser!(u64));
        let command = fields::set_up(command)
            .arg(event.help("The event, by its number in `record show`; a correction may be corrected too"));
        let others: Vec<&(Instead, &str)> = Instead::ALL.iter().filter(|(one, _)| *one != Instead::Time).collect();
        let command = others.iter().fold(command, |command, (instead, says)| {
            let arg = Arg::new(instead.word()).long(instead.word());
            command.arg(if takes_value(*instead) {
                arg.help(format!("{says} instead, with its unit")).value_name("VALUE").allow_hyphen_values(true)
            } else {
                arg.help(format!("{says}{}", if *instead == Instead::Not { "" } else { " instead" }))
                    .action(ArgAction::SetTrue)
            })
        });
        let words: Vec<&str> = others.iter().map(|(instead, _)| instead.word()).collect();
        let command = fields::augment::<Correction>(command, &common, &|_| None);
        let any = ArgGroup::new("something").args(words.iter().chain(["time"].iter())).multiple(true).required(true);
        let command = command.group(ArgGroup::new("instead").args(&words)).group(any);
        ActArgs::augment_args(command)
    }

    fn augment_args_for_update(command: Command) -> Command {
        Self::augment_args(command)
    }
}

impl FromArgMatches for CorrectArgs {
    fn from_arg_matches(matches: &ArgMatches) -> Result<Self, clap::Error> {
        let given = |instead: Instead| match instead {
            Instead::Time => false,
            _ if takes_value(instead) => matches.contains_id(instead.word()),
            _ => matches.get_flag(instead.word()),
        };
        let instead = Instead::ALL.iter().map(|(one, _)| *one).find(|one| given(*one)).unwrap_or(Instead::Time);
        let mut request: Correction = fields::typed(matches, &common)?;
        request.instead = Some(instead);
        if takes_value(instead) {
            request.value = matches.get_one::<String>(instead.word()).cloned();
        }
        let event = matches.get_one::<u64>("event").copied().unwrap_or_default();
        Ok(Self { code: fields::code(matches), event, instead, request, act: ActArgs::from_arg_matches(matches)? })
    }

    fn update_from_arg_matches(&mut self, matches: &ArgMatches) -> Result<(), clap::Error> {
        *self = Self::from_arg_matches(matches)?;
        Ok(())
    }
}

pub(super) fn correct(args: &CorrectArgs) -> Result<Answer, CommandError> {
    let request = &args.request;
    let act = |cases: &mut _, code, by: Actor<'_>| request.run(args.event, cases, code, by);
    written(&args.code, &args.act, |now| request.check(now), act)
        .map_err(|refused| fields::placed::<Correction>(refused, &spelled(args.instead)))
}

pub(super) fn reason(args: &ReasonArgs) -> Result<Answer, CommandError> {
    if args.reason.as_ref().is_none_or(|reason| reason.trim().is_empty()) {
        let fault = Fault::new("reason-missing", "no reason is given").help("write it: --reason \"why it was done\"");
        return Err(Refused::one("--reason", fault).into());
    }
    let request = Correction { reason: args.reason.clone(), ..Correction::default() };
    let act = |cases: &mut _, code, by: Actor<'_>| request.run(args.event, cases, code, by);
    written(&args.code, &args.act, |now| request.check(now), act)
}
