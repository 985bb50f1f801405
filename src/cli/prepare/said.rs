//! The words of a preparation: what to open, what to draw up, what the label says, what is thrown away, how sure it is.

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::card::{DEMONSTRATION, wrapped};
use crate::cli::Exit;
use crate::cli::answer::Answer;
use crate::cli::drawing::LabelFormat;
use crate::cli::input::Refused;
use crate::cli::report::NOT_DOUBLE_CHECKED;
use crate::delivery::si::{self, volume::millilitre};
use crate::delivery::tolerance::{Measured, Together, percent_upwards, preparation};
use crate::diagnostic::Fault;
use crate::formulary::{Drug, Formulary, HowMade, Stocked};
use crate::infusion::preparation::{NotMade, Prepared};
use crate::quantity::{Product, Quantity, Ratio, TooLarge, Volume, exact_or_about, plain};

/// A preparation with what is known beside it.
pub(super) struct Made<'a> {
    pub(super) prepared: Prepared,
    pub(super) diluent: Option<&'a str>,
    pub(super) stock: Option<Stock<'a>>,
    pub(super) sizes: Sizes,
}

/// Of which formulary it is.
pub(super) struct Stock<'a> {
    pub(super) formulary: &'a Formulary,
    pub(super) drug: &'a Drug,
    pub(super) stocked: &'a Stocked,
}

/// The syringes with which it is measured, where they are named.
pub(super) struct Sizes {
    pub(super) drawn: Option<Quantity<Volume>>,
    pub(super) whole: Option<Quantity<Volume>>,
}

/// Nominal sizes of syringes in mL, smallest first (common practice, no source).
const COMMON: [u64; 6] = [1, 2, 5, 10, 20, 50];

/// Less cannot be drawn up accurately, in mL; a formulary says it in its house rules (common practice, no source).
const SMALLEST: (u64, u64) = (2, 10);

