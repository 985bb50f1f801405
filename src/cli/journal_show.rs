//! `journal show`: everything that was written down about a case, in order.

use std::fmt::Write as _;

use clap::Args;
use serde_json::{Value, json};

use crate::card::{DEMONSTRATION, wrapped};
use crate::case::{CaseCode, Cases, EventTold, Inside, People, ReadBack, SetUpCode, what_in_words};
use crate::journal::AccessKind;

use super::answer::Answer;
use super::desk::{CaseArgs, note_read};
use super::entry_file::CommandError;
use super::record::marks_in_words;
use super::{Exit, Format};

#[derive(Debug, Args)]
pub(super) struct ShowArgs {
    /// The case; left out with --access for every case
    #[arg(required_unless_present = "access")]
    code: Option<String>,
    /// Who looked at it, and who signed in, instead of what was written
    #[arg(long)]
    access: bool,
    #[command(flatten)]
    desk: CaseArgs,
}

pub(super) fn run(args: &ShowArgs) -> Answer {
    show(args).unwrap_or_else(|no_answer| no_answer.said(args.desk.format()))
}

fn show(args: &ShowArgs) -> Result<Answer, CommandError> {
    let (cases, now) = args.desk.open()?;
    let code = args.code.as_deref().map(|code| SetUpCode::parse(code).map(|(code, _)| code)).transpose()?;
    let code = match code {
        Some(code) if !args.access => code,
        about => return accesses(&cases, about, args.desk.format()),
    };
    note_read(cases.journal(), now, AccessKind::Journal, Some(code));
    let history = cases.history(code)?;
    let forgotten = cases.case(code)?.forgotten_at;
    let people = cases.people()?;
    let notice = cases.journal().is_demonstration().then_some(DEMONSTRATION);
    Ok(match args.desk.format() {
        Format::Json => {
            let events: Vec<Value> = history.iter().map(|told| as_data(told, &people)).collect();
            let json = json!({
                "version": 1, "notice": notice, "case": code.to_string(), "forgotten": forgotten.is_some(), "events": events,
            });
            Answer::json(&json, Exit::Proceed)
        }
        Format::Text => {
            let mut text = notice.map(|notice| format!("{notice}\n")).unwrap_or_default();
            let _ = writeln!(text, "Case {code}");
            if forgotten.is_some() {
                wrapped(
                    &mut text,
                    "",
                    "What was sealed in it was made unreadable; what happened when, and by whom, stays.",
                );
            }
            text.push('\n');
            for told in &history {
                in_words(&mut text, told, &people);
            }
            Answer::text(text, Exit::Proceed)
        }
    })
}

/// Who looked, in order; each access held against the chain of them.
fn accesses(cases: &Cases, about: Option<CaseCode>, format: Format) -> Result<Answer, CommandError> {
    let (people, about) = (cases.people()?, about.map(|code| code.to_string()));
    let mut found = Vec::new();
    let head = cases.journal().accesses()?.each(|one| {
        if about.is_none() || one.access.scope == about {
            found.push(one);
        }
    })?;
    let name = |id: &str| people.by_id(id).map(|person| format!("{}, {}", person.name, person.role));
    Ok(match format {
        Format::Json => {
            let accesses: Vec<Value> = found
                .iter()
                .map(|one| {
                    json!({
                        "seq": one.seq, "at": one.at.to_rfc3339(), "kind": one.access.kind, "case": one.access.scope,
                        "by": one.access.who.as_deref().map(|id| json!({"id": id, "name": people.name(id)})),
                        "from": one.access.from,
                    })
                })
                .collect();
            let head = head.map(|head| head.to_string());
            Answer::json(&json!({"version": 1, "accesses": accesses, "head": head}), Exit::Proceed)
        }
        Format::Text => {
            let mut text = String::new();
            for one in &found {
                let who = one.access.who.as_deref().and_then(name).unwrap_or_else(|| "nobody known".to_owned());
                let case = one.access.scope.as_ref().map(|code| format!(" {code}")).unwrap_or_default();
                let first = format!("{:>4}  ", one.seq);
                let says =
                    format!("{} {}{case} ({who}; from {})", one.at.local(), one.access.kind.says(), one.access.from);
                wrapped(&mut text, &first, &says);
            }
            match head {
                Some(head) => {
                    let _ = writeln!(text, "Each access is as it was written. The last is\n{head}");
                }
                None => text.push_str("No access was written down yet.\n"),
            }
            Answer::text(text, Exit::Proceed)
        }
    })
}

fn who(told: &EventTold, people: &People) -> String {
    match people.by_id(&told.by) {
        Some(person) => format!("{}, {}", person.name, person.role),
        None => "signed by the store alone".to_owned(),
    }
}

const INDENT: &str = "      ";

