//! The cases at a glance: where each set-up stands, what runs, and what is owed.

use crate::entry::Identifiers;
use crate::formulary::Formulary;
use crate::quantity::{Moment, Ratio, Strength, exact_or_about, grouped, plain};

use super::Cases;
use super::accounting::Course;
use super::code::{CaseCode, SetUpCode};
use super::error::CaseError;
use super::patient::Twice;
use super::record_event::{ReadBack, RecordEvent, Recorded, SyringeSaid};
use super::review::{ReviewStage, ReviewState, StartBlock};
use super::state::{Case, Reading, SetUp, Signed};

/// Something that somebody still has to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Owed {
    /// Kebab-case, stable.
    pub code: &'static str,
    /// In words.
    pub says: String,
}

/// One set-up of the list; or a case without any.
#[derive(Debug, Clone)]
pub struct SetUpRow {
    /// The case.
    pub case: CaseCode,
    /// The set-up.
    pub set_up: Option<SetUpCode>,
    /// What people call it: drug, strength and code, as far as it may be shown.
    pub named: String,
    /// The patient, as two people agreed: identifiers and weight.
    pub patient: Option<String>,
    /// Where it stands.
    pub stands: String,
    /// Drug, strength and driver, once it runs. Nothing before: no value is shown before two people agree.
    pub runs: Option<Runs>,
    /// What is owed.
    pub owed: Vec<Owed>,
    /// Whether it has come to its end.
    pub over: bool,
    /// Whether it has a card: agreed on by two people, or entered in an emergency.
    pub has_card: bool,
    /// Whether it was started, by the record.
    pub started: bool,
}

/// What runs in a driver.
#[derive(Debug, Clone)]
pub struct Runs {
    /// The drug.
    pub drug: String,
    /// Its strength.
    pub strength: String,
    /// The driver.
    pub driver: String,
    /// The rate now; paused where there is none.
    pub rate: Option<String>,
}

impl Cases {
    /// The rows of one case; a display that differs stands first.
    ///
    /// # Errors
    /// When an entry cannot be read.
    pub fn rows(&self, case: &Case, current: Option<&Formulary>, now: Moment) -> Result<Vec<SetUpRow>, CaseError> {
        if let Some(current) = current {
            self.fits(current)?;
        }
        let stopped = |reading: &Reading, standing: &ReviewState| match current {
            Some(current) => self.stopped_by(case, reading, standing, current, now),
            None => Ok(None),
        };
        set_up_rows(case, &stopped, now)
    }
}

impl Case {
    /// The patient, once two people agreed on one: identifiers and weight.
    ///
    /// # Errors
    /// When what was agreed on cannot be read.
    pub fn patient_in_words(&self) -> Result<Option<String>, CaseError> {
        let patient = self.patient_before(u64::MAX)?;
        Ok(patient.map(|patient| match &patient.identifiers {
            Identifiers::Pending => format!("identifiers PENDING, {}", patient.weight),
            Identifiers::Known(known) => format!("{}, {}", known.join(" | "), patient.weight),
        }))
    }

    /// What people call a set-up: drug and strength once two people agreed on them or it runs; before, its code alone.
    ///
    /// # Errors
    /// When what was agreed on cannot be read.
    pub fn named(&self, set_up: &SetUp) -> Result<String, CaseError> {
        let latest = set_up.latest().filter(|latest| self.standing(latest).stage.has_card());
        let reading = set_up.running_reading().or(latest.map(|latest| latest.number));
        let basis = reading.map(|reading| self.basis(set_up, reading)).transpose()?.filter(|basis| !basis.sealed);
        Ok(match basis {
            Some(basis) => format!("{} {}, {}", basis.drug, basis.strength_on_label, set_up.code),
            None => set_up.code.to_string(),
        })
    }

    /// One reading of it by drug and strength, said to be the next syringe where another one runs.
    pub(super) fn named_reading(&self, set_up: &SetUp, reading: &Reading) -> Result<String, CaseError> {
        let basis = self.basis(set_up, reading.number)?;
        let next = set_up.running_reading().is_some_and(|running| running < reading.number);
        let next = if next { "next syringe, " } else { "" };
        Ok(if basis.sealed {
            format!("{next}{}", set_up.code)
        } else {
            format!("{next}{} {}, {}", basis.drug, basis.strength_on_label, set_up.code)
        })
    }
}

