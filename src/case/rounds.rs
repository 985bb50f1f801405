//! The round as people take it: the person who takes over reads every driver, blind, as one event; what differs is named
//! and stays outstanding; then the second person signs. In: what was read. Out: an event, or a refusal.

use serde::{Deserialize, Serialize};

use crate::formulary::{RATE, is_same_person};
use crate::journal::Signer;
use crate::quantity::{Concentration, FlowRate, Moment, Ratio, Strength};

use super::Cases;
use super::accounting::Course;
use super::basis::SyringeParameters;
use super::code::CaseCode;
use super::error::{CaseError, Refusal, refuse};
use super::list::Owed;
use super::lumen::{HangsAt, folded};
use super::people::Person;
use super::read_back::{beyond, held_against, is_zero_rate};
use super::record_event::{Difference, ReadBack, Shown};
use super::round::{DriverExpected, DriverRead, RoundDifference, compare_round};
use super::state::{Case, Header, ROUND, ROUND_SIGNED, SetUp, Signed};

/// One driver as somebody read it, as typed.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
#[serde(deny_unknown_fields)]
pub struct DriverTyped {
    /// The driver's own label; left out where the house has none.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub slot: Option<String>,
    /// The port on which it hangs: the lumen or the tap, or `not hung yet`; left out where the house reads none.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub port: Option<String>,
    /// The drug, as it is written on the syringe.
    pub drug: String,
    /// The strength, as it is written on the syringe, with its unit.
    pub strength: String,
    /// The rate, as the driver shows it, with its unit; 0 mL/h while it does not run.
    pub rate: String,
}

/// What was read on one round, and what came of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct RoundRead {
    /// Every driver that is there, as read.
    pub read: Vec<DriverTyped>,
    /// For each set-up by its number, what its driver showed.
    #[serde(default)]
    pub(super) of_set_ups: Vec<(u16, ReadBack)>,
    /// The slot in which each set-up was found, by its number.
    #[serde(default)]
    pub(super) slots: Vec<(u16, String)>,
    /// The port on which each set-up was found, by its number.
    #[serde(default)]
    pub(super) ports: Vec<(u16, String)>,
    /// What differs, in words.
    #[serde(default)]
    pub differences: Vec<String>,
    /// Those of them that no display of one set-up settles: outstanding until the next round.
    #[serde(default)]
    pub(super) until_the_next: Vec<String>,
}

/// What a second signature holds.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct RoundSignature {
    /// The event of the round.
    pub(super) round: u64,
}

impl RoundRead {
    /// What was read and what differs, a line each.
    #[must_use]
    pub fn lines(&self) -> Vec<String> {
        let read = self.read.iter().map(|one| {
            let slot = one.slot.as_ref().map(|slot| format!("slot {slot}: ")).unwrap_or_default();
            let port = one.hangs().port.map(|port| format!(", port {port}")).unwrap_or_default();
            format!("{slot}{}, {}, {}{port}", one.drug, one.strength, one.rate)
        });
        let differs = self.differences.iter().map(|one| format!("differs: {one}"));
        read.chain(differs).collect()
    }
}

impl DriverTyped {
    fn read(&self, nth: usize) -> Result<DriverRead, CaseError> {
        let refused = |field: &'static str, no: crate::quantity::Refused| {
            let says = format!("driver {}: {no}", nth + 1);
            CaseError::Refused(Refusal::new(no.problem.code(), says, no.help).in_field(field))
        };
        let drug = self.drug.trim();
        if drug.is_empty() {
            let says = format!("driver {}: the drug on the syringe is left out", nth + 1);
            return Err(refuse("field-missing", says, "read it off the syringe"));
        }
        let strength = Strength::parse_label(self.strength.trim()).map_err(|no| refused("strength", no))?;
        let rate = self.rate.trim();
        let rate = match is_zero_rate(rate) {
            true => Ratio::ZERO,
            false => FlowRate::parse(rate).map_err(|no| refused("rate", no))?.value(),
        };
        Ok(DriverRead {
            slot: self.hangs().slot,
            port: self.hangs().port,
            drug: drug.to_owned(),
            strength: strength.concentration(),
            strength_typed: self.strength.trim().to_owned(),
            rate,
        })
    }

    fn hangs(&self) -> HangsAt {
        HangsAt::typed(self.slot.as_deref(), self.port.as_deref())
    }
}

/// A set-up that may hang, with what the record says of it.
struct Hangs<'s> {
    set_up: &'s SetUp,
    basis: SyringeParameters,
    course: Option<Course>,
    expected: DriverExpected,
}

impl Cases {
    /// Reads every field of a round, before anybody is asked to sign.
    ///
    /// # Errors
    /// When one cannot be read, or no driver is named.
    pub fn check_round(typed: &[DriverTyped]) -> Result<(), CaseError> {
        if typed.is_empty() {
            let help =
                "read each driver at the patient: the drug and strength on its syringe, and the rate on its display";
            return Err(refuse("round-empty", "no driver was read", help));
        }
        typed.iter().enumerate().try_for_each(|(nth, one)| one.read(nth).map(|_| ()))
    }

