//! The limits of a use in tables, each with the letter of its source.

use std::fmt::Display;

use maud::{Markup, html};

use crate::formulary::{Band, Indication, Origin, SoftHard};

/// Sources by letter, in the order they are met.
#[derive(Default)]
pub(super) struct Sources(Vec<String>);

impl Sources {
    /// The letter of a source.
    pub(super) fn letter(&mut self, origin: &Origin) -> String {
        let at = self.0.iter().position(|known| *known == *origin.source).unwrap_or_else(|| {
            self.0.push(origin.source.to_string());
            self.0.len() - 1
        });
        letters(at)
    }

    pub(super) fn listed(&self) -> &[String] {
        &self.0
    }
}

/// As a list of type `a` counts: a to z, then aa.
fn letters(at: usize) -> String {
    let letter = |at: usize| char::from(b'a' + u8::try_from(at % 26).unwrap_or(0));
    match at / 26 {
        0 => letter(at).to_string(),
        more => format!("{}{}", letter(more - 1), letter(at)),
    }
}

/// `soft to 10 mcg/mL (source a); hard to 20 mcg/mL (source a)`; nothing where there is no limit.
pub(super) fn both<T: Copy + Display>(limits: &SoftHard<T>, sources: &mut Sources) -> Option<String> {
    let parts = [("soft", &limits.soft), ("hard", &limits.hard)].into_iter().filter_map(|(kind, band)| {
        let band = band.as_ref()?;
        Some(format!("{kind} {} (source {})", range(band), sources.letter(&band.origin)))
    });
    let parts: Vec<String> = parts.collect();
    (!parts.is_empty()).then(|| parts.join("; "))
}

/// The doses of every phase, and of a bolus.
pub(super) fn doses(indication: &Indication, sources: &mut Sources) -> Markup {
    html! {
        table {
            caption { "Doses" }
            thead { tr { th scope="col" { "phase" } th scope="col" { "usual" } th scope="col" { "soft" } th scope="col" { "hard" } th scope="col" { "sources" } } }
            tbody {
                @for (phase, limits) in &indication.phases {
                    (row(phase.word(), Some(&limits.usual), &limits.beyond, sources))
                }
                @if let Some(bolus) = &indication.bolus {
                    (row("bolus", bolus.usual.as_ref(), &bolus.beyond, sources))
                    tr {
                        th scope="row" { "bolus given over" }
                        td colspan="3" { (range(&bolus.over)) }
                        td { (sources.letter(&bolus.over.origin)) }
                    }
                }
            }
        }
    }
}

/// Limits on anything else than the dose.
pub(super) fn others(indication: &Indication, sources: &mut Sources) -> Markup {
    let weight = both(&indication.weight, sources);
    let rate = both(&indication.flow, sources);
    let mut single = |band: Option<String>, origin: Option<&Origin>| {
        band.zip(origin).map(|(says, origin)| format!("{says} (source {})", sources.letter(origin)))
    };
    let age = indication.age.as_ref();
    let age = single(age.map(range), age.map(|band| &band.origin));
    let longest = indication.longest.as_ref();
    let longest = single(longest.map(range), longest.map(|band| &band.origin));
    let jump = indication.largest_jump.map(|jump| format!("{} times at once", crate::quantity::exact_or_about(jump)));
    let all = [("weight", weight), ("age", age), ("rate", rate), ("duration", longest), ("change of rate", jump)];
    html! {
        @if all.iter().any(|(_, says)| says.is_some()) {
            dl { @for (name, says) in &all { @if let Some(says) = says { dt { (name) } dd { (says) } } } }
        }
    }
}

fn row<T: Copy + Display>(name: &str, usual: Option<&Band<T>>, beyond: &SoftHard<T>, sources: &mut Sources) -> Markup {
    let bands = [usual, beyond.soft.as_ref(), beyond.hard.as_ref()];
    let mut cited: Vec<String> = Vec::new();
    for letter in bands.iter().flatten().map(|band| sources.letter(&band.origin)) {
        if !cited.contains(&letter) {
            cited.push(letter);
        }
    }
    html! {
        tr {
            th scope="row" { (name) }
            @for band in bands { td { (band.map(range).unwrap_or_default()) } }
            td { (cited.join(", ")) }
        }
    }
}

/// `0.02 to 0.3 mcg/kg/min`, `to 3 mcg/kg/min`, `from 16 years`.
pub(super) fn range<T: Copy + Display>(band: &Band<T>) -> String {
    match (band.from, band.to) {
        (Some(from), Some(to)) => {
            let (from, to) = (from.to_string(), to.to_string());
            let unit =
                |text: &str| text.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.' || c == ' ').to_owned();
            let same = unit(&from) == unit(&to);
            let number = from.strip_suffix(&unit(&from)).map_or(from.as_str(), str::trim_end);
            if from == to {
                to
            } else if same {
                format!("{number} to {to}")
            } else {
                format!("{from} to {to}")
            }
        }
        (Some(from), None) => format!("from {from}"),
        (None, Some(to)) => format!("to {to}"),
        (None, None) => String::new(),
    }
}
