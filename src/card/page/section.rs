//! One block in a width: how high it is with letters of a height, and its pieces.

use super::words::Words;
use super::{Piece, Role};
use crate::card::block::{Block, CardFinding, FactRow, Lead};
use crate::card::draw::{
    ARRIVES_HEADING, Anchor, Canvas as _, Picture, SCALE_LEGEND, SMALL, Shade, Sketch, arrives_assumed, arrives_lines,
};

/// From line to line, and from a line's top to what its letters stand on, in heights of the letters.
const LINE: f64 = 1.17;
const STANDS: f64 = 0.95;
/// The height of the one rate, of its frame, of titles and headings, against the letters.
const RATE: f64 = 3.4;
const RATE_UNIT: f64 = 2.0;
const RATE_FRAME: f64 = 4.6;
const TITLE: f64 = 1.7;
const HEADING: f64 = 1.08;
const UNDER_HEADING: f64 = 0.35;
/// Cautions and what stands under pictures.
const SMALLER: f64 = 0.87;
/// A frame's room inside.
const INSIDE: f64 = 0.5;

/// A block that is to be laid out.
pub(super) struct Section {
    width: f64,
    heading: Option<(String, Words)>,
    body: Vec<Part>,
}

/// What stands under a heading, from the top down.
enum Part {
    Banner(Words),
    Title {
        text: String,
        at: String,
    },
    Rate {
        value: String,
        unit: String,
    },
    /// A label, with its value beside it.
    FactRow {
        label: Words,
        value: Words,
        scale: f64,
    },
    Step(Words),
    Text {
        words: Words,
        scale: f64,
    },
    /// A block that is drawn, and how high it is in letters.
    Picture {
        block: Box<Block>,
        height: f64,
    },
    Legend(String),
    /// A code, with its text beside it.
    Code(Box<Picture>, Words),
}

impl Section {
    pub(super) fn of(block: &Block, width: f64) -> Self {
        let text = |line: &String, scale| Part::Text { words: Words::of(line, false), scale };
        let (heading, body) = match block {
            Block::Banner(text) => (None, vec![Part::Banner(Words::of(text, true))]),
            Block::Lead(lead) => (None, led(lead)),
            Block::Title { text, at } => (None, vec![Part::Title { text: text.clone(), at: at.clone() }]),
            Block::Rate { value, unit, beyond } => {
                let beyond = beyond.iter().map(|line| Part::Banner(Words::of(line, true)));
                (None, beyond.chain([Part::Rate { value: value.clone(), unit: unit.to_string() }]).collect())
            }
            // What is looked up, not read at the bedside.
            Block::Facts { key, heading, rows } if matches!(&**key, "case" | "limits") => {
                (Some(&**heading), rows.iter().map(|one| row(one, SMALLER)).collect())
            }
            Block::Facts { heading, rows, .. } => (Some(&**heading), rows.iter().map(|one| row(one, 1.0)).collect()),
            Block::Scale(scale) => {
                (None, vec![Part::picture(block), Part::Legend(format!("logarithmic, in {}", scale.unit))])
            }
            Block::Emptying(_) => (None, vec![Part::picture(block)]),
            Block::Arrives(arrives) => match &arrives.band {
                Ok(_) => (None, vec![Part::picture(block), text(&arrives_assumed(arrives), SMALLER)]),
                Err(_) => {
                    let lines = arrives_lines(arrives);
                    (Some(ARRIVES_HEADING), lines.iter().map(|line| text(line, 1.0)).collect())
                }
            },
            Block::Findings(found) => (Some("Findings"), found.iter().flat_map(finding).collect()),
            Block::Steps { heading, steps, .. } => {
                (Some(&**heading), steps.iter().map(|step| Part::Step(Words::of(step, false))).collect())
            }
            Block::Text { heading, lines, .. } => {
                (Some(&**heading), lines.iter().map(|line| text(line, SMALLER)).collect())
            }
            Block::Code(code) => (Some(super::super::CODE_HEADING), vec![code_part(code)]),
        };
        Self { width, heading: heading.map(|heading| (heading.to_owned(), Words::of(heading, true))), body }
    }

    /// How high it is with letters of a height.
    pub(super) fn height(&self, size: f64) -> f64 {
        let heading = self.heading.as_ref().map_or(0.0, |(_, words)| {
            let size = size * HEADING;
            lines(words, self.width, size) + UNDER_HEADING * size
        });
        heading + self.body.iter().map(|part| part.height(self.width, size)).sum::<f64>()
    }

