//! Reports what was done: a start, another rate, a bolus, a pause, the next syringe, a stop. Nothing here reaches a driver.

use serde::{Deserialize, Serialize};

use crate::case::accounting::Course;
use crate::case::code::SetUpCode;
use crate::case::data::{RecordWritten, owed_for};
use crate::case::error::CaseError;
use crate::case::list::Owed;
use crate::case::lumen::HangsAt;
use crate::case::record::Confirmed;
use crate::case::record_event::{Recorded, SyringeSaid};
use crate::case::reported::ReportedAction;
use crate::case::restart::RunningDose;
use crate::case::{Cases, When, what_in_words};
use crate::quantity::{BolusDose, DoseRate, FlowRate, Moment, Quantity, Refused, Volume};

use super::{Actor, optional, read, refused, request, when};

/// What was done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Did {
    /// The first syringe was started.
    Start,
    /// The rate was changed.
    Rate,
    /// A bolus was given.
    Bolus,
    /// It was paused.
    Pause,
    /// It was resumed.
    Resume,
    /// The next syringe was put in.
    Syringe,
    /// It was hung on a port, or in another slot.
    Hang,
    /// The line or its port was flushed.
    Flush,
    /// It was stopped.
    Stop,
}

/// What can be reported, with what is typed for it.
#[derive(Debug, Clone, Copy, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct Reportable {
    /// What was done.
    pub did: Did,
    /// In words.
    pub says: &'static str,
    /// The button that reports it.
    pub button: &'static str,
    /// What `value` is, where it takes one.
    pub value: Option<&'static str>,
    /// How `value` is written.
    pub value_hint: &'static str,
    /// Whether `value` must be there.
    pub value_needed: bool,
}

impl Did {
    /// All that can be reported, in the order in which it happens.
    pub const ALL: &'static [Reportable] = &[
        Reportable {
            did: Self::Start,
            says: "the syringe was started",
            button: "Start",
            value: Some("Another rate"),
            value_hint: "with its unit: 5.1 mL/h; left out, the rate of the card",
            value_needed: false,
        },
        Reportable {
            did: Self::Rate,
            says: "the rate was changed",
            button: "Change rate",
            value: Some("New rate, or the dose that it gives"),
            value_hint: "with its unit: 7.2 mL/h, or 0.1 mcg/kg/min",
            value_needed: true,
        },
        Reportable {
            did: Self::Bolus,
            says: "a bolus was given",
            button: "Give bolus",
            value: Some("Dose or volume of the bolus"),
            value_hint: "with its unit: 0.5 mg, or 2 mL",
            value_needed: true,
        },
        Reportable {
            did: Self::Pause,
            says: "it was paused",
            button: "Pause",
            value: None,
            value_hint: "",
            value_needed: false,
        },
        Reportable {
            did: Self::Resume,
            says: "it was resumed",
            button: "Resume",
            value: Some("Another rate"),
            value_hint: "with its unit: 5.1 mL/h; left out, the rate before the pause",
            value_needed: false,
        },
        Reportable {
            did: Self::Syringe,
            says: "the next syringe was put in",
            button: "Change syringe",
            value: Some("Another rate"),
            value_hint: "with its unit: 5.1 mL/h; left out, the running dose goes on",
            value_needed: false,
        },
        Reportable {
            did: Self::Hang,
            says: "its line was connected or moved, or a carrier was started, changed or stopped on its port",
            button: "Note line",
            value: None,
            value_hint: "",
            value_needed: false,
        },
        Reportable {
            did: Self::Flush,
            says: "the line or its port was flushed",
            button: "Flush",
            value: Some("Volume of the flush"),
            value_hint: "with its unit: 5 mL",
            value_needed: true,
        },
        Reportable {
            did: Self::Stop,
            says: "it was stopped",
            button: "Stop",
            value: None,
            value_hint: "",
            value_needed: false,
        },
    ];

    /// Its word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Start => "start",
            Self::Rate => "rate",
            Self::Bolus => "bolus",
            Self::Pause => "pause",
            Self::Resume => "resume",
            Self::Syringe => "syringe",
            Self::Hang => "hang",
            Self::Flush => "flush",
            Self::Stop => "stop",
        }
    }

    /// The report of this word.
    #[must_use]
    pub fn named(word: &str) -> Option<Self> {
        Self::ALL.iter().map(|one| one.did).find(|did| did.word() == word)
    }

    fn words() -> String {
        Self::ALL.iter().map(|one| one.did.word()).collect::<Vec<_>>().join(", ")
    }

    /// What can be done now, by the record.
    #[must_use]
    pub const fn possible(course: Option<&Course>) -> &'static [Self] {
        match course {
            None => &[Self::Start],
            Some(Course { stopped: Some(_), .. }) => &[],
            Some(Course { rate: None, .. }) => &[Self::Resume, Self::Syringe, Self::Stop, Self::Hang, Self::Flush],
            Some(_) => &[Self::Rate, Self::Bolus, Self::Pause, Self::Syringe, Self::Stop, Self::Hang, Self::Flush],
        }
    }

    /// Its words.
    #[must_use]
    pub fn reportable(self) -> &'static Reportable {
        Self::ALL.iter().find(|one| one.did == self).unwrap_or(&Self::ALL[0])
    }

    /// Whether a field of [`Report`] belongs to it.
    #[must_use]
    pub fn asks(self, field: &str) -> bool {
        match field {
            "value" => Self::ALL.iter().any(|one| one.did == self && one.value.is_some()),
            "set_to" => self == Self::Rate,
            "reading" => self == Self::Syringe,
            "drug" | "strength" => matches!(self, Self::Start | Self::Syringe),
            "slot" | "port" | "carrier" => matches!(self, Self::Start | Self::Hang),
            "dose_changes" => matches!(self, Self::Resume | Self::Syringe),
            _ => true,
        }
    }
}

