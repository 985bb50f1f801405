//! Where a syringe hangs: its slot, its port (the lumen or the tap), and what else hangs on that port. In: the record and
//! the rounds. Out: where it was read last, and what is odd about a shared lumen.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::formulary::{Drug, Policy, PortReading, SharedLumen};
use crate::quantity::{FlowRate, Moment, Ratio, Refused};

use super::accounting::{Course, ml_per_hour};
use super::basis::SyringeParameters;
use super::error::{CaseError, refuse};
use super::list::Owed;
use super::read_back::is_zero_rate;
use super::record_event::{Mark, RecordEvent, typed_rate};
use super::state::{Case, SetUp};
use super::timeline::steps;

/// The answer of somebody whose line is not connected yet.
pub const NOT_HUNG: &str = "not hung yet";

/// A carrier that does not run any more.
const OFF: &str = "0 mL/h";

/// Where a syringe hangs, as somebody read it.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct HangsAt {
    /// The driver's own label.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub slot: Option<String>,
    /// The lumen or the tap, or `not hung yet`.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub port: Option<String>,
    /// The rate of a carrier that runs on the same port; 0 mL/h once it is off.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub carrier: Option<String>,
}

impl HangsAt {
    /// What was typed, without blanks around it.
    #[must_use]
    pub fn typed(slot: Option<&str>, port: Option<&str>) -> Self {
        let said = |text: Option<&str>| text.map(str::trim).filter(|text| !text.is_empty()).map(str::to_owned);
        let port = said(port).map(|port| if is_not_hung(&port) { NOT_HUNG.to_owned() } else { port });
        Self { slot: said(slot), port, carrier: None }
    }

    /// The same with a carrier on the port, as typed.
    ///
    /// # Errors
    /// When the rate of the carrier cannot be read.
    pub fn with_carrier(self, carrier: Option<&str>) -> Result<Self, Refused> {
        let carrier = carrier.map(str::trim).filter(|text| !text.is_empty()).map(|text| match is_zero_rate(text) {
            true => Ok(OFF.to_owned()),
            false => FlowRate::parse(text).map(typed_rate),
        });
        Ok(Self { carrier: carrier.transpose()?, ..self })
    }

    /// The carrier, while it runs.
    fn running_carrier(&self) -> Option<&str> {
        self.carrier.as_deref().filter(|rate| *rate != OFF)
    }

    /// The port, where it hangs on one.
    #[must_use]
    pub fn hung(&self) -> Option<&str> {
        self.port.as_deref().filter(|port| !is_not_hung(port))
    }

    /// In words; empty where nothing was read.
    #[must_use]
    pub fn says(&self) -> String {
        let slot = self.slot.as_ref().map(|slot| format!("slot {slot}"));
        let port = self.port.as_ref().map(|port| match is_not_hung(port) {
            true => NOT_HUNG.to_owned(),
            false => format!("port {port}"),
        });
        let carrier = self.running_carrier().map(|rate| format!("carrier {rate}"));
        slot.into_iter().chain(port).chain(carrier).collect::<Vec<_>>().join(", ")
    }

    /// Nothing where nothing was said.
    pub(super) fn kept(&self) -> Option<Box<Self>> {
        (*self != Self::default()).then(|| Box::new(self.clone()))
    }

    fn read_later(&mut self, later: &Self) {
        // On another port another carrier runs, or none.
        if later.port.as_deref().is_some_and(|port| self.hung().is_none_or(|known| folded(known) != folded(port))) {
            self.carrier = None;
        }
        let fields =
            [(&mut self.slot, &later.slot), (&mut self.port, &later.port), (&mut self.carrier, &later.carrier)];
        for (known, read) in fields {
            if read.is_some() {
                known.clone_from(read);
            }
        }
    }
}

/// Whether it says that the line is not connected.
pub(super) fn is_not_hung(port: &str) -> bool {
    matches!(&*folded(port), "not hung" | NOT_HUNG)
}

/// Labels are compared without regard to capitals and blanks.
pub(super) fn folded(label: &str) -> String {
    label.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase()
}

/// What the formulary said of the drug and its lumen when two people agreed on the set-up.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct LumenRules {
    /// Whether the drug is vasoactive.
    #[serde(default)]
    pub(super) vasoactive: bool,
    /// Whether the house reads the port at the start and on each round.
    #[serde(default)]
    pub(super) reads_port: bool,
    /// Whether the house judges a lumen that a vasoactive drug shares.
    #[serde(default)]
    judges: bool,
    /// Whether sharing stops the start; else it asks for a reason.
    #[serde(default)]
    stops: bool,
}

