//! The label of a syringe: what, how much in how much, with what, by whom and when, until when, and its class. The colour
//! of a class (ISO 26825) is never the only sign of it: the class is written out, and so is the name of the colour.

use std::fmt::Write as _;

use maud::{DOCTYPE, PreEscaped, html};
use serde_json::{Value, json};

use crate::entry::Identifiers;
use crate::formulary::{Composition, Drug, Formulary, Stocked};
use crate::infusion::preparation::Prepared;
use crate::quantity::{BodyMass, Moment, Quantity, TooLarge};

use super::DEMONSTRATION;

/// A label, every text as it is printed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Label {
    notice: Option<&'static str>,
    drug: String,
    counts: Option<String>,
    amount: String,
    volume: String,
    strength: String,
    diluent: Option<String>,
    by: String,
    at: String,
    discard_after: String,
    class: String,
    look_alikes: Vec<String>,
    high_alert: bool,
    colour: Option<&'static Colour>,
    /// Whose syringe it is; empty for one that any patient may be given.
    identifiers: Vec<String>,
    /// The weight that it is made for.
    weight: Option<String>,
}

/// What is known of a syringe beside what it is made of.
#[derive(Debug, Clone, Copy)]
pub struct LabelRequest<'a> {
    /// With what it is diluted.
    pub diluent: Option<&'a str>,
    /// Who makes it up.
    pub by: &'a str,
    /// Whose it is.
    pub identifiers: &'a [String],
    /// The patient's weight.
    pub weight: Option<Quantity<BodyMass>>,
}

/// Why a label is not made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NotLabelled {
    /// Its figures cannot be shown.
    #[error(transparent)]
    TooLarge(#[from] TooLarge),
    /// A syringe for one patient that does not say for whom.
    #[error("this strength is made for one patient's weight: the label needs {needed} identifiers that differ")]
    TooFewIdentifiers {
        /// How many the house asks for.
        needed: usize,
    },
}

/// The colour of a class of drugs.
#[derive(Debug, PartialEq, Eq)]
struct Colour {
    class: &'static str,
    name: &'static str,
    /// For a screen; a printer's colour is held against the standard itself.
    screen: &'static str,
    /// Antagonists have white stripes across.
    striped: bool,
}

/// ISO 26825: classes and colours from memory; the standard was not seen. The values for a screen are our own.
const COLOURS: [Colour; 13] = [
    Colour { class: "induction agent", name: "yellow", screen: "#ffe14d", striped: false },
    Colour { class: "hypnotic", name: "orange", screen: "#ff9d3b", striped: false },
    Colour { class: "hypnotic antagonist", name: "orange and white", screen: "#ff9d3b", striped: true },
    Colour { class: "muscle relaxant", name: "red", screen: "#ff6a5e", striped: false },
    Colour { class: "relaxant antagonist", name: "red and white", screen: "#ff6a5e", striped: true },
    Colour { class: "opioid", name: "blue", screen: "#7cc4ea", striped: false },
    Colour { class: "opioid antagonist", name: "blue and white", screen: "#7cc4ea", striped: true },
    Colour { class: "tranquilliser", name: "salmon", screen: "#f6b8a0", striped: false },
    Colour { class: "vasopressor", name: "violet", screen: "#cdb4e0", striped: false },
    Colour { class: "hypotensive agent", name: "violet and white", screen: "#cdb4e0", striped: true },
    Colour { class: "local anaesthetic", name: "grey", screen: "#bdbdbd", striped: false },
    Colour { class: "anticholinergic", name: "green", screen: "#a5d68a", striped: false },
    Colour { class: "miscellaneous", name: "white", screen: "#ffffff", striped: false },
];

/// Every class that has a colour.
pub(crate) fn classes() -> impl Iterator<Item = &'static str> {
    COLOURS.iter().map(|colour| colour.class)
}

impl Label {
    /// The label of a syringe that is made up now.
    ///
    /// # Errors
    /// [`NotLabelled`], when its figures cannot be shown, or it is made for a patient who is not named.
    pub fn of(
        formulary: &Formulary,
        (drug, stocked): (&Drug, &Stocked),
        made: &Prepared,
        request: &LabelRequest<'_>,
        now: Moment,
    ) -> Result<Self, NotLabelled> {
        let tidy = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
        let identifiers: Vec<String> = request.identifiers.iter().map(|text| tidy(text)).collect();
        let needed = formulary.policy().identifiers_needed;
        let for_weight = matches!(stocked.composition, Composition::PerKilogram { .. });
        // It must not go to the next patient, whose weight it is not made for.
        if for_weight && Identifiers::folded(&identifiers).len() < needed {
            return Err(NotLabelled::TooFewIdentifiers { needed });
        }
        let [amount, volume, strength] = made.label()?.map(|figure| super::build::microgram(drug, figure));
        Ok(Self {
            notice: formulary.policy().demonstration.then_some(DEMONSTRATION),
            drug: drug.name.clone(),
            counts: drug.amounts_as.clone(),
            amount,
            volume,
            strength,
            diluent: request.diluent.map(str::to_owned),
            by: tidy(request.by),
            at: now.to_string(),
            discard_after: now.after(drug.life.value()).ok_or(TooLarge)?.to_string(),
            class: drug.class.clone(),
            look_alikes: drug.looks_like.clone(),
            high_alert: drug.high_alert,
            colour: COLOURS.iter().find(|colour| colour.class == drug.class),
            identifiers,
            weight: request.weight.filter(|_| for_weight).map(|weight| weight.to_string()),
        })
    }

