//! `case status` and `case list`.

use std::fmt::Write as _;

use clap::Args;

use crate::card::{DEMONSTRATION, wrapped};
use crate::case::data::{CaseForgotten, Stands};
use crate::case::{Board, Cases, DriverState, OverCases, SetUpCode, SetUpRow};
use crate::cli::answer::Answer;
use crate::cli::desk::{CaseArgs, Current};
use crate::cli::entry_file::CommandError;
use crate::cli::{Exit, Format};

#[derive(Debug, Args)]
pub(in crate::cli) struct StatusArgs {
    /// The case, or one of its set-ups
    code: String,
    #[command(flatten)]
    current: Current,
    #[command(flatten)]
    pub(super) desk: CaseArgs,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct ListArgs {
    /// Only where something is owed
    #[arg(long)]
    owed: bool,
    /// Those that have come to their end too
    #[arg(long)]
    all: bool,
    #[command(flatten)]
    current: Current,
    #[command(flatten)]
    pub(super) desk: CaseArgs,
}

pub(super) fn status(args: &StatusArgs) -> Result<Answer, CommandError> {
    let (cases, now) = args.desk.open()?;
    let (code, number) = SetUpCode::parse(&args.code)?;
    let case = cases.case(code)?;
    if let Some(number) = number {
        case.set_up(number)?;
    }
    if let Some(at) = case.forgotten_at {
        let text = format!("{code}: forgotten at {}\n", at.local());
        return Ok(match args.desk.format() {
            Format::Json => Answer::json(&CaseForgotten::of(code), Exit::Proceed),
            Format::Text => Answer::text(text, Exit::Proceed),
        });
    }
    let current = args.current.open()?;
    let mut rows = cases.rows(&case, current.as_ref(), now)?;
    rows.retain(|row| number.is_none() || row.set_up.map(|set_up| set_up.number) == number);
    let board = if number.is_none() { Some(Board::of_case(&case, &rows, now)?) } else { None };
    Ok(shown(&cases, &rows, board.as_ref(), args.desk.format()))
}

pub(super) fn list(args: &ListArgs) -> Result<Answer, CommandError> {
    let (cases, now) = args.desk.open()?;
    let current = args.current.open()?;
    let over = if args.all { OverCases::All } else { OverCases::LeftOut };
    let mut list = cases.list(over, current.as_ref(), now)?;
    list.rows.retain(|row| !row.owed.is_empty() || (!args.owed && (args.all || !row.over)));
    if args.desk.format() == Format::Json {
        return Ok(Answer::json(&Stands::of_list(&cases, &list), Exit::Proceed));
    }
    let mut text = demonstration(&cases);
    if let Some(warning) = list.warning() {
        wrapped(&mut text, "", &warning);
    }
    in_words(&mut text, &list.rows);
    if list.over_left_out > 0 && !args.owed {
        let cases = if list.over_left_out == 1 { "1 case is" } else { &format!("{} cases are", list.over_left_out) };
        let _ = writeln!(text, "{cases} over: countersign case list --all");
    }
    Ok(Answer::text(text, Exit::Proceed))
}

fn shown(cases: &Cases, rows: &[SetUpRow], board: Option<&Board>, format: Format) -> Answer {
    if format == Format::Json {
        let stands = Stands::of(cases, rows);
        let stands = match board {
            Some(board) => stands.with_board(board),
            None => stands,
        };
        return Answer::json(&stands, Exit::Proceed);
    }
    let mut text = demonstration(cases);
    in_words(&mut text, rows);
    // One set-up that was not started has said everything above.
    let runs = |board: &&Board| board.drivers.iter().any(|driver| driver.state != DriverState::NotStarted);
    if let Some(board) = board.filter(|board| board.drivers.len() > 1 || runs(board)) {
        board_in_words(&mut text, board);
    }
    Answer::text(text, Exit::Proceed)
}

/// What is read across all drivers: the sums, and the one thing to do next.
fn board_in_words(text: &mut String, board: &Board) {
    for driver in &board.drivers {
        let left = driver.left.as_ref().map(|left| {
            let change = left.change.as_ref().map(|change| format!(", {change}")).unwrap_or_default();
            format!("{} % left: {}{change}", left.percent, left.says)
        });
        let gives = driver.dose.clone().into_iter().chain(left).collect::<Vec<_>>();
        if !gives.is_empty() {
            wrapped(text, "", &format!("{}: {}", driver.row.named, gives.join("; ")));
        }
    }
    if let Some(fluid) = &board.fluid {
        wrapped(text, "", &format!("All drivers together: {}", fluid.says()));
    }
    board.same_drug.iter().for_each(|same| wrapped(text, "", &format!("SAME DRUG TWICE: {}", same.says)));
    if let Some(next) = &board.next {
        wrapped(text, "", &format!("Next: {}", next.says));
    }
}

fn demonstration(cases: &Cases) -> String {
    if cases.journal().is_demonstration() { format!("{DEMONSTRATION}\n") } else { String::new() }
}

fn in_words(text: &mut String, rows: &[SetUpRow]) {
    for row in rows {
        let name = row.set_up.map_or_else(|| row.case.to_string(), |set_up| set_up.to_string());
        // The drug first, wherever the line does not name it itself.
        let drug = row.named.strip_suffix(&format!(", {name}"));
        let drug = drug.filter(|drug| row.runs.is_none() && !row.stands.contains(drug));
        let stands = drug.map_or_else(|| row.stands.clone(), |drug| format!("{drug}: {}", row.stands));
        wrapped(text, &format!("{name:<12}"), &stands);
        let indent = " ".repeat(12);
        if let Some(patient) = &row.patient {
            wrapped(text, &indent, &format!("patient {patient}"));
        }
        if let Some(runs) = &row.runs {
            let rate = runs.rate.as_deref().map_or_else(|| "paused".to_owned(), |rate| format!("at {rate}"));
            wrapped(text, &indent, &format!("{}, {}, driver {}, {rate}", runs.drug, runs.strength, runs.driver));
        }
        for owed in &row.owed {
            wrapped(text, &indent, &format!("outstanding: {} [{}]", owed.says, owed.code));
        }
    }
    if rows.is_empty() {
        text.push_str("No set-up is open.\n");
    }
}