/// What a newer formulary says of a reading.
pub(super) type StoppedBy<'s> = dyn Fn(&Reading, &ReviewState) -> Result<Option<String>, CaseError> + 's;

/// The rows of one case; `stopped` says what a newer formulary would stop.
pub(super) fn set_up_rows(case: &Case, stopped: &StoppedBy<'_>, now: Moment) -> Result<Vec<SetUpRow>, CaseError> {
    if !case.set_ups.is_empty() {
        case.key()?;
    }
    let of_case = owed_by_case(case)?;
    if case.set_ups.is_empty() {
        let stands = "opened; nothing entered yet".to_owned();
        return Ok(vec![SetUpRow {
            case: case.code,
            set_up: None,
            named: case.code.to_string(),
            patient: case.patient_in_words()?,
            stands,
            runs: None,
            owed: of_case,
            over: false,
            has_card: false,
            started: false,
        }]);
    }
    let rows = case.set_ups.iter().map(|set_up| row(case, set_up, &of_case, stopped, now));
    let mut rows = rows.collect::<Result<Vec<_>, _>>()?;
    if case.set_ups.len() > 1 {
        for same in case.same_drug_twice(now)?.into_iter().filter(|same| same.is_beyond) {
            for row in rows.iter_mut().filter(|row| row.set_up.is_some_and(|code| same.set_ups.contains(&code))) {
                row.owed.push(Owed { code: "same-drug", says: same.says.clone() });
            }
        }
    }
    rows.sort_by_key(SetUpRow::urgency);
    Ok(rows)
}

/// What runs is not what two people agreed on after the start.
const RUNS_OTHERWISE: &str = "runs-otherwise";

/// What is owed for a display that differs: it stands before everything else.
const DISPLAY_DIFFERS: &str = "display-differs";

impl SetUpRow {
    /// What may harm somebody now stands first, and what has come to its end last.
    pub(super) fn urgency(&self) -> u8 {
        let owes = |codes: &[&str]| self.owed.iter().any(|owed| codes.contains(&owed.code));
        match self.over {
            true => 3,
            false if owes(&[DISPLAY_DIFFERS, RUNS_OTHERWISE, "case-unreadable"]) => 0,
            false if owes(&["second-check"]) => 1,
            false => 2,
        }
    }

    /// Whether a display was read back that differs, and nothing has settled it.
    #[must_use]
    pub fn display_differs(&self) -> bool {
        self.owed.iter().any(|owed| owed.code == DISPLAY_DIFFERS)
    }

    /// A case that cannot be read is a row of its own: it does not take the others from view.
    pub(super) fn unreadable(case: CaseCode, error: CaseError) -> Result<SetUpRow, CaseError> {
        let why = match error {
            // The journal as a whole cannot be used now.
            CaseError::Journal(error) if !error.is_damage() => return Err(error.into()),
            CaseError::Refused(refusal) if refusal.code == "case-forgotten" => {
                "its key is missing: what was sealed in it cannot be read".to_owned()
            }
            CaseError::Form(_) => "its formulary cannot be read".to_owned(),
            other => other.to_string(),
        };
        let says = "the case cannot be read: go by the driver and the order; the journal is verified as a whole";
        let owed = vec![Owed { code: "case-unreadable", says: says.to_owned() }];
        let stands = format!("CANNOT BE READ: {why}");
        Ok(SetUpRow {
            case,
            set_up: None,
            named: case.to_string(),
            patient: None,
            stands,
            runs: None,
            owed,
            over: false,
            has_card: false,
            started: false,
        })
    }
}

