//! The dose that runs, and the rate that keeps it: for the next syringe and after a pause. The dose that was ordered first
//! is not the one a patient has been titrated to, so that what runs leads, and another dose is a choice of its own.

use crate::card::Lead;
use crate::quantity::{DoseRateUnit, Moment, Ratio, exact_or_about, grouped, plain};

use super::accounting::Course;
use super::basis::SyringeParameters;
use super::error::CaseError;
use super::in_the_line::{InTheLine, fills_its_line};
use super::record_event::{DOSE_CHANGED, Mark};
use super::review::ReviewStage;
use super::state::{Case, SetUp};

/// A rate in mL/h and the dose that it gives.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RateAndDose {
    /// In mL/h.
    pub rate: Ratio,
    /// As a number of [`RateAndDose::unit`].
    pub dose: Ratio,
    /// The unit of the dose.
    pub unit: DoseRateUnit,
}

/// What runs in the driver, or did before the pause, by the record.
#[derive(Debug, Clone)]
pub struct RunningDose {
    /// How fast, and what that gives.
    pub gives: RateAndDose,
    /// The drug.
    pub drug: String,
    /// The strength, as the label says it.
    pub strength: String,
    /// Since when it has this rate, or is paused.
    pub since: Moment,
    /// Whether it is paused: the rate is the one before.
    pub paused: bool,
}

/// The syringe that two people agreed on to come next, held against what runs.
#[derive(Debug, Clone)]
pub struct NextSyringe {
    /// Which reading of the set-up.
    pub reading: u16,
    /// What runs now.
    pub runs: RunningDose,
    /// The settable rate that keeps the running dose, and what it gives; nothing where no rate can.
    pub keeps: Option<RateAndDose>,
    /// Whether the doses of both syringes are the same thing, and may be compared.
    pub comparable: bool,
    /// The rate of the dose that was entered for it.
    pub entered: RateAndDose,
    /// The drug in it.
    pub drug: String,
    /// Its strength, as its label says it.
    pub strength: String,
    /// What the line still holds, at the rate that keeps the dose; nothing where the strength stays the same.
    pub line: Option<InTheLine>,
}

impl RateAndDose {
    pub(super) fn given_by(basis: &SyringeParameters, rate: Ratio) -> Result<Self, CaseError> {
        Ok(Self { rate, dose: basis.dose(rate)?, unit: basis.unit })
    }

    /// The rate with its unit.
    #[must_use]
    pub fn rate_shown(&self) -> String {
        format!("{} mL/h", exact_or_about(self.rate))
    }

    /// The dose with its unit.
    #[must_use]
    pub fn dose_shown(&self) -> String {
        format!("{} {}", exact_or_about(self.dose), self.unit)
    }
}

impl RunningDose {
    /// What a course says about its last moment; nothing once it is stopped, and before two people agree.
    ///
    /// # Errors
    /// When two routes of the sum disagree.
    pub fn at_the_end(course: &Course) -> Result<Option<Self>, CaseError> {
        let basis = &course.syringe().basis;
        let rate = course.rate.or(course.before_pause).filter(|_| course.is_running() && !basis.sealed);
        let Some(rate) = rate else { return Ok(None) };
        Ok(Some(Self {
            gives: RateAndDose::given_by(basis, rate)?,
            drug: basis.drug.clone(),
            strength: basis.strength_on_label.clone(),
            since: course.since,
            paused: course.rate.is_none(),
        }))
    }

    /// In words.
    #[must_use]
    pub fn says(&self) -> String {
        let Self { gives, drug, strength, since, paused } = self;
        let (rate, dose) = (gives.rate_shown(), gives.dose_shown());
        if *paused {
            format!("paused since {since}; before, {rate} of {drug} {strength} gave {dose}")
        } else {
            format!("{rate} of {drug} {strength} gives {dose}, since {since}")
        }
    }
}

