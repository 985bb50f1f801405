//! A text as a QR code: a square of dark and light modules.

use qrcode::{Color, EcLevel, QrCode};

use super::Canvas;

/// Light modules on each side, as the standard asks for.
const QUIET: usize = 4;

/// Its width and height in millimetres at a width of a module; nothing where the text is too long for a code.
pub(super) fn side(text: &str, module: f64) -> Option<f64> {
    Some(count(code(text)?.width() + 2 * QUIET) * module)
}

/// Draws it with its upper left corner, quiet zone included, at a place.
pub(super) fn draw(canvas: &mut dyn Canvas, text: &str, at: (f64, f64), module: f64) {
    let Some(code) = code(text) else { return };
    let width = code.width();
    let colors = code.to_colors();
    let mut dark = Vec::new();
    for (row, modules) in colors.chunks(width).enumerate() {
        let mut column = 0;
        for run in modules.chunk_by(|one, other| one == other) {
            if run[0] == Color::Dark {
                let (x, y) = (at.0 + count(QUIET + column) * module, at.1 + count(QUIET + row) * module);
                dark.push((x, y, count(run.len()) * module, module));
            }
            column += run.len();
        }
    }
    canvas.squares(&dark);
}

fn code(text: &str) -> Option<QrCode> {
    QrCode::with_error_correction_level(text, EcLevel::M).ok()
}

#[expect(clippy::cast_precision_loss, reason = "a few hundred modules")]
const fn count(modules: usize) -> f64 {
    modules as f64
}
