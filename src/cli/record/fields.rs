//! The fields of a request as options of a command.

use clap::{Arg, ArgAction, ArgMatches, Command, error::ErrorKind};

use crate::case::CaseError;
use crate::case::actions::{Field, Request, Takes};
use crate::cli::entry_file::CommandError;

/// How a field is written on the command line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Spelling {
    /// `--its-name`.
    AsNamed,
    /// `--another-name`.
    Option(&'static str),
    /// Without a name, shown as this word.
    Positional(&'static str),
}

impl Spelling {
    fn option(self, field: &str) -> String {
        match self {
            Self::AsNamed => format!("--{}", field.replace('_', "-")),
            Self::Option(name) => format!("--{name}"),
            Self::Positional(word) => word.to_owned(),
        }
    }
}

/// The set-up that every report is about.
pub(super) fn set_up(command: Command) -> Command {
    command
        .arg(Arg::new("code").value_name("CODE").required(true).help("The set-up, or the case where it has one alone"))
}

/// What was typed for it.
pub(super) fn code(matches: &ArgMatches) -> String {
    matches.get_one::<String>("code").cloned().unwrap_or_default()
}

/// An option for each field that is spelled, with its label and its hint; a field may have other words here.
pub(super) fn augment<R: Request>(
    command: Command,
    spelled: &dyn Fn(&str) -> Option<Spelling>,
    labelled: &dyn Fn(&str) -> Option<(&'static str, &'static str)>,
) -> Command {
    R::FIELDS.iter().fold(command, |command, field| match spelled(field.name) {
        Some(spelling) => command.arg(argument(field, spelling, labelled(field.name))),
        None => command,
    })
}

fn argument(field: &Field, spelling: Spelling, labelled: Option<(&str, &str)>) -> Arg {
    let (label, hint) = labelled.unwrap_or((field.label, field.hint));
    let help = if hint.is_empty() { label.to_owned() } else { format!("{label}: {hint}") };
    let arg = Arg::new(field.name).help(help);
    let arg = match spelling {
        Spelling::Positional(word) => return arg.value_name(word).required(true).allow_hyphen_values(true),
        Spelling::AsNamed => arg.long(field.name.replace('_', "-")),
        Spelling::Option(name) => arg.long(name),
    };
    match field.takes {
        Takes::Yes => arg.action(ArgAction::SetTrue),
        Takes::Number => arg.value_name("NUMBER").value_parser(clap::value_parser!(u16)),
        Takes::Text | Takes::Word => arg.value_name("TEXT").allow_hyphen_values(true),
    }
}

/// The request that was typed.
pub(super) fn typed<R: Request>(
    matches: &ArgMatches,
    spelled: &dyn Fn(&str) -> Option<Spelling>,
) -> Result<R, clap::Error> {
    let text = |name: &str| {
        let field = R::FIELDS.iter().find(|field| field.name == name).filter(|field| spelled(field.name).is_some())?;
        match field.takes {
            Takes::Yes => matches.get_flag(name).then(|| "yes".to_owned()),
            Takes::Number => matches.get_one::<u16>(name).map(ToString::to_string),
            Takes::Text | Takes::Word => matches.get_one::<String>(name).cloned(),
        }
    };
    R::typed(&text).map_err(|error: CaseError| clap::Error::raw(ErrorKind::ValueValidation, error.to_string()))
}

/// A refusal of a field, under the name that it has on the command line.
pub(super) fn placed<R: Request>(refused: CommandError, spelled: &dyn Fn(&str) -> Option<Spelling>) -> CommandError {
    let is_field = |name: &str| R::FIELDS.iter().any(|field| field.name == name);
    refused.renamed(|name| spelled(name).filter(|_| is_field(name)).map(|spelling| spelling.option(name)))
}

/// As the beginning of a sentence.
pub(super) fn capitalised(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
