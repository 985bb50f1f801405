//! What was given, what is left and when it ends: exact sums over the recorded events, worked out anew each time.

use crate::quantity::{BolusDose, FlowRate, Moment, Product, Quantity, Ratio, TooLarge, Unit, Volume};

use super::basis::SyringeParameters;
use super::error::{CaseError, refuse};
use super::record_event::{RecordEvent, Recorded};
use super::state::{Case, SetUp};
use super::timeline::{TimelineEvent, steps};

/// A time during which the rate stayed the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Segment {
    /// From when.
    pub from: Moment,
    /// Until when.
    pub to: Moment,
    /// In mL/h.
    pub rate: Ratio,
}

/// What one syringe has given.
#[derive(Debug, Clone)]
pub struct SyringeTotals {
    /// What it rests on.
    pub basis: SyringeParameters,
    /// In mL.
    pub volume: Ratio,
    /// Left to infuse, mL, as it is counted down: without end where nobody read what it held. To be shown: [`Self::left_known`].
    pub(super) left_counted: Ratio,
    /// In the last hour, mL.
    pub last_hour: Ratio,
    /// When it ran empty, if it did.
    pub ran_empty: Option<Moment>,
    /// When it was put in.
    pub since: Moment,
    /// Recorded as given beyond what it held, mL.
    pub beyond: Ratio,
}

/// The course of a set-up so far.
#[derive(Debug, Clone)]
pub struct Course {
    /// When it was started.
    pub started: Moment,
    /// When it was stopped.
    pub stopped: Option<Moment>,
    /// The rate now, mL/h; nothing while paused or stopped.
    pub rate: Option<Ratio>,
    /// The rate to which a pause would return.
    pub before_pause: Option<Ratio>,
    /// Since when it has this rate, or none.
    pub since: Moment,
    /// Each time with one rate, in order.
    pub segments: Vec<Segment>,
    /// Each bolus: when, and its volume in mL.
    pub boluses: Vec<(Moment, Ratio)>,
    /// Each syringe, in order.
    pub syringes: Vec<SyringeTotals>,
    /// When the running syringe will be empty, if nothing is changed; nothing where nobody read what it held.
    pub empty_at: Option<Moment>,
    /// Until which moment this was worked out.
    pub until: Moment,
    /// Whether what was left has been accounted for.
    pub closed: bool,
    /// What was found at the closing.
    pub found: Option<ClosingVolumes>,
    /// What the syringe in the driver held: at these moments, and evenly less from each to the next; nothing of one whose
    /// volume nobody read.
    pub levels: Vec<(Moment, Ratio)>,
    /// Events that contradict what is written down for before them: something between is missing, or wrong.
    pub contradictions: Vec<Contradiction>,
}

/// An event that does not follow from what is written down for before it. It stays, and counts as far as it can: what is
/// missing is written down later, one line after the other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Contradiction {
    /// The event.
    pub event: u64,
    /// In words.
    pub says: &'static str,
}

/// What was found when a set-up was closed, in mL.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ClosingVolumes {
    /// In the line.
    pub in_line: Ratio,
    /// Left in the syringe, and kept.
    pub left: Ratio,
    /// Discarded.
    pub discarded: Ratio,
}

impl ClosingVolumes {
    /// As the journal keeps them.
    pub(super) fn parse(in_line: &str, left: &str, discarded: &str) -> Result<Self, CaseError> {
        let value = |text: &str| Quantity::<Volume>::parse_or_zero(text).map(Quantity::value);
        Ok(Self { in_line: value(in_line)?, left: value(left)?, discarded: value(discarded)? })
    }
}

/// What of one drug all syringes have given, in the unit of the last one's label.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Total {
    /// The drug.
    pub drug: String,
    /// The unit.
    pub unit: Unit,
    /// Since the start.
    pub given: Ratio,
    /// In the last hour.
    pub last_hour: Ratio,
    /// Since the start, for each kg of the weight that the last syringe was set up with, in [`Total::per_kg_unit`].
    pub given_per_kg: Ratio,
    /// The unit of the amount that the drug is dosed in, where it counts the same kind of thing.
    pub per_kg_unit: Unit,
}

/// The next syringe is ready so long before this one is empty, in minutes (common practice, no source).
pub const READY_BEFORE_MINUTES: u64 = 30;

