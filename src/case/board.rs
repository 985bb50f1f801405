//! The board of a patient: every driver as it hangs by the record, what is outstanding, and the one thing to do next.
//! In: the rows of a case. Out: the same for a page, a terminal and other programs. Nothing here is a rule: each fact is
//! what the record and the list say.

use std::collections::BTreeMap;

use crate::infusion::rate::{RateError, rate_keeping};
use crate::quantity::{Moment, Ratio, duration, exact_or_about};

use super::accounting::Course;
use super::basis::SyringeParameters;
use super::code::SetUpCode;
use super::error::CaseError;
use super::list::{Owed, SetUpRow};
use super::record_event::Mark;
use super::restart::RateAndDose;
use super::state::{Case, SetUp};

/// One patient with every driver.
#[derive(Debug, Clone)]
pub struct Board {
    /// The one thing to do next, in one sentence; nothing where nothing is to be done now.
    pub next: Option<NextThing>,
    /// The drivers, in the order of the rows.
    pub drivers: Vec<BoardDriver>,
    /// What all running drivers give together; nothing while none runs.
    pub fluid: Option<Fluid>,
    /// Drugs that run in more than one driver, in words.
    pub same_drug: Vec<SameDrug>,
}

/// A drug that runs in more than one driver of a patient.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SameDrug {
    /// The set-ups.
    pub set_ups: Vec<SetUpCode>,
    /// What they come to together, in words.
    pub says: String,
    /// Whether the sum is above a limit that none of them crosses alone.
    pub is_beyond: bool,
}

/// What is to be done next, and about which set-up.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NextThing {
    /// The set-up.
    pub set_up: Option<SetUpCode>,
    /// In one sentence.
    pub says: String,
}

/// What a driver does, by the record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DriverState {
    /// Its display was read, and is not as recorded.
    DisplayDiffers,
    /// Not started.
    NotStarted,
    /// It runs.
    Running,
    /// It is paused.
    Paused,
    /// Its syringe should be empty.
    Empty,
    /// It was stopped, and is to be closed.
    Stopped,
    /// It has come to its end.
    Closed,
}

impl DriverState {
    /// As a word of its own, which no colour replaces.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::DisplayDiffers => "DISPLAY DIFFERS",
            Self::NotStarted => "NOT STARTED",
            Self::Running => "RUNNING",
            Self::Paused => "PAUSED",
            Self::Empty => "EMPTY",
            Self::Stopped => "STOPPED",
            Self::Closed => "CLOSED",
        }
    }
}

/// One driver as it hangs.
#[derive(Debug, Clone)]
pub struct BoardDriver {
    /// Its row of the list.
    pub row: SetUpRow,
    /// What it does.
    pub state: DriverState,
    /// The rate with its unit, while it runs.
    pub rate: Option<String>,
    /// The dose with its unit, while it runs and two people may know it.
    pub dose: Option<String>,
    /// Its slot and its port, as they were read last; empty where nobody read them.
    pub hangs: String,
    /// What is left in the syringe.
    pub left: Option<Left>,
}

/// What is left in a syringe.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Left {
    /// Of what was drawn up, in whole percent, rounded down.
    pub percent: u64,
    /// Volume and time, in words.
    pub says: String,
    /// When it is to be changed, in words; nothing while nothing flows.
    pub change: Option<String>,
}

/// What all running drivers give together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Fluid {
    /// In mL/h.
    pub rate: Ratio,
    /// In mL/kg/day, where two people agreed on a weight.
    pub per_kg_day: Option<Ratio>,
    /// What of it is carriers that somebody declared, in mL/h.
    pub carriers: Ratio,
}

impl Fluid {
    /// Of rates in mL/h and a weight in kg.
    ///
    /// # Errors
    /// When it cannot be kept exactly.
    pub(super) fn of_rates(rates: &[Ratio], carriers: &[Ratio], weight: Option<Ratio>) -> Result<Self, CaseError> {
        const HOURS: u64 = 24;
        let carriers = carriers.iter().try_fold(Ratio::ZERO, |sum, rate| sum.plus(*rate))?;
        let rate = rates.iter().try_fold(carriers, |sum, rate| sum.plus(*rate))?;
        let per_kg_day = weight.map(|weight| rate.times(Ratio::whole(HOURS))?.over(weight)).transpose()?;
        Ok(Self { rate, per_kg_day, carriers })
    }

