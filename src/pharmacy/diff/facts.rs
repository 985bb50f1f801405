//! A formulary taken apart into everything that somebody answers for.

use std::fmt::Display;

use crate::formulary::{
    Area, Band, BolusLimits, Drug, Equipment, Faulty, Formulary, Indication, Origin, Policy, Recipe, Side, SoftHard,
};
use crate::quantity::Ratio;

use super::meaning::{self, Meaning};
use super::{Fact, FactKind};

/// Every fact of a formulary.
///
/// # Errors
/// [`Faulty`] when a drug cannot be read.
pub(super) fn of(formulary: &Formulary) -> Result<Vec<Fact>, Faulty> {
    let mut facts = Facts(Vec::new());
    for drug in formulary.load_all()? {
        facts.drug(drug);
    }
    formulary.areas().iter().for_each(|area| facts.area(area));
    facts.equipment(formulary.equipment());
    facts.policy(formulary.policy());
    Ok(facts.0)
}

struct Facts(Vec<Fact>);

impl Facts {
    fn add(&mut self, place: &str, what: &str, shown: impl Display, kind: FactKind, file: impl Display) {
        let fact = Fact {
            place: place.to_owned(),
            what: what.to_owned(),
            shown: shown.to_string(),
            meaning: None,
            kind,
            file: file.to_string(),
        };
        self.0.push(fact);
    }

    /// The same for what may be written in more ways than one.
    fn meant(
        &mut self,
        place: &str,
        what: &str,
        shown: impl Display,
        meaning: String,
        kind: FactKind,
        file: impl Display,
    ) {
        self.add(place, what, shown, kind, file);
        if let Some(fact) = self.0.last_mut() {
            fact.meaning = Some(meaning);
        }
    }

    /// A number that is no limit.
    fn measure(&mut self, place: &str, what: &str, value: impl Meaning + Display, file: &str) {
        self.meant(place, what, value, value.meaning(), FactKind::Other, file);
    }

    /// A number that stops on one side.
    fn limit(&mut self, place: &str, what: &str, value: impl Meaning + Display, side: Side, file: &str) {
        self.meant(place, what, value, value.meaning(), FactKind::Limit(side, value.size()), file);
    }

    fn other(&mut self, place: &str, what: &str, shown: impl Display, file: &str) {
        self.add(place, what, shown, FactKind::Other, file);
    }

    fn list(&mut self, place: &str, what: &str, list: &[impl Display], file: &str) {
        if !list.is_empty() {
            self.other(place, what, list.iter().map(ToString::to_string).collect::<Vec<_>>().join(", "), file);
        }
    }

    /// Both sides of an interval, and what it rests on.
    fn band<T: Meaning + Display>(&mut self, place: &str, what: &str, band: &Band<T>) {
        let origin = &band.origin;
        let file = file_of(origin);
        if let Some(limit) = band.from {
            self.limit(place, &format!("{what} lower limit"), limit, Side::Below, &file);
        }
        if let Some(limit) = band.to {
            self.limit(place, &format!("{what} upper limit"), limit, Side::Above, &file);
        }
        self.add(place, &format!("{what} source"), &origin.source, FactKind::Source, &file);
    }

    fn soft_hard<T: Meaning + Display>(&mut self, place: &str, what: &str, limits: &SoftHard<T>) {
        for (kind, band) in [("soft", &limits.soft), ("hard", &limits.hard)] {
            if let Some(band) = band {
                self.band(place, &format!("{kind}{what}"), band);
            }
        }
    }

