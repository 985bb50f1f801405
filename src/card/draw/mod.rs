//! Pictures of a card: shapes on a [`Canvas`], which a format draws in its own way. Positions are in millimetres from the
//! upper left corner, in `f64`; every number that is written is exact. Nothing is told by colour: shades differ in
//! lightness, lines in their dashes, and each has its name beside it.
#![expect(clippy::float_arithmetic, reason = "drawings")]

mod scale;
mod svg;

use super::block::Scale;
use svg::Svg;

/// The width of a picture, in millimetres.
const WIDTH: f64 = 120.0;

/// Where a dose lies between its limits, as one SVG element.
pub(super) fn scale_svg(scale: &Scale) -> String {
    let mut svg = Svg::new(WIDTH, scale::HEIGHT);
    scale::draw(&mut svg, scale, WIDTH);
    svg.finish(&scale::says(scale))
}

/// How a surface is filled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Shade {
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
enum Anchor {
    /// It begins there.
    Start,
    /// Its middle is there.
    Middle,
    /// It ends there.
    End,
}

/// Something that can be drawn on.
trait Canvas {
    /// A filled rectangle with a thin edge.
    fn rectangle(&mut self, x: f64, y: f64, width: f64, height: f64, shade: Shade);
    /// A line from point to point.
    fn line(&mut self, points: &[(f64, f64)], width: f64);
    /// A filled surface.
    fn surface(&mut self, points: &[(f64, f64)], shade: Shade);
    /// A text of a height, bold or not.
    fn text(&mut self, at: (f64, f64), height: f64, anchor: Anchor, bold: bool, text: &str);
}
