//! `case`: one patient and their set-ups, from the first sealed entry to the card and the read-back.

mod card;
mod enter;
mod open;
mod order;
mod patient;
mod read_back;
mod round;
mod status;
mod verify;

use clap::Subcommand;

use super::Format;
use super::answer::Answer;
use super::entry_file::CommandError;

#[derive(Debug, Subcommand)]
pub(super) enum CaseCommand {
    /// Open a case: one patient; gives the code by which people name it
    Open(open::OpenArgs),
    /// Seal an electronic order: it is compared when two people agree, and nobody reads it before
    Order(order::OrderArgs),
    /// Enter a set-up of a case, first; or the fields that are read again
    Enter(enter::EnterArgs),
    /// Enter the same set-up second, without seeing the first entry
    Second(enter::SecondArgs),
    /// Enter alone, without a PIN: a card that says it was not double-checked
    Emergency(enter::EmergencyArgs),
    /// Where a case stands, and nothing else
    Status(status::StatusArgs),
    /// Every case: where it stands, what runs, what is owed
    List(status::ListArgs),
    /// The set-up card, once two people agree
    Card(card::CardArgs),
    /// Hold a card's data and its code against each other and the journal; exits 4 where something was altered
    Verify(verify::VerifyArgs),
    /// Read the weight again: two people, each alone
    Weight(patient::WeightArgs),
    /// Identifiers that were to follow: two people, each alone
    Identifiers(patient::IdentifiersArgs),
    /// Read back what the driver shows
    Readback(read_back::ReadBackArgs),
    /// Take over: read every driver of the patient, without the record; then what differs is named
    Round(round::RoundArgs),
    /// Sign a round as the second person, after reading what differs
    SignRound(round::SignRoundArgs),
    /// Make what was sealed in a case unreadable for ever; what happened when, and by whom, stays
    Forget(open::ForgetArgs),
}

pub(super) fn run(command: &CaseCommand) -> Answer {
    let (answer, format): (Result<Answer, CommandError>, Format) = match command {
        CaseCommand::Open(args) => (open::open(args), args.desk.format()),
        CaseCommand::Order(args) => (order::order(args), args.desk.format()),
        CaseCommand::Enter(args) => (enter::enter(args), args.desk.format()),
        CaseCommand::Second(args) => (enter::second(args), args.desk.format()),
        CaseCommand::Emergency(args) => (enter::emergency(args), args.desk.format()),
        CaseCommand::Status(args) => (status::status(args), args.desk.format()),
        CaseCommand::List(args) => (status::list(args), args.desk.format()),
        CaseCommand::Card(args) => (card::card(args), args.desk.format()),
        CaseCommand::Verify(args) => (verify::verify(args), args.format()),
        CaseCommand::Weight(args) => (patient::weight(args), args.desk.format()),
        CaseCommand::Identifiers(args) => (patient::identifiers(args), args.desk.format()),
        CaseCommand::Readback(args) => (read_back::read_back(args), args.desk.format()),
        CaseCommand::Round(args) => (round::round(args), args.desk.format()),
        CaseCommand::SignRound(args) => (round::sign(args), args.desk.format()),
        CaseCommand::Forget(args) => (open::forget(args), args.desk.format()),
    };
    answer.unwrap_or_else(|no_answer| no_answer.said(format))
}
