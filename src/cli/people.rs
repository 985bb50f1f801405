//! `people`: who may sign.

use std::fmt::Write as _;

use clap::{Args, Subcommand};
use serde_json::json;

use crate::card::wrapped;
use crate::case::{self, Cases, People, Person, Role, SHORTEST_PIN, Vouching};
use crate::diagnostic::Fault;
use crate::journal::Signer;
use crate::quantity::Moment;

use super::answer::Answer;
use super::ask::{Ask, terminal_or_lines};
use super::desk::{CaseArgs, SignedBy};
use super::entry_file::CommandError;
use super::input::Refused;
use super::{Exit, Format};

#[derive(Debug, Subcommand)]
pub(super) enum PeopleCommand {
    /// Add somebody, with a PIN of their own; after the first, an administrator and a second person vouch
    Add(AddArgs),
    /// Admit a guest for 12 hours: two clinicians vouch, and the list shows it for review
    Guest(GuestArgs),
    /// Everybody, the retired too
    List(ListArgs),
    /// Retire somebody; what they signed stays
    Retire(RetireArgs),
    /// Give somebody another name; the old one is nobody else's ever
    Rename(RenameArgs),
    /// Change your own PIN; an administrator and a second person give a new one to somebody who has lost theirs
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
    /// The second person who vouches; not needed where nobody else is here
    #[arg(long = "and", value_name = "NAME", requires = "vouched_by")]
    also_vouched_by: Option<String>,
    /// No administrator of the house is left who can sign: two clinicians name one, which everybody is shown
    #[arg(long, requires = "also_vouched_by")]
    administrators_gone: bool,
    #[command(flatten)]
    desk: CaseArgs,
}

#[derive(Debug, Args)]
pub(super) struct GuestArgs {
    /// The guest's name
    #[arg(id = "whom", value_name = "PERSON")]
    person: String,
    /// What they are at the bedside
    #[arg(long)]
    role: String,
    #[command(flatten)]
    by: SignedByTwo,
    #[command(flatten)]
    desk: CaseArgs,
}

#[derive(Debug, Args)]
pub(super) struct RenameArgs {
    /// Whom
    #[arg(id = "whom", value_name = "PERSON")]
    person: String,
    /// What they are called from now on
    #[arg(id = "new_name", value_name = "NEW NAME")]
    new_name: String,
    #[command(flatten)]
    by: SignedByTwo,
    #[command(flatten)]
    desk: CaseArgs,
}

/// Who signs, and the second person who signs too.
#[derive(Debug, Args)]
pub(super) struct SignedByTwo {
    #[command(flatten)]
    first: SignedBy,
    /// The second person who signs this; their PIN is asked too
    #[arg(long = "and", value_name = "NAME")]
    second: Option<String>,
}

impl SignedByTwo {
    /// Asks for both PINs.
    pub(super) fn unlock(
        &self,
        cases: &mut Cases,
        now: Moment,
        ask: &mut dyn Ask,
    ) -> Result<(Unlocked, Option<Unlocked>), CommandError> {
        let first = self.first.unlock(cases, now, ask)?;
        let second = self.second.clone().map(|name| SignedBy { name }.unlock(cases, now, ask)).transpose()?;
        Ok((first, second))
    }
}

/// A person whose key was opened.
type Unlocked = (Person, Signer);

/// The two as they sign.
pub(super) fn both<'s>(first: &'s Unlocked, second: &'s Option<Unlocked>) -> Vouching<'s> {
    Vouching { first: Some(&first.1), second: second.as_ref().map(|(_, signer)| signer) }
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
    by: SignedByTwo,
    #[command(flatten)]
    desk: CaseArgs,
}

#[derive(Debug, Args)]
pub(super) struct PinArgs {
    /// Somebody who has lost theirs; an administrator and a second person do this
    #[arg(long = "of", id = "whom", value_name = "PERSON")]
    of: Option<String>,
    #[command(flatten)]
    by: SignedByTwo,
    #[command(flatten)]
    desk: CaseArgs,
}