impl NextSyringe {
    /// A syringe that may be put in, after what a course says about its last moment.
    ///
    /// # Errors
    /// When two routes of the sum disagree.
    pub(super) fn after(course: &Course, basis: &SyringeParameters) -> Result<Option<Self>, CaseError> {
        let Some(runs) = RunningDose::at_the_end(course)?.filter(|_| !basis.sealed) else { return Ok(None) };
        let now = course.syringe();
        let entered = RateAndDose::given_by(basis, basis.set)?;
        let comparable = basis.doses_like(&now.basis);
        // By another weight than its card's, the rate of the card gives another dose than the one ordered.
        let as_ordered = runs.gives.rate == now.basis.set
            && now.basis.weight == now.basis.weight_on_card
            && basis.weight == now.basis.weight
            && basis.is_ordered_like(&now.basis);
        let keeps = if as_ordered {
            Some(entered.clone())
        } else if comparable {
            let rate = basis.rate_keeping(runs.gives.dose)?;
            rate.map(|rate| RateAndDose::given_by(basis, rate)).transpose()?
        } else {
            None
        };
        let keeps_line = basis.keeps_line_after(&now.basis);
        let line = if keeps_line && now.basis.volumes_assumed {
            Some(now.in_an_unread_line())
        } else if keeps_line {
            let rate = keeps.as_ref().map(|keeps| keeps.rate).filter(|rate| !rate.is_zero());
            Some(now.in_the_line(now.basis.dead_space()?, rate, fills_its_line(&course.syringes)?)?)
        } else {
            None
        };
        let (drug, strength) = (basis.drug.clone(), basis.strength_on_label.clone());
        Ok(Some(Self { reading: basis.reading, runs, keeps, comparable, entered, drug, strength, line }))
    }

    /// Whether a rate gives another dose than the one that runs: other than by rounding to the driver's step.
    #[must_use]
    pub fn changes_dose(&self, given: &RateAndDose) -> bool {
        let kept = self.keeps.as_ref().is_some_and(|keeps| keeps.rate == given.rate);
        let same = self.comparable && given.dose == self.runs.gives.dose;
        !kept && !same
    }

    /// Whether the dose that was entered for it is another than the one that runs.
    #[must_use]
    pub fn entered_changes_dose(&self) -> bool {
        self.changes_dose(&self.entered)
    }

    /// Which rate keeps the running dose, in words.
    #[must_use]
    pub fn keeps_in_words(&self) -> String {
        let dose = self.runs.gives.dose_shown();
        match &self.keeps {
            Some(keeps) if keeps.dose == self.runs.gives.dose => format!("{} keeps {dose}", keeps.rate_shown()),
            Some(keeps) if keeps.rate == self.entered.rate => {
                format!("{} gives the dose that was ordered: {}", keeps.rate_shown(), keeps.dose_shown())
            }
            Some(keeps) => {
                format!(
                    "{} keeps {dose} as nearly as the driver can: it gives {}",
                    keeps.rate_shown(),
                    keeps.dose_shown()
                )
            }
            None if self.drug != self.runs.drug => format!("it holds {}, and {} runs", self.drug, self.runs.drug),
            None if self.entered.unit != self.runs.gives.unit => {
                format!("its dose counts in {}, and what runs in {}", self.entered.unit, self.runs.gives.unit)
            }
            None if !self.comparable => {
                "its dose counts by another weight or body surface than the dose that runs".to_owned()
            }
            None => format!("no rate of this driver comes near enough to {dose} with this syringe"),
        }
    }

    /// The change of dose that its card's rate would be, in words.
    #[must_use]
    pub fn entered_in_words(&self) -> String {
        let (rate, dose) = (self.entered.rate_shown(), self.entered.dose_shown());
        format!("{rate} changes the dose from {} to {dose}", self.runs.gives.dose_shown())
    }

    /// What its card leads with: the running dose, which the rate in the largest letters keeps.
    pub(super) fn lead(&self) -> Lead {
        let (value, unit) = match &self.keeps {
            Some(keeps) => (grouped(&plain(keeps.rate)), "mL/h"),
            None => ("NO RATE KEEPS THE DOSE".to_owned(), ""),
        };
        let mut lines = vec![
            format!("Running now: {}.", self.runs.says()),
            format!("With this syringe, {}: {}.", self.strength, self.keeps_in_words()),
        ];
        if self.entered_changes_dose() {
            let dose = self.entered.dose_shown();
            lines.push(format!(
                "THE DOSE ON THIS CARD IS NOT THE ONE THAT RUNS: {dose}. Its rate, {}, is set only where the dose is changed on purpose.",
                self.entered.rate_shown()
            ));
        }
        lines.extend(self.line.as_ref().map(|line| format!("{}.", capitalised(&line.says()))));
        Lead {
            heading: match &self.keeps {
                Some(_) => "NEXT SYRINGE: THE RATE THAT KEEPS THE RUNNING DOSE".to_owned(),
                None => "NEXT SYRINGE".to_owned(),
            },
            value,
            unit: unit.into(),
            lines,
            is_the_cards: self.keeps.as_ref().is_some_and(|keeps| keeps.rate == self.entered.rate),
            weighs_otherwise: false,
            started: false,
            line_runs: true,
        }
    }

