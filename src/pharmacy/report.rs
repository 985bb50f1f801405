//! What a count comes to, as people read it: sections with sentences, a table and a picture. One report in; text, JSON, CSV
//! and HTML out, so that a number is the same wherever it is shown.

use std::fmt::Write as _;

use maud::{DOCTYPE, Markup, PreEscaped, html};
use serde_json::{Value, json};

/// Counts from 1 to one below this are hidden: of so few, somebody who was there may know whom they are about. The number
/// and the rule that none can be had by subtraction are those of the Washington State Department of Health (Standards for
/// Reporting Data with Small Numbers, 2018).
pub const SMALL: u64 = 10;

/// What is shown.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Report {
    /// What it is about.
    pub title: String,
    /// What a reader must know before any number is read.
    pub says: Vec<String>,
    /// One after the other.
    pub sections: Vec<Section>,
}

/// A part of a report.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Section {
    /// Stable: the key in data.
    pub id: &'static str,
    /// Above it.
    pub heading: String,
    /// In sentences.
    pub says: Vec<String>,
    /// Its numbers.
    pub table: Table,
    /// The same as a picture, where there is one.
    pub bars: Option<Bars>,
}

/// Columns, the first of which names the row.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Table {
    /// Above each column.
    pub heads: Vec<&'static str>,
    /// As many cells as heads.
    pub rows: Vec<Vec<Cell>>,
}

/// One value of a table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Cell {
    /// In words.
    Text(String),
    /// A count that may be seen.
    Count(u64),
    /// A count that is small, or by which a small one could be worked out.
    Hidden,
}

/// Rows of stacked bars, each part filled in its own way.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Bars {
    /// What one unit is: `findings per 100 set-ups`.
    pub unit: &'static str,
    /// What each part is; three at most are told apart by their filling.
    pub kinds: [&'static str; 3],
    /// Name and parts of each row.
    pub rows: Vec<(String, [u64; 3])>,
}

impl Cell {
    fn says(&self) -> String {
        match self {
            Self::Text(text) => text.clone(),
            Self::Count(count) => count.to_string(),
            Self::Hidden => "hidden".to_owned(),
        }
    }

    fn data(&self) -> Value {
        match self {
            Self::Text(text) => text.as_str().into(),
            Self::Count(count) => (*count).into(),
            Self::Hidden => Value::Null,
        }
    }
}

/// Hides small counts, and as many others as it takes that none can be worked out: rows of a table add up to what is shown
/// elsewhere, and the columns after `total` add up to that column.
#[must_use]
pub fn hide_small(rows: &[Vec<u64>], total: Option<usize>) -> Vec<Vec<Cell>> {
    let small = |count: &u64| (1..SMALL).contains(count);
    let mut hidden: Vec<Vec<bool>> = rows.iter().map(|row| row.iter().map(small).collect()).collect();
    let columns = rows.first().map_or(0, Vec::len);
    // Each group of cells adds up to a number that is known.
    let mut groups: Vec<Vec<(usize, usize)>> =
        (0..columns).map(|column| (0..rows.len()).map(|row| (row, column)).collect()).collect();
    if let Some(total) = total {
        groups.extend((0..rows.len()).map(|row| (total + 1..columns).map(|column| (row, column)).collect()));
    }
    loop {
        let mut changed = false;
        for group in &groups {
            let one_hidden = group.iter().filter(|(row, column)| hidden[*row][*column]).count() == 1;
            let rest = group.iter().filter(|(row, column)| !hidden[*row][*column] && rows[*row][*column] > 0);
            if one_hidden && let Some((row, column)) = rest.min_by_key(|(row, column)| rows[*row][*column]) {
                hidden[*row][*column] = true;
                changed = true;
            }
        }
        if !changed {
            break;
        }
    }
    let cell = |(count, hidden): (&u64, &bool)| if *hidden { Cell::Hidden } else { Cell::Count(*count) };
    rows.iter().zip(&hidden).map(|(row, hidden)| row.iter().zip(hidden).map(cell).collect()).collect()
}