fn row(
    case: &Case,
    set_up: &SetUp,
    of_case: &[Owed],
    stopped: &StoppedBy<'_>,
    now: Moment,
) -> Result<SetUpRow, CaseError> {
    let mut owed = of_case.to_vec();
    let course = case.course(set_up, now)?;
    // What is entered anew in a set-up that was closed is not over with it.
    let waits = set_up.latest().is_some_and(|latest| {
        !set_up.has_run(latest.number)
            && !matches!(
                case.standing(latest).stage,
                ReviewStage::Stopped(_) | ReviewStage::NotAgreed { .. } | ReviewStage::NotReadable { .. }
            )
    });
    let over = !waits && course.as_ref().is_some_and(|course| course.closed);
    let mut is_void = false;
    let mut stands = match set_up.latest() {
        Some(reading) => {
            let standing = case.standing(reading);
            let is_next = set_up.running_reading().is_some_and(|running| running != reading.number);
            let started = set_up.running_reading() == Some(reading.number);
            let mut says = standing.stage.says();
            if standing.stage.same().is_some() && !started {
                says.push_str(", not started");
                let recounts = case.recounts_in_force(reading, None);
                if let Some(Ok(recount)) = recounts.last().map(|last| &last.recount) {
                    says.push_str(&format!("; {}", recount.says()));
                }
                if let Some(hindered) = case.hindered(reading, &standing, now)? {
                    is_void = true;
                    says = match hindered {
                        StartBlock::ClockUncertain { says } => says,
                        _ => {
                            let marks = case.not_startable(set_up, now)?;
                            marks.into_iter().map(|mark| mark.says).collect::<Vec<_>>().join("; ")
                        }
                    };
                }
                if let Some(syringe) = standing.stage.same().and_then(|decision| decision.syringe.as_ref()) {
                    says = format!("{} {}: {says}", syringe.drug, syringe.strength_on_label);
                }
                if let Some(stop) = stopped(reading, &standing)? {
                    owed.push(Owed {
                        code: "new-formulary-stops",
                        says: format!("the formulary of now stops it: {stop}"),
                    });
                }
            }
            // What is accounted for is not stopped any more: a formulary of now says nothing about it.
            if started
                && !over
                && let Some(stop) = stopped(reading, &standing)?
            {
                owed.push(Owed {
                    code: "new-formulary-stops",
                    says: format!("it keeps its formulary; a newer one would stop it: {stop}"),
                });
            }
            let is_settled = standing.stage.is_settled();
            if (reading.began_in_an_emergency() && standing.stage.same().is_none()) || (started && !is_settled) {
                let next = match &standing.stage {
                    ReviewStage::Unchecked | ReviewStage::AwaitsSecond => "a second person enters it".to_owned(),
                    stage => stage.says(),
                };
                owed.push(Owed { code: "second-check", says: format!("NOT DOUBLE-CHECKED: {next}") });
            }
            if let Some(course) = &course
                && let Some(next) = case.next_syringe(set_up, course)?
            {
                says.push_str(&format!("; {}", next.keeps_in_words()));
            }
            if is_next { format!("next syringe: {says}") } else { says }
        }
        None => "nothing entered yet".to_owned(),
    };
    if let Some(course) = &course {
        stands = running(course, &stands, set_up)?;
        owed.extend(owed_by_course(case, set_up, course, now)?);
        owed.extend(case.owed_for_port(set_up, course, now)?);
    } else if !is_void && let Some(why) = case.read_back_owed(set_up)? {
        owed.push(Owed { code: "read-back", says: format!("read the driver back: {why}") });
    }
    let recorded_otherwise =
        course.as_ref().map(|course| case.is_recorded_otherwise(set_up, course)).transpose()?.flatten();
    let runs_otherwise = course.as_ref().map(|course| case.runs_otherwise(set_up, course)).transpose()?.flatten();
    let started = course.is_some();
    let runs = match course.filter(Course::is_running) {
        None => None,
        Some(course) => {
            let basis = &course.syringe().basis;
            Some(Runs {
                drug: basis.drug.clone(),
                strength: basis.strength_on_label.clone(),
                driver: basis.driver().to_owned(),
                rate: course.rate.map(|rate| format!("{} mL/h", grouped(&plain(rate)))),
            })
        }
    };
    for says in runs_otherwise.into_iter().chain(recorded_otherwise) {
        owed.insert(0, Owed { code: RUNS_OTHERWISE, says });
    }
    if let Some(differs) = case.outstanding_difference(set_up)? {
        // One thing is asked for: to read it back is a part of it.
        owed.retain(|one| one.code != "read-back");
        owed.insert(0, owed_for_display(differs));
        stands = format!("THE DISPLAY DIFFERS; {stands}");
    }
    let has_card = set_up.latest().is_some_and(|latest| {
        case.standing(latest).stage.has_card() || latest.began_in_an_emergency() || set_up.running_reading().is_some()
    });
    Ok(SetUpRow {
        case: case.code,
        set_up: Some(set_up.code),
        named: case.named(set_up)?,
        patient: case.patient_in_words()?,
        stands,
        runs,
        owed,
        over,
        has_card,
        started,
    })
}