pub(super) fn run(command: &PeopleCommand) -> Answer {
    let (answer, desk) = match command {
        PeopleCommand::Add(args) => (add(args), &args.desk),
        PeopleCommand::Guest(args) => (guest(args), &args.desk),
        PeopleCommand::Rename(args) => (rename(args), &args.desk),
        PeopleCommand::List(args) => (list(args), &args.desk),
        PeopleCommand::Retire(args) => (retire(args), &args.desk),
        PeopleCommand::Pin(args) => (pin(args), &args.desk),
    };
    answer.unwrap_or_else(|no_answer| no_answer.said(desk.format()))
}

fn add(args: &AddArgs) -> Result<Answer, CommandError> {
    let (mut cases, now) = args.desk.open()?;
    let role = role(&args.role)?;
    let mut ask = terminal_or_lines();
    let mut vouches = Vec::new();
    for name in [&args.vouched_by, &args.also_vouched_by].into_iter().flatten() {
        vouches.push(SignedBy { name: name.clone() }.unlock(&mut cases, now, ask.as_mut())?.1);
    }
    let (first, second) = (vouches.first(), vouches.get(1));
    if args.administrators_gone && role != Role::Administrator {
        let fault = Fault::new("role-does-not-fit", "where the administrators are gone, two clinicians name one")
            .help("write --role administrator; the new one and a second person add everybody else");
        return Err(Refused::one("--role", fault).into());
    }
    let pin = new_pin(ask.as_mut(), &args.name)?;
    let journal = cases.journal_mut();
    let person = match (first, second) {
        (Some(first), Some(second)) if args.administrators_gone => {
            case::add_as_administrators_are_gone(journal, now, (first, second), &args.name, &pin)?
        }
        _ => case::add(journal, now, (first, second), &args.name, role, &pin)?,
    };
    Ok(match args.desk.format() {
        Format::Json => {
            let json = json!({"version": 1, "id": person.id, "name": person.name, "role": person.role.word()});
            Answer::json(&json, Exit::Proceed)
        }
        Format::Text => Answer::text(format!("Added: {}, {}.\n", person.name, person.role), Exit::Proceed),
    })
}

fn role(typed: &str) -> Result<Role, Refused> {
    Role::written(typed.trim()).ok_or_else(|| {
        let fault = Fault::new("word-unknown", "this is not a role that is known here")
            .help(format!("write one of: {}", Role::WORDS.join(", ")));
        Refused::one("--role", fault)
    })
}

fn guest(args: &GuestArgs) -> Result<Answer, CommandError> {
    let (mut cases, now) = args.desk.open()?;
    let role = role(&args.role)?;
    let mut ask = terminal_or_lines();
    let (first, second) = args.by.unlock(&mut cases, now, ask.as_mut())?;
    let Some((_, second)) = second else {
        let fault = Fault::new("second-person-needed", "one person alone admits no guest")
            .help("add --and and the name of a second clinician who is here; their PIN is asked");
        return Err(Refused::one("--and", fault).into());
    };
    let pin = new_pin(ask.as_mut(), &args.person)?;
    let guest = case::admit_guest(cases.journal_mut(), now, (&first.1, &second), &args.person, role, &pin)?;
    let until = guest.guest_until.map(Moment::local);
    Ok(match args.desk.format() {
        Format::Json => {
            let json = json!({
                "version": 1, "id": guest.id, "name": guest.name, "role": guest.role.word(),
                "guest_until": until.map(Moment::to_rfc3339),
            });
            Answer::json(&json, Exit::Proceed)
        }
        Format::Text => {
            let until = until.map(|until| until.to_string()).unwrap_or_default();
            let text = format!("Admitted as a guest until {until}: {}, {}.\n", guest.name, guest.role);
            Answer::text(text, Exit::Proceed)
        }
    })
}

fn rename(args: &RenameArgs) -> Result<Answer, CommandError> {
    let (mut cases, now) = args.desk.open()?;
    let mut ask = terminal_or_lines();
    let (first, second) = args.by.unlock(&mut cases, now, ask.as_mut())?;
    let person = case::rename(cases.journal_mut(), now, both(&first, &second), &args.person, &args.new_name)?;
    let before = person.former_names.last().cloned().unwrap_or_default();
    Ok(match args.desk.format() {
        Format::Json => Answer::json(&json!({"version": 1, "renamed": before, "name": person.name}), Exit::Proceed),
        Format::Text => Answer::text(format!("{before} is now {}.\n", person.name), Exit::Proceed),
    })
}