impl Report {
    /// These sections alone, each with at most so many rows and the number of the others: one sheet of paper.
    #[must_use]
    pub fn brief(mut self, sections: &[&str], rows: usize) -> Self {
        self.sections.retain(|section| sections.contains(&section.id));
        for section in &mut self.sections {
            let rest = section.table.rows.len().saturating_sub(rows);
            // Of months the last count, of everything else the first.
            let is_in_time = section.id == "by_month";
            if is_in_time {
                section.table.rows.drain(..rest);
            }
            section.table.rows.truncate(rows);
            if let Some(bars) = &mut section.bars {
                let before = if is_in_time { bars.rows.len().saturating_sub(rows) } else { 0 };
                bars.rows.drain(..before);
                bars.rows.truncate(rows);
            }
            // What belongs to single rows is for the screen.
            section.says.truncate(1);
            if rest > 0 {
                section.says.push(format!("and {rest} more, on the screen and in the data"));
            }
        }
        self
    }

    /// In lines of 80 columns.
    #[must_use]
    pub fn text(&self) -> String {
        let mut out = String::new();
        self.says.iter().for_each(|says| crate::card::wrapped(&mut out, "", says));
        for section in &self.sections {
            let _ = writeln!(out, "\n{}", section.heading);
            section.says.iter().for_each(|says| crate::card::wrapped(&mut out, "  ", says));
            for row in &section.table.rows {
                let mut cells = section.table.heads.iter().zip(row);
                let name = cells.next().map(|(_, cell)| cell.says()).unwrap_or_default();
                let rest: Vec<String> = cells.map(|(head, cell)| format!("{head}: {}", cell.says())).collect();
                crate::card::wrapped(&mut out, "  ", &format!("{name}: {}", rest.join("; ")));
            }
        }
        out
    }

    /// As data: a hidden count is null.
    #[must_use]
    pub fn json(&self) -> Value {
        let sections = self.sections.iter().map(|section| {
            let data = json!({"heading": section.heading, "says": section.says, "rows": section.table.data()});
            (section.id.to_owned(), data)
        });
        json!({
            "version": 2, "title": self.title, "says": self.says, "hidden_below": SMALL,
            "sections": Value::Object(sections.collect()),
        })
    }

    /// As CSV (RFC 4180), one count a line: section, row, measure, value. A hidden count is `hidden`.
    #[must_use]
    pub fn csv(&self) -> String {
        let mut writer = csv::Writer::from_writer(Vec::new());
        let mut write = |record: [&str; 4]| writer.write_record(record).expect("it is written into memory");
        write(["section", "row", "measure", "value"]);
        for section in &self.sections {
            for row in &section.table.rows {
                let mut cells = section.table.heads.iter().zip(row);
                let name = cells.next().map(|(_, cell)| cell.says()).unwrap_or_default();
                cells.for_each(|(head, cell)| write([section.id, &name, head, &cell.says()]));
            }
        }
        String::from_utf8(writer.into_inner().expect("it is written into memory")).expect("every field is UTF-8")
    }

    /// As part of a page.
    #[must_use]
    pub fn markup(&self) -> Markup {
        html! {
            @for says in &self.says { p { (says) } }
            @for section in &self.sections {
                h2 { (section.heading) }
                @for says in &section.says { p { (says) } }
                @if let Some(bars) = &section.bars { (bars.drawn(section.id, &section.heading)) }
                @if !section.table.rows.is_empty() { (section.table.drawn(&section.heading)) }
            }
        }
    }

    /// As a page to be printed, with places to sign.
    #[must_use]
    pub fn page(&self, notice: Option<&str>, signed_as: &[&str]) -> String {
        let page = html! {
            (DOCTYPE)
            html lang="en" {
                head {
                    meta charset="utf-8";
                    meta name="viewport" content="width=device-width, initial-scale=1";
                    title { (self.title) }
                    style { (PreEscaped(STYLE)) }
                }
                body {
                    main {
                        @if let Some(notice) = notice { p.notice { (notice) } }
                        h1 { (self.title) }
                        (self.markup())
                        (signatures(signed_as))
                    }
                }
            }
        };
        page.into_string()
    }
}

