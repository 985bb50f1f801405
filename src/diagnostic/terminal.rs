//! Faults for a person at a terminal: in come a source and its faults, out comes text with the line marked, as a
//! compiler draws it. No line that belongs to a patient is ever in it, and nothing in it can steer the terminal.

use std::ops::Range;

use annotate_snippets::renderer::DEFAULT_LINE_NUM_STYLE;
use annotate_snippets::{AnnotationKind, Group, Renderer, Snippet};

use super::{Fault, Level, Place, Source, visible};

/// Whether the text may hold escape sequences for colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Palette {
    /// For a pipe, a file, a test.
    Plain,
    /// For a terminal.
    Colour,
}

/// All faults in the order given, a blank line between two, each ending with a line break.
///
/// A fault about a patient (see [`Fault::is_about_a_patient`]) is shown with its place, its message and its help, and
/// without the line it stands on; so is a fault on a line that is withheld (see [`Source::withhold`]) or that has
/// `patient:` in it, and a fault of the whole text that stands on or after the first `patient:`, because then the text
/// could not be read far enough to tell where the patient's lines end.
#[must_use]
pub fn render(source: &Source, faults: &[Fault], palette: Palette) -> String {
    let faults: Vec<(Level, Fault)> = faults.iter().map(|fault| (Level::Error, fault.clone())).collect();
    render_all(source, &faults, palette).join("\n")
}

/// From how many on the same fault of one file is drawn once, with the lines of the others.
const SAID_ONCE: usize = 3;

/// Every fault as [`render`] draws it, as heavy as it is. What is said the same three times or more is drawn once, at its
/// first place, with the lines of the others.
#[must_use]
pub fn render_all(source: &Source, faults: &[(Level, Fault)], palette: Palette) -> Vec<String> {
    let same = |(level, one): &(Level, Fault), (other_level, other): &(Level, Fault)| {
        level == other_level && (one.code, &one.message, &one.help) == (other.code, &other.message, &other.help)
    };
    let mut drawn = Vec::new();
    for (at, one) in faults.iter().enumerate() {
        let alike = faults.iter().filter(|other| same(one, other)).count();
        if alike < SAID_ONCE {
            drawn.push(render_one(source, &one.1, one.0, palette));
        } else if !faults[..at].iter().any(|earlier| same(one, earlier)) {
            let rest = faults[at + 1..].iter().filter(|other| same(one, other));
            let lines = rest.filter_map(|(_, fault)| fault.range.as_ref());
            let lines: Vec<String> =
                lines.map(|range| source.place(source.clamped(range).start).line.to_string()).collect();
            let places = if lines.is_empty() { String::new() } else { format!(": lines {}", lines.join(", ")) };
            let more = format!("the same {} times more{places}", alike - 1);
            let help = one.1.help.as_ref().map_or_else(|| more.clone(), |help| format!("{help}; {more}"));
            drawn.push(render_one(source, &one.1.clone().help(help), one.0, palette));
        }
    }
    drawn
}

/// One fault, as heavy as it is, drawn as [`render`] draws an error.
#[must_use]
pub fn render_one(source: &Source, fault: &Fault, level: Level, palette: Palette) -> String {
    let drawn = match level {
        Level::Error => annotate_snippets::Level::ERROR,
        Level::Warning => annotate_snippets::Level::WARNING,
        Level::Note => annotate_snippets::Level::NOTE,
    };
    one(source, fault, drawn, palette)
}

/// A longer line is cut around the mark: nobody finds a mark in the middle of a thousand characters.
const LONGEST_LINE: usize = 200;
/// What of a long line is shown, in characters.
const WINDOW: usize = 120;
/// How much of it stands before the mark.
const BEFORE_MARK: usize = 40;
/// Wider than any excerpt, so that the renderer does not cut a second time.
const RENDERED_WIDTH: usize = 10 * LONGEST_LINE;

