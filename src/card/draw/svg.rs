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
        let (width, height) = (shown(self.width), shown(self.height));
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" width=\"{width}mm\" height=\"{height}mm\" role=\"img\" aria-label=\"{}\" font-family=\"{FONTS}\">{}</svg>",
            escaped(says),
            self.shapes
        )
    }

    /// The element as a file of its own, whose texts are read out one by one.
    pub(in crate::card) fn finish_page(self, title: &str) -> String {
        let (width, height) = (shown(self.width), shown(self.height));
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
        self.shapes.push_str("<rect");
        self.attributes(&[("x", x), ("y", y), ("width", width), ("height", height)]);
        self.fill(shade);
        self.shapes.push_str(" stroke=\"#000\" stroke-width=\"0.2\"/>");
    }

    fn squares(&mut self, each: &[(f64, f64, f64, f64)]) {
        self.shapes.push_str("<path shape-rendering=\"crispEdges\" d=\"");
        for (x, y, width, height) in each {
            for (before, value) in [('M', x), (' ', y), ('h', width), ('v', height)] {
                self.shapes.push(before);
                short(&mut self.shapes, *value);
            }
            self.shapes.push_str("h-");
            short(&mut self.shapes, *width);
            self.shapes.push('z');
        }
        self.shapes.push_str("\"/>");
    }

    fn line(&mut self, points: &[(f64, f64)], width: f64) {
        self.shapes.push_str("<polyline");
        self.points(points);
        self.shapes.push_str(" fill=\"none\" stroke=\"#000\"");
        self.attributes(&[("stroke-width", width)]);
        self.shapes.push_str("/>");
    }

    fn surface(&mut self, points: &[(f64, f64)], shade: Shade) {
        self.shapes.push_str("<polygon");
        self.points(points);
        self.fill(shade);
        self.shapes.push_str("/>");
    }

    fn text(&mut self, at: (f64, f64), height: f64, anchor: Anchor, bold: bool, text: &str) {
        self.shapes.push_str("<text");
        self.attributes(&[("x", at.0), ("y", at.1), ("font-size", height)]);
        self.shapes.push_str(match anchor {
            Anchor::Start => "",
            Anchor::Middle => " text-anchor=\"middle\"",
            Anchor::End => " text-anchor=\"end\"",
        });
        self.shapes.push_str(if bold { " font-weight=\"bold\"" } else { "" });
        // As wide as it was measured, in whatever font a viewer has: nothing runs over anything else.
        self.attributes(&[("textLength", font::width(text, bold) * height)]);
        self.shapes.push_str(" lengthAdjust=\"spacingAndGlyphs\">");
        escape(&mut self.shapes, text);
        self.shapes.push_str("</text>");
    }
}

impl Svg {
    fn attributes(&mut self, all: &[(&str, f64)]) {
        for (name, value) in all {
            self.shapes.push(' ');
            self.shapes.push_str(name);
            self.shapes.push_str("=\"");
            short(&mut self.shapes, *value);
            self.shapes.push('"');
        }
    }

    fn fill(&mut self, shade: Shade) {
        let lightness = shade.lightness();
        let _ = write!(self.shapes, " fill=\"#{lightness:02x}{lightness:02x}{lightness:02x}\"");
    }

    fn points(&mut self, points: &[(f64, f64)]) {
        self.shapes.push_str(" points=\"");
        for (at, (x, y)) in points.iter().enumerate() {
            if at > 0 {
                self.shapes.push(' ');
            }
            short(&mut self.shapes, *x);
            self.shapes.push(',');
            short(&mut self.shapes, *y);
        }
        self.shapes.push('"');
    }
}

/// Writes a length to a hundredth of a millimetre: the same bytes wherever it is drawn.
fn short(out: &mut String, value: f64) {
    #[expect(clippy::cast_possible_truncation, reason = "a page is a few hundred millimetres wide")]
    let hundredths = (value * 100.0).round() as i64;
    if hundredths < 0 {
        out.push('-');
    }
    let (whole, rest) = (hundredths.unsigned_abs() / 100, hundredths.unsigned_abs() % 100);
    let _ = match rest {
        0 => write!(out, "{whole}"),
        rest if rest.is_multiple_of(10) => write!(out, "{whole}.{}", rest / 10),
        rest => write!(out, "{whole}.{rest:02}"),
    };
}

fn shown(value: f64) -> String {
    let mut text = String::new();
    short(&mut text, value);
    text
}

/// Writes a text or an attribute.
fn escape(out: &mut String, text: &str) {
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            c => out.push(c),
        }
    }
}

fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    escape(&mut out, text);
    out
}

#[cfg(test)]
mod tests {
    use super::{escaped, shown};

    #[test]
    fn lengths_are_short_and_texts_are_escaped() {
        for (value, text) in
            [(0.0, "0"), (-0.001, "0"), (1.5, "1.5"), (-2.25, "-2.25"), (3.04, "3.04"), (12.999, "13"), (-0.5, "-0.5")]
        {
            assert_eq!(shown(value), text);
        }
        assert_eq!(escaped("<a b=\"c\"> & d"), "&lt;a b=&quot;c&quot;&gt; &amp; d");
    }
}