    /// For a terminal, or to be copied by hand.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = String::new();
        for (name, value) in self.rows() {
            let _ = writeln!(text, "{name:<16}{value}");
        }
        let _ = writeln!(text, "\n{CAUTION}");
        text
    }

    /// As data.
    #[must_use]
    pub fn json(&self) -> Value {
        json!({
            "version": 1,
            "notice": self.notice,
            "drug": self.drug,
            "amounts_count": self.counts,
            "amount": self.amount,
            "volume": self.volume,
            "strength": self.strength,
            "diluent": self.diluent,
            "made_by": self.by,
            "made_at": self.at,
            "discard_after": self.discard_after,
            "class": self.class,
            "colour": self.colour.map(|colour| colour.name),
            "not_to_be_taken_for": self.look_alikes,
            "high_alert": self.high_alert,
            "identifiers": self.identifiers,
            "weight": self.weight,
        })
    }

    /// One label of 80 by 50 mm, to be printed as it is.
    #[must_use]
    pub fn html(&self) -> String {
        let (fill, striped) = self.colour.map_or(("#ffffff", false), |colour| (colour.screen, colour.striped));
        let style = format!("{STYLE} .class {{ background: {}; }}", background(fill, striped));
        let page = html! {
            (DOCTYPE)
            html lang="en" {
                head {
                    meta charset="utf-8";
                    meta name="viewport" content="width=device-width, initial-scale=1";
                    title { "Label: " (self.drug) ", " (self.strength) }
                    style { (PreEscaped(style)) }
                }
                body {
                    main {
                        @if let Some(notice) = self.notice { p.notice { (notice) } }
                        h1 { (self.drug) }
                        @if let Some(counts) = &self.counts { p.small { "as " (counts) } }
                        p.figures { b { (self.amount) } " in " b { (self.volume) } }
                        p.strength { (self.strength) }
                        @if let Some(whose) = self.whose() { p.whose { (whose) } }
                        @if let Some(diluent) = &self.diluent { p { "in " (diluent) } } @else { p { "undiluted" } }
                        p { "made by " (self.by) ", " (self.at) }
                        p { b { "discard after " (self.discard_after) } }
                        @if !self.look_alikes.is_empty() { p.small { "not " (self.look_alikes.join(", not ")) } }
                        p.class { span { (self.class_in_words()) } }
                    }
                    footer { p { (CAUTION) } }
                }
            }
        };
        page.into_string()
    }

    /// For whom alone it is, in words.
    fn whose(&self) -> Option<String> {
        let weight = self.weight.iter().map(|weight| format!("made for {weight}"));
        let all: Vec<String> = self.identifiers.iter().cloned().chain(weight).collect();
        (!all.is_empty()).then(|| format!("only for {}", all.join(" | ")))
    }

    fn class_in_words(&self) -> String {
        let alert = if self.high_alert { ", HIGH ALERT" } else { "" };
        match self.colour {
            Some(colour) => format!("{} ({}){alert}", self.class, colour.name),
            None => format!("{}{alert}", self.class),
        }
    }

    fn rows(&self) -> Vec<(&'static str, String)> {
        let mut rows = Vec::new();
        rows.extend(self.notice.map(|notice| ("", notice.to_owned())));
        rows.push(("Drug", self.drug.clone()));
        rows.extend(self.counts.clone().map(|counts| ("Amounts count", counts)));
        rows.push(("Amount", self.amount.clone()));
        rows.push(("In volume", self.volume.clone()));
        rows.push(("Strength", self.strength.clone()));
        if !self.identifiers.is_empty() {
            rows.push(("Only for", self.identifiers.join(" | ")));
        }
        rows.extend(self.weight.clone().map(|weight| ("Made for weight", weight)));
        rows.push(("Diluent", self.diluent.clone().unwrap_or_else(|| "none: undiluted".to_owned())));
        rows.push(("Made by", self.by.clone()));
        rows.push(("Made at", self.at.clone()));
        rows.push(("Discard after", self.discard_after.clone()));
        rows.push(("Class", self.class_in_words()));
        if !self.look_alikes.is_empty() {
            rows.push(("Not", self.look_alikes.join(", ")));
        }
        rows
    }
}

const CAUTION: &str = "Print it after the syringe is made up; read it against ampoules and syringe before it is stuck on. Label colours: hold them against the standard that is in force here.";

fn background(fill: &str, striped: bool) -> String {
    if striped { format!("repeating-linear-gradient(135deg, {fill} 0 4mm, #fff 4mm 8mm)") } else { fill.to_owned() }
}

const STYLE: &str = "
@page { size: 80mm 50mm; margin: 0; }
:root { font: 3.1mm/1.25 'Liberation Sans', Arial, Helvetica, sans-serif; color: #000; background: #fff; }
* { box-sizing: border-box; }
body { margin: 0; }
main { width: 80mm; height: 50mm; padding: 1.6mm 3mm 0; overflow: hidden; border: .2mm solid #000; position: relative; }
h1 { font-size: 6mm; line-height: 1.1; margin: 0; overflow-wrap: anywhere; }
p { margin: 0; }
.notice { font-size: 2.6mm; font-weight: bold; }
.figures { font-size: 4mm; }
.strength { font-size: 6mm; line-height: 1.15; font-weight: bold; }
.whose { font-size: 3.4mm; font-weight: bold; }
.small { font-size: 2.7mm; }
.class { position: absolute; left: 0; right: 0; bottom: 0; padding: 1mm 3mm; border-top: .3mm solid #000; -webkit-print-color-adjust: exact; print-color-adjust: exact; }
.class span { background: #fff; padding: 0 1mm; font-weight: bold; }
footer { padding: 3mm; max-width: 80mm; }
@media print { footer { display: none; } main { border: 0; } }
";