impl SyringeTotals {
    /// What is left in it, in mL; nothing where nobody read what it held.
    #[must_use]
    pub fn left_known(&self) -> Option<Ratio> {
        (!self.basis.volumes_unknown()).then_some(self.left_counted)
    }
}

impl Course {
    /// Whether a syringe is being given, or paused.
    #[must_use]
    pub const fn is_running(&self) -> bool {
        self.stopped.is_none()
    }

    /// The syringe in the driver now, or the last one.
    #[must_use]
    pub fn syringe(&self) -> &SyringeTotals {
        self.syringes.last().expect("a course begins with its first syringe")
    }

    /// The rate at which something flows: none while paused or stopped, and none out of an empty syringe.
    #[must_use]
    pub fn flowing(&self) -> Option<Ratio> {
        self.rate.filter(|rate| !rate.is_zero() && !self.syringe().left_counted.is_zero())
    }

    /// When the next syringe must be ready; at once where this one is nearly empty, or was before.
    #[must_use]
    pub fn next_ready_by(&self) -> Option<Moment> {
        let before = Ratio::new(u128::from(READY_BEFORE_MINUTES), 60).ok()?;
        let left = self.empty_at?.hours_since(self.until).unwrap_or(Ratio::ZERO);
        self.until.after(left.less(before).unwrap_or(Ratio::ZERO))
    }

    /// What was given of each drug: syringes of another strength count by what they hold.
    ///
    /// # Errors
    /// When it cannot be kept exactly.
    pub fn totals(&self) -> Result<Vec<Total>, CaseError> {
        let mut totals: Vec<Total> = Vec::new();
        for syringe in self.syringes.iter().rev().filter(|syringe| !syringe.basis.sealed) {
            let basis = &syringe.basis;
            let same = |total: &&mut Total| total.drug == basis.drug && total.unit.kind() == basis.amount_unit().kind();
            match totals.iter_mut().find(same) {
                Some(total) => {
                    total.given = total.given.plus(basis.amount_in(syringe.volume, total.unit)?)?;
                    total.last_hour = total.last_hour.plus(basis.amount_in(syringe.last_hour, total.unit)?)?;
                }
                None => totals.push(Total {
                    drug: basis.drug.clone(),
                    unit: basis.amount_unit(),
                    given: basis.amount(syringe.volume)?,
                    last_hour: basis.amount(syringe.last_hour)?,
                    given_per_kg: Ratio::ZERO,
                    per_kg_unit: basis.per_kg_unit(),
                }),
            }
        }
        let weight = self.syringe().basis.weight.value();
        for total in &mut totals {
            let given = Product::ONE.ratio(total.given).unit(total.unit).over_unit(total.per_kg_unit);
            total.given_per_kg = given.over_ratio(weight).finish()?;
        }
        Ok(totals)
    }

    /// Everything given in the last hour, mL.
    ///
    /// # Errors
    /// When it cannot be kept exactly.
    pub fn last_hour(&self) -> Result<Ratio, TooLarge> {
        self.syringes.iter().try_fold(Ratio::ZERO, |sum, syringe| sum.plus(syringe.last_hour))
    }

    /// Everything given, mL.
    ///
    /// # Errors
    /// When it cannot be kept exactly.
    pub fn volume(&self) -> Result<Ratio, TooLarge> {
        self.syringes.iter().try_fold(Ratio::ZERO, |sum, syringe| sum.plus(syringe.volume))
    }
}

impl Case {
    /// The course of a set-up until `now`; nothing where it was never started.
    ///
    /// # Errors
    /// When the events do not follow each other, or a sum cannot be kept exactly.
    pub fn course(&self, set_up: &SetUp, now: Moment) -> Result<Option<Course>, CaseError> {
        self.course_with(set_up, None, now)
    }

    /// The course as it would be with one event more.
    pub(super) fn course_with(
        &self,
        set_up: &SetUp,
        next: Option<&Recorded>,
        now: Moment,
    ) -> Result<Option<Course>, CaseError> {
        let (walk, _) = self.walk(set_up, next, Some(now))?;
        walk.map(|walk| walk.end(now)).transpose()
    }

