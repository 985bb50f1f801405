//! A card on one sheet of paper, from the same blocks as every other format: A5, or A4 where there is more to say, on one
//! side where that can be read, else on both. In: blocks; out: pieces in reading order, each with its place in
//! millimetres, which SVG and PDF draw.
#![expect(clippy::float_arithmetic, reason = "drawings")]

mod flow;
pub(super) mod font;
#[cfg(feature = "pdf")]
mod pdf;
mod piece;
mod section;
mod words;

use super::block::Block;
use super::draw::Svg;
use super::layout::{CardPart, Layout};
use flow::Flow;
use piece::{Piece, Role};

#[cfg(feature = "pdf")]
pub(super) use pdf::pdf;

/// Width, height and margin in millimetres (ISO 216).
const PAPERS: [(f64, f64); 2] = [(148.0, 210.0), (210.0, 297.0)];
const MARGIN: f64 = 5.0;

/// Heights of what is written, in millimetres: the largest that fits is taken. None is below 8 points.
const LARGEST: f64 = 3.4;
const SMALLEST: f64 = 2.85;
const FINER: f64 = 0.05;

/// Why a card is not drawn as a page.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NoPage {
    /// More than one sheet can hold.
    #[error("the card does not fit on both sides of one sheet of A4 in letters that can be read")]
    TooFull,
    /// The font that is shipped has no sign for it: a page with a gap is not printed.
    #[error("the font of the page has no sign for `{0}` (U+{code:04X})", code = u32::from(*.0))]
    NoGlyph(char),
    /// The library that writes the file refuses.
    #[error("the page could not be written: {0}")]
    Unwritten(String),
}

/// One sheet, printed on one side or on both.
#[derive(Debug)]
struct Sheet {
    width: f64,
    height: f64,
    title: String,
    sides: Vec<Vec<Piece>>,
}

/// The card as an SVG file: both sides beside each other, to be folded.
pub(super) fn svg(blocks: &[Block]) -> Result<String, NoPage> {
    let sheet = Sheet::of(blocks)?;
    let mut left = 0.0;
    let mut wide = Svg::new(sheet.width * if sheet.sides.len() > 1 { 2.0 } else { 1.0 }, sheet.height);
    for side in &sheet.sides {
        for piece in side {
            if let Role::Figure(says) = &piece.role {
                wide.begin(says);
            }
            piece.sketch.on(&mut wide, (piece.at.0 + left, piece.at.1), piece.scale);
            if let Role::Figure(_) = piece.role {
                wide.end();
            }
        }
        left += sheet.width;
    }
    Ok(wide.finish_page(&sheet.title))
}

impl Sheet {
    /// On the smaller paper where that can be read, on as few sides as it takes, in the largest letters that fit. Where the
    /// first side is full, what comes last on it goes to the second.
    fn of(blocks: &[Block]) -> Result<Self, NoPage> {
        let layout = Layout::arrange(blocks);
        let all: Vec<&CardPart> = layout.parts().collect();
        let front = layout.front.len();
        let heading = layout.second_side();
        // What is read at a metre, and what is above it, stays on the first side.
        let face = all.iter().position(|part| matches!(part, CardPart::Face(_))).unwrap_or(0);
        for (width, height) in PAPERS {
            for first in std::iter::once(all.len()).chain((face + 1..=front.min(all.len() - 1)).rev()) {
                let second: Vec<&CardPart> = std::iter::once(&heading).chain(all[first..].iter().copied()).collect();
                let sides = [&all[..first], &second].into_iter().take(if first < all.len() { 2 } else { 1 });
                let sides: Option<Vec<_>> = sides.map(|parts| side(parts, width, height)).collect();
                let Some(sides) = sides else { continue };
                let title = blocks.iter().find_map(|block| match block {
                    Block::Title { text, .. } => Some(text.clone()),
                    _ => None,
                });
                return Ok(Self { width, height, title: title.unwrap_or_default(), sides });
            }
        }
        Err(NoPage::TooFull)
    }
}

/// One side of a paper; nothing where it does not fit.
fn side(parts: &[&CardPart], width: f64, height: f64) -> Option<Vec<Piece>> {
    let mut flow = Flow::new(parts, width - 2.0 * MARGIN);
    let size = largest(|size| flow.height(size) <= height - 2.0 * MARGIN)?;
    Some(flow.pieces(size, (MARGIN, MARGIN)))
}

/// The largest height of letters that fits, by halving; nothing where the smallest does not.
fn largest(mut fits: impl FnMut(f64) -> bool) -> Option<f64> {
    let size = |step: u8| SMALLEST + FINER * f64::from(step);
    let mut last = 0;
    while size(last) < LARGEST {
        last += 1;
    }
    if !fits(size(0)) {
        return None;
    }
    let (mut good, mut bad) = (0, last + 1);
    while bad - good > 1 {
        let middle = u8::midpoint(good, bad);
        if fits(size(middle)) { good = middle } else { bad = middle }
    }
    Some(size(good))
}
