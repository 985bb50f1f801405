//! The card as a PDF: a page for each side, tagged in reading order, with the parts of the font that it uses and the same bytes each
//! time. A character without a glyph is refused: a page never has a gap where a word was.

use std::num::NonZeroU16;

use krilla::color::luma;
use krilla::configure::{Accessibility, ConfigurationBuilder};
use krilla::destination::XyzDestination;
use krilla::geom::{Path, PathBuilder, Point};
use krilla::metadata::Metadata;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, Stroke};
use krilla::surface::Surface;
use krilla::tagging::{Artifact, ArtifactType, ContentTag, SpanTag, Tag, TagGroup, TagKind, TagTree};
use krilla::text::{Font, GlyphId, KrillaGlyph};
use krilla::{Document, SerializeSettings};

use super::piece::{Piece, Role};
use super::{NoPage, Sheet, font};
use crate::card::block::Block;
use crate::card::draw::{Anchor, Canvas, Shade};

/// Points in a millimetre.
const POINTS: f64 = 72.0 / 25.4;

/// The card as the bytes of a PDF file.
pub(in crate::card) fn pdf(blocks: &[Block]) -> Result<Vec<u8>, NoPage> {
    let sheet = Sheet::of(blocks)?;
    let unwritten = |why: &dyn std::fmt::Debug| NoPage::Unwritten(format!("{why:?}"));
    let configuration = ConfigurationBuilder::new().with_accessibility_validator(Accessibility::UA1).finish();
    let settings = SerializeSettings {
        configuration: configuration.map_err(|error| unwritten(&error))?,
        ..SerializeSettings::default()
    };
    let mut document = Document::new_with(settings);
    let metadata = Metadata::new().title(sheet.title.clone()).language("en".to_owned());
    document.set_metadata(metadata.creator(concat!("countersign ", env!("CARGO_PKG_VERSION")).to_owned()));
    let size = PageSettings::from_wh(points(sheet.width), points(sheet.height));
    let size = size.ok_or_else(|| unwritten(&"a page without a size"))?;
    let mut tree = TagTree::new();
    let mut lacking = None;
    for side in &sheet.sides {
        let mut page = document.start_page_with(size.clone());
        lacking = lacking.or(paint(page.surface(), side, &mut tree));
        page.finish();
    }
    document.set_tag_tree(tree);
    document.set_outline(outline(&sheet));
    match lacking {
        Some(c) => Err(NoPage::NoGlyph(c)),
        None => document.finish().map_err(|error| unwritten(&error)),
    }
}

/// Draws every piece; gives the first character that the font lacks.
fn paint(surface: Surface<'_>, side: &[Piece], tree: &mut TagTree) -> Option<char> {
    let mut canvas = Pdf { surface, fonts: [false, true].map(font_of), lacking: None };
    for piece in side {
        draw(&mut canvas, piece, tree);
    }
    canvas.surface.finish();
    canvas.lacking
}

/// Every heading, to be jumped to.
fn outline(sheet: &Sheet) -> Outline {
    let mut outline = Outline::new();
    for (page, side) in sheet.sides.iter().enumerate() {
        for piece in side {
            if let Role::Heading { text, .. } = &piece.role {
                let place = Point::from_xy(points(piece.at.0), points(piece.at.1));
                outline.push_child(OutlineNode::new(text.clone(), XyzDestination::new(page, place)));
            }
        }
    }
    outline
}

fn font_of(bold: bool) -> Font {
    Font::new(font::face(bold).file.into(), 0).expect("the file is shipped with the program")
}

fn draw(canvas: &mut Pdf<'_>, piece: &Piece, tree: &mut TagTree) {
    let tag: TagKind = match &piece.role {
        Role::Ornament => {
            canvas.surface.start_tagged(ContentTag::Artifact(Artifact::with_kind(ArtifactType::Layout)));
            piece.sketch.on(canvas, piece.at, piece.scale);
            canvas.surface.end_tagged();
            return;
        }
        Role::Heading { level, text } => {
            Tag::Hn(NonZeroU16::new((*level).into()).unwrap_or(NonZeroU16::MIN), Some(text.clone())).into()
        }
        Role::Figure(says) => Tag::Figure(Some(says.clone())).into(),
        Role::Paragraph => Tag::P.into(),
    };
    let content = if let Role::Figure(_) = piece.role { ContentTag::Other } else { ContentTag::Span(SpanTag::empty()) };
    let mut group = TagGroup::new(tag);
    group.push(canvas.surface.start_tagged(content));
    piece.sketch.on(canvas, piece.at, piece.scale);
    canvas.surface.end_tagged();
    tree.push(group);
}