    /// Why a rate is another dose, in words.
    pub(super) fn change_in_words(&self, given: &RateAndDose) -> String {
        let (rate, dose) = (given.rate_shown(), given.dose_shown());
        format!(
            "{rate} gives {dose} with this syringe, and {} ran before; {}",
            self.runs.gives.dose_shown(),
            self.keeps_in_words()
        )
    }
}

impl Case {
    /// The next syringe of a set-up that runs, once two people have agreed on it.
    ///
    /// # Errors
    /// When an entry cannot be read.
    pub fn next_syringe(&self, set_up: &SetUp, course: &Course) -> Result<Option<NextSyringe>, CaseError> {
        let next = set_up.latest().filter(|latest| latest.number > course.syringe().basis.reading);
        let Some(next) = next.filter(|_| course.is_running()) else { return Ok(None) };
        // A blind reader must not learn from it what runs: both entries are sealed by then, and say the same.
        if !matches!(self.standing(next).stage, ReviewStage::Agreed(_)) {
            return Ok(None);
        }
        NextSyringe::after(course, &self.basis(set_up, next.number)?)
    }
}

/// What the card of one reading leads with while its set-up runs: how fast by the record, whatever the card says.
pub(super) fn running_lead(course: &Course, reading: u16) -> Result<Lead, CaseError> {
    let basis = &course.syringe().basis;
    let gives = course.gives()?;
    let rate = course.rate.map(|rate| grouped(&plain(rate)));
    let is_its_own = basis.reading == reading;
    let as_agreed = is_its_own && course.rate == Some(basis.set);
    let (heading, value, unit) = match (gives.state, rate) {
        ("empty", _) => ("THE SYRINGE SHOULD BE EMPTY", "EMPTY".to_owned(), ""),
        (_, None) => ("PAUSED: NOTHING RUNS", "PAUSED".to_owned(), ""),
        (_, Some(rate)) if as_agreed => ("RUNNING NOW, AT THE RATE OF THIS CARD", rate, "mL/h"),
        (_, Some(rate)) if is_its_own => ("RUNNING NOW, NOT AT THE RATE OF THIS CARD", rate, "mL/h"),
        (_, Some(rate)) => ("ANOTHER SYRINGE OF THIS SET-UP RUNS NOW", rate, "mL/h"),
    };
    let mut lines = vec![format!("{}.", capitalised(&gives.says))];
    if let Some(before) = RunningDose::at_the_end(course)?.filter(|before| before.paused) {
        lines.push(format!("{} gave {} before.", before.gives.rate_shown(), before.gives.dose_shown()));
    }
    if is_its_own && !basis.sealed && course.is_running() {
        let empty = course.empty_at.filter(|_| course.flowing().is_some());
        let empty = empty.map(|at| format!("; empty at {}", at.shown_as(course.started))).unwrap_or_default();
        lines.push(match course.syringe().left_known() {
            Some(left) => {
                let (left, at) = (exact_or_about(left), course.until.shown_as(course.started));
                format!("Left to infuse {left} mL at {at}{empty}.")
            }
            None => "How much is left is not known: nobody read the volume in the syringe.".to_owned(),
        });
        if let Some(discard) = basis.discard_after {
            lines.push(format!("Discard the solution at {}.", discard.shown_as(course.started)));
        }
    }
    lines.push("By the record, not read off the driver.".to_owned());
    Ok(Lead {
        heading: heading.to_owned(),
        value,
        unit: unit.into(),
        lines,
        is_the_cards: as_agreed && unit == "mL/h",
        weighs_otherwise: false,
        started: is_its_own,
        line_runs: !is_its_own,
    })
}

/// The mark of a rate after a pause that is not the one before.
pub(super) fn after_a_pause(course: &Course, rate: Ratio) -> Result<Option<Mark>, CaseError> {
    let before = RunningDose::at_the_end(course)?.filter(|before| before.paused && before.gives.rate != rate);
    let Some(before) = before else { return Ok(None) };
    let given = RateAndDose::given_by(&course.syringe().basis, rate)?;
    let says = format!(
        "{} gives {}, and before the pause {} gave {}",
        given.rate_shown(),
        given.dose_shown(),
        before.gives.rate_shown(),
        before.gives.dose_shown()
    );
    Ok(Some(Mark::new(DOSE_CHANGED, says)))
}

/// As the beginning of a sentence.
fn capitalised(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
