//! What was given and what is left, by the record, as data.

use serde::Serialize;

use crate::case::{Balance, CaseError, Course, InTheLine, NextSyringe, RateAndDose, Reaches};
use crate::delivery::statements::Range;
use crate::quantity::{Exact, Moment, Ratio, Valued};

/// What is given now, by the record.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct GivenNow {
    /// In one word: running, empty, paused, stopped, closed.
    pub state: &'static str,
    /// In words.
    #[serde(skip)]
    pub says: String,
    /// In mL/h, as the driver is set; nothing while paused or stopped.
    pub rate: Option<Valued>,
    /// In the drug's dose unit; nothing where nothing flows.
    pub dose: Option<Valued>,
    /// The dose as an exact fraction.
    pub exact: Option<Exact>,
    /// A moment with its offset.
    pub since: String,
    /// What the line still holds of the strength before, after a change of syringe: it comes first.
    pub line_holds: Option<LineHolds>,
}

/// An earlier strength in the line.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct LineHolds {
    /// With its unit; nothing where nobody read the line.
    volume: Option<String>,
    /// As the label said it; `more than one` where the line may hold several, or diluent.
    strength: String,
    /// What it gives meanwhile, with its unit; nothing where that is not known.
    dose: Option<String>,
    /// In words.
    says: String,
}

/// The next syringe, held against the dose that runs.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct NextSyringeHeld {
    /// Which reading of the set-up.
    reading: u16,
    /// What runs, or did before the pause.
    runs: RateGives,
    /// The rate that keeps the running dose with this syringe; nothing where none does.
    keeps: Option<RateGives>,
    /// The rate of the dose that was entered for it.
    entered: RateGives,
    /// Whether that is another dose than the one that runs: then it needs `dose_changes`.
    entered_changes_dose: bool,
    /// What the line will still hold, at the rate that keeps the dose.
    line_holds: Option<LineHolds>,
    /// In words.
    says: String,
}

/// A rate and what it gives.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
struct RateGives {
    rate: Valued,
    dose: Valued,
}

/// What was given, what is left and until when.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct CourseSums {
    started: String,
    stopped: Option<String>,
    /// In mL.
    given: Valued,
    /// In mL.
    last_hour: Valued,
    totals: Vec<TotalSums>,
    /// With its unit.
    weight: String,
    /// In the driver's syringe, in mL; nothing where nobody read how much it held.
    left: Option<Valued>,
    last_bolus: Option<LastBolus>,
    /// When nothing is left at this rate; nothing where nothing flows.
    empty_at: Option<String>,
    /// When the next syringe is to stand ready.
    next_ready_by: Option<String>,
    discard_after: Option<String>,
    reaches_the_patient: Vec<ReachesThePatient>,
    syringes: Vec<SyringeSums>,
    /// Once it is accounted for.
    balance: Option<Account>,
}

/// One drug.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct TotalSums {
    drug: String,
    given: Valued,
    /// Per kg of body weight.
    given_per_kg: Valued,
    last_hour: Valued,
}

#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
struct LastBolus {
    at: String,
    /// In mL.
    volume: Valued,
}

/// One syringe.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct SyringeSums {
    /// Which reading of the set-up.
    reading: u16,
    /// Whether two people agreed on it.
    agreed: bool,
    drug: String,
    /// As the label says it.
    strength: String,
    since: String,
    /// In mL.
    given: Valued,
    /// Of the drug; nothing where nobody agreed on what was in it.
    amount: Option<Valued>,
    /// In mL; nothing where nobody agreed on what was in it, or read how much.
    left: Option<Valued>,
    /// In mL: recorded as given beyond what it should have held.
    beyond: Valued,
    ran_empty: Option<String>,
}

/// After which time a change reaches the patient: an estimate.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct ReachesThePatient {
    change: String,
    at: String,
    /// In words, with its unit.
    after: Option<String>,
    /// In seconds.
    from_seconds: Option<String>,
    /// In seconds.
    to_seconds: Option<String>,
    /// Why it is not estimated.
    not_modelled: Option<String>,
}

impl GivenNow {
    /// What a course says about its last moment.
    ///
    /// # Errors
    /// [`CaseError`] when the dose cannot be kept exactly.
    pub fn of(course: &Course) -> Result<Self, CaseError> {
        let unit = course.syringe().basis.unit;
        let gives = course.gives()?;
        Ok(Self {
            state: gives.state,
            says: gives.says,
            rate: course.rate.map(|rate| Valued::of(rate, "mL/h")),
            dose: gives.dose.map(|dose| Valued::of(dose, unit)),
            exact: gives.dose.map(|dose| Exact::of(dose, unit)),
            since: gives.since.to_rfc3339(),
            line_holds: course.still_in_the_line()?.as_ref().map(LineHolds::new),
        })
    }
}

impl LineHolds {
    fn new(held: &InTheLine) -> Self {
        let InTheLine { volume, strength, is_mixed, dose, .. } = held.clone();
        let strength = if is_mixed { "more than one".to_owned() } else { strength };
        Self { volume, strength, dose, says: held.says() }
    }
}

