//! Pictures of a card: shapes on a [`Canvas`], which a format draws in its own way. Positions are in millimetres from the
//! upper left corner, in `f64`; every number that is written is exact. Colour alone carries nothing: shades differ in
//! lightness, lines in their dashes, and each has its name beside it.
#![expect(clippy::float_arithmetic, reason = "drawings")]

mod axis;
mod emptying;
mod qr;
mod scale;
mod sketch;
mod svg;

use super::block::{Block, Emptying, Scale};

pub(super) use scale::LEGEND as SCALE_LEGEND;
pub(super) use sketch::Sketch;
pub(super) use svg::Svg;

/// The width of the picture of the limits where it stands alone, in millimetres.
pub(super) const WIDTH: f64 = 60.0;
/// The width of a picture that stands in a column.
pub(super) const COLUMN: f64 = 76.0;
/// The width of one module of a code: a phone reads it off paper.
pub(super) const MODULE: f64 = 0.5;

/// The heights of what is written in pictures, and of their headings.
pub(super) const SMALL: f64 = 2.2;
const TITLE: f64 = 2.5;

/// A picture, and the same in words for those who do not see it.
#[derive(Debug)]
pub(super) struct Picture {
    /// What is drawn.
    pub(super) sketch: Sketch,
    /// How wide, in millimetres.
    pub(super) width: f64,
    /// How high.
    pub(super) height: f64,
    /// In words.
    pub(super) says: String,
}

impl Picture {
    /// Of a block that is drawn, in a width.
    pub(super) fn of(block: &Block, width: f64) -> Option<Self> {
        match block {
            Block::Scale(scale) => Some(Self::of_scale(scale, width)),
            Block::Emptying(emptying) => Some(Self::of_emptying(emptying, width)),
            _ => None,
        }
    }

    /// How high it is, whatever its width.
    pub(super) const fn height_of(block: &Block) -> f64 {
        match block {
            Block::Scale(_) => scale::HEIGHT,
            Block::Emptying(_) => emptying::HEIGHT,
            _ => 0.0,
        }
    }

    /// Where a dose lies between its limits.
    pub(super) fn of_scale(scale: &Scale, width: f64) -> Self {
        let draw = |canvas: &mut Sketch| scale::draw(canvas, scale, width);
        Self::drawn(width, scale::HEIGHT, scale::says(scale), draw)
    }

    /// What is in the syringe, against time.
    pub(super) fn of_emptying(emptying: &Emptying, width: f64) -> Self {
        let draw = |canvas: &mut Sketch| emptying::draw(canvas, emptying, width);
        Self::drawn(width, emptying::HEIGHT, emptying::says(emptying), draw)
    }

    /// A code; nothing where the text is too long for one.
    pub(super) fn of_code(text: &str) -> Option<Self> {
        let side = qr::side(text, MODULE)?;
        let says = "The code of this card, which stands beside it as text".to_owned();
        Some(Self::drawn(side, side, says, |canvas| qr::draw(canvas, text, (0.0, 0.0), MODULE)))
    }

    /// As one SVG element that stands in a page.
    pub(super) fn svg(&self) -> String {
        let mut svg = Svg::new(self.width, self.height);
        self.sketch.on(&mut svg, (0.0, 0.0), 1.0);
        svg.finish(&self.says)
    }

    fn drawn(width: f64, height: f64, says: String, draw: impl FnOnce(&mut Sketch)) -> Self {
        let mut sketch = Sketch::default();
        draw(&mut sketch);
        Self { sketch, width, height, says }
    }
}

/// How a surface is filled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Shade {
    /// As the paper.
    Paper,
    /// A little darker than the paper.
    Light,
    /// Between paper and ink.
    Middle,
    /// Nearly ink.
    Dark,
    /// As what is written.
    Ink,
}

impl Shade {
    /// Its lightness, from 0 (ink) to 255 (paper).
    pub(super) const fn lightness(self) -> u8 {
        match self {
            Self::Paper => 0xff,
            Self::Light => 0xe6,
            Self::Middle => 0xb3,
            Self::Dark => 0x59,
            Self::Ink => 0x00,
        }
    }
}

/// Where a text stands against its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    /// It begins there.
    Start,
    /// Its middle is there.
    Middle,
    /// It ends there.
    End,
}

/// Something that can be drawn on.
pub(super) trait Canvas {
    /// A filled rectangle with a thin edge.
    fn rectangle(&mut self, x: f64, y: f64, width: f64, height: f64, shade: Shade);
    /// Rectangles of ink without an edge, as one shape: x, y, width, height.
    fn squares(&mut self, each: &[(f64, f64, f64, f64)]);
    /// A line from point to point.
    fn line(&mut self, points: &[(f64, f64)], width: f64);
    /// A filled surface.
    fn surface(&mut self, points: &[(f64, f64)], shade: Shade);
    /// A text of a height, bold or not.
    fn text(&mut self, at: (f64, f64), height: f64, anchor: Anchor, bold: bool, text: &str);
}

/// A line of dashes.
fn dashed(canvas: &mut dyn Canvas, from: (f64, f64), to: (f64, f64)) {
    const DASH: f64 = 1.4;
    let (across, down) = (to.0 - from.0, to.1 - from.1);
    let length = across.hypot(down);
    let on = |at: f64| (from.0 + across * at / length, from.1 + down * at / length);
    let mut at = 0.0;
    while at < length {
        canvas.line(&[on(at), on((at + DASH * 0.6).min(length))], 0.4);
        at += DASH;
    }
}
