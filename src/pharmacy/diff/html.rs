//! The changes as a page that prints well: plain HTML, no script, nothing fetched.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::{Change, Risk, counted};

const STYLE: &str = "
:root { color-scheme: light; font: 16px/1.45 Georgia, serif; color: #1a1a1a; background: #fff; }
body { max-width: 60rem; margin: 2rem auto; padding: 0 1rem; }
h1 { font-size: 1.6rem; margin-bottom: .2rem; }
h2 { font-size: 1.15rem; margin-top: 2rem; border-bottom: 2px solid #1a1a1a; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; vertical-align: top; padding: .35rem .6rem .35rem 0; border-bottom: 1px solid #bbb; }
td.value { font-variant-numeric: tabular-nums; white-space: nowrap; }
td.file { font-size: .85rem; color: #444; }
.notice { border: 2px solid #1a1a1a; padding: .5rem .8rem; font-weight: bold; }
@media print { body { margin: 0; max-width: none; } h2 { break-after: avoid; } tr { break-inside: avoid; } }
";

/// The page.
#[must_use]
pub fn page(old: &str, new: &str, changes: &[Change], notice: Option<&str>) -> String {
    let body: Markup = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { "Changes of the formulary" }
                style { (PreEscaped(STYLE)) }
            }
            body {
                main {
                    @if let Some(notice) = notice { p.notice { (notice) } }
                    h1 { "Changes of the formulary" }
                    p { "From " (old) " to " (new) ": " (counted(changes.len())) ", the most dangerous first." }
                    @for risk in Risk::ALL {
                        @let of_risk: Vec<&Change> = changes.iter().filter(|change| change.risk == risk).collect();
                        @if !of_risk.is_empty() {
                            h2 { (risk.says()) " (" (of_risk.len()) ")" }
                            table {
                                thead { tr { th scope="col" { "Where" } th scope="col" { "What" } th scope="col" { "Was" } th scope="col" { "Is" } th scope="col" { "File" } } }
                                tbody {
                                    @for change in of_risk {
                                        tr {
                                            td { (change.place) }
                                            td { (change.what) }
                                            td.value { (change.old.as_deref().unwrap_or("nothing")) }
                                            td.value { (change.new.as_deref().unwrap_or("nothing")) }
                                            td.file { (change.file) }
                                        }
                                    }
                                }
                            }
                        }
                    }
                    p { "Not a medical device. A pharmacist answers for every number; verify against the sources." }
                }
            }
        }
    };
    body.into_string()
}