    /// Adds its pieces, with its upper left corner at a place.
    pub(super) fn place(&self, size: f64, at: (f64, f64), pieces: &mut Vec<Piece>) {
        let mut y = at.1;
        if let Some((heading, words)) = &self.heading {
            let size = size * HEADING;
            let mut sketch = Sketch::default();
            write(&mut sketch, words, (0.0, 0.0), self.width, size);
            let role = Role::Heading { level: 2, text: heading.clone() };
            pieces.push(Piece { role, sketch, at: (at.0, y), scale: 1.0 });
            y += lines(words, self.width, size);
            let mut rule = Sketch::default();
            rule.line(&[(0.0, 0.0), (self.width, 0.0)], 0.25);
            pieces.push(Piece { role: Role::Ornament, sketch: rule, at: (at.0, y), scale: 1.0 });
            y += UNDER_HEADING * size;
        }
        for part in &self.body {
            part.place(self.width, size, (at.0, y), pieces);
            y += part.height(self.width, size);
        }
    }
}

fn led(lead: &Lead) -> Vec<Part> {
    let mut parts = vec![Part::Banner(Words::of(&lead.heading, true))];
    if !lead.is_the_cards {
        parts.push(Part::Rate { value: lead.value.clone(), unit: lead.unit.to_string() });
    }
    parts.extend(lead.lines.iter().map(|line| Part::Text { words: Words::of(line, true), scale: 1.0 }));
    parts
}

fn row(row: &FactRow, scale: f64) -> Part {
    Part::FactRow { label: Words::of(&row.label, false), value: Words::of(&row.value, true), scale }
}

fn finding(found: &CardFinding) -> Vec<Part> {
    let source = found.source.as_ref().map_or_else(String::new, |source| format!(" from {source}."));
    let says = format!("{}. Do: {}. [{}]{source}", found.message, found.help, found.code);
    let mut parts = vec![Part::Text { words: Words::of(&found.severity, true).and(&says, false), scale: 1.0 }];
    for (name, reason) in &found.reasons {
        let words = Words::of(&format!("Reason of {name}:"), false).and(reason, true);
        parts.push(Part::Text { words, scale: 1.0 });
    }
    parts
}

fn code_part(code: &str) -> Part {
    match Picture::of_code(code) {
        Some(picture) => Part::Code(Box::new(picture), Words::of(code, false)),
        None => Part::Text { words: Words::of(code, false), scale: SMALLER },
    }
}

/// The width of labels, as a share of the column; of the box beside a step.
const LABEL: f64 = 0.33;
const BOX: f64 = 1.4;

impl Part {
    /// Nothing of it depends on the width but its drawing.
    fn picture(block: &Block) -> Self {
        let height = Picture::height_of(block) / SMALL;
        Self::Picture { block: Box::new(block.clone()), height }
    }

    fn height(&self, width: f64, size: f64) -> f64 {
        match self {
            Self::Banner(words) => lines(words, width - 2.0 * INSIDE * size, size) + 2.0 * INSIDE * size,
            Self::Title { .. } => TITLE * size * LINE + INSIDE * size,
            Self::Rate { .. } => RATE_FRAME * size,
            Self::FactRow { label, value, scale } => {
                let size = size * scale;
                let (left, right) = (width * LABEL - size * 0.5, width * (1.0 - LABEL));
                lines(label, left, size).max(lines(value, right, size))
            }
            Self::Step(words) => lines(words, width - BOX * size, size),
            Self::Text { words, scale } => lines(words, width, size * scale) + 0.15 * size,
            Self::Picture { height, .. } => height * size,
            Self::Legend(_) => 2.0 * LINE * size,
            Self::Code(picture, words) => {
                let beside = width - picture.width - size;
                picture.height.max(lines(words, beside, code_size(size)))
            }
        }
    }

