//! The doses of an area at a glance: every use in one table of a page or two, without sources and strengths' recipes.

use maud::{Markup, html};

use super::limits::range;
use crate::formulary::{Drug, Indication};

/// The page of an area; nothing where no drug is used in it.
pub(super) fn page(area: &str, drugs: &[&Drug]) -> Markup {
    let uses: Vec<(&Drug, &Indication)> = drugs
        .iter()
        .flat_map(|drug| drug.indications.iter().filter(|one| one.area == area).map(|one| (*drug, one)))
        .collect();
    html! {
        @if !uses.is_empty() {
            article.glance {
                h2 { "Doses at a glance: " (area) }
                table {
                    caption { "Every use in " (area) }
                    thead { tr { @for head in ["drug", "use", "strengths", "phase", "usual", "soft", "hard"] { th scope="col" { (head) } } } }
                    tbody {
                        @for (drug, indication) in uses {
                            @let strengths: Vec<String> = indication.strengths.iter().map(|at| drug.strengths[*at].to_string()).collect();
                            @let bolus = indication.bolus.as_ref();
                            @let rows = indication.phases.len() + usize::from(bolus.is_some());
                            @for (at, (phase, limits)) in indication.phases.iter().enumerate() {
                                tr {
                                    @if at == 0 {
                                        th scope="rowgroup" rowspan=(rows) { (drug.name) @if drug.high_alert { " (high alert)" } }
                                        td rowspan=(rows) { (indication.name) }
                                        td rowspan=(rows) { (strengths.join("; ")) }
                                    }
                                    td { (phase) }
                                    td { (range(&limits.usual)) }
                                    td { (limits.beyond.soft.as_ref().map(range).unwrap_or_default()) }
                                    td { (limits.beyond.hard.as_ref().map(range).unwrap_or_default()) }
                                }
                            }
                            @if let Some(bolus) = bolus {
                                tr {
                                    td { "bolus, over " (range(&bolus.over)) }
                                    td { (bolus.usual.as_ref().map(range).unwrap_or_default()) }
                                    td { (bolus.beyond.soft.as_ref().map(range).unwrap_or_default()) }
                                    td { (bolus.beyond.hard.as_ref().map(range).unwrap_or_default()) }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}