fn one(source: &Source, fault: &Fault, level: annotate_snippets::Level<'_>, palette: Palette) -> String {
    let range = fault.range.as_ref().map(|range| source.clamped(range));
    let place = range.as_ref().map(|range| source.place(range.start));
    let excerpt = range.and_then(|range| Excerpt::of(source, fault, range));

    let mut group = Group::with_title(level.primary_title(visible::prose(&fault.message)).id(fault.code));
    let mut gutter = 0;
    if let (Some(excerpt), Some(place)) = (excerpt, place) {
        gutter = place.line.to_string().len();
        let mark = AnnotationKind::Primary.span(excerpt.mark);
        group = group.element(Snippet::source(excerpt.text).line_start(place.line).annotation(mark));
    }
    if let Some(help) = &fault.help {
        group = group.element(annotate_snippets::Level::HELP.message(visible::prose(help)));
    }
    let renderer = match palette {
        Palette::Plain => Renderer::plain(),
        Palette::Colour => Renderer::styled(),
    };
    let drawn = renderer.term_width(RENDERED_WIDTH).render(&[group]);

    // The renderer counts columns in the excerpt, which may be cut: the place in the file is written here instead.
    let (title, rest) = drawn.split_once('\n').unwrap_or((&drawn, ""));
    let arrow = match palette {
        Palette::Plain => "-->".to_owned(),
        Palette::Colour => format!("{DEFAULT_LINE_NUM_STYLE}-->{DEFAULT_LINE_NUM_STYLE:#}"),
    };
    let located = format!("{title}\n{:gutter$}{arrow} {}\n", "", location(source, place));
    if rest.is_empty() { located } else { format!("{located}{rest}\n") }
}

fn location(source: &Source, place: Option<Place>) -> String {
    let name = visible::prose(&source.name);
    match place {
        Some(Place { line, column }) => format!("{name}:{line}:{column}"),
        None => name,
    }
}

/// One line, or the part of it around the mark, safe to print.
struct Excerpt {
    text: String,
    mark: Range<usize>,
}

impl Excerpt {
    fn of(source: &Source, fault: &Fault, range: Range<usize>) -> Option<Self> {
        let line = source.line_around(range.start);
        // A fault without a field comes from a text that could not be read to its end, where nothing is withheld yet.
        let looked_through = if fault.field.is_empty() { 0..line.end } else { line.clone() };
        if fault.is_about_a_patient() || source.withholds(&line) || has_patient_key(&source.text[looked_through]) {
            return None;
        }
        // A range that goes on over the next lines would draw a box around them: only its first line is marked.
        let mark = range.start.min(line.end)..range.end.min(line.end);
        let shown = before_value_of_key(&source.text, &line, &mark);
        let window = window(&source.text[shown.clone()], mark.start - shown.start);
        let window = shown.start + window.start..shown.start + window.end;
        let mark = mark.start..mark.end.min(window.end);

        let mut text = String::from(if window.start > line.start { "… " } else { "" });
        text += &visible::excerpt(&source.text[window.start..mark.start]);
        let start = text.len();
        text += &visible::excerpt(&source.text[mark.clone()]);
        let end = text.len();
        text += &visible::excerpt(&source.text[mark.end..window.end]);
        if !source.text[window.end..line.end].trim().is_empty() {
            text += " …";
        }
        Some(Self { text, mark: start..end })
    }
}

/// The line, up to the colon if the mark is a key: its value is not what the fault is about, and under a mistyped key
/// it may be a patient's.
fn before_value_of_key(text: &str, line: &Range<usize>, mark: &Range<usize>) -> Range<usize> {
    let after = &text[mark.end..line.end];
    let colon = after.trim_start_matches(['"', '\'', ' ', '\t']);
    let end =
        if colon.starts_with(':') && !mark.is_empty() { mark.end + (after.len() - colon.len()) + 1 } else { line.end };
    line.start..end
}

/// The part of a line that is shown, in bytes: all of it, or the characters around the mark.
fn window(line: &str, mark_start: usize) -> Range<usize> {
    if line.char_indices().nth(LONGEST_LINE).is_none() {
        return 0..line.len();
    }
    let start = line[..mark_start].char_indices().rev().take(BEFORE_MARK).last().map_or(mark_start, |(at, _)| at);
    let end = line[start..].char_indices().nth(WINDOW).map_or(line.len(), |(at, _)| start + at);
    start..end
}

/// Whether anything in the text looks like the key of a patient's block, in YAML or JSON.
fn has_patient_key(text: &str) -> bool {
    text.to_ascii_lowercase().match_indices(super::PATIENT).any(|(at, key)| {
        text[at + key.len()..].trim_start_matches(|c: char| c == '"' || c == '\'' || c.is_whitespace()).starts_with(':')
    })
}

#[cfg(test)]
mod tests;
