//! The page of one drug.

use maud::{Markup, html};

use super::limits::{self, Sources};
use super::{anchor, scale};
use crate::card::DEMONSTRATION;
use crate::formulary::{Composition, Drug, Formulary, HowMade, Indication, Phase, Stocked};
use crate::pharmacy::table;
use crate::quantity::Ratio;

pub(super) fn page(formulary: &Formulary, drug: &Drug) -> Markup {
    let mut sources = Sources::default();
    let body = html! {
        (about(drug, &mut sources))
        (strengths(drug, &mut sources))
        @for indication in &drug.indications { (used_for(formulary, drug, indication, &mut sources)) }
    };
    html! {
        article id=(anchor(&drug.name)) {
            @if formulary.policy().demonstration { p.banner { (DEMONSTRATION) } }
            h2 { (drug.name) }
            (body)
            h3 { "Sources" }
            ol.sources type="a" { @for source in sources.listed() { li { (source) } } }
        }
    }
}

fn about(drug: &Drug, sources: &mut Sources) -> Markup {
    html! {
        p {
            @if drug.high_alert { span.alert { "HIGH ALERT" } " " }
            @if drug.vasoactive { span.alert { "VASOACTIVE: alone in its lumen" } " " }
            @if drug.controlled { span.alert { "CONTROLLED: discarding needs a witness" } }
        }
        dl {
            @if !drug.other_names.is_empty() { dt { "also" } dd { (drug.other_names.join(", ")) } }
            @if !drug.looks_like.is_empty() { dt { "looks like" } dd { b { (drug.looks_like.join(", ")) } } }
            @if !drug.codes.is_empty() { dt { "codes in orders" } dd { (drug.codes.join(", ")) } }
            dt { "class" } dd { (drug.class) }
            @if let Some(counted) = &drug.amounts_as { dt { "amounts count" } dd { (counted) } }
            dt { "discard" } dd { (drug.life) " after drawing up (source " (sources.letter(&drug.life_origin)) ")" }
            dt { "review by" } dd { (drug.review.by) }
            @for one in &drug.equivalents {
                dt { "equivalent" } dd { (one) " (source " (sources.letter(&one.origin)) ")" }
            }
            @if let Some(says) = limits::both(&drug.peripheral_maximum, sources) {
                dt { "peripheral vein" } dd { (says) }
            }
        }
    }
}

fn strengths(drug: &Drug, sources: &mut Sources) -> Markup {
    html! {
        table {
            caption { "Strengths" }
            thead { tr { th scope="col" { "key" } th scope="col" { "holds" } th scope="col" { "strength" } th scope="col" { "how it is made" } th scope="col" { "source" } } }
            tbody {
                @for stocked in &drug.strengths {
                    tr {
                        th scope="row" { (stocked.key) }
                        td { (stocked) }
                        td { (per_ml(stocked)) }
                        td { (recipe(stocked)) }
                        td { (sources.letter(&stocked.origin)) }
                    }
                }
            }
        }
    }
}

fn per_ml(stocked: &Stocked) -> String {
    match stocked.composition {
        Composition::Fixed { content, .. } => content.readable(stocked.amount_unit()),
        Composition::PerKilogram { .. } => "another for each weight".to_owned(),
    }
}

fn recipe(stocked: &Stocked) -> String {
    let Some(recipe) = &stocked.recipe else { return "no recipe is written".to_owned() };
    let diluent = recipe.diluent.as_deref().unwrap_or_default();
    let volume = match stocked.composition {
        Composition::Fixed { volume, .. } | Composition::PerKilogram { volume, .. } => volume,
    };
    let how = match recipe.how {
        HowMade::MadeUpTo => format!("made up to {volume} with {diluent}"),
        HowMade::AddedTo => format!("added to {diluent}"),
        HowMade::Undiluted => "undiluted".to_owned(),
    };
    let ampoules = if recipe.ampoules.ratio() == Ratio::ONE { "ampoule" } else { "ampoules" };
    format!("{} {ampoules} of {}, {how}", recipe.ampoules, recipe.of)
}

fn used_for(formulary: &Formulary, drug: &Drug, indication: &Indication, sources: &mut Sources) -> Markup {
    let keys: Vec<&str> =
        indication.strengths.iter().filter_map(|at| drug.strengths.get(*at)).map(|one| one.key.as_str()).collect();
    html! {
        section {
            h3 { (drug.name) " in " (indication.area) ": " (indication.name) }
            p {
                "Ordered in " b { (indication.dose_unit) }
                @if let Some(counted) = indication.dosing_weights.first() { ", by " (counted) " body weight" }
                @if indication.titrated_to_effect { ", titrated to effect" }
                ". Strengths: " (keys.join(", "))
                @if indication.listed_only { "; any other is stopped" }
                "."
            }
            (limits::doses(indication, sources))
            @for (phase, of_phase) in &indication.phases {
                figure { (scale::drawing(&format!("{}, {phase}", drug.name), indication.dose_unit, of_phase)) }
            }
            (limits::others(indication, sources))
            (rates(formulary, drug, indication, &keys))
        }
    }
}

/// A table for each strength of the use: the running dose, common weights, the area's own driver.
fn rates(formulary: &Formulary, drug: &Drug, indication: &Indication, keys: &[&str]) -> Markup {
    let phase = indication.limits(Phase::Maintenance).map(|_| Phase::Maintenance);
    let phase = phase.or_else(|| indication.phases.first().map(|(phase, _)| *phase));
    let of = |key: &str| {
        let asked = table::TableRequest {
            drug: &drug.name,
            area: &indication.area,
            indication: Some(&indication.name),
            phase,
            strength: Some(key),
            ..table::TableRequest::default()
        };
        table::table(formulary, &asked)
    };
    html! {
        @for key in keys {
            div.strength {
                h4 { (drug.name) ": rates of strength `" (key) "`" }
                @match of(key) {
                    Ok(found) => {
                        p { (found.head.iter().filter(|(name, _)| ["strength", "driver", "for"].contains(name)).map(|(_, value)| value.as_str()).collect::<Vec<_>>().join("; ")) }
                        (table::markup(&found))
                    }
                    Err(no_table) => p { "No table: " (no_table.message) "." },
                }
            }
        }
    }
}