impl Case {
    /// What was put in by somebody's own words, where two people agreed on another drug or strength afterwards, and nobody has
    /// given a reason since.
    pub(super) fn is_recorded_otherwise(&self, set_up: &SetUp, course: &Course) -> Result<Option<String>, CaseError> {
        let basis = &course.syringe().basis;
        let (drug, strength) = set_up.said_to_be(basis.reading);
        let Some(reading) = set_up.reading(basis.reading).filter(|_| !basis.sealed) else { return Ok(None) };
        let stage = self.standing(reading).stage;
        let Some(decision) = stage.same().filter(|_| drug.is_some() || strength.is_some()) else { return Ok(None) };
        // The names that both entries use are the same drug; an entry that cannot be read any more only says fewer.
        let typed = reading.entries_of(decision).filter_map(|entry| self.entry(entry).ok());
        let names: Vec<String> =
            std::iter::once(basis.drug.clone()).chain(typed.map(|entry| entry.drug().to_owned())).collect();
        let folded = |name: &str| name.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
        let other_drug = drug.as_ref().is_some_and(|said| names.iter().all(|name| folded(name) != folded(said)));
        let meant = |said: &String| Strength::parse_label(said).ok().map(Strength::concentration);
        let other_strength = strength.as_ref().is_some_and(|said| meant(said) != basis.concentration());
        if !(other_drug || other_strength) || set_up.is_explained_since_put_in(basis.reading) {
            return Ok(None);
        }
        let said = SyringeSaid { drug, strength }.says();
        Ok(Some(format!(
            "RECORDED WHEN IT WAS PUT IN: {said}; TWO PEOPLE AGREED AFTERWARDS ON {}, {}, by which every dose here is \
             counted: read the label; correct the record, or write the reason",
            basis.drug, basis.strength_on_label
        )))
    }

    /// What runs, where two people agreed on another rate after it was set: they did not know it, or it was not put right.
    pub(super) fn runs_otherwise(&self, set_up: &SetUp, course: &Course) -> Result<Option<String>, CaseError> {
        let basis = &course.syringe().basis;
        let Some(reading) = set_up.reading(basis.reading) else { return Ok(None) };
        let standing = self.standing(reading);
        let since = set_up.last_rate_event()?;
        let runs = course.flowing().filter(|rate| *rate != basis.set && standing.stage.same().is_some());
        let Some(rate) = runs.filter(|_| since.is_some_and(|since| since < standing.since)) else { return Ok(None) };
        let by = |rate| Ok::<_, CaseError>(format!("{} mL/h, {}", grouped(&plain(rate)), basis.dose_shown(rate)?));
        let (more, less) = if rate > basis.set { (rate, basis.set) } else { (basis.set, rate) };
        let times =
            if less.is_zero() { String::new() } else { format!(" ({} times)", exact_or_about(more.over(less)?)) };
        Ok(Some(format!(
            "RUNS AT {}, AND TWO PEOPLE AGREED AFTERWARDS ON {}{times}: read the order, set the driver, and record the rate",
            by(rate)?,
            by(basis.set)?
        )))
    }
}

fn owed_for_display(differs: &Signed<ReadBack>) -> Owed {
    let says = format!(
        "THE DISPLAY DIFFERS, read at {}: {}; set the driver right and read it back, or record what it shows",
        differs.at.local(),
        differs.what.differences_in_words()
    );
    Owed { code: DISPLAY_DIFFERS, says }
}

fn running(course: &Course, stands: &str, set_up: &SetUp) -> Result<String, CaseError> {
    let is_next = set_up.running_reading() != set_up.latest().map(|reading| reading.number);
    let next = if is_next { format!("; {stands}") } else { String::new() };
    let now = match (course.stopped, course.rate) {
        _ if course.closed => "closed".to_owned(),
        (Some(stopped), _) => format!("stopped at {}", stopped.local()),
        (None, None) => "paused".to_owned(),
        // When it runs empty tells what it was filled with.
        (None, Some(_)) if course.syringe().ran_empty.is_some() && !course.syringe().basis.sealed => {
            let since = course.syringe().ran_empty.map(|at| format!(" since {}", at.local())).unwrap_or_default();
            format!("SHOULD BE EMPTY{since}")
        }
        (None, Some(_)) => format!("running since {}", course.started.local()),
    };
    let unchecked = if course.syringe().basis.agreed { "" } else { ", NOT DOUBLE-CHECKED" };
    let line = course.still_in_the_line()?.filter(|_| course.is_running());
    let line = line.map(|held| format!("; {}", held.says())).unwrap_or_default();
    Ok(format!("{now}{unchecked}{line}{next}"))
}

