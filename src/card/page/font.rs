//! The font that is shipped: how wide a text is in it, and which glyph stands for a character.

use std::collections::HashMap;
use std::sync::LazyLock;

/// One weight of the font.
#[derive(Debug)]
pub(in crate::card) struct Face {
    /// The file.
    #[cfg_attr(not(feature = "pdf"), expect(dead_code, reason = "only a PDF carries it along"))]
    pub(in crate::card) file: &'static [u8],
    glyphs: HashMap<char, Glyph>,
    ascii: [f64; 128],
}

/// A glyph and how far it moves on, in heights of the font.
#[derive(Debug, Clone, Copy)]
pub(in crate::card) struct Glyph {
    /// Its number in the file.
    #[cfg_attr(not(feature = "pdf"), expect(dead_code, reason = "only a PDF names glyphs"))]
    pub(in crate::card) number: u16,
    /// How far it moves on.
    pub(in crate::card) advance: f64,
}

/// What stands in for a character that the font lacks, where a viewer's own font draws it.
const LACKING: f64 = 1.0;

static REGULAR: LazyLock<Face> = LazyLock::new(|| Face::of(include_bytes!("../font/DejaVuSansCondensed.ttf")));
static BOLD: LazyLock<Face> = LazyLock::new(|| Face::of(include_bytes!("../font/DejaVuSansCondensed-Bold.ttf")));

/// The face of a weight.
pub(in crate::card) fn face(bold: bool) -> &'static Face {
    if bold { &BOLD } else { &REGULAR }
}

/// The width of a text, in heights of the font.
pub(in crate::card) fn width(text: &str, bold: bool) -> f64 {
    let face = face(bold);
    text.chars().map(|c| face.advance(c)).sum()
}

impl Face {
    /// The glyph of a character; nothing where the font has none.
    pub(in crate::card) fn glyph(&self, c: char) -> Option<Glyph> {
        self.glyphs.get(&c).copied()
    }

    fn advance(&self, c: char) -> f64 {
        match self.ascii.get(c as usize) {
            Some(advance) => *advance,
            None => self.glyph(c).map_or(LACKING, |glyph| glyph.advance),
        }
    }

    fn of(file: &'static [u8]) -> Self {
        let font = ttf_parser::Face::parse(file, 0).expect("the file is shipped with the program");
        let em = f64::from(font.units_per_em());
        let mut glyphs = HashMap::new();
        let tables = font.tables().cmap.iter().flat_map(|cmap| cmap.subtables);
        tables.filter(ttf_parser::cmap::Subtable::is_unicode).for_each(|table| {
            table.codepoints(|code| {
                let glyph = char::from_u32(code).zip(table.glyph_index(code));
                if let Some((c, id)) = glyph
                    && let Some(advance) = font.glyph_hor_advance(id)
                {
                    glyphs.insert(c, Glyph { number: id.0, advance: f64::from(advance) / em });
                }
            });
        });
        let mut ascii = [LACKING; 128];
        for (code, advance) in (0_u8..).zip(&mut ascii) {
            *advance = glyphs.get(&char::from(code)).map_or(LACKING, |glyph| glyph.advance);
        }
        Self { file, glyphs, ascii }
    }
}