impl LumenRules {
    pub(super) fn of_drug(drug: &Drug, policy: &Policy) -> Self {
        let hangs = policy.where_it_hangs;
        Self {
            vasoactive: drug.vasoactive,
            reads_port: hangs.is_some_and(|hangs| hangs.port == PortReading::Asked),
            judges: hangs.is_some(),
            stops: hangs.is_some_and(|hangs| hangs.vasoactive_shares == SharedLumen::Stop),
        }
    }

    pub(super) fn are_silent(&self) -> bool {
        *self == Self::default()
    }
}

impl SyringeParameters {
    /// Whether it disturbs no vasoactive drug in the same lumen: it is one itself, and no bolus of it was ordered.
    fn runs_evenly(&self) -> bool {
        self.lumen.vasoactive && self.bolus.is_none()
    }

    /// Whether the two may not share a lumen without a reason, and whether that stops a start.
    fn disturbs(&self, other: &Self) -> Option<bool> {
        let judged = self.lumen.judges || other.lumen.judges;
        let concerns = self.lumen.vasoactive || other.lumen.vasoactive;
        let odd = judged && concerns && !(self.runs_evenly() && other.runs_evenly());
        odd.then_some(self.lumen.stops || other.lumen.stops)
    }
}

impl Case {
    /// Where a set-up hung at a moment, by the record and by the rounds until then.
    ///
    /// # Errors
    /// When the record cannot be followed.
    pub fn hangs_at(&self, set_up: &SetUp, by: Moment) -> Result<HangsAt, CaseError> {
        let mut read: Vec<(Moment, u64, HangsAt)> = Vec::new();
        for step in steps(&set_up.record, None)?.into_iter().filter(|step| !by.is_before(step.at)) {
            match step.what {
                RecordEvent::Start { hangs: Some(hangs), .. } | RecordEvent::Hang { hangs } => {
                    read.push((step.at, step.seq, *hangs));
                }
                _ => {}
            }
        }
        for round in self.rounds.iter().filter(|round| !by.is_before(round.at)) {
            let of_it = |all: &[(u16, String)]| {
                all.iter().find(|(number, _)| *number == set_up.code.number).map(|(_, label)| label.clone())
            };
            let hangs = HangsAt { slot: of_it(&round.what.slots), port: of_it(&round.what.ports), carrier: None };
            // A record is kept to the minute: within one, what was written down later counts.
            read.push((Moment::parse(&round.at.to_rfc3339())?, round.seq, hangs));
        }
        read.sort_by(|(one, one_seq, _), (other, other_seq, _)| {
            one.seconds_since(*other).cmp(&0).then(one_seq.cmp(other_seq))
        });
        let mut hangs = HangsAt::default();
        read.iter().for_each(|(.., later)| hangs.read_later(later));
        Ok(hangs)
    }

    /// The carriers that run on ports of set-ups that are not stopped: one for each port, as it was said last.
    pub(super) fn carriers(&self, at: Moment) -> Result<Vec<Ratio>, CaseError> {
        let mut carriers: BTreeMap<String, (u64, String)> = BTreeMap::new();
        for set_up in &self.set_ups {
            if !self.course(set_up, at)?.is_some_and(|course| course.is_running()) {
                continue;
            }
            let (hangs, said) = (self.hangs_at(set_up, at)?, self.carrier_said(set_up, at)?);
            let Some((rate, said)) = hangs.carrier.clone().zip(said) else { continue };
            let port = hangs.hung().map_or_else(|| set_up.code.to_string(), folded);
            let known = carriers.entry(port).or_insert((0, OFF.to_owned()));
            if said >= known.0 {
                *known = (said, rate);
            }
        }
        let running = carriers.into_values().filter(|(_, rate)| rate != OFF);
        running.map(|(_, rate)| ml_per_hour(&rate)).collect()
    }