    /// In words.
    #[must_use]
    pub fn says(&self) -> String {
        let per_kg_day = self.per_kg_day.map(|rate| format!(", {} mL/kg/day", exact_or_about(rate)));
        let carriers =
            (!self.carriers.is_zero()).then(|| format!(", carriers {} mL/h of it", exact_or_about(self.carriers)));
        let [per_kg_day, carriers] = [per_kg_day, carriers].map(Option::unwrap_or_default);
        format!("{} mL/h{per_kg_day}{carriers}", exact_or_about(self.rate))
    }
}

/// What is to be done first, of everything that is outstanding.
const FIRST_OF_ALL: [&str; 15] = [
    "case-unreadable",
    "display-differs",
    "runs-otherwise",
    "round",
    "round-differs",
    "contradiction",
    "weight-changed",
    "same-drug",
    "second-check",
    "read-back",
    "next-syringe",
    "discard",
    "weight",
    "identifiers",
    "reason",
];

impl Board {
    /// Of a case and its rows.
    ///
    /// # Errors
    /// When the record cannot be followed, or a sum cannot be kept exactly.
    pub fn of_case(case: &Case, rows: &[SetUpRow], now: Moment) -> Result<Self, CaseError> {
        let (mut drivers, mut rates) = (Vec::new(), Vec::new());
        for row in rows {
            let Some(code) = row.set_up else { continue };
            let set_up = case.set_up(code.number)?;
            let course = case.course(set_up, now)?;
            let hangs = case.hangs_at(set_up, now)?.says();
            rates.extend(course.as_ref().and_then(Course::flowing));
            drivers.push(BoardDriver { hangs, ..BoardDriver::of_row(row, course.as_ref())? });
        }
        let weight = case.patient_before(u64::MAX)?.map(|patient| patient.weight.value());
        let carriers = case.carriers(now)?;
        let fluid = if rates.is_empty() && carriers.is_empty() {
            None
        } else {
            Some(Fluid::of_rates(&rates, &carriers, weight)?)
        };
        let same_drug = case.same_drug_twice(now)?;
        Ok(Self { next: next_thing(rows), drivers, fluid, same_drug })
    }
}

impl BoardDriver {
    fn of_row(row: &SetUpRow, course: Option<&Course>) -> Result<Self, CaseError> {
        let Some(course) = course else {
            let state = if row.display_differs() { DriverState::DisplayDiffers } else { DriverState::NotStarted };
            return Ok(Self { row: row.clone(), state, rate: None, dose: None, hangs: String::new(), left: None });
        };
        let gives = course.gives()?;
        let state = match gives.state {
            _ if row.display_differs() => DriverState::DisplayDiffers,
            "closed" => DriverState::Closed,
            "stopped" => DriverState::Stopped,
            "paused" => DriverState::Paused,
            "empty" => DriverState::Empty,
            _ => DriverState::Running,
        };
        let basis = &course.syringe().basis;
        let shown = if course.is_running() { course.rate } else { None };
        Ok(Self {
            row: row.clone(),
            state,
            rate: shown.map(|rate| format!("{} mL/h", exact_or_about(rate))),
            dose: gives.dose.map(|dose| format!("{} {}", exact_or_about(dose), basis.unit)),
            hangs: String::new(),
            left: left(course)?,
        })
    }
}

fn left(course: &Course) -> Result<Option<Left>, CaseError> {
    let syringe = course.syringe();
    // What follows from a sealed entry would tell a second person what it says.
    let Some(held) = syringe.left_known().filter(|_| !syringe.basis.fill.is_zero() && course.is_running()) else {
        return Ok(None);
    };
    let share = held.times(Ratio::whole(100))?.over(syringe.basis.fill)?;
    let percent = u64::try_from(share.numerator() / share.denominator()).unwrap_or(100).min(100);
    let empty = course.empty_at.filter(|_| course.flowing().is_some());
    let lasts = empty.and_then(|at| Some((at, at.hours_since(course.until)?)));
    let says = match lasts {
        Some((_, hours)) => format!("{} mL, {}", exact_or_about(held), duration(hours)),
        None => format!("{} mL", exact_or_about(held)),
    };
    let change = lasts.map(|(at, _)| {
        let discard = syringe.basis.discard_after.filter(|discard| discard.is_before(at));
        match discard {
            Some(discard) => format!("discard at {}", clock(discard, course.until)),
            None => format!("empty at {}", clock(at, course.until)),
        }
    });
    Ok(Some(Left { percent, says, change }))
}

