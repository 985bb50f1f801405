//! A picture as SVG: one element, nothing fetched, with a text for those who do not see it.

use std::fmt::Write as _;

use super::{Anchor, Canvas, Shade};
use crate::card::page::font;

/// A picture being drawn.
pub(in crate::card) struct Svg {
    width: f64,
    height: f64,
    shapes: String,
}

impl Svg {
    pub(in crate::card) const fn new(width: f64, height: f64) -> Self {
        Self { width, height, shapes: String::new() }
    }

    /// Begins a part of a larger picture that is read out as this.
    pub(in crate::card) fn begin(&mut self, says: &str) {
        let _ = write!(self.shapes, "<g role=\"img\" aria-label=\"{}\">", escaped(says));
    }

    /// Ends it.
    pub(in crate::card) fn end(&mut self) {
        self.shapes.push_str("</g>");
    }

    /// The element; `says` is read out in its place.
    pub(in crate::card) fn finish(self, says: &str) -> String {
        let (width, height) = (short(self.width), short(self.height));
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" width=\"{width}mm\" height=\"{height}mm\" role=\"img\" aria-label=\"{}\" font-family=\"{FONTS}\">{}</svg>",
            escaped(says),
            self.shapes
        )
    }

    /// The element as a file of its own, whose texts are read out one by one.
    pub(in crate::card) fn finish_page(self, title: &str) -> String {
        let (width, height) = (short(self.width), short(self.height));
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" width=\"{width}mm\" height=\"{height}mm\" lang=\"en\" font-family=\"{FONTS}\"><title>{}</title><rect width=\"{width}\" height=\"{height}\" fill=\"#fff\"/>{}</svg>\n",
            escaped(title),
            self.shapes
        )
    }
}

/// What a viewer may have; the first is the one that was measured.
const FONTS: &str = "'DejaVu Sans Condensed', 'DejaVu Sans', Arial, Helvetica, sans-serif";

impl Canvas for Svg {
    fn rectangle(&mut self, x: f64, y: f64, width: f64, height: f64, shade: Shade) {
        let (x, y, width, height) = (short(x), short(y), short(width), short(height));
        let fill = fill(shade);
        let _ = write!(
            self.shapes,
            "<rect x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" fill=\"{fill}\" stroke=\"#000\" stroke-width=\"0.2\"/>"
        );
    }

    fn squares(&mut self, each: &[(f64, f64, f64, f64)]) {
        self.shapes.push_str("<path shape-rendering=\"crispEdges\" d=\"");
        for (x, y, width, height) in each {
            let (x, y, width, height) = (short(*x), short(*y), short(*width), short(*height));
            let _ = write!(self.shapes, "M{x} {y}h{width}v{height}h-{width}z");
        }
        self.shapes.push_str("\"/>");
    }

    fn line(&mut self, points: &[(f64, f64)], width: f64) {
        let (points, width) = (listed(points), short(width));
        let _ = write!(
            self.shapes,
            "<polyline points=\"{points}\" fill=\"none\" stroke=\"#000\" stroke-width=\"{width}\"/>"
        );
    }

    fn surface(&mut self, points: &[(f64, f64)], shade: Shade) {
        let _ = write!(self.shapes, "<polygon points=\"{}\" fill=\"{}\"/>", listed(points), fill(shade));
    }

    fn text(&mut self, at: (f64, f64), height: f64, anchor: Anchor, bold: bool, text: &str) {
        let anchor = match anchor {
            Anchor::Start => "",
            Anchor::Middle => " text-anchor=\"middle\"",
            Anchor::End => " text-anchor=\"end\"",
        };
        let weight = if bold { " font-weight=\"bold\"" } else { "" };
        let (x, y, size) = (short(at.0), short(at.1), short(height));
        // As wide as it was measured, in whatever font a viewer has: nothing runs over anything else.
        let wide = short(font::width(text, bold) * height);
        let _ = write!(
            self.shapes,
            "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\"{anchor}{weight} textLength=\"{wide}\" lengthAdjust=\"spacingAndGlyphs\">{}</text>",
            escaped(text)
        );
    }
}

fn fill(shade: Shade) -> String {
    let lightness = shade.lightness();
    format!("#{lightness:02x}{lightness:02x}{lightness:02x}")
}

fn listed(points: &[(f64, f64)]) -> String {
    points.iter().map(|(x, y)| format!("{},{}", short(*x), short(*y))).collect::<Vec<_>>().join(" ")
}

/// To a hundredth of a millimetre: the same bytes wherever it is drawn.
fn short(value: f64) -> String {
    let text = format!("{:.2}", value + 0.0);
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// For a text or an attribute.
fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}