/// Places to sign on paper.
fn signatures(roles: &[&str]) -> Markup {
    html! {
        table.sign {
            caption { "Signatures" }
            thead { tr { @for head in ["As", "Name", "Date", "Signature"] { th scope="col" { (head) } } } }
            tbody { @for role in roles { tr { th scope="row" { (role) } td {} td {} td {} } } }
        }
    }
}

impl Table {
    fn data(&self) -> Vec<Value> {
        let object = |row: &Vec<Cell>| {
            Value::Object(self.heads.iter().zip(row).map(|(head, cell)| (key(head), cell.data())).collect())
        };
        self.rows.iter().map(object).collect()
    }

    fn drawn(&self, caption: &str) -> Markup {
        html! {
            div.wide role="region" aria-label=(caption) tabindex="0" {
                table {
                    caption { (caption) }
                    thead { tr { @for head in &self.heads { th scope="col" { (sentence(head)) } } } }
                    tbody {
                        @for row in &self.rows {
                            tr {
                                @for (at, cell) in row.iter().enumerate() {
                                    @if at == 0 { th scope="row" { (cell.says()) } } @else { td { (cell.says()) } }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

const LABEL: u64 = 260;
const LENGTH: u64 = 420;
const ROW: u64 = 26;
const BAR: u64 = 16;
/// Each part is filled otherwise and has its number in the table: no colour is needed to tell them apart.
const FILLINGS: [&str; 3] = ["bar filled", "bar hatched", "bar open"];

impl Bars {
    /// Drawn in whole numbers; the exact ones stand in the table.
    fn drawn(&self, id: &str, heading: &str) -> Markup {
        let most = self.rows.iter().map(|(_, parts)| parts.iter().sum::<u64>()).max().unwrap_or(0).max(1);
        let height = ROW * u64::try_from(self.rows.len()).unwrap_or(0) + 4;
        let length = |part: u64| LENGTH * part / most;
        html! {
            div.wide role="region" aria-label={ "Picture: " (heading) } tabindex="0" {
                svg.chart role="img" aria-labelledby={ (id) "-title " (id) "-says" } viewBox={ "0 0 " (LABEL + LENGTH + 60) " " (height) } width=(LABEL + LENGTH + 60) height=(height) xmlns="http://www.w3.org/2000/svg" {
                    title id={ (id) "-title" } { (heading) ", " (self.unit) }
                    desc id={ (id) "-says" } { "The same numbers stand in the table beneath. The longest bar is " (most) "." }
                    defs {
                        pattern id={ (id) "-hatched" } width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)" {
                            rect width="2" height="6" class="ink" {}
                        }
                    }
                    @for (at, (label, parts)) in (0_u64..).zip(&self.rows) {
                        text x="0" y=(ROW * at + BAR) { (label) }
                        @for (kind, part) in parts.iter().enumerate().filter(|(_, part)| **part > 0) {
                            @let before: u64 = parts.iter().take(kind).map(|part| length(*part)).sum();
                            rect x=(LABEL + before) y=(ROW * at + 3) width=(length(*part).max(1)) height=(BAR) class=(FILLINGS[kind]) fill=[(kind == 1).then(|| format!("url(#{id}-hatched)"))] {}
                        }
                        text x=(LABEL + length(parts.iter().sum()) + 8) y=(ROW * at + BAR) { (parts.iter().sum::<u64>()) }
                    }
                }
            }
            p.hint { "Bars, " (self.unit) ": " (self.kinds[0]) " filled, " (self.kinds[1]) " hatched, " (self.kinds[2]) " open." }
        }
    }
}

fn key(head: &str) -> String {
    head.replace([' ', '-'], "_")
}

fn sentence(head: &str) -> String {
    let mut letters = head.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

const STYLE: &str = "
:root { color-scheme: light; font: 13px/1.35 Georgia, serif; color: #1a1a1a; background: #fff; }
body { max-width: 60rem; margin: 1.5rem auto; padding: 0 1rem; }
h1 { font-size: 1.4rem; margin: 0 0 .3rem; }
h2 { font-size: 1.05rem; margin: .9rem 0 .3rem; border-bottom: 1px solid #1a1a1a; break-after: avoid; }
p { margin: .2rem 0; }
table { border-collapse: collapse; width: 100%; }
caption { position: absolute; left: -999rem; }
th, td { text-align: left; vertical-align: top; padding: .15rem .5rem .15rem 0; border-bottom: 1px solid #bbb; font-variant-numeric: tabular-nums; overflow-wrap: anywhere; }
.sign td, .sign th { height: 2rem; }
.sign { margin-top: 1rem; break-inside: avoid; }
.notice { border: 2px solid #1a1a1a; padding: .4rem .7rem; font-weight: bold; }
.chart text { font: 13px Georgia, serif; } .chart .bar { stroke: #1a1a1a; stroke-width: 1.2; }
.chart .ink, .chart .filled { fill: #1a1a1a; } .chart .open { fill: none; }
@page { size: A4; margin: 14mm; }
@media print { body { margin: 0; max-width: none; } tr, svg { break-inside: avoid; } }
";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_small_count_is_hidden_and_cannot_be_subtracted() {
        // Of one column the sum is known: with 3 alone hidden, it could be worked out.
        let cells = hide_small(&[vec![100], vec![3], vec![20], vec![0]], None);
        assert_eq!(cells, [vec![Cell::Count(100)], vec![Cell::Hidden], vec![Cell::Hidden], vec![Cell::Count(0)]]);
        // Two small ones hide each other.
        let cells = hide_small(&[vec![100], vec![3], vec![4]], None);
        assert_eq!(cells[0], [Cell::Count(100)]);
        // In a row, the parts after the total add up to it.
        let cells = hide_small(&[vec![50, 40, 25, 12, 3], vec![90, 80, 30, 30, 20]], Some(1));
        assert_eq!(cells[0][..2], [Cell::Count(50), Cell::Count(40)]);
        assert_eq!(cells[0][3..], [Cell::Hidden, Cell::Hidden]);
        assert_eq!(cells[1][3..], [Cell::Hidden, Cell::Hidden]);
    }

    #[test]
    fn no_renderer_shows_what_is_hidden() {
        let table =
            Table { heads: vec!["drug", "set-ups"], rows: vec![vec![Cell::Text("insulin".into()), Cell::Hidden]] };
        let section = Section { id: "by_drug", heading: "By drug".into(), table, ..Section::default() };
        let report = Report { title: "Use".into(), says: vec![], sections: vec![section] };
        assert_eq!(report.csv(), "section,row,measure,value\nby_drug,insulin,set-ups,hidden\n");
        assert!(report.text().contains("insulin: set-ups: hidden"));
        assert!(report.json()["sections"]["by_drug"]["rows"][0]["set_ups"].is_null());
        assert!(report.page(None, &["Pharmacist"]).contains("<td>hidden</td>"));
    }

    #[test]
    fn a_sheet_for_a_committee_has_few_rows_and_says_how_many_more_there_are() {
        let row = |number: u64| vec![Cell::Text(number.to_string()), Cell::Count(number)];
        let table = Table { heads: vec!["limit", "spoke"], rows: (10..40).map(row).collect() };
        let by_limit = Section { id: "by_limit", table, ..Section::default() };
        let by_hour = Section { id: "by_hour", ..Section::default() };
        let report = Report { sections: vec![by_hour, by_limit], ..Report::default() };
        let brief = report.brief(&["by_limit"], 12);
        assert_eq!((brief.sections.len(), brief.sections[0].table.rows.len()), (1, 12));
        assert_eq!(brief.sections[0].says, ["and 18 more, on the screen and in the data"]);
    }

    #[test]
    fn a_picture_says_in_words_what_it_shows() {
        let bars =
            Bars { unit: "per 100", kinds: ["stops", "reasons", "notes"], rows: vec![("2026-03".into(), [5, 10, 0])] };
        let drawn = bars.drawn("months", "By month").into_string();
        assert_eq!(drawn.matches("class=\"bar ").count(), 2, "{drawn}");
        assert!(
            drawn.contains("aria-labelledby=\"months-title months-says\"") && drawn.contains("url(#months-hatched)")
        );
        assert!(!drawn.contains("style="), "the policy of the pages forbids it");
        assert!(drawn.contains("width=\"140\"") && drawn.contains("width=\"280\""), "{drawn}");
    }
}