super::word!(Did);

request! {
    /// Something that was done. Which fields belong to which report, [`Did::asks`] says.
    Report {
        did: Option<Did> = "What was done", "";
        value: Option<String> = "The rate in mL/h, the dose that it gives, or the bolus", "with its unit: 7.2 mL/h";
        set_to: Option<String> = "With a dose: the rate that the driver was set to", "with its unit: 7.2 mL/h; refused where the dose needs another";
        reading: Option<u16> = "Which reading of the set-up is put in", "a number; left out, the latest one that was begun by then";
        drug: Option<String> = "Drug in the syringe, where two people have not agreed", "as you read it";
        strength: Option<String> = "Strength on its label, where two people have not agreed", "with its unit: 80 mcg/mL";
        port: Option<String> = "Port: the lumen or the tap", "as it is labelled, or: not hung yet";
        slot: Option<String> = "Slot", "the driver's own label";
        carrier: Option<String> = "Carrier on the same port: its rate", "with its unit: 5 mL/h; 0 mL/h once it is off";
        time: Option<String> = "When it happened, where that is not now", "14:05";
        late: Option<String> = "Why it is recorded only now", "needed after more than 10 minutes";
        reason: Option<String> = "Why it was done", "";
        even_so: bool = "It really happened, although it is not as agreed", "recorded and marked";
        dose_changes: bool = "The dose is changed on purpose", "to the rate given, or to the rate of the next syringe's card";
    }
}

/// What was recorded, and what follows.
#[derive(Debug)]
pub struct Reported {
    /// As data.
    pub data: RecordWritten,
    /// The line.
    pub recorded: Recorded,
    /// The line in words.
    pub says: String,
    /// The course with it; nothing before a start.
    pub course: Option<Course>,
    /// What ran until a restart.
    pub before: Option<RunningDose>,
    /// What is outstanding now.
    pub owed: Vec<Owed>,
}

impl Report {
    /// Reads every field, before anybody is asked to sign.
    ///
    /// # Errors
    /// When one cannot be read, or does not belong to this report.
    pub fn check(&self, now: Moment) -> Result<(), CaseError> {
        self.action()?;
        when(self.time.as_ref(), self.late.as_ref(), now).map(|_| ())
    }

    /// Records it.
    ///
    /// # Errors
    /// When a field cannot be read, the record cannot follow from it, or something odd was not confirmed.
    pub fn run(&self, cases: &mut Cases, code: SetUpCode, by: Actor<'_>) -> Result<Reported, CaseError> {
        let action = self.action()?;
        let when = when(self.time.as_ref(), self.late.as_ref(), by.now)?;
        let confirmed = Confirmed { even_so: self.even_so, dose_changes: self.dose_changes };
        Reported::record(cases, code, by, &action, &when, self.reason.as_deref(), confirmed)
    }

