//! One block in a width: how high it is with letters of a height, and its pieces.

use super::piece::{Piece, Role};
use super::words::Words;
use crate::card::block::{Block, CardFinding, FactRow, Ladder};
use crate::card::draw::{Anchor, Canvas as _, Picture, SCALE_LEGEND, SMALL, Shade, Sketch};
use crate::card::ladder::SET;
use crate::card::layout::Face;

/// From line to line, and from a line's top to what its letters stand on, in heights of the letters.
const LINE: f64 = 1.17;
const STANDS: f64 = 0.95;
/// The height of the one rate, of its unit and its frame, of drug and strength, of what the rate holds for, of titles and
/// headings, against the letters.
const RATE: f64 = 4.6;
const RATE_UNIT: f64 = 2.4;
const RATE_FRAME: f64 = 5.6;
const DRUG: f64 = 2.2;
const LEADS: f64 = 1.6;
const FACE: f64 = 1.25;
const TITLE: f64 = 1.4;
const HEADING: f64 = 1.08;
const UNDER_HEADING: f64 = 0.35;
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
    /// Words in a frame, and how much larger they are than the rest.
    Banner(Words, f64),
    Title {
        text: String,
        at: String,
    },
    /// The one rate, and in the same frame what it lies beyond.
    Rate {
        beyond: Vec<Words>,
        value: String,
        unit: String,
    },
    /// A label, with its value beside it; the share of the width that labels have.
    FactRow {
        label: Words,
        value: Words,
        scale: f64,
        share: f64,
    },
    /// The cells of one row of the ladder: bold where it is the rate that is set.
    Rung {
        dose: String,
        rate: String,
        is_bold: bool,
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
    /// What is read at a metre.
    pub(super) fn of_face(face: &Face, width: f64) -> Self {
        let bold = |text: &String, scale| Part::Text { words: Words::of(text, true), scale };
        let mut body = Vec::new();
        body.extend(face.heading.iter().map(|text| Part::Banner(Words::of(text, true), LEADS)));
        let amount = if face.amount.is_empty() { String::new() } else { format!("({})", face.amount) };
        body.push(Part::Text { words: Words::of(&face.drug, true).and(&amount, false), scale: DRUG });
        if !face.warnings.is_empty() {
            body.push(bold(&face.warnings.join("; "), FACE));
        }
        let beyond = face.beyond.iter().map(|text| Words::of(text, true)).collect();
        body.push(Part::Rate { beyond, value: face.value.clone(), unit: face.unit.clone() });
        body.extend(face.lines.iter().map(|line| bold(line, 1.0)));
        body.extend(face.rows.iter().map(|one| row(one, FACE, FACE_LABEL)));
        Self { width, heading: None, body }
    }

    pub(super) fn of(block: &Block, width: f64) -> Self {
        let text = |line: &String| Part::Text { words: Words::of(line, false), scale: 1.0 };
        let (heading, body) = match block {
            Block::Banner(text) => (None, vec![Part::Banner(Words::of(text, true), 1.0)]),
            Block::Title { text, at } => (None, vec![Part::Title { text: text.clone(), at: at.clone() }]),
            Block::Facts { heading, rows, .. } => {
                (Some(heading.to_string()), rows.iter().map(|one| row(one, 1.0, LABEL)).collect())
            }
            Block::Ladder(ladder) => (Some(ladder.heading()), rungs(ladder)),
            Block::Scale(scale) => {
                (None, vec![Part::picture(block), Part::Legend(format!("logarithmic, in {}", scale.unit))])
            }
            Block::Emptying(_) => (None, vec![Part::picture(block)]),
            Block::Findings(found) => (Some("Findings".to_owned()), found.iter().flat_map(finding).collect()),
            Block::Steps { heading, steps, .. } => {
                (Some(heading.to_string()), steps.iter().map(|step| Part::Step(Words::of(step, false))).collect())
            }
            Block::Text { heading, lines, .. } => (Some(heading.to_string()), lines.iter().map(text).collect()),
            Block::Code(code) => (Some(super::super::CODE_HEADING.to_owned()), vec![code_part(code)]),
            // Arrival is left to `delivery`; the rest is on the face.
            Block::Arrives(_) | Block::Lead(_) | Block::Rate { .. } => (None, Vec::new()),
        };
        Self { width, heading: heading.map(|heading| (heading.clone(), Words::of(&heading, true))), body }
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

fn row(row: &FactRow, scale: f64, share: f64) -> Part {
    Part::FactRow { label: Words::of(&row.label, false), value: Words::of(&row.value, true), scale, share }
}

fn rungs(ladder: &Ladder) -> Vec<Part> {
    let head = Part::Rung { dose: ladder.dose_head().to_owned(), rate: ladder.rate_unit.to_string(), is_bold: false };
    let rows = ladder.rows.iter().map(|row| {
        let rate = if row.is_set { format!("{} {SET}", row.rate) } else { row.rate.clone() };
        Part::Rung { dose: row.dose.clone(), rate, is_bold: row.is_set }
    });
    // Its dose is a long text, which is broken into lines and never cut.
    let bolus = ladder.bolus.iter().map(|bolus| {
        let says = format!("{}: {} {}", bolus.dose, bolus.rate, ladder.rate_unit);
        Part::Text { words: Words::of("Bolus", true).and(&says, false), scale: 1.0 }
    });
    std::iter::once(head).chain(rows).chain(bolus).collect()
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
        None => Part::Text { words: Words::of(code, false), scale: 1.0 },
    }
}

/// The width of labels, as a share of the column; of the box beside a step.
const LABEL: f64 = 0.33;
const FACE_LABEL: f64 = 0.15;
/// Where the doses of the ladder end, as a share of the column.
const RUNG: f64 = 0.6;
const BOX: f64 = 1.4;

impl Part {
    /// Nothing of it depends on the width but its drawing.
    fn picture(block: &Block) -> Self {
        let height = Picture::height_of(block) / SMALL;
        Self::Picture { block: Box::new(block.clone()), height }
    }

    fn height(&self, width: f64, size: f64) -> f64 {
        match self {
            Self::Banner(words, scale) => {
                let size = size * scale;
                lines(words, width - 2.0 * INSIDE * size, size) + 2.0 * INSIDE * size
            }
            Self::Title { .. } => TITLE * size * LINE + INSIDE * size,
            Self::Rate { beyond, .. } => {
                let inside = width - 2.0 * INSIDE * size;
                RATE_FRAME * size + beyond.iter().map(|words| lines(words, inside, size)).sum::<f64>()
            }
            Self::Rung { .. } => LINE * size,
            Self::FactRow { label, value, scale, share } => {
                let size = size * scale;
                let (left, right) = (width * share - size * 0.5, width * (1.0 - share));
                lines(label, left, size).max(lines(value, right, size))
            }
            Self::Step(words) => lines(words, width - BOX * size, size),
            Self::Text { words, scale } => lines(words, width, size * scale) + 0.15 * size,
            Self::Picture { height, .. } => height * size,
            Self::Legend(says) => legend(&mut Sketch::default(), says, width, size) + (LINE - STANDS) * size,
            Self::Code(picture, words) => {
                let beside = width - picture.width - size;
                picture.height.max(lines(words, beside, size))
            }
        }
    }

    fn place(&self, width: f64, size: f64, at: (f64, f64), pieces: &mut Vec<Piece>) {
        let mut sketch = Sketch::default();
        let (mut role, mut scale) = (Role::Paragraph, 1.0);
        match self {
            Self::Banner(words, scale) => {
                let size = size * scale;
                let inside = INSIDE * size;
                let mut frame = Sketch::default();
                frame.rectangle(0.0, 0.0, width, lines(words, width - 2.0 * inside, size) + 2.0 * inside, Shade::Paper);
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
            Self::Rate { beyond, value, unit } => {
                let high = self.height(width, size);
                let of = |text: &str, height: f64| super::font::width(text, true) * height * size;
                let number = of(value, RATE) + of(" ", RATE_UNIT);
                let both = number + of(unit, RATE_UNIT);
                let wide = if beyond.is_empty() { (width * 0.5).max(both + 2.0 * size) } else { width };
                let mut frame = Sketch::default();
                frame.rectangle((width - wide) / 2.0, 0.0, wide, high, Shade::Paper);
                pieces.push(Piece { role: Role::Ornament, sketch: frame, at, scale: 1.0 });
                let inside = width - 2.0 * INSIDE * size;
                let mut y = 0.0;
                for words in beyond {
                    write(&mut sketch, words, (INSIDE * size, y), inside, size);
                    y += lines(words, inside, size);
                }
                let begin = (width - both) / 2.0;
                let stands = f64::midpoint(y, high) + RATE * size * 0.36;
                sketch.text((begin, stands), RATE * size, Anchor::Start, true, value);
                if !unit.is_empty() {
                    sketch.text((begin + number, stands), RATE_UNIT * size, Anchor::Start, true, unit);
                }
            }
            Self::FactRow { label, value, scale, share } => {
                let size = size * scale;
                let left = width * share;
                write_to(&mut sketch, label, left - size * 0.5, size);
                write(&mut sketch, value, (left, 0.0), width - left, size);
            }
            Self::Rung { dose, rate, is_bold } => {
                let (end, stands) = (width * RUNG, STANDS * size);
                sketch.text((end, stands), size, Anchor::End, *is_bold, dose);
                sketch.text((end + size, stands), size, Anchor::Start, *is_bold, rate);
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
            Self::Legend(says) => drop(legend(&mut sketch, says, width, size)),
            Self::Code(picture, words) => {
                let figure = Role::Figure(picture.says.clone());
                pieces.push(Piece { role: figure, sketch: picture.sketch.clone(), at, scale: 1.0 });
                let left = picture.width + size;
                write(&mut sketch, words, (left, 0.0), width - left, size);
            }
        }
        pieces.push(Piece { role, sketch, at, scale });
    }
}

/// What the shades of the zones mean, each beside a patch of it; on another line where the column ends. Gives where
/// the last line stands.
fn legend(sketch: &mut Sketch, says: &str, width: f64, size: f64) -> f64 {
    let of = |text: &str| super::font::width(text, false) * size;
    let (mut x, mut stands) = (0.0, STANDS * size);
    for (shade, name) in SCALE_LEGEND {
        if x + 1.4 * size + of(name) > width {
            (x, stands) = (0.0, stands + LINE * size);
        }
        sketch.rectangle(x, stands - 0.7 * size, size, 0.7 * size, shade);
        x += 1.4 * size;
        sketch.text((x, stands), size, Anchor::Start, false, name);
        x += of(name) + 1.2 * size;
    }
    if x + of(says) > width {
        (x, stands) = (0.0, stands + LINE * size);
    }
    sketch.text((x, stands), size, Anchor::Start, false, says);
    stands
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