/// A moment as people say it: the time alone today, and the date where it is another day.
fn clock(at: Moment, now: Moment) -> String {
    let shown = |moment: Moment| {
        let text = moment.shown_as(now).to_string();
        let mut parts = text.split(' ').map(str::to_owned);
        (parts.next().unwrap_or_default(), parts.next().unwrap_or_default())
    };
    let (date, time) = shown(at);
    let is_on = |day: Option<Moment>| day.is_some_and(|day| shown(day).0 == date);
    match () {
        () if is_on(Some(now)) => time,
        () if is_on(now.after(Ratio::whole(24))) => format!("{time} tomorrow"),
        () => format!("{time} on {date}"),
    }
}

fn next_thing(rows: &[SetUpRow]) -> Option<NextThing> {
    let rank = |owed: &Owed| FIRST_OF_ALL.iter().position(|code| *code == owed.code).unwrap_or(FIRST_OF_ALL.len());
    let all = rows.iter().flat_map(|row| row.owed.iter().map(move |owed| (row, owed)));
    let first = all.min_by_key(|(_, owed)| rank(owed));
    if let Some((row, owed)) = first {
        let says = match owed.code {
            "weight" | "identifiers" | "round" | "round-differs" => owed.says.clone(),
            "display-differs" => format!("look at {}: its display is not as recorded", row.named),
            "second-check" => format!("a second person enters {}", row.named),
            "read-back" => {
                let why = owed.says.strip_prefix("read the driver back: ").unwrap_or(&owed.says);
                format!("read back {}: {why}", row.named)
            }
            _ => format!("{}: {}", row.named, owed.says),
        };
        return Some(NextThing { set_up: row.set_up, says });
    }
    let waiting = rows.iter().find(|row| !row.over && !row.started && row.set_up.is_some())?;
    let says = match waiting.has_card {
        true => format!("start {}, and record the start", waiting.named),
        false => format!("{}: {}", waiting.named, waiting.stands),
    };
    Some(NextThing { set_up: waiting.set_up, says })
}

/// A syringe that runs at a rate.
struct RunsNow {
    set_up: SetUpCode,
    basis: SyringeParameters,
    rate: Ratio,
}

impl Case {
    /// Every drug that runs in more than one driver: the set-ups, and what they come to together, in words.
    ///
    /// # Errors
    /// When the record cannot be followed, or a sum cannot be kept exactly.
    pub fn same_drug_twice(&self, now: Moment) -> Result<Vec<SameDrug>, CaseError> {
        let mut by_drug: BTreeMap<String, Vec<RunsNow>> = BTreeMap::new();
        for set_up in &self.set_ups {
            if let Some(runs) = self.runs_now(set_up, now)? {
                by_drug.entry(runs.basis.drug.clone()).or_default().push(runs);
            }
        }
        let mut twice = Vec::new();
        for (drug, runs) in by_drug.into_iter().filter(|(_, runs)| runs.len() > 1) {
            let set_ups: Vec<SetUpCode> = runs.iter().map(|one| one.set_up).collect();
            let named: Vec<String> = set_ups.iter().map(ToString::to_string).collect();
            let each: Vec<(SyringeParameters, Ratio)> = runs.into_iter().map(|one| (one.basis, one.rate)).collect();
            let (together, is_beyond) = match sum_of_doses(&each)? {
                Some((sum, marks)) => {
                    let is_beyond = !marks.is_empty();
                    let beyond: String = marks.into_iter().map(|mark| format!("; {}", mark.says)).collect();
                    (format!("together {}{beyond}", sum.dose_shown()), is_beyond)
                }
                None => ("their doses cannot be added: another unit or another weight".to_owned(), false),
            };
            let says = format!("{drug} runs in {} drivers, {}: {together}", set_ups.len(), named.join(" and "));
            twice.push(SameDrug { set_ups, says, is_beyond });
        }
        Ok(twice)
    }