    /// Writes down every driver as it was read, and names what is not as the record says.
    ///
    /// # Errors
    /// When a field cannot be read, or a round of this case waits for its second signature.
    pub fn take_round(
        &mut self,
        code: CaseCode,
        by: (&Person, &Signer),
        typed: &[DriverTyped],
        now: Moment,
    ) -> Result<RoundRead, CaseError> {
        Self::check_round(typed)?;
        let read: Vec<DriverRead> =
            typed.iter().enumerate().map(|(nth, one)| one.read(nth)).collect::<Result<_, _>>()?;
        self.act(now, code, |case, _| {
            case.key()?;
            let hangs = case.what_hangs(now)?;
            require_ports(&hangs, &read)?;
            let round = held_against_record(typed, &read, &hangs)?;
            Ok((vec![case.draft(ROUND, Some(by.1), Header::default(), Some(&round))?], round))
        })
    }

    /// Signs the last round as the second person: the one who hands over, or anybody who did not read it.
    ///
    /// # Errors
    /// When no round waits, or the same person signs twice.
    pub fn sign_round(&mut self, code: CaseCode, by: (&Person, &Signer), now: Moment) -> Result<RoundRead, CaseError> {
        let people = self.people()?;
        self.act(now, code, |case, _| {
            case.key()?;
            let Some(round) = case.round_to_sign() else {
                let says = format!("no round of case {code} waits for a second signature");
                return Err(refuse("nothing-waits", says, format!("take one: `countersign case round {code}`")));
            };
            if round.by == by.1.id() || is_same_person(people.name(&round.by), &by.0.name) {
                let help = "the person who hands over signs, after looking at what differs";
                return Err(refuse("same-person", "you have read this round yourself", help));
            }
            let signature = RoundSignature { round: round.seq };
            let draft = case.draft(ROUND_SIGNED, Some(by.1), Header::default(), Some(&signature))?;
            Ok((vec![draft], round.what.clone()))
        })
    }
}

impl Case {
    /// The last round, while nobody has signed it as the second person.
    #[must_use]
    pub fn round_to_sign(&self) -> Option<&Signed<RoundRead>> {
        self.rounds.last().filter(|round| self.rounds_signed.iter().all(|signed| signed.what != round.seq))
    }

    /// What is outstanding of rounds.
    pub(super) fn owed_by_rounds(&self) -> Result<Vec<Owed>, CaseError> {
        let mut owed = Vec::new();
        let runs = self.set_ups.iter().map(SetUp::is_running_by_the_record).collect::<Result<Vec<_>, _>>()?;
        let Some(last) = self.rounds.last().filter(|_| runs.contains(&true)) else { return Ok(owed) };
        if self.round_to_sign().is_some() {
            let says = format!(
                "the round of {} needs the signature of the person who hands over: `countersign case sign-round`",
                last.at.local()
            );
            owed.push(Owed { code: "round", says });
        }
        let differs = last.what.until_the_next.iter();
        owed.extend(differs.map(|says| Owed {
            code: "round-differs",
            says: format!("read on the round of {}: {says}; put it right, and take the round again", last.at.local()),
        }));
        Ok(owed)
    }

    /// Every set-up that may hang at the patient: what runs or is paused, and what is agreed on and not started.
    fn what_hangs(&self, now: Moment) -> Result<Vec<Hangs<'_>>, CaseError> {
        let mut hangs = Vec::new();
        for set_up in &self.set_ups {
            let course = self.course(set_up, now)?;
            let basis = match (&course, set_up.latest()) {
                (Some(course), _) if course.is_running() => course.syringe().basis.clone(),
                (None, Some(latest)) if self.standing(latest).stage.has_card() => self.basis(set_up, latest.number)?,
                _ => continue,
            };
            let rate = course.as_ref().and_then(|course| course.rate).unwrap_or(Ratio::ZERO);
            let bolus = basis.bolus.filter(|(_, bolus)| !bolus.over.is_zero());
            let bolus_rate = bolus.map(|(_, bolus)| bolus.volume.over(bolus.over)).transpose()?;
            let known = self.hangs_at(set_up, now)?;
            let expected = DriverExpected {
                named: self.named(set_up)?,
                port: known.hung().map(str::to_owned),
                slot: known.slot,
                drug_names: self.drug_names(set_up, &basis),
                strength: strength_of(set_up, &basis),
                rate,
                started: course.is_some(),
                bolus_rate,
            };
            hangs.push(Hangs { set_up, basis, course, expected });
        }
        Ok(hangs)
    }

    /// The drug's name, and what the two people called it; of a sealed entry what was said when the syringe was put in.
    fn drug_names(&self, set_up: &SetUp, basis: &SyringeParameters) -> Vec<String> {
        if basis.sealed {
            return set_up.said_to_be(basis.reading).0.into_iter().collect();
        }
        let reading = set_up.reading(basis.reading);
        let stage = reading.map(|reading| (reading, self.standing(reading).stage));
        let typed = stage.iter().filter_map(|(reading, stage)| Some((reading, stage.same()?)));
        let typed = typed.flat_map(|(reading, decision)| reading.entries_of(decision).collect::<Vec<_>>());
        let typed = typed.filter_map(|entry| self.entry(entry).ok()).map(|entry| entry.drug().to_owned());
        std::iter::once(basis.drug.clone()).chain(typed).collect()
    }
}