impl Made<'_> {
    pub(super) fn answer(&self, format: LabelFormat) -> Result<Answer, Refused> {
        let too_large = |error: TooLarge| refused(&NotMade::from(error));
        Ok(match format {
            LabelFormat::Json => Answer::json(&self.json().map_err(too_large)?, Exit::Proceed),
            _ => Answer::text(self.text().map_err(too_large)?, Exit::Proceed),
        })
    }

    fn text(&self) -> Result<String, TooLarge> {
        let made = &self.prepared;
        let ml = |value: Ratio| format!("{} mL", exact_or_about(value));
        let mut rows = Vec::new();
        if let Some(stock) = &self.stock {
            rows.push(("Drug", format!("{}, {} ({})", stock.drug.name, stock.stocked, stock.stocked.key)));
        }
        let ampoules =
            |count: Ratio| format!("{} ampoule{}", exact_or_about(count), if count == Ratio::ONE { "" } else { "s" });
        let of = format!("{} of {} in {}", ampoules(made.opened), made.ampoule.amount, made.ampoule.volume);
        rows.push(("Open", of));
        rows.push(("Draw up", format!("{} of drug ({})", ml(made.drawn), ampoules(made.used))));
        let name = self.diluent.unwrap_or("diluent");
        match made.how {
            HowMade::MadeUpTo => {
                rows.push(("Make up to", format!("{} with {name}: {} of it", ml(made.volume), ml(made.diluent))))
            }
            HowMade::AddedTo => {
                rows.push(("Add to", format!("{} of {name}: {} in all", ml(made.diluent), ml(made.volume))))
            }
            HowMade::Undiluted => rows.push(("Dilute", "not at all".to_owned())),
        }
        rows.push(("Label", self.figures()?.join(" | ")));
        let left = if made.left_over.is_zero() {
            "nothing is left in the ampoules".to_owned()
        } else {
            let amount = Product::ONE.ratio(made.left_over).ratio(made.ampoule.amount.value());
            let amount = amount.over_ratio(made.ampoule.volume.value()).over_unit(made.unit()).finish()?;
            let shown = made.unit().shown();
            format!(
                "{} left in the last ampoule ({} {shown}){}",
                ml(made.left_over),
                exact_or_about(amount),
                self.witness()
            )
        };
        rows.push(("Discard", left));
        rows.push(("Measured in", self.measured_in()));
        let mut text = String::new();
        if self.demonstration() {
            let _ = writeln!(text, "{DEMONSTRATION}\n");
        }
        for (name, value) in rows {
            wrapped(&mut text, &format!("{name:<14}"), &value);
        }
        text.push('\n');
        for note in self.notes()? {
            wrapped(&mut text, "- ", &note);
        }
        let _ = writeln!(
            text,
            "\nMix after diluting. A second person reads ampoules, volumes and label from the things themselves.\n{NOT_DOUBLE_CHECKED}"
        );
        Ok(text)
    }

    fn json(&self) -> Result<Value, TooLarge> {
        let made = &self.prepared;
        let ml = |value: Ratio| json!({"value": plain(value), "unit": "mL"});
        let [amount, volume, strength] = self.figures()?;
        let tolerance = self.tolerance().map(|together| {
            json!({
                "basis": "tolerances of syringes only, ISO 7886-1:1993, from memory",
                "worst_below": percent_upwards(together.worst_below),
                "worst_above": percent_upwards(together.worst_above),
                "k2": percent_upwards(together.twice_standard),
            })
        });
        Ok(json!({
            "version": 1,
            "notice": self.demonstration().then_some(DEMONSTRATION),
            "drug": self.stock.as_ref().map(|stock| &stock.drug.name),
            "strength": self.stock.as_ref().map(|stock| &stock.stocked.key),
            "ampoule": {"amount": made.ampoule.amount.to_string(), "volume": made.ampoule.volume.to_string()},
            "opened": plain(made.opened),
            "used": plain(made.used),
            "draw_up": ml(made.drawn),
            "how": made.how.word(),
            "diluent": {"name": self.diluent, "volume": ml(made.diluent)},
            "label": {"amount": amount, "volume": volume, "strength": strength},
            "left_over": ml(made.left_over),
            "measured_in": self.syringes().map(|(drawn, other)| json!({"drug": ml(drawn), "rest": ml(other)})),
            "tolerance": tolerance,
            "notes": self.notes()?,
        }))
    }

    /// Amount, volume and strength, as the label says them.
    fn figures(&self) -> Result<[String; 3], TooLarge> {
        self.prepared.label()
    }

    /// What is easily mistaken, and what cannot be measured.
    fn notes(&self) -> Result<Vec<String>, TooLarge> {
        let made = &self.prepared;
        let mut notes = Vec::new();
        if let Some(other) = made.taken_otherwise() {
            let meant = match made.how {
                HowMade::MadeUpTo => made.volume,
                _ => made.diluent,
            };
            let [_, _, strength] = other.label()?;
            notes.push(format!(
                "{} is not {}: that would be {} mL of {strength}.",
                capital(&in_words(made.how, meant)),
                in_words(other.how, meant),
                exact_or_about(other.volume)
            ));
        }
        let smallest = self.smallest()?;
        if made.drawn < smallest {
            let little = format!(
                "{} mL is too little to be measured (less than {} mL).",
                exact_or_about(made.drawn),
                exact_or_about(smallest)
            );
            notes.push(match made.in_two_steps(smallest) {
                Some((first, drawn)) => format!(
                    "{little} In two steps: make one ampoule up to {} mL, mix, and draw up {} mL of that instead.",
                    exact_or_about(first),
                    exact_or_about(drawn)
                ),
                None => format!("{little} Not to be made so: ask the pharmacist for a weaker solution to begin with."),
            });
        }
        // More than the whole cannot be missing: with this syringe it is not measured at all.
        if let Some(together) = self.tolerance().filter(|together| together.worst_below.abs() < 1.0) {
            let mostly = if together.twice_standard < together.worst_below.abs() {
                format!(", mostly within {} (k = 2)", percent_upwards(together.twice_standard))
            } else {
                String::new()
            };
            notes.push(format!(
                "By the tolerances of the syringes alone the strength may be from {} below to {} above what the label says{mostly}. On wards it is further off. (ISO 7886-1:1993, Table 1, from memory.)",
                percent_upwards(together.worst_below),
                percent_upwards(together.worst_above)
            ));
        }
        Ok(notes)
    }

    fn measured_in(&self) -> String {
        let ml = |size: Ratio| format!("a syringe of {} mL", exact_or_about(size));
        let Some((drawn, other)) = self.syringes() else {
            return match self.prepared.how {
                HowMade::Undiluted => "nothing is mixed".to_owned(),
                _ => "no syringe that is named or common holds it: its accuracy is not known".to_owned(),
            };
        };
        let rest = if self.prepared.how == HowMade::AddedTo { "the diluent" } else { "the whole" };
        let assumed = if self.sizes.drawn.is_some() && self.sizes.whole.is_some() {
            ""
        } else {
            " (assumed; say otherwise with --draw-with, --whole-in)"
        };
        format!("the drug: {}; {rest}: {}{assumed}", ml(drawn), ml(other))
    }

    /// The syringe for the drug and the one for the rest, where there are such.
    fn syringes(&self) -> Option<(Ratio, Ratio)> {
        let made = &self.prepared;
        let other = match made.how {
            HowMade::MadeUpTo => made.volume,
            HowMade::AddedTo => made.diluent,
            HowMade::Undiluted => return None,
        };
        let holds = |named: Option<Quantity<Volume>>, volume: Ratio| {
            let common = || COMMON.into_iter().map(Ratio::whole).find(|size| *size >= volume);
            named.map(Quantity::value).or_else(common).filter(|size| *size >= volume)
        };
        Some((holds(self.sizes.drawn, made.drawn)?, holds(self.sizes.whole, other)?))
    }

    fn tolerance(&self) -> Option<Together> {
        let (drawn_in, other_in) = self.syringes()?;
        let made = &self.prepared;
        let measured = |volume: Ratio, within: Ratio| Measured { volume: litres(volume), within: litres(within) };
        let other = if made.how == HowMade::MadeUpTo { made.volume } else { made.diluent };
        preparation(made.how, measured(made.drawn, drawn_in), measured(other, other_in))
    }

    fn smallest(&self) -> Result<Ratio, TooLarge> {
        match &self.stock {
            Some(stock) => Ok(stock.formulary.policy().smallest_drawn_up.value()),
            None => Ratio::new(u128::from(SMALLEST.0), u128::from(SMALLEST.1)),
        }
    }

    fn demonstration(&self) -> bool {
        self.stock.as_ref().is_some_and(|stock| stock.formulary.policy().demonstration)
    }

    fn witness(&self) -> &'static str {
        match &self.stock {
            Some(stock) if stock.drug.controlled => "; a controlled drug: a witness",
            _ => "",
        }
    }
}

fn litres(ml: Ratio) -> si::Volume {
    si::Volume::new::<millilitre>(ml.approximate())
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map(|first| first.to_uppercase().collect::<String>() + letters.as_str()).unwrap_or_default()
}

pub(super) fn refused(not_made: &NotMade) -> Refused {
    Refused::one("prepare", Fault::new(not_made.code(), not_made.to_string()).help(not_made.help()))
}

/// In the words of a recipe.
pub(super) fn in_words(how: HowMade, volume: Ratio) -> String {
    let volume = crate::quantity::exact_or_about(volume);
    match how {
        HowMade::MadeUpTo => format!("made up to {volume} mL"),
        HowMade::AddedTo => format!("added to {volume} mL"),
        HowMade::Undiluted => "undiluted".to_owned(),
    }
}
