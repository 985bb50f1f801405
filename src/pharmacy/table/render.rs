//! A table of rates as text, as CSV and as HTML.

use std::fmt::Write as _;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::{Cell, NO_CARD, Table, shown};
use crate::card::{DEMONSTRATION, wrapped};

/// For a terminal: one column of doses, one for each weight.
#[must_use]
pub fn text(table: &Table) -> String {
    let mut out = String::new();
    if table.demonstration {
        let _ = writeln!(out, "{DEMONSTRATION}\n");
    }
    wrapped(&mut out, "", NO_CARD);
    out.push('\n');
    for (name, value) in &table.head {
        wrapped(&mut out, &format!("{name:<12}"), value);
    }
    let _ = writeln!(out, "\nRates in mL/h\n");
    let mut lines = vec![heads(table)];
    if table.columns.iter().any(|column| column.strength.is_some()) {
        let strengths = table.columns.iter().map(|column| column.strength.clone().unwrap_or_default());
        lines.push(std::iter::once("strength".to_owned()).chain(strengths).chain([String::new()]).collect());
    }
    for row in &table.rows {
        let cells = row.cells.iter().map(cell_text);
        let usual = if row.usual { "" } else { "outside usual" };
        lines.push(std::iter::once(row.dose.number().to_string()).chain(cells).chain([usual.to_owned()]).collect());
    }
    let columns = lines.first().map_or(0, Vec::len);
    let width = |at: usize| lines.iter().map(|line| line[at].chars().count()).max().unwrap_or(0);
    let widths: Vec<usize> = (0..columns).map(width).collect();
    for line in &lines {
        let mut shown = String::new();
        for (at, cell) in line.iter().enumerate() {
            let gap = if at == 0 { "" } else { "  " };
            let _ = if at + 1 == columns {
                write!(shown, "{gap}{cell}")
            } else {
                write!(shown, "{gap}{cell:>width$}", width = widths[at])
            };
        }
        let _ = writeln!(out, "{}", shown.trim_end());
    }
    out.push('\n');
    for says in legend(table) {
        wrapped(&mut out, "", &says);
    }
    out
}

/// One line for each rate, complete in itself: banner, drug, strength and fingerprint stand in each.
#[must_use]
pub fn csv(table: &Table) -> String {
    let names: Vec<String> = table.head.iter().map(|(name, _)| (*name).to_owned()).collect();
    let values: Vec<String> = table.head.iter().map(|(_, value)| value.clone()).collect();
    let own = ["dose", "dose unit", "for weight", "strength at this weight", "rate mL/h", "says", "notice"];
    let mut out = line(names.into_iter().chain(own.map(str::to_owned)));
    let notice = if table.demonstration { format!("{DEMONSTRATION}. {NO_CARD}") } else { NO_CARD.to_owned() };
    for row in &table.rows {
        for (cell, column) in row.cells.iter().zip(&table.columns) {
            let usual = if row.usual { None } else { Some("outside usual") };
            let says = [usual, column.outside, cell.mark.map(super::CellMark::word)];
            let weight = column.weight.map(|weight| weight.to_string()).unwrap_or_default();
            let rate = cell.set.map(shown).unwrap_or_default();
            let own = [
                row.dose.number().to_string(),
                table.unit.clone(),
                weight,
                column.strength.clone().unwrap_or_default(),
                rate,
                says.into_iter().flatten().collect::<Vec<_>>().join("; "),
                notice.clone(),
            ];
            out += &line(values.iter().cloned().chain(own));
        }
    }
    out
}

/// A page that prints well, with nothing fetched and no script.
#[must_use]
pub fn html(table: &Table) -> String {
    let title = table.head.first().map(|(_, drug)| drug.clone()).unwrap_or_default();
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { "Rates of " (title) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                main {
                    @if table.demonstration { p.banner { (DEMONSTRATION) } }
                    h1 { "Rates of " (title) }
                    dl {
                        @for (name, value) in &table.head { dt { (name) } dd { (value) } }
                    }
                    (markup(table))
                }
            }
        }
    };
    page.into_string()
}

