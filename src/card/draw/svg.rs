//! A picture as SVG: one element, nothing fetched, with a text for those who do not see it.

use std::fmt::Write as _;

use super::{Anchor, Canvas, Shade};

/// A picture being drawn.
pub(super) struct Svg {
    width: f64,
    height: f64,
    shapes: String,
}

impl Svg {
    pub(super) const fn new(width: f64, height: f64) -> Self {
        Self { width, height, shapes: String::new() }
    }

    /// The element; `says` is read out in its place.
    pub(super) fn finish(self, says: &str) -> String {
        let (width, height) = (short(self.width), short(self.height));
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" width=\"{width}mm\" height=\"{height}mm\" role=\"img\" aria-label=\"{}\" font-family=\"sans-serif\">{}</svg>",
            escaped(says),
            self.shapes
        )
    }
}

impl Canvas for Svg {
    fn rectangle(&mut self, x: f64, y: f64, width: f64, height: f64, shade: Shade) {
        let (x, y, width, height) = (short(x), short(y), short(width), short(height));
        let fill = fill(shade);
        let _ = write!(
            self.shapes,
            "<rect x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" fill=\"{fill}\" stroke=\"#000\" stroke-width=\"0.2\"/>"
        );
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
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let weight = if bold { " font-weight=\"bold\"" } else { "" };
        let (x, y, size) = (short(at.0), short(at.1), short(height));
        let text = escaped(text);
        let _ = write!(
            self.shapes,
            "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\" text-anchor=\"{anchor}\"{weight}>{text}</text>"
        );
    }
}

const fn fill(shade: Shade) -> &'static str {
    match shade {
        Shade::Paper => "#fff",
        Shade::Light => "#e6e6e6",
        Shade::Middle => "#b3b3b3",
        Shade::Dark => "#595959",
        Shade::Ink => "#000",
    }
}

fn listed(points: &[(f64, f64)]) -> String {
    points.iter().map(|(x, y)| format!("{},{}", short(*x), short(*y))).collect::<Vec<_>>().join(" ")
}

/// To a hundredth of a millimetre: the same bytes wherever it is drawn.
fn short(value: f64) -> String {
    let text = format!("{:.2}", value + 0.0);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}