    /// Whether every event follows from those before it, those too that a wrong clock wrote down for later than now.
    pub(super) fn follows(&self, set_up: &SetUp, next: &Recorded) -> Result<(), CaseError> {
        let (walk, last) = self.walk(set_up, Some(next), None)?;
        if let (Some(walk), Some(last)) = (walk, last) {
            walk.end(last)?;
        }
        Ok(())
    }

    fn walk(
        &self,
        set_up: &SetUp,
        next: Option<&Recorded>,
        until: Option<Moment>,
    ) -> Result<(Option<Walk>, Option<Moment>), CaseError> {
        let (mut walk, mut last) = (None::<Walk>, None);
        for step in steps(&set_up.record, next)? {
            if until.is_some_and(|until| until.is_before(step.at)) {
                continue;
            }
            last = Some(step.at);
            match (&step.what, &mut walk) {
                (RecordEvent::Start { reading, rate, .. }, none @ None) => {
                    *none = Some(Walk::begin(step.at, self.basis(set_up, *reading)?, ml_per_hour(rate)?));
                }
                (RecordEvent::Start { .. }, Some(_)) => {
                    let says = step.does_not_follow("it was started before");
                    return Err(refuse(
                        "started-before",
                        says,
                        "a change of rate is `record rate`; the next syringe is `record syringe`",
                    ));
                }
                (_, None) => {
                    let says = step.does_not_follow("it is not recorded as started by then");
                    return Err(refuse(
                        "not-started",
                        says,
                        "record the start first, with its time: `countersign record start`",
                    ));
                }
                (what, Some(walk)) => {
                    let next_basis = match what {
                        RecordEvent::Syringe { reading, .. } => Some(self.basis(set_up, *reading)?),
                        _ => None,
                    };
                    walk.take(&step, next_basis)?;
                }
            }
        }
        Ok((walk, last))
    }
}

struct Walk {
    started: Moment,
    now: Moment,
    rate: Option<Ratio>,
    before_pause: Option<Ratio>,
    stopped: Option<Moment>,
    closed: bool,
    segments: Vec<Segment>,
    boluses: Vec<(Moment, Ratio)>,
    /// Each syringe, with what went out of it and when: at once, or from a moment on until another.
    syringes: Vec<SyringeTotals>,
    portions: Vec<Portion>,
    since: Moment,
    found: Option<ClosingVolumes>,
    levels: Vec<(Moment, Ratio)>,
    contradictions: Vec<Contradiction>,
}

/// What one syringe gave evenly over a time in hours, or at once.
struct Portion {
    syringe: usize,
    from: Moment,
    hours: Ratio,
    volume: Ratio,
}

impl Walk {
    fn begin(at: Moment, basis: SyringeParameters, rate: Ratio) -> Self {
        let mut walk = Self {
            started: at,
            now: at,
            rate: Some(rate),
            before_pause: None,
            stopped: None,
            closed: false,
            segments: Vec::new(),
            boluses: Vec::new(),
            syringes: Vec::new(),
            portions: Vec::new(),
            since: at,
            found: None,
            levels: Vec::new(),
            contradictions: Vec::new(),
        };
        walk.load(basis);
        walk
    }

    fn syringe(&self) -> &SyringeTotals {
        self.syringes.last().expect("it began with one")
    }

    fn load(&mut self, basis: SyringeParameters) {
        let left = basis.left;
        self.syringes.push(SyringeTotals {
            basis,
            volume: Ratio::ZERO,
            left_counted: left,
            last_hour: Ratio::ZERO,
            ran_empty: None,
            since: self.now,
            beyond: Ratio::ZERO,
        });
        self.keep_level(self.now);
    }

    /// Keeps what the syringe holds, for a picture; nothing where nobody read what it held.
    fn keep_level(&mut self, at: Moment) {
        let left = self.syringe().left_known();
        self.levels.extend(left.map(|left| (at, left)));
    }

