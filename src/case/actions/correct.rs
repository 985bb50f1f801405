//! Corrects a line of the record, or gives its reason. The old line stays readable.

use serde::{Deserialize, Serialize};

use crate::case::code::SetUpCode;
use crate::case::error::CaseError;
use crate::case::record::Confirmed;
use crate::case::reported::{Otherwise, ReportedAction};
use crate::case::{Cases, When};
use crate::quantity::{BolusDose, FlowRate, Moment};

use super::{Actor, Reported, optional, read, refused, request};

/// What happened instead of what was recorded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Instead {
    /// Nothing.
    Not,
    /// The same at another time.
    Time,
    /// Another rate: of a start, of a resuming and of the next syringe too.
    Rate,
    /// A bolus.
    Bolus,
    /// A pause.
    Pause,
    /// It was resumed, at the rate before.
    Resume,
    /// It was stopped.
    Stop,
}

impl Instead {
    /// Each with its words.
    pub const ALL: &'static [(Self, &'static str)] = &[
        (Self::Not, "It did not happen"),
        (Self::Time, "It happened at another time"),
        (Self::Rate, "At another rate"),
        (Self::Bolus, "This bolus was given"),
        (Self::Pause, "It was paused"),
        (Self::Resume, "It was resumed"),
        (Self::Stop, "It was stopped"),
    ];

    /// Its word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Not => "not",
            Self::Time => "time",
            Self::Rate => "rate",
            Self::Bolus => "bolus",
            Self::Pause => "pause",
            Self::Resume => "resume",
            Self::Stop => "stop",
        }
    }

    fn words() -> String {
        Self::ALL.iter().map(|(one, _)| one.word()).collect::<Vec<_>>().join(", ")
    }

    /// The correction of this word.
    #[must_use]
    pub fn named(word: &str) -> Option<Self> {
        Self::ALL.iter().map(|(one, _)| *one).find(|one| one.word() == word)
    }
}

super::word!(Instead);

request! {
    /// About a line of the record. Without anything that was otherwise, it gives the reason.
    Correction {
        instead: Option<Instead> = "How it was", "left out where only the reason is given";
        value: Option<String> = "The rate or the bolus, as it was", "with its unit: 7.2 mL/h";
        time: Option<String> = "When it happened, where that was otherwise recorded", "14:05";
        reason: Option<String> = "Why it was done, or why it is corrected", "";
        even_so: bool = "It really happened, although it is not as agreed", "recorded and marked";
    }
}

impl Correction {
    /// Reads every field, before anybody is asked to sign.
    ///
    /// # Errors
    /// When one cannot be read.
    pub fn check(&self, now: Moment) -> Result<(), CaseError> {
        self.action(0, now).map(|_| ())
    }

    /// Records it as a line of its own.
    ///
    /// # Errors
    /// When there is no such event, a field cannot be read, or the record cannot follow from it.
    pub fn run(&self, event: u64, cases: &mut Cases, code: SetUpCode, by: Actor<'_>) -> Result<Reported, CaseError> {
        let action = self.action(event, by.now)?;
        let confirmed = Confirmed { even_so: self.even_so, ..Confirmed::default() };
        Reported::record(cases, code, by, &action, &When::default(), self.reason.as_deref(), confirmed)
    }

    fn action(&self, event: u64, now: Moment) -> Result<ReportedAction, CaseError> {
        let empty = |help: &str| refused("instead", "correction-empty", "how it was is not said", help);
        let Some(instead) = self.instead else {
            if self.value.is_some() || self.time.is_some() {
                return Err(empty("say what happened instead, or give only the reason"));
            }
            return Ok(ReportedAction::Explained { event });
        };
        let takes_value = matches!(instead, Instead::Rate | Instead::Bolus | Instead::Resume);
        let extra =
            [("value", self.value.is_some() && !takes_value), ("time", self.time.is_some() && instead == Instead::Not)];
        if let Some((field, _)) = extra.into_iter().find(|(_, extra)| *extra) {
            let says = format!("`{field}` does not belong to the correction `{}`", instead.word());
            return Err(refused(field, "not-asked", says, "leave it out"));
        }
        let happened = optional("time", self.time.as_ref(), |text| Moment::parse_local(text, now))?;
        let value = self.value.as_deref().unwrap_or_default();
        let what = match instead {
            Instead::Not => return Ok(ReportedAction::Corrected { event, otherwise: None }),
            Instead::Time if happened.is_none() => return Err(empty("write at which time it happened")),
            Instead::Time => None,
            Instead::Rate => Some(ReportedAction::RateChanged(read("value", value, FlowRate::parse)?)),
            Instead::Bolus => Some(ReportedAction::BolusGiven(read("value", value, BolusDose::parse)?)),
            Instead::Pause => Some(ReportedAction::Paused),
            Instead::Resume => Some(ReportedAction::Resumed(optional("value", self.value.as_ref(), FlowRate::parse)?)),
            Instead::Stop => Some(ReportedAction::Stopped),
        };
        Ok(ReportedAction::Corrected { event, otherwise: Some(Otherwise { what: what.map(Box::new), happened }) })
    }
}
