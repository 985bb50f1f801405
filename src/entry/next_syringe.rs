//! The next syringe of an infusion that runs: what can differ and is in the hand is read and typed; what two people agreed on
//! about the place where it goes is carried. In: the form that they agreed on, and few answers; out: a whole form, which names
//! each answer that was carried.

use crate::diagnostic::Fault;
use crate::document::{Item, Refusal};
use crate::formulary::{Formulary, Lookup, Phase};
use crate::quantity::{Amount, Moment, Quantity, Strength, Volume, clip};

use super::asked::{Answers, Need};
use super::questions::{AMPOULES, QUESTIONS, Question};
use super::{LineFilled, NotTold};

/// Where somebody says that something else changed: then everything is asked, and nothing is carried.
pub const READ_ALL: &str = "read_all";

/// The question that stands beside those of the form.
pub static READ_ALL_QUESTION: Question = Question {
    path: READ_ALL,
    field: READ_ALL,
    says: "Has the use, the range, the access, the line or the driver changed? Then everything is asked",
    example: "yes",
    keys: &[],
};

/// Read off the order and off the syringe in the hand, each time.
const READ: [&str; 5] = ["drug", "dose", "label.amount", "label.volume", "container"];

/// What may be carried. A phase is, once it is the maintenance; the volume is the one that the label says.
const CARRIED: [&str; 17] = [
    "area",
    "indication",
    "phase",
    "titrate.from",
    "titrate.to",
    "titrate.step",
    "bolus.dose",
    "bolus.over",
    "dosing_weight",
    "label.strength",
    AMPOULES,
    "access",
    "fill",
    "line",
    "line_filled",
    "beyond",
    "driver",
];

/// Values that a reader could copy onto the dose or the label before both entries are sealed.
const NOT_SHOWN: [&str; 7] =
    ["titrate.from", "titrate.to", "titrate.step", "bolus.dose", "bolus.over", "label.strength", "fill"];

/// What two people agreed on about the syringe that runs, as far as it holds for the next one like it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Carried {
    answers: Answers,
    drug: String,
    content: Strength,
    /// Whether it was drawn up here; else the syringe says until when it is used.
    is_drawn_up: bool,
    /// Whether the syringe held what its label says.
    is_filled_as_labelled: bool,
    agreed_at: Moment,
}

impl Carried {
    /// What an agreed form holds for the next syringe; nothing where its label cannot be read.
    #[must_use]
    pub fn from_agreed(form: &Answers, agreed_at: Moment) -> Option<Self> {
        let said = |path: &str| form.said(path).unwrap_or_default();
        let (content, volume) = label(form)?;
        let fill = Quantity::<Volume>::parse(said("fill")).ok()?;
        let mut answers = Answers::default();
        for path in CARRIED {
            let text = match path {
                // The line stays, and holds what runs.
                "line_filled" => LineFilled::AlreadyFull.word(),
                "fill" => "",
                "phase" if said(path) != Phase::Maintenance.word() => "",
                AMPOULES if said(path) != NotTold::BoughtIn.word() => "",
                path => said(path),
            };
            answers.say(path, text);
        }
        Some(Self {
            answers,
            drug: said("drug").to_owned(),
            content,
            is_drawn_up: form.said("drawn_up_at").is_some(),
            is_filled_as_labelled: fill == volume,
            agreed_at,
        })
    }

    /// Whether a question is asked of a syringe like the one that runs.
    #[must_use]
    pub fn need(&self, path: &str) -> Need {
        match path {
            READ_ALL => Need::MayBeEmpty,
            "drawn_up_at" if self.is_drawn_up => Need::Needed,
            "use_before" if !self.is_drawn_up => Need::Needed,
            "fill" if !self.is_filled_as_labelled => Need::Needed,
            "phase" if self.answers.said(path).is_none() => Need::Needed,
            _ if READ.contains(&path) => Need::Needed,
            _ => Need::No,
        }
    }