    fn take(&mut self, step: &TimelineEvent, next: Option<SyringeParameters>) -> Result<(), CaseError> {
        self.advance(step.at)?;
        let before = self.rate;
        let wrong = |says: &str, help: &str| Err(refuse("record-order", step.does_not_follow(says), help));
        const LOOK: &str = "see `countersign record show`, and correct whichever of the two is wrong: `record correct`";
        match &step.what {
            RecordEvent::Close { .. } | RecordEvent::ClosingRead { .. }
                if self.closed && (step.is_new() || matches!(step.what, RecordEvent::Close { .. })) =>
            {
                return wrong("it was closed already", "take the first closing back: `record correct --event … --not`");
            }
            RecordEvent::Close { in_line, left, discarded, .. } if self.stopped.is_some() => {
                self.closed = true;
                self.found = Some(ClosingVolumes::parse(in_line, left, discarded)?);
            }
            // It moves nothing: what was read stays beside the closing that follows.
            RecordEvent::ClosingRead { .. } if self.stopped.is_some() => {}
            RecordEvent::Close { .. } | RecordEvent::ClosingRead { .. } => {
                return wrong("it was not stopped", "record the stop first: `record stop`");
            }
            _ if self.stopped.is_some() => {
                let help = "if it went on, the stop was a pause: `record correct --event … --pause` on the stop, then \
                            `record resume`; a wrong time is corrected with --time";
                return wrong("it was stopped already", help);
            }
            RecordEvent::Rate { to, strength: Some(strength), .. }
                if !step.is_new() && !self.syringe().basis.has_strength(strength) =>
            {
                // The rate stays as it was set; nobody typed it, so the driver may show another.
                self.contradicts(step, "its rate was worked out for a dose with another strength than ran then: read the driver, and correct the rate in mL/h");
                match self.rate {
                    Some(_) => self.rate = Some(ml_per_hour(to)?),
                    None => self.before_pause = Some(ml_per_hour(to)?),
                }
            }
            RecordEvent::Rate { to, .. } => match self.rate {
                Some(_) => self.rate = Some(ml_per_hour(to)?),
                None if step.is_new() => {
                    return wrong("it was paused", "record that it went on, with its rate: `record resume`");
                }
                None => {
                    self.before_pause = Some(ml_per_hour(to)?);
                    self.contradicts(step, "it was paused by then: this rate counts from when it goes on");
                }
            },
            RecordEvent::Bolus { given, volume: kept, strength } => {
                let is_other = strength.as_ref().is_some_and(|strength| !self.syringe().basis.has_strength(strength));
                if is_other && !step.is_new() {
                    self.contradicts(step, "its volume was worked out with another strength than is known now: correct it to the volume that was given");
                }
                let counted = match kept {
                    Some(kept) => Ok(Quantity::<Volume>::parse(kept)?.value()),
                    None => self.syringe().basis.volume(BolusDose::parse(given)?),
                };
                let volume = match counted {
                    Err(CaseError::Refused(_)) if !step.is_new() => {
                        // It was given, and what follows goes on: a record that can be written no more helps nobody.
                        let says = "its volume cannot be counted with the syringe that was agreed on afterwards: correct \
                                    it to the volume that was given";
                        self.contradicts(step, says);
                        Ratio::ZERO
                    }
                    volume => volume?,
                };
                if !volume.is_zero() {
                    self.boluses.push((step.at, volume));
                    self.give(step.at, volume)?;
                }
            }
            RecordEvent::Pause => match self.rate.take() {
                Some(rate) => self.before_pause = Some(rate),
                None if step.is_new() => return wrong("it was paused already", LOOK),
                None => self.contradicts(step, "it was paused already"),
            },
            RecordEvent::Resume { rate } => {
                if self.rate.is_some() {
                    if step.is_new() {
                        return wrong("it was not paused", "a change of rate is `record rate`");
                    }
                    self.contradicts(step, "it was not paused by then");
                }
                match rate {
                    Some(rate) => self.rate = Some(ml_per_hour(rate)?),
                    None => self.rate = self.rate.or(self.before_pause),
                }
            }
            RecordEvent::Syringe { rate, .. } => {
                if let Some(basis) = next {
                    self.load(basis);
                }
                self.rate = Some(ml_per_hour(rate)?);
            }
            RecordEvent::Stop => {
                self.rate = None;
                self.stopped = Some(step.at);
            }
            RecordEvent::Start { .. } | RecordEvent::Correct { .. } | RecordEvent::Reason { .. } => {}
        }
        if self.rate != before || matches!(step.what, RecordEvent::Syringe { .. }) {
            self.since = step.at;
        }
        Ok(())
    }