fn list(args: &ListArgs) -> Result<Answer, CommandError> {
    let (cases, now) = args.desk.open()?;
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
                        "retired_at": person.retired_at.map(Moment::to_rfc3339),
                        "former_names": person.former_names,
                        "administrators_gone": person.administrators_gone,
                        "guest_until": person.guest_until.map(Moment::to_rfc3339),
                    })
                })
                .collect();
            Answer::json(&json!({"version": 1, "people": people}), Exit::Proceed)
        }
        Format::Text => {
            let mut text = String::new();
            for person in people.iter() {
                let retired = person.retired_at.map(|at| format!(", retired {}", at.local())).unwrap_or_default();
                let _ = write!(text, "{}, {}, since {}{retired}", person.name, person.role, person.added_at.local());
                if !person.former_names.is_empty() {
                    let _ = write!(text, "; before: {}", person.former_names.join(", "));
                }
                if let Some(until) = person.guest_until {
                    let by = people.name(&person.added_by);
                    let over = if person.is_here(now) { "" } else { ", which is over" };
                    let _ = write!(text, "; GUEST until {}{over}, admitted by {by}: review", until.local());
                }
                if person.administrators_gone {
                    let by = people.name(&person.added_by);
                    let _ = write!(text, "; NAMED BY TWO CLINICIANS, {by} first, AS ADMINISTRATORS WERE GONE: review");
                }
                text.push('\n');
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
    let mut ask = terminal_or_lines();
    let (first, second) = args.by.unlock(&mut cases, now, ask.as_mut())?;
    let person = case::retire(cases.journal_mut(), now, both(&first, &second), &args.person)?;
    Ok(match args.desk.format() {
        Format::Json => Answer::json(&json!({"version": 1, "retired": person.name}), Exit::Proceed),
        Format::Text => {
            let people = People::of(cases.journal())?;
            let mut text = format!("Retired: {}. What they signed stays.\n", person.name);
            let mut left = people.administrators();
            if let (Role::Administrator, Some(last), None) = (person.role, left.next(), left.next()) {
                let says = format!(
                    "ONE ADMINISTRATOR IS LEFT: {}. Without their PIN nobody is added, retired or given a new one. Name \
                     another now: `countersign people add NAME --role administrator --as \"{}\" --and NAME`",
                    last.name, last.name
                );
                wrapped(&mut text, "", &says);
            }
            Answer::text(text, Exit::Proceed)
        }
    })
}

fn pin(args: &PinArgs) -> Result<Answer, CommandError> {
    let (mut cases, now) = args.desk.open()?;
    let mut ask = terminal_or_lines();
    let (first, second) = args.by.unlock(&mut cases, now, ask.as_mut())?;
    let mut person = first.0.clone();
    match &args.of {
        Some(name) => {
            let pin = new_pin(ask.as_mut(), name)?;
            person = case::renew_pin(cases.journal_mut(), now, both(&first, &second), name, &pin)?;
        }
        None => {
            let pin = new_pin(ask.as_mut(), &person.name)?;
            case::change_pin(cases.journal_mut(), now, &first.1, &pin)?;
        }
    }
    Ok(match args.desk.format() {
        Format::Json => Answer::json(&json!({"version": 1, "pin_changed": person.name}), Exit::Proceed),
        Format::Text => Answer::text(format!("The PIN of {} is changed.\n", person.name), Exit::Proceed),
    })
}

/// Typed twice: nobody sees it.
pub(super) fn new_pin(ask: &mut dyn Ask, name: &str) -> Result<String, Refused> {
    let pin = ask.secret(&format!("New PIN for {name}, {SHORTEST_PIN} digits or more, or a passphrase:"))?;
    if ask.secret("The same again:")? == pin {
        return Ok(pin);
    }
    let fault =
        Fault::new("pin-typed-differently", "the two are not the same").help("begin again; nothing was written");
    Err(Refused::one("the PIN", fault))
}
