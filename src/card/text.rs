//! The card for a terminal or a printer of 80 columns, in plain characters.

use std::fmt::Write as _;

use super::CODE_HEADING;
use super::block::{Block, CardFinding, FactRow, Ladder, Scale};
use super::layout::{CardPart, Face, Layout};

/// The width of every line, in columns.
pub const WIDTH: usize = 80;

/// The width of labels: a fingerprint fits beside one.
const LABEL: usize = 16;

pub(super) fn render(blocks: &[Block]) -> String {
    let mut out = String::new();
    for part in Layout::arrange(blocks).parts() {
        match part {
            CardPart::Face(face) => draw_face(&mut out, face),
            CardPart::Block(block) => draw_block(&mut out, block),
        }
    }
    out
}

fn draw_block(out: &mut String, block: &Block) {
    match block {
        Block::Banner(text) => wrapped(out, "", text),
        Block::Title { text, at } => title(out, text, at),
        Block::Facts { key, heading, rows } => {
            // It follows those who entered it.
            if key != "limits" {
                head(out, heading);
            }
            facts(out, rows);
        }
        Block::Ladder(ladder) => draw_ladder(out, ladder),
        Block::Scale(scale) => limits(out, scale),
        Block::Findings(found) => findings(out, found),
        Block::Steps { heading, steps, .. } => {
            head(out, heading);
            steps.iter().for_each(|step| wrapped(out, "[ ] ", step));
        }
        Block::Text { key, lines, .. } if key == "unsigned" => wrapped(out, "", &lines.join(" ")),
        Block::Text { heading, lines, .. } => wrapped(out, "", &format!("{heading}: {}", lines.join(" "))),
        Block::Code(code) => {
            head(out, CODE_HEADING);
            wrapped(out, "", code);
        }
        // Its numbers stand among the facts; arrival is left to `delivery`; the rest is on the face.
        Block::Emptying(_) | Block::Arrives(_) | Block::Lead(_) | Block::Rate { .. } => {}
    }
}

fn draw_face(out: &mut String, face: &Face) {
    if let Some(heading) = &face.heading {
        wrapped(out, "", heading);
    }
    let amount = if face.amount.is_empty() { String::new() } else { format!("   {}", face.amount) };
    wrapped(out, "", &format!("{}{amount}", face.drug));
    if !face.warnings.is_empty() {
        wrapped(out, "", &face.warnings.join("; "));
    }
    rate(out, face);
    face.lines.iter().for_each(|line| wrapped(out, "", line));
    facts(out, &face.rows);
}

fn title(out: &mut String, text: &str, at: &str) {
    let space = WIDTH.saturating_sub(text.len() + at.len()).max(1);
    let _ = writeln!(out, "{}{}{at}\n{}", text.to_uppercase(), " ".repeat(space), "=".repeat(WIDTH));
}

/// A heading on a rule, which parts it from the text above.
fn head(out: &mut String, heading: &str) {
    let rule = "-".repeat(WIDTH.saturating_sub(heading.chars().count() + 1));
    let _ = writeln!(out, "{heading} {rule}");
}

fn facts(out: &mut String, rows: &[FactRow]) {
    for row in rows {
        let label = format!("{:<LABEL$}", row.label);
        let longest = row.value.split(' ').map(|word| word.chars().count()).max().unwrap_or(0);
        if longest > WIDTH - LABEL || row.label.chars().count() >= LABEL {
            // What is long is not broken: it stands on a line of its own.
            let _ = writeln!(out, "{}", row.label);
            wrapped(out, &" ".repeat(WIDTH.saturating_sub(longest).min(LABEL)), &row.value);
        } else {
            wrapped(out, &label, &row.value);
        }
    }
}

/// The one rate, in a frame of its own: no other number stands beside it, but the limit that it lies beyond.
fn rate(out: &mut String, face: &Face) {
    let frame = if face.beyond.is_empty() { 36 } else { 76 };
    let indent = " ".repeat((WIDTH - frame) / 2);
    let edge = format!("{indent}+{}+", "-".repeat(frame - 2));
    let _ = writeln!(out, "{edge}");
    for line in face.beyond.iter().flat_map(|says| textwrap::wrap(says, frame - 4)) {
        let _ = writeln!(out, "{indent}|{line:^0$}|", frame - 2);
    }
    let number = format!("{} {}", face.value, face.unit);
    let _ = writeln!(out, "{indent}|{:^1$}|\n{edge}", number.trim_end(), frame - 2);
}

/// Doses from left to right, each above its rate; the units stand in the head alone.
fn draw_ladder(out: &mut String, ladder: &Ladder) {
    head(out, &ladder.heading());
    let mut columns: Vec<(String, String)> = Vec::new();
    for row in &ladder.rows {
        let rate = if row.is_set { format!(">{}<", row.rate) } else { row.rate.clone() };
        columns.push((row.dose.clone(), rate));
    }
    if let Some(bolus) = &ladder.bolus {
        columns.push((format!("bolus {}", bolus.dose), bolus.rate.clone()));
    }
    let dose_head = if ladder.rows.is_empty() { "dose".to_owned() } else { format!("dose {}", ladder.dose_unit) };
    // A word before each unit: the number that ends the line above is no number of it.
    let heads = [dose_head, format!("rate {}", ladder.rate_unit)];
    let begin = heads.iter().map(|head| head.chars().count()).max().unwrap_or(0);
    let mut lines: Vec<[String; 2]> = Vec::new();
    for (dose, rate) in columns {
        let wide = dose.chars().count().max(rate.chars().count()) + 2;
        let is_full = lines.last().is_none_or(|[doses, _]| doses.chars().count() + wide > WIDTH);
        if is_full {
            lines.push(heads.clone().map(|head| format!("{head:<begin$}")));
        }
        if let Some([doses, rates]) = lines.last_mut() {
            let _ = write!(doses, "{dose:>wide$}");
            let _ = write!(rates, "{rate:>wide$}");
        }
    }
    for line in lines.iter().flatten() {
        let _ = writeln!(out, "{}", line.trim_end());
    }
}

/// The limits in one line: what was checked, not a rate.
fn limits(out: &mut String, scale: &Scale) {
    let mark = |mark: Option<super::ScaleMark>| mark.map(super::ScaleMark::shown);
    let between = |name: &str, from: Option<String>, to: Option<String>| match (from, to) {
        (Some(from), Some(to)) => Some(format!("{name} {from} to {to}")),
        (Some(from), None) => Some(format!("{name} from {from}")),
        (None, Some(to)) => Some(format!("{name} to {to}")),
        (None, None) => None,
    };
    let bands = [
        between("usual", mark(scale.usual_from), mark(scale.usual_to)),
        between("soft", mark(scale.soft_from), mark(scale.soft_to)),
        between("hard", mark(scale.hard_from), mark(scale.hard_to)),
    ];
    let bands: Vec<String> = bands.into_iter().flatten().collect();
    if !bands.is_empty() {
        wrapped(out, &format!("{:<LABEL$}", "Limits"), &format!("{} {}", bands.join(", "), scale.unit));
    }
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