    fn place(&self, width: f64, size: f64, at: (f64, f64), pieces: &mut Vec<Piece>) {
        let mut sketch = Sketch::default();
        let (mut role, mut scale) = (Role::Paragraph, 1.0);
        match self {
            Self::Banner(words) => {
                let inside = INSIDE * size;
                let mut frame = Sketch::default();
                frame.rectangle(0.0, 0.0, width, self.height(width, size), Shade::Paper);
                pieces.push(Piece { role: Role::Ornament, sketch: frame, at, scale: 1.0 });
                write(&mut sketch, words, (inside, inside), width - 2.0 * inside, size);
            }
            Self::Title { text, at: when } => {
                let stands = TITLE * size * STANDS;
                sketch.text((0.0, stands), TITLE * size, Anchor::Start, true, text);
                sketch.text((width, stands), size, Anchor::End, false, when);
                role = Role::Heading { level: 1, text: text.clone() };
                let mut rule = Sketch::default();
                let below = self.height(width, size) - 0.2 * size;
                rule.line(&[(0.0, below), (width, below)], 0.5);
                pieces.push(Piece { role: Role::Ornament, sketch: rule, at, scale: 1.0 });
            }
            Self::Rate { value, unit } => {
                let (high, wide) = (RATE_FRAME * size, width * 0.5);
                let mut frame = Sketch::default();
                frame.rectangle((width - wide) / 2.0, 0.0, wide, high, Shade::Paper);
                pieces.push(Piece { role: Role::Ornament, sketch: frame, at, scale: 1.0 });
                let of = |text: &str, height: f64| super::font::width(text, true) * height * size;
                let number = of(value, RATE) + of(" ", RATE_UNIT);
                let both = number + of(unit, RATE_UNIT);
                let begin = (width - both) / 2.0;
                let stands = high / 2.0 + RATE * size * 0.36;
                sketch.text((begin, stands), RATE * size, Anchor::Start, true, value);
                sketch.text((begin + number, stands), RATE_UNIT * size, Anchor::Start, true, unit);
            }
            Self::FactRow { label, value, scale } => {
                let size = size * scale;
                let left = width * LABEL;
                write_to(&mut sketch, label, left - size * 0.5, size);
                write(&mut sketch, value, (left, 0.0), width - left, size);
            }
            Self::Step(words) => {
                let mut tick = Sketch::default();
                tick.rectangle(0.0, 0.2 * size, 0.8 * size, 0.8 * size, Shade::Paper);
                pieces.push(Piece { role: Role::Ornament, sketch: tick, at, scale: 1.0 });
                write(&mut sketch, words, (BOX * size, 0.0), width - BOX * size, size);
            }
            Self::Text { words, scale } => write(&mut sketch, words, (0.0, 0.0), width, size * scale),
            Self::Picture { block, .. } => {
                scale = size / SMALL;
                let picture = Picture::of(block, width / scale);
                role = Role::Figure(picture.as_ref().map(|picture| picture.says.clone()).unwrap_or_default());
                sketch = picture.map(|picture| picture.sketch).unwrap_or_default();
            }
            Self::Legend(says) => legend(&mut sketch, says, width, size),
            Self::Code(picture, words) => {
                let figure = Role::Figure(picture.says.clone());
                pieces.push(Piece { role: figure, sketch: picture.sketch.clone(), at, scale: 1.0 });
                let left = picture.width + size;
                write(&mut sketch, words, (left, 0.0), width - left, code_size(size));
            }
        }
        pieces.push(Piece { role, sketch, at, scale });
    }
}

/// A code as text is read by nobody; it is there for those without a camera.
fn code_size(size: f64) -> f64 {
    size * 0.75
}

/// What the shades of the zones mean, each beside a patch of it; on another line where the column ends.
fn legend(sketch: &mut Sketch, says: &str, width: f64, size: f64) {
    let of = |text: &str| super::font::width(text, false) * size * SMALLER;
    let (mut x, mut stands) = (0.0, STANDS * size);
    for (shade, name) in SCALE_LEGEND {
        if x + 1.4 * size + of(name) > width {
            (x, stands) = (0.0, stands + LINE * size);
        }
        sketch.rectangle(x, stands - 0.7 * size, size, 0.7 * size, shade);
        x += 1.4 * size;
        sketch.text((x, stands), size * SMALLER, Anchor::Start, false, name);
        x += of(name) + 1.2 * size;
    }
    if x + of(says) > width {
        (x, stands) = (0.0, stands + LINE * size);
    }
    sketch.text((x, stands), size * SMALLER, Anchor::Start, false, says);
}

fn lines(words: &Words, width: f64, size: f64) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "lines of one page")]
    let count = words.count(width / size) as f64;
    count * LINE * size
}

fn write(sketch: &mut Sketch, words: &Words, at: (f64, f64), width: f64, size: f64) {
    let mut stands = at.1 + STANDS * size;
    for line in words.lines(width / size) {
        for run in line {
            sketch.text((at.0 + run.at * size, stands), size, Anchor::Start, run.bold, &run.text);
        }
        stands += LINE * size;
    }
}

/// Labels end where their values begin: the eye, and whatever reads the page by distances, finds them together.
fn write_to(sketch: &mut Sketch, words: &Words, end: f64, size: f64) {
    let mut stands = STANDS * size;
    for run in words.lines(end / size).into_iter().flatten() {
        sketch.text((end, stands), size, Anchor::End, run.bold, &run.text);
        stands += LINE * size;
    }
}