    fn contradicts(&mut self, step: &TimelineEvent, says: &'static str) {
        self.contradictions.push(Contradiction { event: step.seq, says });
    }

    fn advance(&mut self, to: Moment) -> Result<(), CaseError> {
        if let (Some(rate), Some(hours)) = (self.rate, to.hours_since(self.now).filter(|hours| !hours.is_zero())) {
            let from = self.now;
            self.segments.push(Segment { from, to, rate });
            self.flow(from, to, rate, hours)?;
        }
        self.now = to;
        Ok(())
    }

    /// A syringe gives what it holds: once it is empty, nothing flows whatever the rate says.
    fn flow(&mut self, from: Moment, to: Moment, rate: Ratio, hours: Ratio) -> Result<(), CaseError> {
        let wanted = rate.times(hours)?;
        let at = self.syringes.len() - 1;
        let syringe = &mut self.syringes[at];
        let (given, for_hours) = if wanted > syringe.left_counted {
            let lasts = syringe.left_counted.over(rate)?;
            let empty = from.after(lasts).unwrap_or(to);
            syringe.ran_empty = syringe.ran_empty.or(Some(empty));
            self.levels.push((empty, Ratio::ZERO));
            (syringe.left_counted, lasts)
        } else {
            (wanted, hours)
        };
        syringe.left_counted = syringe.left_counted.less(given)?;
        syringe.volume = syringe.volume.plus(given)?;
        self.portions.push(Portion { syringe: at, from, hours: for_hours, volume: given });
        self.keep_level(to);
        Ok(())
    }

    fn give(&mut self, when: Moment, volume: Ratio) -> Result<(), CaseError> {
        let at = self.syringes.len() - 1;
        let syringe = &mut self.syringes[at];
        let held = volume.min(syringe.left_counted);
        syringe.left_counted = syringe.left_counted.less(held)?;
        // What really happened is counted, even beyond what the syringe should have held; the difference is told.
        syringe.beyond = syringe.beyond.plus(volume.less(held)?)?;
        syringe.volume = syringe.volume.plus(volume)?;
        self.portions.push(Portion { syringe: at, from: when, hours: Ratio::ZERO, volume });
        self.keep_level(when);
        Ok(())
    }

    fn end(mut self, until: Moment) -> Result<Course, CaseError> {
        self.advance(until)?;
        for portion in &self.portions {
            let syringe = &mut self.syringes[portion.syringe];
            syringe.last_hour = syringe.last_hour.plus(in_last_hour(portion, until)?)?;
        }
        if self.rate.is_none() {
            self.keep_level(until);
        }
        let syringe = self.syringe();
        let empty_at = match (self.rate, syringe.ran_empty) {
            // When it is empty is not known: nobody read what it held.
            _ if syringe.basis.volumes_unknown() => None,
            (_, Some(empty)) => Some(empty),
            (Some(rate), None) if !rate.is_zero() => until.after(syringe.left_counted.over(rate)?),
            _ => None,
        };
        Ok(Course {
            started: self.started,
            stopped: self.stopped,
            rate: self.rate,
            before_pause: self.before_pause,
            segments: self.segments,
            boluses: self.boluses,
            syringes: self.syringes,
            empty_at,
            until,
            closed: self.closed,
            since: self.since,
            found: self.found,
            levels: self.levels,
            contradictions: self.contradictions,
        })
    }
}

/// The part of a portion that falls into the hour before `until`.
fn in_last_hour(portion: &Portion, until: Moment) -> Result<Ratio, CaseError> {
    let oldest = until.hours_since(portion.from).unwrap_or(Ratio::ZERO);
    if oldest <= Ratio::ONE {
        return Ok(portion.volume);
    }
    // In hours of its own flow: an end between two seconds is as exact as any other.
    let newest = oldest.less(portion.hours)?;
    if newest >= Ratio::ONE {
        return Ok(Ratio::ZERO);
    }
    Ok(portion.volume.times(Ratio::ONE.less(newest)?)?.over(portion.hours)?)
}

pub(super) fn ml_per_hour(rate: &str) -> Result<Ratio, CaseError> {
    Ok(FlowRate::parse_computed(rate)?.value())
}