/// The table alone, for a page that has a heading.
#[must_use]
pub fn markup(table: &Table) -> Markup {
    let has_strengths = table.columns.iter().any(|column| column.strength.is_some());
    let any_unusual = table.rows.iter().any(|row| !row.usual);
    html! {
        p.notice { @if table.demonstration { (DEMONSTRATION) ". " } (NO_CARD) }
        table.rates {
            caption { "Rates in mL/h" }
            thead {
                tr {
                    th scope="col" { (table.unit) }
                    @for column in &table.columns {
                        th scope="col" {
                            (column.weight.map_or_else(|| "any weight".to_owned(), |weight| weight.to_string()))
                            @if let Some(outside) = column.outside { br; small { (outside) } }
                        }
                    }
                    @if any_unusual { th scope="col" { "against usual" } }
                }
                @if has_strengths {
                    tr {
                        th scope="row" { "strength" }
                        @for column in &table.columns { td { (column.strength.clone().unwrap_or_default()) } }
                        @if any_unusual { td { } }
                    }
                }
            }
            tbody {
                @for row in &table.rows {
                    tr {
                        th scope="row" { (row.dose.number()) }
                        @for cell in &row.cells { td { (cell_text(cell)) } }
                        @if any_unusual { td.says { @if !row.usual { "outside usual" } } }
                    }
                }
            }
        }
        @if !table.legend.is_empty() {
            ul.legend { @for says in &table.legend { li { (says) } } }
        }
    }
}

const STYLE: &str = "
@page { size: A4; margin: 15mm; }
body { font: 12pt/1.4 Georgia, serif; color: #000; background: #fff; max-width: 60rem; margin: 1.5rem auto; padding: 0 1rem; }
h1 { font-size: 1.5rem; margin: .3rem 0; }
.banner, .notice { border: 2px solid #000; padding: .3rem .6rem; font-weight: bold; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: .1rem 1rem; }
dt { font-weight: bold; } dd { margin: 0; overflow-wrap: anywhere; }
table { border-collapse: collapse; } caption { text-align: left; font-weight: bold; padding: .4rem 0; }
th, td { border: 1px solid #000; padding: .2rem .6rem; text-align: right; font-variant-numeric: tabular-nums; }
td.says { text-align: left; font-style: italic; }
tr { break-inside: avoid; } thead { display: table-header-group; }
@media print { body { margin: 0; max-width: none; padding: 0; } }
";

fn heads(table: &Table) -> Vec<String> {
    let weights = table.columns.iter().map(|column| match (column.weight, column.outside) {
        (None, _) => "any weight".to_owned(),
        (Some(weight), None) => weight.to_string(),
        (Some(weight), Some(_)) => format!("{weight} (!)"),
    });
    std::iter::once(table.unit.clone()).chain(weights).chain([String::new()]).collect()
}

fn legend(table: &Table) -> Vec<String> {
    let mut says = table.legend.clone();
    for column in &table.columns {
        if let (Some(weight), Some(outside)) = (column.weight, column.outside) {
            says.push(format!("{weight} (!): {outside}"));
        }
    }
    says
}

/// The rate with its mark, `72 high`; the mark alone where the rate is not shown.
fn cell_text(cell: &Cell) -> String {
    match (cell.set, cell.mark) {
        (Some(set), None) => shown(set),
        (Some(set), Some(mark)) => format!("{} {}", shown(set), mark.word()),
        (None, mark) => mark.map(super::CellMark::word).unwrap_or_default().to_owned(),
    }
}

/// One line of CSV (RFC 4180, but for the line feed alone), quoted where it must be.
fn line(fields: impl Iterator<Item = String>) -> String {
    let quoted = |field: String| {
        if field.contains([',', '"', '\n', '\r']) { format!("\"{}\"", field.replace('"', "\"\"")) } else { field }
    };
    let mut line = fields.map(quoted).collect::<Vec<_>>().join(",");
    line.push('\n');
    line
}
