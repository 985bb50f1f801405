//! Pictures of a card: shapes on a [`Canvas`], which a format draws in its own way. Positions are in millimetres from the
//! upper left corner, in `f64`; every number that is written is exact. Nothing is told by colour: shades differ in
//! lightness, lines in their dashes, and each has its name beside it.

mod scale;
mod svg;

pub(super) use scale::{HEIGHT as SCALE_HEIGHT, draw as draw_scale, says as scale_says};
pub(super) use svg::Svg;

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
    /// A line from point to point.
    fn line(&mut self, points: &[(f64, f64)], width: f64);
    /// A filled surface.
    fn surface(&mut self, points: &[(f64, f64)], shade: Shade);
    /// A text of a height, bold or not.
    fn text(&mut self, at: (f64, f64), height: f64, anchor: Anchor, bold: bool, text: &str);
}