    fn drug(&mut self, drug: &Drug) {
        let (place, file) = (drug.name.as_str(), drug.file.as_str());
        self.add(place, "drug", &drug.name, FactKind::Existence, file);
        self.list(place, "other names", &drug.other_names, file);
        self.list(place, "looks like", &drug.looks_like, file);
        self.other(place, "class", &drug.class, file);
        self.other(place, "high alert", yes_or_no(drug.high_alert), file);
        self.other(place, "controlled", yes_or_no(drug.controlled), file);
        self.other(place, "micrograms written as", drug.microgram, file);
        if let Some(in_the_line) = drug.in_the_line {
            self.other(place, "in the line", in_the_line, file);
        }
        if let Some(amounts_as) = &drug.amounts_as {
            self.add(place, "amounts count", amounts_as, FactKind::Strength, file);
        }
        if !drug.equivalents.is_empty() {
            let shown = drug.equivalents.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
            let meaning = drug.equivalents.iter().map(meaning::of_equivalent).collect();
            self.meant(place, "equivalents", shown, meaning, FactKind::Strength, file);
        }
        for accepted in &drug.accepted {
            self.other(place, &format!("accepted remark `{}`", accepted.code), &accepted.reason, file);
        }
        for one in &drug.exceptions {
            let answered = format!("{}: {}: {}", one.value, one.by, one.why);
            self.other(place, &format!("exception to `{}` at {}", one.code, one.at), &answered, file);
        }
        self.limit(place, "life after drawing up", drug.life, Side::Above, &file_of(&drug.life_origin));
        self.other(place, "source of the life after drawing up", &drug.life_origin.source, &file_of(&drug.life_origin));
        self.other(place, "review by", drug.review.by, file);
        self.other(place, "reason needed from", drug.review.justify_from, file);
        for stocked in &drug.strengths {
            let file = file_of(&stocked.origin);
            let (what, holds) = (format!("strength `{}`", stocked.key), meaning::of_composition(&stocked.composition));
            self.meant(place, &what, stocked, holds, FactKind::Strength, &file);
            if let Some(recipe) = &stocked.recipe {
                let (made, comes_to) = (recipe_in_words(recipe), meaning::of_recipe(recipe));
                let what = format!("recipe of strength `{}`", stocked.key);
                self.meant(place, &what, made, comes_to, FactKind::Strength, &file);
            }
            let what = format!("source of strength `{}`", stocked.key);
            self.add(place, &what, &stocked.origin.source, FactKind::Source, &file);
        }
        let maximum = &drug.peripheral_maximum;
        for (kind, band) in [("soft", &maximum.soft), ("hard", &maximum.hard)] {
            if let Some(band) = band {
                self.band(place, &format!("peripheral maximum, {kind}"), band);
            }
        }
        drug.indications.iter().for_each(|indication| self.indication(drug, indication));
    }

    fn indication(&mut self, drug: &Drug, indication: &Indication) {
        let place = format!("{}, {}, {}", drug.name, indication.area, indication.name);
        let (place, file) = (place.as_str(), file_of(&indication.origin));
        self.add(place, "use", &indication.name, FactKind::Existence, &file);
        self.add(place, "dose unit", indication.dose_unit, FactKind::DoseUnit, &file);
        self.list(place, "weights that count", &indication.dosing_weights, &file);
        if let Some(formula) = indication.body_surface {
            self.other(place, "body surface by", formula, &file);
        }
        self.other(place, "titrated to effect", yes_or_no(indication.titrated_to_effect), &file);
        let strengths: Vec<&str> = indication.strengths.iter().map(|at| drug.strengths[*at].key.as_str()).collect();
        if !strengths.is_empty() {
            self.add(place, "strengths", strengths.join(", "), FactKind::Strength, &file);
        }
        self.other(place, "any other strength is stopped", yes_or_no(indication.listed_only), &file);
        self.soft_hard(place, ", weight:", &indication.weight);
        if let Some(age) = &indication.age {
            self.band(place, "age:", age);
        }
        for (phase, limits) in &indication.phases {
            let place = format!("{place}, {phase}");
            self.add(&place, "phase", phase, FactKind::Existence, &file);
            self.band(&place, "usual", &limits.usual);
            self.soft_hard(&place, "", &limits.beyond);
        }
        if let Some(bolus) = &indication.bolus {
            self.bolus(&format!("{place}, bolus"), bolus, &file);
        }
        self.soft_hard(place, ", rate:", &indication.flow);
        if let Some(longest) = &indication.longest {
            self.band(place, "duration:", longest);
        }
        if let Some(jump) = indication.largest_jump {
            let shown = format!("{} times", crate::quantity::exact_or_about(jump));
            self.meant(place, "largest jump", shown, jump.meaning(), FactKind::Limit(Side::Above, jump), &file);
        }
    }

    fn bolus(&mut self, place: &str, bolus: &BolusLimits, file: &str) {
        self.add(place, "bolus", "allowed", FactKind::Existence, file);
        self.add(place, "dose unit", bolus.unit, FactKind::DoseUnit, file);
        if let Some(usual) = &bolus.usual {
            self.band(place, "usual", usual);
        }
        self.soft_hard(place, "", &bolus.beyond);
        self.band(place, "time:", &bolus.over);
    }