    /// The event with which somebody said last what carrier runs beside a set-up.
    fn carrier_said(&self, set_up: &SetUp, by: Moment) -> Result<Option<u64>, CaseError> {
        let steps = steps(&set_up.record, None)?;
        let said = steps.iter().filter(|step| !by.is_before(step.at)).filter(|step| match &step.what {
            RecordEvent::Start { hangs: Some(hangs), .. } | RecordEvent::Hang { hangs } => hangs.carrier.is_some(),
            _ => false,
        });
        Ok(said.map(|step| step.seq).max())
    }

    /// The other set-ups that were started, not stopped, and hang on a port.
    fn beside(
        &self,
        set_up: &SetUp,
        port: &str,
        at: Moment,
    ) -> Result<Vec<(String, SyringeParameters, HangsAt)>, CaseError> {
        let mut beside = Vec::new();
        for other in self.set_ups.iter().filter(|other| other.code != set_up.code) {
            let Some(course) = self.course(other, at)?.filter(Course::is_running) else { continue };
            let hangs = self.hangs_at(other, at)?;
            if hangs.hung().is_some_and(|hung| folded(hung) == folded(port)) {
                beside.push((self.named(other)?, course.syringe().basis.clone(), hangs));
            }
        }
        Ok(beside)
    }

    /// What is odd about what happened for the lumen of a vasoactive drug.
    pub(super) fn marks_of_the_lumen(
        &self,
        set_up: &SetUp,
        what: &RecordEvent,
        before: Option<&Course>,
        at: Moment,
    ) -> Result<Vec<Mark>, CaseError> {
        let runs = before.map(|course| &course.syringe().basis);
        match (what, runs) {
            (RecordEvent::Start { reading, hangs, .. }, _) => {
                self.shares_a_lumen(set_up, &self.basis_by(set_up, *reading, Some(at))?, hangs.as_deref(), at)
            }
            (RecordEvent::Syringe { reading, .. }, Some(runs)) => {
                let basis = self.basis_by(set_up, *reading, Some(at))?;
                // The same in the same place was asked about when it was hung there.
                let is_known = runs.lumen == basis.lumen && runs.bolus.is_some() == basis.bolus.is_some();
                let hangs = self.hangs_at(set_up, at)?;
                self.shares_a_lumen(set_up, &basis, Some(&hangs).filter(|_| !is_known), at)
            }
            (RecordEvent::Hang { hangs }, Some(runs)) => self.shares_a_lumen(set_up, runs, Some(hangs), at),
            (RecordEvent::Bolus { .. } | RecordEvent::Flush { .. }, Some(runs)) => {
                let is_flush = matches!(what, RecordEvent::Flush { .. });
                Ok(self.pushes_a_vasoactive_drug(set_up, (runs, is_flush), at)?.into_iter().collect())
            }
            _ => Ok(Vec::new()),
        }
    }

    /// What is odd about hanging a syringe where it is to hang: a vasoactive drug is alone in its lumen. Nothing where
    /// neither a port nor a carrier is said.
    fn shares_a_lumen(
        &self,
        set_up: &SetUp,
        basis: &SyringeParameters,
        said: Option<&HangsAt>,
        at: Moment,
    ) -> Result<Vec<Mark>, CaseError> {
        let Some(said) = said.filter(|said| said.port.is_some() || said.carrier.is_some()) else {
            return Ok(Vec::new());
        };
        let mut hangs = self.hangs_at(set_up, at)?;
        hangs.read_later(said);
        let beside = match hangs.hung() {
            Some(port) => self.beside(set_up, port, at)?,
            None => Vec::new(),
        };
        let mut odd: Vec<(String, bool)> =
            beside.iter().filter_map(|(named, other, _)| Some((named.clone(), basis.disturbs(other)?))).collect();
        // A carrier disturbs each vasoactive drug on its port.
        let own = hangs.running_carrier();
        let carried = own.or_else(|| beside.iter().find_map(|(.., other)| other.running_carrier()));
        if let Some(rate) = carried {
            let all = std::iter::once(basis).chain(beside.iter().map(|(_, other, _)| other));
            let pushed: Vec<LumenRules> =
                all.map(|one| one.lumen).filter(|lumen| lumen.vasoactive && lumen.judges).collect();
            if !pushed.is_empty() {
                odd.push((format!("a carrier at {rate}"), pushed.iter().any(|lumen| lumen.stops)));
            }
        }
        if odd.is_empty() {
            return Ok(Vec::new());
        }
        let others = odd.iter().map(|(named, _)| named.as_str()).collect::<Vec<_>>().join(" and ");
        let port = hangs.hung().map_or_else(|| "the port".to_owned(), |port| format!("port {port}"));
        let says = format!("{port} is shared with {others}: a vasoactive drug is alone in its lumen");
        let code = if odd.iter().any(|(_, stops)| *stops) { "lumen-shared-stop" } else { "lumen-shared" };
        Ok(vec![Mark::new(code, says)])
    }

