//! The whole formulary as one page to be printed: contents, then each drug on a page of its own. In: a formulary. Out:
//! HTML without a script, from which nothing is fetched; readable in black and white.

mod drug;
mod glance;
mod limits;
mod scale;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::card::DEMONSTRATION;
use crate::formulary::{Drug, Faulty, Formulary};

/// The book.
///
/// # Errors
/// [`Faulty`] when a drug cannot be read.
pub fn book(formulary: &Formulary) -> Result<String, Faulty> {
    let mut drugs = formulary.load_all()?;
    drugs.sort_by(|one, other| one.name.cmp(&other.name));
    let policy = formulary.policy();
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (policy.title) }
                style { (PreEscaped(STYLE)) (PreEscaped(margins(formulary))) }
            }
            body {
                header.front {
                    @if policy.demonstration { p.banner { (DEMONSTRATION) } }
                    h1 { (policy.title) }
                    dl {
                        dt { "version" } dd { (policy.version) }
                        dt { "issued" } dd { (policy.issued) }
                        dt { "approved by" } dd { (formulary.standing().said()) }
                        dt { "fingerprint" } dd.long { (formulary.fingerprint()) }
                    }
                    p { "A printed book grows old: hold the fingerprint against the formulary in use before a number is taken from it. No part of it is a set-up card." }
                    (answered_for(&drugs))
                    (contents(&drugs))
                    (how_to_read())
                }
                main {
                    @for area in formulary.areas() { (glance::page(&area.name, &drugs)) }
                    @for drug in &drugs { (drug::page(formulary, drug)) }
                }
                footer { p { "Not a medical device. Verify against the order, the label and local policy." } }
            }
        }
    };
    Ok(page.into_string())
}

/// On every sheet of paper: what it is, and of which formulary.
fn margins(formulary: &Formulary) -> String {
    let fingerprint = formulary.fingerprint().to_string();
    let above = if formulary.policy().demonstration { DEMONSTRATION } else { "" };
    format!(
        "@page {{ @top-left {{ content: \"{above}\"; font-weight: bold; font-size: 9pt; }} @bottom-left {{ content: \"not a set-up card; formulary fingerprint {}\"; font-size: 9pt; }} }}\n",
        &fingerprint[..16]
    )
}

/// What a link to a drug points at.
fn anchor(name: &str) -> String {
    format!("drug-{}", name.replace(|c: char| !c.is_ascii_alphanumeric(), "-"))
}

/// What the lint remarks on and somebody lets stand: on the first page, so that nobody signs the rest without it.
fn answered_for(drugs: &[&Drug]) -> Markup {
    let answered = drugs.iter().any(|drug| !drug.exceptions.is_empty() || !drug.accepted.is_empty());
    html! {
        @if answered {
            section {
                h2 { "Accepted against the lint" }
                table {
                    thead { tr { th scope="col" { "drug" } th scope="col" { "where" } th scope="col" { "remark" } th scope="col" { "why it may stand" } th scope="col" { "who answers for it" } } }
                    tbody {
                        @for drug in drugs {
                            @for one in &drug.exceptions {
                                tr { th scope="row" { (drug.name) } td { (one.at) ": " (one.value) } td { (one.code) } td { (one.why) } td { (one.by) } }
                            }
                            @for one in &drug.accepted {
                                tr { th scope="row" { (drug.name) } td { "the whole file" } td { (one.code) } td { (one.reason) } td { "the author" } }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn contents(drugs: &[&Drug]) -> Markup {
    let mut names: Vec<(&str, &Drug)> = drugs.iter().map(|drug| (drug.name.as_str(), *drug)).collect();
    names.extend(drugs.iter().flat_map(|drug| drug.other_names.iter().map(|other| (other.as_str(), *drug))));
    names.sort_unstable_by_key(|(name, _)| *name);
    html! {
        nav {
            h2 { "Contents" }
            ul.contents {
                @for (name, drug) in names {
                    li {
                        a href={ "#" (anchor(&drug.name)) } { (name) }
                        @if name != drug.name { ": see " (drug.name) }
                        @else if drug.high_alert { " (high alert)" }
                    }
                }
            }
        }
    }
}

fn how_to_read() -> Markup {
    html! {
        section {
            h2 { "How to read it" }
            p { b { "Usual" } ": what is usually given. " b { "Soft" } ": beyond it, each person writes a reason. " b { "Hard" } ": beyond it, the set-up is stopped. A limit itself is allowed." }
            p { "In the drawings, the full bar is the usual range, the open bar the soft limits, the line the hard limits; the scale is logarithmic. The letters name the sources at the end of the page." }
        }
    }
}

const STYLE: &str = "
@page { size: A4; margin: 16mm 14mm 18mm; @bottom-right { content: counter(page); } }
:root { color-scheme: light; font: 10.5pt/1.4 Georgia, 'Times New Roman', serif; color: #000; background: #fff; }
body { max-width: 190mm; margin: 1rem auto; padding: 0 1rem; }
h1 { font-size: 20pt; margin: .4rem 0; } h2 { font-size: 16pt; margin: .2rem 0 .4rem; } h3 { font-size: 12.5pt; margin: 1rem 0 .3rem; }
h4 { font-size: 11pt; margin: .8rem 0 .2rem; }
.banner, .notice { border: 2px solid #000; padding: .2rem .6rem; font-weight: bold; }
article > .banner { font-size: 9pt; margin: 0 0 .4rem; }
.notice { font-size: 9pt; border-width: 1px; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: .1rem 1rem; margin: .3rem 0; }
dt { font-weight: bold; } dd { margin: 0; } dd.long { overflow-wrap: anywhere; }
.contents { columns: 3; padding-left: 0; list-style: none; font-size: 10pt; } .contents li { break-inside: avoid; }
table { border-collapse: collapse; margin: .3rem 0; width: 100%; }
caption { text-align: left; font-weight: bold; padding: .2rem 0; }
th, td { border: 1px solid #666; padding: .05rem .4rem; text-align: left; vertical-align: top; }
thead th { border-bottom: 2px solid #000; }
.rates { width: auto; } .rates th, .rates td { text-align: right; font-variant-numeric: tabular-nums; font-size: 9.5pt; }
.rates td.says { text-align: left; font-style: italic; } .rates caption { font-size: 9.5pt; }
.legend { font-size: 9pt; margin: .2rem 0; padding-left: 1.2rem; }
.alert { font-weight: bold; border: 2px solid #000; padding: 0 .4rem; }
svg { display: block; width: 100%; height: auto; margin: .2rem 0; } svg text { font: 12px Georgia, serif; fill: #000; }
.glance { font-size: 7.5pt; line-height: 1.2; } .glance th, .glance td { padding: 0 .2rem; }
a { color: #000; }
article { break-before: page; } tr, figure, .strength { break-inside: avoid; } thead { display: table-header-group; }
h2, h3, h4, caption { break-after: avoid; } figure { margin: .3rem 0; }
.sources { font-size: 9pt; }
@media screen { .contents { columns: auto 11rem; } .contents a { display: inline-block; min-height: 44px; min-width: 44px; line-height: 44px; } }
@media screen and (max-width: 40rem) { dl { grid-template-columns: 1fr; } th, td { overflow-wrap: anywhere; padding: .05rem .2rem; } .rates { width: 100%; } }
@media print { body { max-width: none; margin: 0; padding: 0; } a { text-decoration: none; } }
";