    fn action(&self) -> Result<ReportedAction, CaseError> {
        let Some(did) = self.did else {
            let help = format!("write one of: {}", Did::words());
            return Err(refused("did", "field-missing", "what was done is not said", help));
        };
        let given = [
            ("value", self.value.is_some()),
            ("set_to", self.set_to.is_some()),
            ("reading", self.reading.is_some()),
            ("drug", self.drug.is_some()),
            ("strength", self.strength.is_some()),
            ("port", self.port.is_some()),
            ("slot", self.slot.is_some()),
            ("carrier", self.carrier.is_some()),
            ("dose_changes", self.dose_changes),
        ];
        if let Some((field, _)) = given.into_iter().find(|(field, given)| *given && !did.asks(field)) {
            let says = format!("`{field}` does not belong to the report of `{}`", did.word());
            return Err(refused(field, "not-asked", says, "leave it out, or report the other thing that was done too"));
        }
        let rate = || optional("value", self.value.as_ref(), FlowRate::parse);
        let needed = || {
            let missing = || refused("value", "field-missing", "this is needed", "write it with its unit");
            self.value.as_ref().ok_or_else(missing)
        };
        Ok(match did {
            Did::Start => ReportedAction::StartedAt(rate()?, self.said()?, self.hangs()?),
            Did::Rate => {
                let text = needed()?;
                match DoseRate::parse(text).ok().filter(|_| FlowRate::parse(text).is_err()) {
                    Some(dose) => {
                        let set_to = optional("set_to", self.set_to.as_ref(), FlowRate::parse)?;
                        ReportedAction::DoseChanged { dose, set_to }
                    }
                    None => ReportedAction::RateChanged(read("value", text, FlowRate::parse)?),
                }
            }
            Did::Bolus => ReportedAction::BolusGiven(read("value", needed()?, BolusDose::parse)?),
            Did::Pause => ReportedAction::Paused,
            Did::Resume => ReportedAction::Resumed(rate()?),
            Did::Syringe => ReportedAction::SyringeChanged { rate: rate()?, reading: self.reading, said: self.said()? },
            Did::Flush => ReportedAction::Flushed(read("value", needed()?, Quantity::<Volume>::parse)?),
            Did::Hang => {
                let hangs = self.hangs()?;
                if hangs == HangsAt::default() {
                    let help = "write at least one of them: --port distal --slot 3 --carrier \"5 mL/h\"";
                    return Err(refused("port", "field-missing", "neither a port, a slot nor a carrier is said", help));
                }
                ReportedAction::Hung(hangs)
            }
            Did::Stop => ReportedAction::Stopped,
        })
    }

    fn hangs(&self) -> Result<HangsAt, CaseError> {
        let hangs = HangsAt::typed(self.slot.as_deref(), self.port.as_deref());
        read("carrier", self.carrier.as_deref().unwrap_or_default(), |text| hangs.with_carrier(Some(text)))
    }

    fn said(&self) -> Result<SyringeSaid, CaseError> {
        read("strength", self.strength.as_deref().unwrap_or_default(), |_| -> Result<_, Refused> {
            SyringeSaid::read(self.drug.as_deref(), self.strength.as_deref())
        })
    }
}

impl Reported {
    pub(super) fn record(
        cases: &mut Cases,
        code: SetUpCode,
        by: Actor<'_>,
        action: &ReportedAction,
        when: &When,
        reason: Option<&str>,
        confirmed: Confirmed,
    ) -> Result<Self, CaseError> {
        if let Some(current) = by.current {
            // Whatever would be refused afterwards is refused before anything is written.
            cases.fits(current)?;
        }
        let before = match action {
            ReportedAction::SyringeChanged { .. } | ReportedAction::Resumed(_) => {
                running(cases, code, when.happened.unwrap_or(by.now))?
            }
            _ => None,
        };
        let (recorded, course) = cases.record(code, (by.person, by.signer), action, when, reason, confirmed, by.now)?;
        let owed = owed_for(cases, code, by.current, by.now)?;
        let data = RecordWritten::of(cases, code, by.person, (recorded.clone(), course.as_ref()), &owed)?;
        let says = what_in_words(&recorded.what, &cases.people()?);
        Ok(Self { data, recorded, says, course, before, owed })
    }
}

/// What runs at a moment.
fn running(cases: &Cases, code: SetUpCode, at: Moment) -> Result<Option<RunningDose>, CaseError> {
    let case = cases.case(code.case)?;
    let course = case.course(case.set_up(code.number)?, at)?;
    Ok(course.as_ref().map(RunningDose::at_the_end).transpose()?.flatten())
}
