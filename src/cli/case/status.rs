//! `case status` and `case list`.

use std::fmt::Write as _;

use clap::Args;
use serde_json::{Value, json};

use crate::card::{DEMONSTRATION, wrapped};
use crate::case::{Cases, Row, SetUpCode};
use crate::cli::answer::Answer;
use crate::cli::desk::{Current, Desk};
use crate::cli::entry_file::NoAnswer;
use crate::cli::{Exit, Format};

#[derive(Debug, Args)]
pub(in crate::cli) struct StatusArgs {
    /// The case, or one of its set-ups
    code: String,
    #[command(flatten)]
    current: Current,
    #[command(flatten)]
    pub(super) desk: Desk,
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
    pub(super) desk: Desk,
}

pub(super) fn status(args: &StatusArgs) -> Result<Answer, NoAnswer> {
    let (cases, now) = args.desk.open()?;
    let (code, number) = SetUpCode::parse(&args.code)?;
    let case = cases.case(code)?;
    if let Some(number) = number {
        case.set_up(number)?;
    }
    if let Some(at) = case.forgotten_at {
        let text = format!("{code}: forgotten at {}\n", at.local());
        return Ok(match args.desk.format() {
            Format::Json => {
                Answer::json(&json!({"version": 1, "case": code.to_string(), "forgotten": true}), Exit::Proceed)
            }
            Format::Text => Answer::text(text, Exit::Proceed),
        });
    }
    let current = args.current.open()?;
    let mut rows = cases.rows(&case, current.as_ref(), now)?;
    rows.retain(|row| number.is_none() || row.set_up.map(|set_up| set_up.number) == number);
    Ok(shown(&cases, &rows, args.desk.format()))
}

pub(super) fn list(args: &ListArgs) -> Result<Answer, NoAnswer> {
    let (cases, now) = args.desk.open()?;
    let current = args.current.open()?;
    let mut rows = cases.list(current.as_ref(), now)?;
    rows.retain(|row| !row.owed.is_empty() || (!args.owed && (args.all || !row.over)));
    Ok(shown(&cases, &rows, args.desk.format()))
}

fn shown(cases: &Cases, rows: &[Row], format: Format) -> Answer {
    if format == Format::Json {
        let rows: Vec<Value> = rows.iter().map(as_json).collect();
        let notice = cases.journal().is_demonstration().then_some(DEMONSTRATION);
        return Answer::json(&json!({"version": 1, "notice": notice, "set_ups": rows}), Exit::Proceed);
    }
    let mut text = String::new();
    if cases.journal().is_demonstration() {
        let _ = writeln!(text, "{DEMONSTRATION}");
    }
    for row in rows {
        let name = row.set_up.map_or_else(|| row.case.to_string(), |set_up| set_up.to_string());
        wrapped(&mut text, &format!("{name:<12}"), &row.stands);
        let indent = " ".repeat(12);
        if let Some(runs) = &row.runs {
            let rate = runs.rate.as_deref().map_or_else(|| "paused".to_owned(), |rate| format!("at {rate}"));
            wrapped(&mut text, &indent, &format!("{}, {}, driver {}, {rate}", runs.drug, runs.strength, runs.driver));
        }
        for owed in &row.owed {
            wrapped(&mut text, &indent, &format!("owed: {} [{}]", owed.says, owed.code));
        }
    }
    if rows.is_empty() {
        text.push_str("Nothing to show.\n");
    }
    Answer::text(text, Exit::Proceed)
}

fn as_json(row: &Row) -> Value {
    let runs = row
        .runs
        .as_ref()
        .map(|runs| json!({"drug": runs.drug, "strength": runs.strength, "driver": runs.driver, "rate": runs.rate}));
    let owed: Vec<Value> = row.owed.iter().map(|owed| json!({"code": owed.code, "says": owed.says})).collect();
    json!({
        "case": row.case.to_string(),
        "set_up": row.set_up.map(|set_up| set_up.to_string()),
        "stands": row.stands,
        "runs": runs,
        "owed": owed,
        "over": row.over,
    })
}
