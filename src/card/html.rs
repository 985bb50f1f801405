//! The card as one page of HTML: it works without scripts and without a network, and prints on one sheet of A5 or A4.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::CODE_HEADING;
use super::block::{Block, CardFinding, FactRow, Ladder, Scale};
use super::draw::{COLUMN, Picture, WIDTH};
use super::ladder::SET;
use super::layout::{CardPart, Face, Layout};

const STYLE: &str = include_str!("card.css");

pub(super) fn render(blocks: &[Block]) -> String {
    let title = blocks.iter().find_map(|block| match block {
        Block::Title { text, .. } => Some(text.as_str()),
        _ => None,
    });
    let page: Markup = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title.unwrap_or("Card")) }
                style { (PreEscaped(STYLE)) }
            }
            body { main { @for part in Layout::arrange(blocks).parts() { (drawn(part)) } } }
        }
    };
    page.into_string()
}

fn drawn(part: &CardPart) -> Markup {
    match part {
        CardPart::Face(face) => draw_face(face),
        CardPart::Block(block) => draw_block(block),
    }
}

fn draw_block(block: &Block) -> Markup {
    match block {
        Block::Banner(text) => html! { p.banner role="note" { (text) } },
        Block::Title { text, at } => html! { header { h1 { (text) } p { (at) } } },
        Block::Facts { key, heading, rows } => facts(key, heading, rows),
        Block::Ladder(ladder) => draw_ladder(ladder),
        Block::Scale(scale) => limits(scale),
        Block::Emptying(emptying) => {
            html! { figure.column { (PreEscaped(Picture::of_emptying(emptying, COLUMN).svg())) } }
        }
        Block::Code(code) => coded(code),
        Block::Findings(found) => findings(found),
        Block::Steps { key, heading, steps } => html! {
            section class=(key) {
                h2 { (heading) }
                ul.steps { @for step in steps { li { (step) } } }
            }
        },
        Block::Text { key, heading, lines } => html! {
            section class=(key) {
                h2 { (heading) }
                @for line in lines { p { (line) } }
            }
        },
        // Arrival is left to `delivery`; the rest is on the face.
        Block::Arrives(_) | Block::Lead(_) | Block::Rate { .. } => html! {},
    }
}

fn draw_face(face: &Face) -> Markup {
    html! {
        section.face {
            @if let Some(heading) = &face.heading { p.leads role="alert" { (heading) } }
            h2.drug { (face.drug) @if !face.amount.is_empty() { " " span { (face.amount) } } }
            @if !face.warnings.is_empty() { p.warnings { (face.warnings.join("; ")) } }
            div.frame {
                @for line in &face.beyond { p { (line) } }
                p.rate { strong { (face.value) } @if !face.unit.is_empty() { " " (face.unit) } }
            }
            @for line in &face.lines { p.says { (line) } }
            (rows(&face.rows))
        }
    }
}

fn rows(rows: &[FactRow]) -> Markup {
    html! { dl { @for row in rows { div { dt { (row.label) } dd { (row.value) } } } } }
}

/// The units stand in the head alone.
fn draw_ladder(ladder: &Ladder) -> Markup {
    html! {
        section.ladder {
            h2 { (ladder.heading()) }
            table {
                thead { tr { th scope="col" { (ladder.dose_head()) } th scope="col" { (ladder.rate_unit) } } }
                tbody {
                    @for row in &ladder.rows {
                        tr.set[row.is_set] {
                            th scope="row" { (row.dose) }
                            td { (row.rate) @if row.is_set { " " span { (SET) } } }
                        }
                    }
                    @if let Some(bolus) = &ladder.bolus { tr { th scope="row" { "bolus " (bolus.dose) } td { (bolus.rate) } } }
                }
            }
        }
    }
}

fn facts(key: &str, heading: &str, facts: &[FactRow]) -> Markup {
    html! {
        section class=(key) {
            h2 { (heading) }
            (rows(facts))
        }
    }
}

fn limits(scale: &Scale) -> Markup {
    html! {
        figure {
            (PreEscaped(Picture::of_scale(scale, WIDTH).svg()))
            figcaption {
                span.key.usual { } "usual "
                span.key.soft { } "within soft limits "
                span.key.reason { } "a reason is needed "
                span.key.stopped { } "stopped; logarithmic, in " (scale.unit)
            }
        }
    }
}

fn coded(code: &str) -> Markup {
    html! {
        section.coded {
            h2 { (CODE_HEADING) }
            @if let Some(picture) = Picture::of_code(code) { (PreEscaped(picture.svg())) }
            p { (code) }
        }
    }
}

fn findings(found: &[CardFinding]) -> Markup {
    html! {
        section.findings {
            h2 { "Findings" }
            @for one in found {
                p {
                    strong { (one.severity) } " " (one.message) ". Do: " (one.help) ". "
                    span.code { "[" (one.code) "]" }
                    @if let Some(source) = &one.source { " from " (source) "." }
                    @for (name, reason) in &one.reasons { br; "Reason of " (name) ": " (reason) }
                }
            }
        }
    }
}