    /// What is odd about a rate where the same drug runs in another driver of the patient at that moment: that it does, at a
    /// start, and the sum of both against the limits.
    pub(super) fn beside_the_same_drug(
        &self,
        set_up: &SetUp,
        (basis, rate): (&SyringeParameters, Ratio),
        starts: bool,
        happened: Moment,
    ) -> Result<Vec<Mark>, CaseError> {
        if basis.sealed || rate.is_zero() {
            return Ok(Vec::new());
        }
        let (mut each, mut named) = (vec![(basis.clone(), rate)], Vec::new());
        for other in self.set_ups.iter().filter(|other| other.code != set_up.code) {
            if let Some(runs) = self.runs_now(other, happened)?.filter(|runs| runs.basis.drug == basis.drug) {
                named.push(format!("{} at {} mL/h", runs.set_up, exact_or_about(runs.rate)));
                each.push((runs.basis, runs.rate));
            }
        }
        let mut marks = Vec::new();
        if named.is_empty() {
            return Ok(marks);
        }
        if starts {
            let says = format!("{} runs in this patient already: {}", basis.drug, named.join(", "));
            marks.push(Mark::new("same-drug-runs", says));
        }
        if let Some((_, beyond)) = sum_of_doses(&each)? {
            let own = super::reported::of_rate(basis, rate, &[])?;
            // What this rate alone crosses is said already.
            let new = beyond.into_iter().filter(|mark| own.iter().all(|known| known.code != mark.code));
            marks.extend(new.map(|mark| Mark { says: format!("with {}: {}", named.join(", "), mark.says), ..mark }));
        }
        Ok(marks)
    }

    fn runs_now(&self, set_up: &SetUp, now: Moment) -> Result<Option<RunsNow>, CaseError> {
        let Some(course) = self.course(set_up, now)?.filter(Course::is_running) else { return Ok(None) };
        let Some(rate) = course.flowing().filter(|_| !course.syringe().basis.sealed) else { return Ok(None) };
        Ok(Some(RunsNow { set_up: set_up.code, basis: course.syringe().basis.clone(), rate }))
    }
}

/// The sum of the doses of several syringes of one drug, and the upper limits that it crosses: by the rate that would give
/// the sum with the first of them. Nothing where their doses are not the same thing.
fn sum_of_doses(each: &[(SyringeParameters, Ratio)]) -> Result<Option<(RateAndDose, Vec<Mark>)>, CaseError> {
    let Some(((first, _), others)) = each.split_first() else { return Ok(None) };
    if others.iter().any(|(other, _)| !first.doses_like(other)) {
        return Ok(None);
    }
    let mut dose = Ratio::ZERO;
    for (basis, rate) in each {
        dose = dose.plus(basis.dose(*rate)?)?;
    }
    let rate = match first.rate_with_dose(dose) {
        Ok(rate) => rate,
        Err(RateError::RoutesDiffer(differ)) => return Err(CaseError::Fault(differ.to_string())),
        Err(_) => return Ok(None),
    };
    let mut marks = super::reported::of_rate(first, rate, &[])?;
    marks.retain(|mark| mark.code.starts_with("dose-above-"));
    Ok(Some((RateAndDose { rate, dose, unit: first.unit }, marks)))
}

impl SyringeParameters {
    /// The exact rate that gives a dose, whether or not the driver can be set to it.
    fn rate_with_dose(&self, dose: Ratio) -> Result<Ratio, RateError> {
        rate_keeping(dose, self.unit, self.body(), self.strength)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fluid_is_the_sum_of_the_rates_and_counts_by_weight_and_day() {
        let tenths = |tenths: u128| Ratio::new(tenths, 10).expect("a rate");
        // 4.7 + 2.5 + 20 = 27.2 mL/h; by 64 kg and 24 h that is 10.2 mL/kg/day.
        let fluid =
            Fluid::of_rates(&[tenths(47), tenths(25), tenths(200)], &[], Some(Ratio::whole(64))).expect("a sum");
        assert_eq!(fluid.says(), "27.2 mL/h, 10.2 mL/kg/day");
        let unknown = Fluid::of_rates(&[tenths(47)], &[], None).expect("a sum");
        assert_eq!(unknown.says(), "4.7 mL/h");
    }
}
