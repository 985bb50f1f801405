//! The picture of the report: one bar for each slip, dark for stopped, light for a reason asked for.
#![expect(clippy::float_arithmetic, clippy::cast_precision_loss, reason = "a drawing")]

use std::fmt::Write as _;

use super::Report;

/// As SVG.
pub(crate) fn svg(report: &Report) -> String {
    let bars = report.bars();
    let height = 20.0 + bars.len() as f64 * 6.0;
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 200 {height}\" width=\"200mm\" height=\"{height}mm\" font-family=\"sans-serif\" font-size=\"3.4\" role=\"img\" aria-label=\"Share of slips that end without a card\">\n<rect width=\"200\" height=\"{height}\" fill=\"#fff\"/>\n<text x=\"4\" y=\"7\" font-weight=\"bold\">Slips that end without a card: dark stopped, light a written reason asked for</text>\n"
    );
    for (at, (name, stopped, caught)) in bars.iter().enumerate() {
        let y = 12.0 + at as f64 * 6.0;
        let name = name.replace('&', "&amp;").replace('<', "&lt;");
        let _ = writeln!(
            out,
            "<text x=\"4\" y=\"{:.1}\">{name}</text><rect x=\"98\" y=\"{y:.1}\" width=\"80\" height=\"4\" fill=\"#fff\" stroke=\"#000\" stroke-width=\"0.2\"/><rect x=\"98\" y=\"{y:.1}\" width=\"{:.2}\" height=\"4\" fill=\"#c9c9c9\"/><rect x=\"98\" y=\"{y:.1}\" width=\"{:.2}\" height=\"4\" fill=\"#444\"/><text x=\"180\" y=\"{:.1}\">{:.1} %</text>",
            y + 3.2,
            80.0 * caught,
            80.0 * stopped,
            y + 3.2,
            caught * 100.0
        );
    }
    out.push_str("</svg>\n");
    out
}