/// A page being drawn.
struct Pdf<'s> {
    surface: Surface<'s>,
    /// Regular and bold.
    fonts: [Font; 2],
    /// The first character that the font lacks.
    lacking: Option<char>,
}

impl Pdf<'_> {
    fn fill(&mut self, shade: Option<Shade>) {
        let of = |shade: Shade| Fill { paint: luma::Color::new(shade.lightness()).into(), ..Fill::default() };
        self.surface.set_fill(shade.map(of));
    }

    fn stroke(&mut self, width: Option<f64>) {
        let of = |width| Stroke { paint: luma::Color::new(0).into(), width: points(width), ..Stroke::default() };
        self.surface.set_stroke(width.map(of));
    }

    fn path(&mut self, path: Option<Path>) {
        if let Some(path) = path {
            self.surface.draw_path(&path);
        }
    }
}

impl Canvas for Pdf<'_> {
    fn rectangle(&mut self, x: f64, y: f64, width: f64, height: f64, shade: Shade) {
        self.fill(Some(shade));
        self.stroke(Some(0.2));
        let corners = [(x, y), (x + width, y), (x + width, y + height), (x, y + height)];
        self.path(path(&[&corners], true));
    }

    fn squares(&mut self, each: &[(f64, f64, f64, f64)]) {
        self.fill(Some(Shade::Ink));
        self.stroke(None);
        let corners: Vec<[(f64, f64); 4]> =
            each.iter().map(|(x, y, w, h)| [(*x, *y), (x + w, *y), (x + w, y + h), (*x, y + h)]).collect();
        let corners: Vec<&[(f64, f64)]> = corners.iter().map(<[_; 4]>::as_slice).collect();
        self.path(path(&corners, true));
    }

    fn line(&mut self, points: &[(f64, f64)], width: f64) {
        self.fill(None);
        self.stroke(Some(width));
        self.path(path(&[points], false));
    }

    fn surface(&mut self, points: &[(f64, f64)], shade: Shade) {
        self.fill(Some(shade));
        self.stroke(None);
        self.path(path(&[points], true));
    }

    fn text(&mut self, at: (f64, f64), height: f64, anchor: Anchor, bold: bool, text: &str) {
        let face = font::face(bold);
        let mut glyphs = Vec::with_capacity(text.len());
        for (from, c) in text.char_indices() {
            let Some(glyph) = face.glyph(c) else {
                self.lacking.get_or_insert(c);
                continue;
            };
            #[expect(clippy::cast_possible_truncation, reason = "a width in heights of the font")]
            let advance = glyph.advance as f32;
            let range = from..from + c.len_utf8();
            glyphs.push(KrillaGlyph::new(GlyphId::new(glyph.number.into()), advance, 0.0, 0.0, 0.0, range, None));
        }
        let width = font::width(text, bold) * height;
        let x = match anchor {
            Anchor::Start => at.0,
            Anchor::Middle => at.0 - width / 2.0,
            Anchor::End => at.0 - width,
        };
        self.fill(Some(Shade::Ink));
        self.stroke(None);
        let font = self.fonts[usize::from(bold)].clone();
        self.surface.draw_glyphs(Point::from_xy(points(x), points(at.1)), &glyphs, font, text, points(height), false);
    }
}

/// Lines from point to point, as one path.
fn path(each: &[&[(f64, f64)]], is_closed: bool) -> Option<Path> {
    let mut builder = PathBuilder::new();
    for points_of_one in each {
        for (at, (x, y)) in points_of_one.iter().enumerate() {
            let (x, y) = (points(*x), points(*y));
            if at == 0 { builder.move_to(x, y) } else { builder.line_to(x, y) }
        }
        if is_closed {
            builder.close();
        }
    }
    builder.finish()
}

#[expect(clippy::cast_possible_truncation, reason = "a page is a few hundred millimetres wide")]
fn points(millimetres: f64) -> f32 {
    (millimetres * POINTS) as f32
}