impl SetUp {
    /// What was read of it on the last round, where no display was read back since.
    pub(super) fn read_on_a_round(&self) -> Option<&Signed<ReadBack>> {
        let good = self.read_backs.iter().filter(|one| one.what.is_equal()).map(|one| one.seq).max().unwrap_or(0);
        self.round_reads.last().filter(|read| read.seq > good)
    }
}

/// The strength; of a sealed entry what was said when the syringe was put in.
fn strength_of(set_up: &SetUp, basis: &SyringeParameters) -> Option<Concentration> {
    let said = || Strength::parse_label(&set_up.said_to_be(basis.reading).1?).ok();
    if basis.sealed { said().map(Strength::concentration) } else { basis.concentration() }
}

/// Where the house reads ports, each driver is read with its own.
fn require_ports(hangs: &[Hangs<'_>], read: &[DriverRead]) -> Result<(), CaseError> {
    if !hangs.iter().any(|one| one.basis.lumen.reads_port) {
        return Ok(());
    }
    let Some(nth) = read.iter().position(|one| one.port.is_none()) else { return Ok(()) };
    let says = format!("driver {}: this house reads the port on each round, and it is left out", nth + 1);
    Err(refuse("port-not-said", says, "trace the line and write the lumen or tap; or: not hung yet"))
}

fn held_against_record(
    typed: &[DriverTyped],
    read: &[DriverRead],
    hangs: &[Hangs<'_>],
) -> Result<RoundRead, CaseError> {
    let expected: Vec<DriverExpected> = hangs.iter().map(|one| one.expected.clone()).collect();
    let compared = compare_round(&expected, read);
    let (mut of_set_ups, mut slots, mut ports, mut hung) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for (one, at) in hangs.iter().zip(&compared.read) {
        let Some(at) = *at else { continue };
        let number = one.set_up.code.number;
        slots.extend(read[at].slot.clone().map(|slot| (number, slot)));
        ports.extend(read[at].port.clone().map(|port| (number, port)));
        let is_new = one.expected.port.as_deref().map(folded) != read[at].port.as_deref().map(folded);
        hung.push((one.expected.named.clone(), one.basis.clone(), typed[at].hangs(), is_new));
        let shown = [(RATE, &typed[at].rate), ("strength", &typed[at].strength)];
        let shown: Vec<Shown> = shown
            .into_iter()
            // The strength of a sealed entry is held against nothing of it.
            .filter(|(value, _)| *value == RATE || !one.basis.sealed)
            .map(|(value, typed)| Shown { value: value.to_owned(), typed: typed.trim().to_owned() })
            .collect();
        let mut differences: Vec<Difference> = Vec::new();
        for value in &shown {
            differences.extend(match (&one.course, value.value == RATE) {
                // Nothing of the card is to run before the start.
                (None, true) if read[at].rate.is_zero() => None,
                (None, true) => Some(Difference {
                    value: RATE.to_owned(),
                    shown: value.typed.clone(),
                    expected: "0 mL/h: it was not started".to_owned(),
                    cause: None,
                }),
                _ => held_against(value, &one.basis, one.course.as_ref(), Some(one.set_up))?,
            });
        }
        let marks = beyond(&one.basis, &differences)?;
        let against = "the record, on a round".to_owned();
        of_set_ups.push((number, ReadBack { shown, against, differences, reason: None, marks }));
    }
    let says = |one: &RoundDifference| one.says(&expected, read);
    // What one display shows is settled by that display; the others by the next round.
    let of_no_display = |one: &&RoundDifference| match one {
        RoundDifference::SlotsSwapped(_)
        | RoundDifference::OtherSlot(..)
        | RoundDifference::PortsSwapped(_)
        | RoundDifference::OtherPort(..)
        | RoundDifference::Missing(_)
        | RoundDifference::InNoCase(_)
        | RoundDifference::HangsUnknown(_) => true,
        RoundDifference::RatesSwapped(_)
        | RoundDifference::AtBolusRate(_)
        | RoundDifference::DoesNotRun(_)
        | RoundDifference::RunsUnrecorded(..)
        | RoundDifference::OtherRate(..)
        // The check that is outstanding settles it.
        | RoundDifference::NotCompared(..) => false,
        RoundDifference::OtherStrength(at) => hangs[*at].basis.sealed,
    };
    let shared = Case::shared_on_a_round(&hung);
    Ok(RoundRead {
        read: typed.to_vec(),
        of_set_ups,
        slots,
        ports,
        differences: compared.differences.iter().map(says).chain(shared.iter().cloned()).collect(),
        until_the_next: compared.differences.iter().filter(of_no_display).map(says).chain(shared).collect(),
    })
}