    /// The whole form: what was answered, and what is carried, by name.
    #[must_use]
    pub fn complete(&self, answers: &Answers) -> Answers {
        let mut whole = answers.clone();
        let mut carried: Vec<&str> = Vec::new();
        for path in CARRIED {
            if let Some(text) = self.answers.said(path) {
                whole.say(path, text);
                carried.push(path);
            }
        }
        if self.is_filled_as_labelled {
            whole.say("fill", answers.said("label.volume").unwrap_or_default());
            carried.push("fill");
        }
        carried.into_iter().for_each(|path| whole.add("carried[0]", path));
        whole
    }

    /// What is wrong with an answer that is carried no further than a syringe like the one that runs.
    #[must_use]
    pub fn fault(&self, path: &str, answers: &Answers, formulary: &Formulary) -> Option<Fault> {
        let name = |typed: &str| match formulary.drug(typed) {
            Lookup::Found(drug) => Some(drug.name.clone()),
            _ => None,
        };
        let says = match path {
            "drug" => {
                let typed = name(answers.said(path)?)?;
                (Some(typed) != name(&self.drug)).then_some("this is not the drug that runs in this driver")
            }
            "label.volume" => {
                let (content, _) = label(answers)?;
                (content.concentration() != self.content.concentration())
                    .then_some("amount and volume are not of the strength that runs in this driver")
            }
            _ => None,
        }?;
        let help =
            "read the label again; for another syringe everything is asked: by the last question, or with --read-all";
        Some(Fault::new("syringe-not-alike", says).in_field(path.to_owned()).help(help))
    }

    /// Whether each carried answer of a form is the one that two people agreed on.
    #[must_use]
    pub fn holds(&self, form: &Answers) -> bool {
        let is_ours = |path: &str| match path {
            "fill" => self.is_filled_as_labelled && form.said("fill") == form.said("label.volume"),
            path => form.said(path).is_some() && form.said(path) == self.answers.said(path),
        };
        form.carried().all(is_ours)
    }

    /// What is carried, in words: nothing that could be copied onto the dose or the label.
    #[must_use]
    pub fn shown(&self) -> Vec<(&'static str, String)> {
        let question = |path: &str| QUESTIONS.iter().find(|question| question.path == path);
        let carried = CARRIED.iter().filter(|path| self.answers.said(path).is_some() && !NOT_SHOWN.contains(path));
        let said = carried.filter_map(|path| Some((question(path)?.says, self.answers.said(path)?.to_owned())));
        let mut shown: Vec<_> = said.collect();
        let others = ["titrate.from", "bolus.dose"].iter().filter(|path| self.answers.said(path).is_some());
        let as_agreed = others.filter_map(|path| question(path)).map(|one| (one.says, "as agreed".to_owned()));
        shown.extend(as_agreed);
        shown
    }

    /// When two people agreed on it.
    #[must_use]
    pub const fn agreed_at(&self) -> Moment {
        self.agreed_at
    }
}

impl Answers {
    /// Whether any answer was carried.
    #[must_use]
    pub fn carries(&self) -> bool {
        self.carried().next().is_some()
    }

    /// The same, where a label was read again: the volume that was carried from it follows it.
    #[must_use]
    pub fn filled_as_labelled(mut self) -> Self {
        if self.carried().any(|path| path == "fill")
            && let Some(volume) = self.said("label.volume").map(str::to_owned)
        {
            self.say("fill", &volume);
        }
        self
    }

    /// The paths of the answers that were carried.
    pub(super) fn carried(&self) -> impl Iterator<Item = &str> {
        self.items("carried[")
    }
}

fn label(form: &Answers) -> Option<(Strength, Quantity<Volume>)> {
    let amount = Quantity::<Amount>::parse(form.said("label.amount")?).ok()?;
    let volume = Quantity::<Volume>::parse(form.said("label.volume")?).ok()?;
    Some((Strength::of(amount, volume), volume))
}

