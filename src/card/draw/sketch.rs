//! Shapes that wait for their place: what was drawn once is put on any canvas, anywhere.

use super::{Anchor, Canvas, Shade};

/// What was drawn, in order.
#[derive(Debug, Clone, Default)]
pub(in crate::card) struct Sketch(Vec<Shape>);

#[derive(Debug, Clone)]
enum Shape {
    Rectangle { at: (f64, f64), width: f64, height: f64, shade: Shade },
    Squares(Vec<(f64, f64, f64, f64)>),
    Line { points: Vec<(f64, f64)>, width: f64 },
    Surface { points: Vec<(f64, f64)>, shade: Shade },
    Text { at: (f64, f64), height: f64, anchor: Anchor, bold: bool, text: String },
}

impl Sketch {
    /// Draws it all on a canvas, so much larger, with its upper left corner at a place.
    pub(in crate::card) fn on(&self, canvas: &mut dyn Canvas, to: (f64, f64), scale: f64) {
        let placed = |at: (f64, f64)| (at.0 * scale + to.0, at.1 * scale + to.1);
        let all = |points: &[(f64, f64)]| points.iter().copied().map(placed).collect::<Vec<_>>();
        for shape in &self.0 {
            match shape {
                Shape::Rectangle { at, width, height, shade } => {
                    let (x, y) = placed(*at);
                    canvas.rectangle(x, y, width * scale, height * scale, *shade);
                }
                Shape::Squares(each) => {
                    let larger = |(x, y, width, height): &(f64, f64, f64, f64)| {
                        let (x, y) = placed((*x, *y));
                        (x, y, width * scale, height * scale)
                    };
                    canvas.squares(&each.iter().map(larger).collect::<Vec<_>>());
                }
                Shape::Line { points, width } => canvas.line(&all(points), width * scale),
                Shape::Surface { points, shade } => canvas.surface(&all(points), *shade),
                Shape::Text { at, height, anchor, bold, text } => {
                    canvas.text(placed(*at), height * scale, *anchor, *bold, text);
                }
            }
        }
    }
}

impl Canvas for Sketch {
    fn rectangle(&mut self, x: f64, y: f64, width: f64, height: f64, shade: Shade) {
        self.0.push(Shape::Rectangle { at: (x, y), width, height, shade });
    }

    fn squares(&mut self, each: &[(f64, f64, f64, f64)]) {
        self.0.push(Shape::Squares(each.to_vec()));
    }

    fn line(&mut self, points: &[(f64, f64)], width: f64) {
        self.0.push(Shape::Line { points: points.to_vec(), width });
    }

    fn surface(&mut self, points: &[(f64, f64)], shade: Shade) {
        self.0.push(Shape::Surface { points: points.to_vec(), shade });
    }

    fn text(&mut self, at: (f64, f64), height: f64, anchor: Anchor, bold: bool, text: &str) {
        self.0.push(Shape::Text { at, height, anchor, bold, text: text.to_owned() });
    }
}