    /// What is odd about a bolus or a flush through the port of a set-up: it pushes the vasoactive drug in the lumen. A
    /// bolus of a drug by itself is ordered or marked as such; a flush pushes the drug of the set-up too.
    fn pushes_a_vasoactive_drug(
        &self,
        set_up: &SetUp,
        (basis, is_flush): (&SyringeParameters, bool),
        at: Moment,
    ) -> Result<Option<Mark>, CaseError> {
        let hangs = self.hangs_at(set_up, at)?;
        let beside = match hangs.hung() {
            Some(port) => self.beside(set_up, port, at)?,
            None => Vec::new(),
        };
        let own = (is_flush && basis.lumen.vasoactive && basis.lumen.judges).then(|| self.named(set_up)).transpose()?;
        let judged = |other: &SyringeParameters| basis.lumen.judges || other.lumen.judges;
        let pushed = beside.iter().filter(|(_, other, _)| other.lumen.vasoactive && judged(other));
        let pushed: Vec<String> = own.into_iter().chain(pushed.map(|(named, ..)| named.clone())).collect();
        let what = if is_flush { "the flush" } else { "the bolus" };
        let says = || format!("{what} pushes {} out of the lumen", pushed.join(" and "));
        Ok((!pushed.is_empty()).then(|| Mark::new("vasoactive-pushed", says())))
    }

    /// Which of the set-ups that were read on one port may not share it: each pair once, in words.
    pub(super) fn shared_on_a_round(read: &[(String, SyringeParameters, HangsAt, bool)]) -> Vec<String> {
        let mut shared = Vec::new();
        for (nth, (named, basis, hangs, is_new)) in read.iter().enumerate() {
            for (other_named, other, other_hangs, other_is_new) in &read[nth + 1..] {
                let Some((port, other_port)) = hangs.hung().zip(other_hangs.hung()) else { continue };
                // Where both hung there before, that was asked about then.
                let asks = (*is_new || *other_is_new) && folded(port) == folded(other_port);
                if asks && basis.disturbs(other).is_some() {
                    shared.push(format!(
                        "{named} and {other_named} SHARE PORT {port}: a vasoactive drug is alone in its lumen"
                    ));
                }
            }
        }
        shared
    }

    /// Whether the house reads the port of what is started next.
    ///
    /// # Errors
    /// When its syringe cannot be read.
    pub fn reads_port(&self, set_up: &SetUp) -> Result<bool, CaseError> {
        let latest = set_up.latest().map(|latest| self.basis(set_up, latest.number)).transpose()?;
        Ok(latest.is_some_and(|basis| basis.agreed && basis.lumen.reads_port))
    }

    /// What is outstanding of a running set-up whose port the house reads.
    pub(super) fn owed_for_port(
        &self,
        set_up: &SetUp,
        course: &Course,
        now: Moment,
    ) -> Result<Option<Owed>, CaseError> {
        if !course.is_running() || !course.syringe().basis.lumen.reads_port {
            return Ok(None);
        }
        let hangs = self.hangs_at(set_up, now)?;
        let why = match &hangs.port {
            Some(_) if hangs.hung().is_some() => return Ok(None),
            Some(_) => "it was not hung yet when it was read",
            None => "nobody has read it",
        };
        let says =
            format!("read on which port it hangs: {why}; record it: `countersign record hang {} --port`", set_up.code);
        Ok(Some(Owed { code: "port", says }))
    }
}

/// Refuses a start whose port the house reads and nobody said.
pub(super) fn require_port(basis: &SyringeParameters, hangs: &HangsAt) -> Result<(), CaseError> {
    // An emergency is never held up by it: it is outstanding afterwards.
    if basis.agreed && basis.lumen.reads_port && hangs.port.is_none() {
        let says = "this house reads the port at the start, and none is said";
        let help = "trace the line to the patient and say the lumen or tap: --port distal; or --port \"not hung yet\"";
        return Err(refuse("port-not-said", says, help));
    }
    Ok(())
}