/// Reads the names of the answers that were carried.
pub(super) fn carried(item: Item<'_, '_, '_>) -> Option<Vec<&'static str>> {
    item.items()?.read(|item| {
        item.text(|typed| {
            let known = CARRIED.iter().find(|known| **known == typed.text().trim()).copied();
            known.ok_or_else(|| {
                let says = format!("`{}` cannot be carried", clip(typed.text()));
                Refusal::new("answer-not-carried", says).help("read it, and write it")
            })
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn agreed(changes: &[(&str, &str)]) -> Answers {
        let mut form = Answers::default();
        for (path, text) in [
            ("area", "adult theatre"),
            ("drug", "noradrenaline"),
            ("phase", "maintenance"),
            ("dose", "0.08 mcg/kg/min"),
            ("titrate.from", "0.02 mcg/kg/min"),
            ("label.amount", "4 mg"),
            ("label.volume", "50 mL"),
            ("label.strength", "80 mcg/mL"),
            (AMPOULES, "4"),
            ("drawn_up_at", "2026-03-14T07:35:00+00:00"),
            ("access", "central"),
            ("container", "syringe 50 mL"),
            ("fill", "50 mL"),
            ("line", "narrow-150"),
            ("line_filled", "from this syringe"),
            ("driver", "bench"),
        ] {
            form.say(path, text);
        }
        changes.iter().for_each(|(path, text)| form.say(path, text));
        form
    }

    fn carried_from(changes: &[(&str, &str)]) -> Carried {
        let at = Moment::parse("2026-03-14T07:46:00+00:00").expect("a moment");
        Carried::from_agreed(&agreed(changes), at).expect("a label")
    }

    fn asked(carried: &Carried) -> Vec<&'static str> {
        QUESTIONS.iter().map(|one| one.path).filter(|path| carried.need(path) == Need::Needed).collect()
    }

    // hazard: H-CHANGED
    #[test]
    fn six_things_are_read_of_a_like_syringe_and_nothing_that_could_be_copied_is_shown() {
        let carried = carried_from(&[]);
        let six = ["drug", "dose", "label.amount", "label.volume", "drawn_up_at", "container"];
        assert_eq!(asked(&carried), six);
        let shown = carried.shown();
        for hidden in ["4 mg", "50 mL", "80 mcg/mL", "0.08", "0.02", "noradrenaline"] {
            assert!(!shown.iter().any(|(_, value)| value == hidden || value.contains("mcg")), "{hidden}: {shown:?}");
        }
        assert!(shown.contains(&("Line", "narrow-150".to_owned())), "{shown:?}");
        assert!(shown.contains(&("With what the line is filled", "already full".to_owned())), "{shown:?}");
    }

    #[test]
    fn what_may_have_changed_with_the_syringe_is_asked_again() {
        assert!(asked(&carried_from(&[("phase", "start")])).contains(&"phase"));
        assert!(asked(&carried_from(&[("fill", "30 mL")])).contains(&"fill"));
        let bought = carried_from(&[("drawn_up_at", ""), ("use_before", "2026-03-15"), (AMPOULES, "bought in")]);
        assert!(asked(&bought).contains(&"use_before") && !asked(&bought).contains(&"drawn_up_at"));
    }

    #[test]
    fn a_carried_answer_that_is_not_the_agreed_one_is_no_carried_answer() {
        let carried = carried_from(&[]);
        let mut form = carried.complete(&agreed(&[("label.volume", "25 mL"), ("label.amount", "2 mg")]));
        assert!(carried.holds(&form));
        assert_eq!((form.said("fill"), form.said("line_filled")), (Some("25 mL"), Some("already full")));
        form.say("driver", "other");
        assert!(!carried.holds(&form));
        form.say("driver", "bench");
        form.say("fill", "50 mL");
        assert!(!carried.holds(&form), "the volume is the one of this label");
    }

    #[test]
    fn another_drug_or_strength_is_no_like_syringe() {
        let formulary = Formulary::demonstration().expect("it has no fault");
        let carried = carried_from(&[]);
        let code = |changes: &[(&str, &str)], path: &str| {
            carried.fault(path, &agreed(changes), &formulary).map(|fault| fault.code)
        };
        assert_eq!(code(&[("drug", "norepinephrine")], "drug"), None);
        assert_eq!(code(&[("drug", "adrenaline")], "drug"), Some("syringe-not-alike"));
        assert_eq!(code(&[("label.amount", "2 mg"), ("label.volume", "25 mL")], "label.volume"), None);
        assert_eq!(code(&[("label.amount", "8 mg")], "label.volume"), Some("syringe-not-alike"));
    }
}