impl NextSyringeHeld {
    /// As it is held against what runs.
    #[must_use]
    pub fn new(next: &NextSyringe) -> Self {
        Self {
            reading: next.reading,
            runs: RateGives::new(&next.runs.gives),
            keeps: next.keeps.as_ref().map(RateGives::new),
            entered: RateGives::new(&next.entered),
            entered_changes_dose: next.entered_changes_dose(),
            line_holds: next.line.as_ref().map(LineHolds::new),
            says: next.keeps_in_words(),
        }
    }
}

impl RateGives {
    fn new(gives: &RateAndDose) -> Self {
        Self { rate: Valued::of(gives.rate, "mL/h"), dose: Valued::of(gives.dose, gives.unit) }
    }
}

impl CourseSums {
    /// Of a course; nothing of it may be shown before two people agree.
    ///
    /// # Errors
    /// [`CaseError`] when a sum cannot be kept exactly.
    pub fn of(course: &Course) -> Result<Self, CaseError> {
        let moment = |moment: Option<Moment>| moment.map(|moment| rfc3339(moment, course));
        let mut syringes = Vec::new();
        for one in &course.syringes {
            let unit = one.basis.amount_unit().shown();
            syringes.push(SyringeSums {
                reading: one.basis.reading,
                agreed: one.basis.agreed,
                drug: one.basis.drug.clone(),
                strength: one.basis.strength_on_label.clone(),
                since: one.since.to_rfc3339(),
                given: Valued::of(one.volume, "mL"),
                amount: if one.basis.sealed { None } else { Some(Valued::of(one.basis.amount(one.volume)?, unit)) },
                left: one.left_known().map(|left| Valued::of(left, "mL")),
                beyond: Valued::of(one.beyond, "mL"),
                ran_empty: moment(one.ran_empty),
            });
        }
        let mut totals = Vec::new();
        for total in course.totals()? {
            let unit = total.unit.shown();
            totals.push(TotalSums {
                drug: total.drug.clone(),
                given: Valued::of(total.given, unit),
                given_per_kg: Valued::of(total.given_per_kg, format!("{}/kg", total.per_kg_unit.shown())),
                last_hour: Valued::of(total.last_hour, unit),
            });
        }
        let last_bolus = course
            .boluses
            .last()
            .map(|(at, volume)| LastBolus { at: at.to_rfc3339(), volume: Valued::of(*volume, "mL") });
        let balance = course.found.as_ref().map(|found| Balance::of(course, found)).transpose()?.flatten();
        Ok(Self {
            started: course.started.to_rfc3339(),
            stopped: moment(course.stopped),
            given: Valued::of(course.volume()?, "mL"),
            last_hour: Valued::of(course.last_hour()?, "mL"),
            totals,
            weight: course.syringe().basis.weight.to_string(),
            left: course.syringe().left_known().map(|left| Valued::of(left, "mL")),
            last_bolus,
            empty_at: moment(course.empty_at.filter(|_| course.is_running())),
            next_ready_by: moment(course.next_ready_by().filter(|_| course.is_running())),
            discard_after: moment(course.syringe().basis.discard_after),
            reaches_the_patient: course.reaches().iter().map(|one| ReachesThePatient::of(one, course)).collect(),
            syringes,
            balance: balance.as_ref().map(Account::of),
        })
    }
}

impl ReachesThePatient {
    fn of(reaches: &Reaches, course: &Course) -> Self {
        let seconds = reaches.after.as_ref().ok().map(Range::edges_as_text);
        let (from_seconds, to_seconds) = seconds.map_or((None, None), |(from, to)| (from, Some(to)));
        Self {
            change: reaches.change.says().to_owned(),
            at: rfc3339(reaches.at, course),
            after: reaches.after.as_ref().ok().map(|range| range.text.clone()),
            from_seconds,
            to_seconds,
            not_modelled: reaches.after.as_ref().err().map(ToString::to_string),
        }
    }
}

/// In the offset in which it was started.
fn rfc3339(moment: Moment, course: &Course) -> String {
    moment.shown_as(course.started).to_rfc3339()
}

/// Both sides of the account, in mL.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct Account {
    drawn_up: Valued,
    given: Valued,
    in_line: Valued,
    left: Valued,
    discarded: Valued,
    missing: Valued,
    too_much: Valued,
    /// What cannot be told apart on the syringe's scale.
    tolerance: Valued,
    /// Whether both sides are the same.
    same: bool,
}

impl Account {
    /// Both sides.
    #[must_use]
    pub fn of(balance: &Balance) -> Self {
        let volume = |value: Ratio| Valued::of(value, "mL");
        Self {
            drawn_up: volume(balance.drawn_up),
            given: volume(balance.given),
            in_line: volume(balance.in_line),
            left: volume(balance.left),
            discarded: volume(balance.discarded),
            missing: volume(balance.missing),
            too_much: volume(balance.too_much),
            tolerance: volume(balance.tolerance),
            same: !balance.differs(),
        }
    }
}
