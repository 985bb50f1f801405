//! The card as one page of HTML: it works without scripts and without a network, and prints on one sheet of A5 or A4.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::CODE_HEADING;
use super::block::{Arrives, Block, CardFinding, FactRow, Scale};
use super::draw::{ARRIVES_HEADING, COLUMN, Picture, WIDTH, arrives_assumed, arrives_lines};

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
            body { main { @for block in blocks { (drawn(block)) } } }
        }
    };
    page.into_string()
}

fn drawn(block: &Block) -> Markup {
    match block {
        Block::Banner(text) => html! { p.banner role="note" { (text) } },
        Block::Lead(lead) => html! {
            section.lead role="alert" {
                h2 { (lead.heading) }
                @if !lead.is_the_cards { p.rate { strong { (lead.value) } @if !lead.unit.is_empty() { " " (lead.unit) } } }
                @for line in &lead.lines { p { (line) } }
            }
        },
        Block::Title { text, at } => html! { header { h1 { (text) } p { (at) } } },
        Block::Facts { key, heading, rows } => facts(key, heading, rows),
        Block::Rate { value, unit, beyond } => html! {
            @for line in beyond { p.beyond { (line) } }
            p.rate { strong { (value) } " " (unit) }
        },
        Block::Scale(scale) => limits(scale),
        Block::Emptying(emptying) => {
            html! { figure.column { (PreEscaped(Picture::of_emptying(emptying, COLUMN).svg())) } }
        }
        Block::Arrives(arrives) => arrival(arrives),
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
    }
}

fn facts(key: &str, heading: &str, rows: &[FactRow]) -> Markup {
    html! {
        section class=(key) {
            h2 { (heading) }
            dl { @for row in rows { div { dt { (row.label) } dd { (row.value) } } } }
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

fn arrival(arrives: &Arrives) -> Markup {
    match &arrives.band {
        Ok(band) => html! {
            figure.column {
                (PreEscaped(Picture::of_band(arrives, band, COLUMN).svg()))
                figcaption { (arrives_assumed(arrives)) }
            }
        },
        Err(_) => html! {
            section.arrives {
                h2 { (ARRIVES_HEADING) }
                @for line in arrives_lines(arrives) { p { (line) } }
            }
        },
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
