//! `people`: who may sign.

use std::fmt::Write as _;

use clap::{Args, Subcommand};
use serde_json::json;

use crate::case::{self, People, Role, SHORTEST_PIN};
use crate::diagnostic::Fault;

use super::answer::Answer;
use super::ask::{Ask, whoever_is_here};
use super::desk::{CaseArgs, SignedBy};
use super::entry_file::CommandError;
use super::input::Refused;
use super::{Exit, Format};

#[derive(Debug, Subcommand)]
pub(super) enum PeopleCommand {
    /// Add somebody, with a PIN of their own; after the first, an administrator vouches, or anybody where there is none
    Add(AddArgs),
    /// Everybody, the retired too
    List(ListArgs),
    /// Retire somebody; what they signed stays
    Retire(RetireArgs),
    /// Change your own PIN; an administrator gives a new one to somebody who has lost theirs
    Pin(PinArgs),
}

#[derive(Debug, Args)]
pub(super) struct AddArgs {
    /// The person's name
    #[arg(value_name = "PERSON")]
    name: String,
    /// What they are at the bedside; or administrator, who keeps the people of the journal
    #[arg(long)]
    role: String,
    /// Who vouches for them; not for the first person
    #[arg(long = "as", value_name = "NAME")]
    vouched_by: Option<String>,
    /// A second person who vouches: for the first administrator of a journal that has none
    #[arg(long = "and", value_name = "NAME", requires = "vouched_by")]
    also_vouched_by: Option<String>,
    #[command(flatten)]
    desk: CaseArgs,
}

#[derive(Debug, Args)]
pub(super) struct ListArgs {
    #[command(flatten)]
    desk: CaseArgs,
}

#[derive(Debug, Args)]
pub(super) struct RetireArgs {
    /// Whom
    #[arg(id = "whom", value_name = "PERSON")]
    person: String,
    #[command(flatten)]
    by: SignedBy,
    #[command(flatten)]
    desk: CaseArgs,
}

#[derive(Debug, Args)]
pub(super) struct PinArgs {
    /// Somebody who has lost theirs; an administrator does this
    #[arg(long = "of", id = "whom", value_name = "PERSON")]
    of: Option<String>,
    #[command(flatten)]
    by: SignedBy,
    #[command(flatten)]
    desk: CaseArgs,
}

pub(super) fn run(command: &PeopleCommand) -> Answer {
    let (answer, desk) = match command {
        PeopleCommand::Add(args) => (add(args), &args.desk),
        PeopleCommand::List(args) => (list(args), &args.desk),
        PeopleCommand::Retire(args) => (retire(args), &args.desk),
        PeopleCommand::Pin(args) => (pin(args), &args.desk),
    };
    answer.unwrap_or_else(|no_answer| no_answer.said(desk.format()))
}

fn add(args: &AddArgs) -> Result<Answer, CommandError> {
    let (mut cases, now) = args.desk.open()?;
    let role = Role::written(args.role.trim()).ok_or_else(|| {
        let fault = Fault::new("word-unknown", "this is not a role that is known here")
            .help(format!("write one of: {}", Role::WORDS.join(", ")));
        Refused::one("--role", fault)
    })?;
    let mut ask = whoever_is_here();
    let mut vouches = Vec::new();
    for name in [&args.vouched_by, &args.also_vouched_by].into_iter().flatten() {
        vouches.push(SignedBy { name: name.clone() }.unlock(&mut cases, now, ask.as_mut())?.1);
    }
    let (first, second) = (vouches.first(), vouches.get(1));
    let pin = new_pin(ask.as_mut(), &args.name)?;
    let person = if role == Role::Administrator {
        case::add_administrator(cases.journal_mut(), now, (first, second), &args.name, &pin)?
    } else {
        case::add(cases.journal_mut(), now, first, &args.name, role, &pin)?
    };
    Ok(match args.desk.format() {
        Format::Json => {
            let json = json!({"version": 1, "id": person.id, "name": person.name, "role": person.role.word()});
            Answer::json(&json, Exit::Proceed)
        }
        Format::Text => Answer::text(format!("Added: {}, {}.\n", person.name, person.role), Exit::Proceed),
    })
}

fn list(args: &ListArgs) -> Result<Answer, CommandError> {
    let (cases, _) = args.desk.open()?;
    let people = People::of(cases.journal())?;
    Ok(match args.desk.format() {
        Format::Json => {
            let people: Vec<_> = people
                .iter()
                .map(|person| {
                    json!({
                        "id": person.id,
                        "name": person.name,
                        "role": person.role.word(),
                        "added_at": person.added_at.to_rfc3339(),
                        "retired_at": person.retired_at.map(crate::quantity::Moment::to_rfc3339),
                    })
                })
                .collect();
            Answer::json(&json!({"version": 1, "people": people}), Exit::Proceed)
        }
        Format::Text => {
            let mut text = String::new();
            for person in people.iter() {
                let retired = person.retired_at.map(|at| format!(", retired {}", at.local())).unwrap_or_default();
                let _ = writeln!(text, "{}, {}, since {}{retired}", person.name, person.role, person.added_at.local());
            }
            if text.is_empty() {
                text = "Nobody is here yet: add the first person with `countersign people add`.\n".to_owned();
            }
            Answer::text(text, Exit::Proceed)
        }
    })
}

fn retire(args: &RetireArgs) -> Result<Answer, CommandError> {
    let (mut cases, now) = args.desk.open()?;
    let mut ask = whoever_is_here();
    let (_, signer) = args.by.unlock(&mut cases, now, ask.as_mut())?;
    let person = case::retire(cases.journal_mut(), now, &signer, &args.person)?;
    Ok(match args.desk.format() {
        Format::Json => Answer::json(&json!({"version": 1, "retired": person.name}), Exit::Proceed),
        Format::Text => Answer::text(format!("Retired: {}. What they signed stays.\n", person.name), Exit::Proceed),
    })
}

fn pin(args: &PinArgs) -> Result<Answer, CommandError> {
    let (mut cases, now) = args.desk.open()?;
    let mut ask = whoever_is_here();
    let (mut person, signer) = args.by.unlock(&mut cases, now, ask.as_mut())?;
    match &args.of {
        Some(name) => {
            let pin = new_pin(ask.as_mut(), name)?;
            person = case::renew_pin(cases.journal_mut(), now, &signer, name, &pin)?;
        }
        None => {
            let pin = new_pin(ask.as_mut(), &person.name)?;
            case::change_pin(cases.journal_mut(), now, &signer, &pin)?;
        }
    }
    Ok(match args.desk.format() {
        Format::Json => Answer::json(&json!({"version": 1, "pin_changed": person.name}), Exit::Proceed),
        Format::Text => Answer::text(format!("The PIN of {} is changed.\n", person.name), Exit::Proceed),
    })
}

/// Typed twice: nobody sees it.
fn new_pin(ask: &mut dyn Ask, name: &str) -> Result<String, CommandError> {
    let pin = ask.secret(&format!("New PIN for {name}, {SHORTEST_PIN} digits or more, or a passphrase:"))?;
    if ask.secret("The same again:")? == pin {
        return Ok(pin);
    }
    let fault =
        Fault::new("pin-typed-differently", "the two are not the same").help("begin again; nothing was written");
    Err(Refused::one("the PIN", fault).into())
}
