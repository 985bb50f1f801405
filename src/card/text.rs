//! The card for a terminal or a printer of 80 columns, in plain characters.

use std::fmt::Write as _;

use super::block::{Block, CardFinding, FactRow, Lead, Scale};
use super::draw::{ARRIVES_HEADING, arrives_lines};
use super::{CODE_HEADING, scale};

/// The width of every line, in columns.
pub const WIDTH: usize = 80;

pub(super) fn render(blocks: &[Block]) -> String {
    let mut out = String::new();
    for block in blocks {
        match block {
            Block::Banner(text) => wrapped(&mut out, "", text),
            Block::Lead(lead) => led(&mut out, lead),
            Block::Title { text, at } => title(&mut out, text, at),
            Block::Facts { heading, rows, .. } => facts(&mut out, heading, rows),
            Block::Rate { value, unit, beyond } => {
                if !beyond.is_empty() {
                    out.push('\n');
                }
                beyond.iter().for_each(|line| wrapped(&mut out, "", line));
                rate(&mut out, value, unit);
            }
            Block::Scale(scale) => scale_lines(&mut out, scale),
            // Each of its numbers stands among the facts.
            Block::Emptying(_) => {}
            Block::Arrives(arrives) => {
                head(&mut out, ARRIVES_HEADING);
                arrives_lines(arrives).iter().for_each(|line| wrapped(&mut out, "", line));
            }
            Block::Findings(found) => findings(&mut out, found),
            Block::Steps { heading, steps, .. } => {
                head(&mut out, heading);
                steps.iter().for_each(|step| wrapped(&mut out, "[ ] ", step));
            }
            Block::Text { heading, lines, .. } => {
                head(&mut out, heading);
                lines.iter().for_each(|line| wrapped(&mut out, "", line));
            }
            Block::Code(code) => {
                head(&mut out, CODE_HEADING);
                wrapped(&mut out, "", code);
            }
        }
    }
    out
}

fn led(out: &mut String, lead: &Lead) {
    out.push('\n');
    wrapped(out, "", &lead.heading);
    if !lead.is_the_cards {
        rate(out, &lead.value, &lead.unit);
    }
    lead.lines.iter().for_each(|line| wrapped(out, "", line));
    out.push('\n');
}

fn title(out: &mut String, text: &str, at: &str) {
    let rule = "=".repeat(WIDTH);
    let space = WIDTH.saturating_sub(text.len() + at.len()).max(1);
    let _ = writeln!(out, "{rule}\n{}{}{at}\n{rule}", text.to_uppercase(), " ".repeat(space));
}

fn head(out: &mut String, heading: &str) {
    let _ = writeln!(out, "\n{}", heading.to_uppercase());
}

fn facts(out: &mut String, heading: &str, rows: &[FactRow]) {
    const LABEL: usize = 24;
    head(out, heading);
    for row in rows {
        let label = format!("{:<LABEL$}", row.label);
        let longest = row.value.split(' ').map(|word| word.chars().count()).max().unwrap_or(0);
        if longest > WIDTH - LABEL {
            // A fingerprint is not broken: it stands on a line of its own.
            let _ = writeln!(out, "{}\n{:>WIDTH$}", row.label, row.value);
        } else {
            wrapped(out, &label, &row.value);
        }
    }
}

/// The one rate, in a frame of its own: no other number stands beside it.
fn rate(out: &mut String, value: &str, unit: &str) {
    const FRAME: usize = 36;
    let indent = " ".repeat((WIDTH - FRAME) / 2);
    let edge = format!("{indent}+{}+", "-".repeat(FRAME - 2));
    let side = format!("{indent}|{}|", " ".repeat(FRAME - 2));
    let middle = format!("{indent}|{:^1$}|", format!("{value} {unit}").trim_end(), FRAME - 2);
    let _ = writeln!(out, "\n{edge}\n{side}\n{middle}\n{side}\n{edge}");
}

fn scale_lines(out: &mut String, scale: &Scale) {
    let mark = |mark: Option<super::ScaleMark>| mark.map(super::ScaleMark::shown);
    let between = |from: Option<String>, to: Option<String>| match (from, to) {
        (Some(from), Some(to)) => format!("{from} to {to}"),
        (Some(from), None) => format!("from {from}"),
        (None, Some(to)) => format!("to {to}"),
        (None, None) => "none".to_owned(),
    };
    let _ = writeln!(out, "\n{}", scale::line(scale, WIDTH));
    let usual = between(mark(scale.usual_from), mark(scale.usual_to));
    let soft = between(mark(scale.soft_from), mark(scale.soft_to));
    let hard = between(mark(scale.hard_from), mark(scale.hard_to));
    let legend = [
        format!("O the dose, {} {}", scale.dose.shown(), scale.unit),
        format!("# usual, {usual}"),
        format!("= soft limits, {soft}"),
        format!("- hard limits, {hard}"),
        ". stopped".to_owned(),
    ];
    let mut line = String::new();
    for part in legend {
        let long = line.chars().count() + 4 + part.chars().count() > WIDTH;
        if long && !line.is_empty() {
            let _ = writeln!(out, "{line}");
            line.clear();
        }
        line.push_str(if line.is_empty() { "" } else { "    " });
        line.push_str(&part);
    }
    let _ = writeln!(out, "{line}");
}

fn findings(out: &mut String, found: &[CardFinding]) {
    head(out, "Findings");
    for one in found {
        let says = format!("{} Do: {} [{}]", sentence(&one.message), sentence(&one.help), one.code);
        wrapped(out, &format!("{:<9}", one.severity), &says);
        if let Some(source) = &one.source {
            wrapped(out, &" ".repeat(9), &format!("from {source}"));
        }
        for (name, reason) in &one.reasons {
            wrapped(out, &" ".repeat(9), &format!("reason of {name}: {reason}"));
        }
    }
}

/// With its full stop, unless it has a mark of its own.
fn sentence(text: &str) -> String {
    let end = if text.ends_with(['.', '?', '!']) { "" } else { "." };
    format!("{text}{end}")
}

/// Wraps a paragraph to the width; later lines stand under the first word. A word longer than the line is cut. A date or
/// a code is not broken at its hyphens, nor a number from its unit.
pub(crate) fn wrapped(out: &mut String, first: &str, text: &str) {
    let indent = " ".repeat(first.chars().count());
    let options = textwrap::Options::new(WIDTH)
        .initial_indent(first)
        .subsequent_indent(&indent)
        .word_splitter(textwrap::WordSplitter::NoHyphenation);
    for line in textwrap::wrap(&number_with_unit(text), options) {
        let _ = writeln!(out, "{}", line.trim_end().replace(GLUE, " "));
    }
}

/// A space at which no line is broken.
pub(super) const GLUE: char = '\u{a0}';

pub(super) fn number_with_unit(text: &str) -> String {
    let glued = |(at, c): (usize, char)| {
        let after_digit = text[..at].ends_with(|before: char| before.is_ascii_digit());
        let before_unit = text[at + c.len_utf8()..].starts_with(|after: char| after.is_alphabetic() || after == '%');
        if c == ' ' && after_digit && before_unit { GLUE } else { c }
    };
    text.char_indices().map(glued).collect()
}