    fn area(&mut self, area: &Area) {
        let (place, file) = (format!("area {}", area.name), "areas.yaml");
        let place = place.as_str();
        self.add(place, "area", &area.name, FactKind::Existence, file);
        self.soft_hard(place, ", weight:", &area.weight);
        if let Some(age) = &area.age {
            self.band(place, "age:", age);
        }
        let standard = &area.standard;
        self.other(place, "standard container", &standard.container, file);
        self.other(place, "standard line", &standard.line, file);
        self.other(place, "standard driver", &standard.driver, file);
        let expires = area.unstarted_entry_expires;
        self.limit(place, "unstarted entry expires after", expires, Side::Above, file);
    }

    fn equipment(&mut self, equipment: &Equipment) {
        let file = "equipment.yaml";
        for one in &equipment.containers {
            let place = format!("container {}", one.key);
            self.add(&place, "container", &one.key, FactKind::Existence, file);
            self.other(&place, "kind", one.kind, file);
            self.measure(&place, "size", one.size, file);
            self.measure(&place, "usable", one.usable, file);
            self.measure(&place, "stays behind", one.stays_behind, file);
        }
        for one in &equipment.lines {
            let place = format!("line {}", one.key);
            self.add(&place, "line", &one.key, FactKind::Existence, file);
            self.other(&place, "kind", one.kind, file);
            self.measure(&place, "length", one.length, file);
            self.measure(&place, "priming volume", one.priming_volume, file);
        }
        for one in &equipment.drivers {
            let place = format!("driver {}", one.key);
            self.add(&place, "driver", &one.key, FactKind::Existence, file);
            self.other(&place, "kind", one.kind, file);
            self.list(&place, "accepts", &one.accepts, file);
            self.limit(&place, "smallest rate", one.smallest, Side::Below, file);
            self.limit(&place, "largest rate", one.largest, Side::Above, file);
            for (at, band) in one.steps.iter().enumerate() {
                let number = at + 1;
                let (shown, meaning) = (format!("{} up to {}", band.step, band.up_to), meaning::of_step(band));
                self.meant(&place, &format!("step {number}"), shown, meaning, FactKind::Other, file);
            }
            self.limit(&place, "fastest bolus", one.bolus_rate, Side::Above, file);
            self.list(&place, "shows", &one.shows, file);
        }
    }

    fn policy(&mut self, policy: &Policy) {
        let (place, file) = ("house rules", "formulary.yaml");
        self.other(place, "title", &policy.title, file);
        self.other(place, "version", &policy.version, file);
        self.other(place, "for demonstration", yes_or_no(policy.demonstration), file);
        self.other(place, "issued", policy.issued, file);
        for (what, percent) in [
            ("rounding noted above", policy.rounding_note),
            ("rounding needs a reason above", policy.rounding_justify),
            ("amount per kg within", policy.per_kg_within),
        ] {
            self.limit(place, what, percent, Side::Above, file);
        }
        let smallest = policy.smallest_drawn_up;
        self.limit(place, "smallest volume drawn up", smallest, Side::Below, file);
        self.limit(place, "arrival noted after", policy.slow_arrival, Side::Above, file);
        if let Some(late_alarm) = policy.late_alarm {
            self.limit(place, "late alarm noted after", late_alarm, Side::Above, file);
        }
        self.measure(place, "review near", policy.review_near, file);
        if let Some(times) = policy.next_syringe_times {
            let says = format!("{} times what runs", crate::quantity::exact_or_about(times));
            self.meant(place, "next syringe within", says, times.meaning(), FactKind::Limit(Side::Above, times), file);
        }
        let needed = policy.identifiers_needed;
        let value = Ratio::whole(u64::try_from(needed).unwrap_or(u64::MAX));
        self.meant(place, "identifiers needed", needed, value.meaning(), FactKind::Limit(Side::Below, value), file);
        if policy.sealing_asks_pin {
            self.other(place, "sealing asks for the PIN", "yes", file);
        }
        self.list(place, "clinical reasons", &policy.clinical_reasons, file);
    }
}

const fn yes_or_no(yes: bool) -> &'static str {
    if yes { "yes" } else { "no" }
}

fn file_of(origin: &Origin) -> String {
    format!("{} line {}", origin.file, origin.line)
}

fn recipe_in_words(recipe: &Recipe) -> String {
    let diluent = recipe.diluent.as_deref().map(|diluent| format!(" with {diluent}")).unwrap_or_default();
    format!("{} ampoules of {}, {}{diluent}", recipe.ampoules, recipe.of, recipe.how)
}