fn in_words(out: &mut String, told: &EventTold, people: &People) {
    let set_up = told.set_up.map(|code| format!(" {code}:")).unwrap_or_default();
    let (first, who) = (format!("{:>4}  ", told.seq), who(told, people));
    wrapped(out, &first, &format!("{}{set_up} {} ({who})", told.at, told.says));
    if let Some(clock) = &told.clock {
        wrapped(out, INDENT, &format!("clock: {clock}"));
    }
    let mut say = |text: &str| wrapped(out, INDENT, text);
    match &told.inside {
        Inside::Nothing => {}
        Inside::Forgotten => say("unreadable: the case was forgotten"),
        Inside::Closed => say("sealed until two people have come to an end with it"),
        Inside::Entry { name, role, form, json } => {
            say(&format!("entered by {name}, {role}:"));
            for line in lines(form, *json) {
                let deep = line.len() - line.trim_start().len();
                wrapped(out, &format!("{INDENT}  {}", " ".repeat(deep)), line.trim());
            }
        }
        Inside::Weight(read) => say(&format!("{} ({})", read.weight, read.from)),
        Inside::Identifiers(read) => say(&read.identifiers.join(", ")),
        Inside::ReadBack(read_back) => read_back_in_words(out, read_back),
        Inside::Record(recorded) => {
            say(&format!("{}, at {}", what_in_words(&recorded.what, people), kept(&recorded.happened)));
            if let Some(late) = &recorded.late {
                say(&format!("written down later: {late}"));
            }
            if let Some(reason) = &recorded.reason {
                say(&format!("reason: {reason}"));
            }
            marks_in_words(out, INDENT, &recorded.marks);
        }
        Inside::Decision(decision) => {
            say(&decision.outcome.says());
            decision.findings.iter().for_each(|one| say(&format!("{}: {} [{}]", one.severity, one.message, one.code)));
        }
        Inside::Round(round) => round.lines().iter().for_each(|line| say(line)),
        Inside::RoundSigned(round) => say(&format!("the round of event {round}")),
        Inside::Recount(recount) => say(&recount.says()),
        Inside::Card { hash, program, double_checked } => {
            let checked = if *double_checked { "" } else { "NOT DOUBLE-CHECKED; " };
            say(&format!("{checked}drawn by version {program}, hash {}", hash.get(..16).unwrap_or(hash)));
        }
    }
}

fn read_back_in_words(out: &mut String, read_back: &ReadBack) {
    let shown: Vec<String> = read_back.shown.iter().map(|one| format!("{} {}", one.value, one.typed)).collect();
    wrapped(out, INDENT, &format!("{}; held against {}", shown.join(", "), read_back.against));
    for one in &read_back.differences {
        let cause = one.cause.as_deref().map(|cause| format!("; perhaps {cause}")).unwrap_or_default();
        wrapped(out, INDENT, &format!("differs: {}, {} shown, {} expected{cause}", one.value, one.shown, one.expected));
    }
    if let Some(reason) = &read_back.reason {
        wrapped(out, INDENT, &format!("reason: {reason}"));
    }
}

/// A form as it was typed, a line for each value.
fn lines(form: &str, json: bool) -> Vec<String> {
    if json && let Ok(value) = serde_json::from_str::<Value>(form) {
        let mut lines = Vec::new();
        nested(&mut lines, 0, &value);
        return lines;
    }
    form.lines().filter(|line| !line.trim().is_empty()).map(str::to_owned).collect()
}

fn nested(lines: &mut Vec<String>, deep: usize, value: &Value) {
    let Some(map) = value.as_object() else { return };
    for (key, value) in map {
        let indent = " ".repeat(deep);
        match value {
            Value::Object(_) => {
                lines.push(format!("{indent}{key}:"));
                nested(lines, deep + 2, value);
            }
            Value::String(text) => lines.push(format!("{indent}{key}: {text}")),
            other => lines.push(format!("{indent}{key}: {other}")),
        }
    }
}

fn kept(moment: &str) -> String {
    crate::quantity::Moment::parse(moment).map_or_else(|_| moment.to_owned(), |moment| moment.to_string())
}

fn as_data(told: &EventTold, people: &People) -> Value {
    let person = people.by_id(&told.by);
    let inside = match &told.inside {
        Inside::Nothing => Value::Null,
        Inside::Forgotten => json!({"closed": "forgotten"}),
        Inside::Closed => json!({"closed": "until two people have come to an end with it"}),
        Inside::Entry { name, role, form, json } => {
            json!({"entry": {"name": name, "role": role, "form": form, "json": json}})
        }
        Inside::Weight(read) => json!({"weight": read}),
        Inside::Identifiers(read) => json!({"identifiers": read.identifiers}),
        Inside::ReadBack(read_back) => json!({"read_back": read_back}),
        Inside::Record(recorded) => json!({"recorded": recorded, "says": what_in_words(&recorded.what, people)}),
        Inside::Decision(decision) => {
            json!({"decided": decision.outcome, "says": decision.outcome.says(), "findings": decision.findings})
        }
        Inside::Round(round) => json!({"round": round}),
        Inside::RoundSigned(round) => json!({"round_signed": round}),
        Inside::Recount(recount) => json!({"recount": {"says": recount.says()}}),
        Inside::Card { hash, program, double_checked } => {
            json!({"card": {"hash": hash, "program": program, "double_checked": double_checked}})
        }
    };
    json!({
        "seq": told.seq,
        "at": told.at.to_rfc3339(),
        "by": person.map(|person| json!({"id": person.id, "name": person.name, "role": person.role.word()})),
        "kind": told.kind,
        "says": told.says,
        "clock": told.clock,
        "set_up": told.set_up.map(|code| code.to_string()),
        "inside": inside,
    })
}