fn owed_by_course(case: &Case, set_up: &SetUp, course: &Course, now: Moment) -> Result<Vec<Owed>, CaseError> {
    let mut owed = Vec::new();
    if course.is_running() {
        if let Some(why) = case.read_back_owed(set_up)? {
            owed.push(Owed { code: "read-back", says: format!("read the driver back: {why}") });
        }
        let near = |moment: Moment| moment.hours_since(now).is_none_or(|left| left <= Ratio::ONE);
        // What follows from a sealed entry would tell a second person what it says.
        let open = !course.syringe().basis.sealed;
        if let Some(discard) = course.syringe().basis.discard_after.filter(|discard| open && near(*discard)) {
            owed.push(Owed { code: "discard", says: format!("discard the solution at {}", discard.local()) });
        }
        if let Some(ready) = course.next_ready_by().filter(|ready| open && near(*ready)) {
            let empty = course.empty_at.map(|empty| format!("; empty at {}", empty.local())).unwrap_or_default();
            let says = if case.next_syringe(set_up, course)?.is_some() {
                format!("the next syringe is agreed: put it in before this one is empty{empty}")
            } else if course.syringe().ran_empty.is_some() {
                format!("the next syringe is needed now{empty}")
            } else {
                format!("have the next syringe ready by {}{empty}", ready.local())
            };
            owed.push(Owed { code: "next-syringe", says });
        }
        owed.extend(owed_by_weight(case, set_up, course)?);
    } else if !course.closed {
        owed.push(Owed { code: "close", says: "account for what was drawn up: `countersign record close`".to_owned() });
    }
    for one in &course.contradictions {
        let says = format!(
            "event {} contradicts what is written down for before it: {}; write down what is missing",
            one.event, one.says
        );
        owed.push(Owed { code: "contradiction", says });
    }
    let explained = |seq: u64| {
        // A correction that was taken back explains nothing.
        let reason =
            |signed: &Signed<Recorded>| matches!(signed.what.what, RecordEvent::Reason { event } if event == seq);
        set_up.correction(seq).is_some() || set_up.record.iter().any(reason)
    };
    for signed in &set_up.record {
        let odd = signed.what.marks.iter().find(|mark| mark.owes_reason());
        if let Some(mark) = odd.filter(|_| signed.what.reason.is_none() && !explained(signed.seq)) {
            let write = format!("write it with `countersign record reason --event {}`", signed.seq);
            owed.push(Owed {
                code: "reason",
                says: format!("a reason for event {}: {}; {write}", signed.seq, mark.says),
            });
        }
    }
    Ok(owed)
}

/// A weight that changed while it runs: what the rate gives by it, until somebody sets another rate or syringe.
fn owed_by_weight(case: &Case, set_up: &SetUp, course: &Course) -> Result<Option<Owed>, CaseError> {
    Ok(case.weight_while_it_runs(set_up, course)?.map(|says| Owed { code: "weight-changed", says }))
}

fn owed_by_case(case: &Case) -> Result<Vec<Owed>, CaseError> {
    let mut owed = Vec::new();
    let patient = case.patient_before(u64::MAX)?;
    let pending = patient.is_some_and(|patient| patient.identifiers == Identifiers::Pending);
    if pending && case.identifiers_reading()? == Twice::Quiet {
        let says = "identifiers are pending; two people read them off the wristband: `countersign case identifiers`";
        owed.push(Owed { code: "identifiers", says: says.to_owned() });
    }
    owed.extend(case.owed_by_rounds()?);
    owed.extend(case.owed_by_orders()?);
    for (reading, what, code) in
        [(case.weight_reading()?, "weight", "weight"), (case.identifiers_reading()?, "identifiers", "identifiers")]
    {
        let says = match reading {
            Twice::Quiet => continue,
            Twice::AwaitsSecond { .. } => format!("a second person reads the {what}: `countersign case {what}`"),
            Twice::Differ => {
                format!("two people differ about the {what}; both read it again: `countersign case {what}`")
            }
        };
        owed.push(Owed { code, says });
    }
    Ok(owed)
}
