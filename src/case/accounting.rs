//! What was given, what is left and when it ends: exact sums over the recorded events, worked out anew each time.

use crate::quantity::{BolusDose, FlowRate, Moment, Ratio, TooLarge};

use super::basis::Basis;
use super::error::{CaseError, refuse};
use super::fold::{Case, SetUp, Signed};
use super::record::{Recorded, What};
use super::standing::Formularies;

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
pub struct Given {
    /// What it rests on.
    pub basis: Basis,
    /// In mL.
    pub volume: Ratio,
    /// Left to infuse, mL.
    pub left: Ratio,
    /// In the last hour, mL.
    pub last_hour: Ratio,
    /// When it ran empty, if it did.
    pub ran_empty: Option<Moment>,
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
    /// Each time with one rate, in order.
    pub segments: Vec<Segment>,
    /// Each bolus: when, and its volume in mL.
    pub boluses: Vec<(Moment, Ratio)>,
    /// Each syringe, in order.
    pub syringes: Vec<Given>,
    /// When the running syringe will be empty, if nothing is changed.
    pub empty_at: Option<Moment>,
    /// Until which moment this was worked out.
    pub until: Moment,
    /// Whether what was left has been accounted for.
    pub closed: bool,
}

/// The next syringe is ready so long before this one is empty, in minutes (common practice, no source).
pub const READY_BEFORE_MINUTES: u64 = 30;

impl Course {
    /// Whether a syringe is being given, or paused.
    #[must_use]
    pub const fn is_running(&self) -> bool {
        self.stopped.is_none()
    }

    /// The syringe in the driver now, or the last one.
    #[must_use]
    pub fn syringe(&self) -> &Given {
        self.syringes.last().expect("a course begins with its first syringe")
    }

    /// When the next syringe must be ready.
    #[must_use]
    pub fn next_ready_by(&self) -> Option<Moment> {
        let before = Ratio::new(u128::from(READY_BEFORE_MINUTES), 60).ok()?;
        let left = self.empty_at?.hours_since(self.until)?;
        self.until.after(left.less(before).unwrap_or(Ratio::ZERO))
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
    pub fn course(&self, set_up: &SetUp, now: Moment, kept: &Formularies) -> Result<Option<Course>, CaseError> {
        self.course_with(set_up, None, now, kept)
    }

    /// The course as it would be with one event more.
    pub(super) fn course_with(
        &self,
        set_up: &SetUp,
        next: Option<&Recorded>,
        now: Moment,
        kept: &Formularies,
    ) -> Result<Option<Course>, CaseError> {
        let mut walk: Option<Walk> = None;
        for step in steps(&set_up.record, next)? {
            if now.is_before(step.at) {
                continue;
            }
            match (&step.what, &mut walk) {
                (What::Start { reading, rate }, none @ None) => {
                    *none = Some(Walk::begin(step.at, self.basis(set_up, *reading, kept)?, ml_per_hour(rate)?));
                }
                (What::Start { .. }, Some(_)) => {
                    return Err(refuse(
                        "started-before",
                        format!("{} runs already", set_up.code),
                        "a change of rate is `record rate`; the next syringe is `record syringe`",
                    ));
                }
                (_, None) => {
                    return Err(refuse(
                        "not-started",
                        format!("{} is not recorded as started at {}", set_up.code, step.at),
                        "record the start first, with its time: `countersign record start`",
                    ));
                }
                (what, Some(walk)) => {
                    let next_basis = match what {
                        What::Syringe { reading, .. } => Some(self.basis(set_up, *reading, kept)?),
                        _ => None,
                    };
                    walk.take(step.at, what, next_basis)?;
                }
            }
        }
        Ok(match walk {
            Some(walk) => Some(walk.end(now)?),
            None => None,
        })
    }
}

/// An event in the order in which things happened, corrections applied.
struct Step {
    at: Moment,
    what: What,
}

fn steps(record: &[Signed<Recorded>], next: Option<&Recorded>) -> Result<Vec<Step>, CaseError> {
    let mut kept: Vec<(u64, Moment, What)> = Vec::new();
    let all = record.iter().map(|signed| (signed.seq, &signed.what)).chain(next.map(|next| (u64::MAX, next)));
    for (seq, recorded) in all {
        match &recorded.what {
            What::Correct { event, instead, happened } => {
                let Some(at) = kept.iter().position(|(seq, ..)| seq == event) else { continue };
                match instead {
                    None => drop(kept.remove(at)),
                    Some(what) => {
                        kept[at].2 = (**what).clone();
                        if let Some(happened) = happened {
                            kept[at].1 = Moment::parse(happened)?;
                        }
                    }
                }
            }
            What::Reason { .. } => {}
            what => kept.push((seq, recorded.happened()?, what.clone())),
        }
    }
    // Things recorded later may have happened earlier; at the same moment they stay as they were written down.
    kept.sort_by(|(one_seq, one, _), (other_seq, other, _)| {
        if one.is_before(*other) {
            std::cmp::Ordering::Less
        } else if other.is_before(*one) {
            std::cmp::Ordering::Greater
        } else {
            one_seq.cmp(other_seq)
        }
    });
    Ok(kept.into_iter().map(|(_, at, what)| Step { at, what }).collect())
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
    syringes: Vec<Given>,
    /// Portions given: syringe, from, to, volume.
    portions: Vec<(usize, Moment, Moment, Ratio)>,
}

impl Walk {
    fn begin(at: Moment, basis: Basis, rate: Ratio) -> Self {
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
        };
        walk.load(basis);
        walk
    }

    fn syringe(&self) -> &Given {
        self.syringes.last().expect("it began with one")
    }

    fn load(&mut self, basis: Basis) {
        let left = basis.left;
        self.syringes.push(Given {
            basis,
            volume: Ratio::ZERO,
            left,
            last_hour: Ratio::ZERO,
            ran_empty: None,
            beyond: Ratio::ZERO,
        });
    }

    fn take(&mut self, at: Moment, what: &What, next: Option<Basis>) -> Result<(), CaseError> {
        self.advance(at)?;
        let wrong = |says: &str, help: &str| Err(refuse("record-order", format!("at {at} {says}"), help));
        match what {
            What::Close { .. } if self.stopped.is_some() => self.closed = true,
            What::Close { .. } => return wrong("it was not stopped", "record the stop first"),
            _ if self.stopped.is_some() => {
                return wrong("it was stopped already", "correct the time of the stop, or open another set-up");
            }
            What::Rate { to } => match self.rate {
                Some(_) => self.rate = Some(ml_per_hour(to)?),
                None => return wrong("it was paused", "record the resuming, with its rate"),
            },
            What::Bolus { given } => {
                let volume = self.syringe().basis.volume(BolusDose::parse(given)?)?;
                self.boluses.push((at, volume));
                self.give(at, at, volume)?;
            }
            What::Pause => match self.rate.take() {
                Some(rate) => self.before_pause = Some(rate),
                None => return wrong("it was paused already", "nothing is left to do"),
            },
            What::Resume { rate } => match (self.rate, rate) {
                (Some(_), _) => return wrong("it was not paused", "a change of rate is `record rate`"),
                (None, Some(rate)) => self.rate = Some(ml_per_hour(rate)?),
                (None, None) => self.rate = self.before_pause,
            },
            What::Syringe { rate, .. } => {
                if let Some(basis) = next {
                    self.load(basis);
                }
                self.rate = Some(ml_per_hour(rate)?);
            }
            What::Stop => {
                self.rate = None;
                self.stopped = Some(at);
            }
            What::Start { .. } | What::Correct { .. } | What::Reason { .. } => {}
        }
        Ok(())
    }

    fn advance(&mut self, to: Moment) -> Result<(), CaseError> {
        if let (Some(rate), Some(hours)) = (self.rate, to.hours_since(self.now)) {
            if !hours.is_zero() {
                let from = self.now;
                self.segments.push(Segment { from, to, rate });
                self.flow(from, to, rate, hours)?;
            }
        }
        self.now = to;
        Ok(())
    }

    /// A syringe gives what it holds: once it is empty, nothing flows whatever the rate says.
    fn flow(&mut self, from: Moment, to: Moment, rate: Ratio, hours: Ratio) -> Result<(), CaseError> {
        let wanted = rate.times(hours)?;
        let at = self.syringes.len() - 1;
        let syringe = &mut self.syringes[at];
        let end = if wanted > syringe.left {
            let empty = from.after(syringe.left.over(rate)?).unwrap_or(to);
            syringe.ran_empty = syringe.ran_empty.or(Some(empty));
            empty
        } else {
            to
        };
        let given = wanted.min(syringe.left);
        syringe.left = syringe.left.less(given)?;
        syringe.volume = syringe.volume.plus(given)?;
        self.portions.push((at, from, end, given));
        Ok(())
    }

    fn give(&mut self, from: Moment, to: Moment, volume: Ratio) -> Result<(), CaseError> {
        let at = self.syringes.len() - 1;
        let syringe = &mut self.syringes[at];
        let held = volume.min(syringe.left);
        syringe.left = syringe.left.less(held)?;
        // What really happened is counted, even beyond what the syringe should have held; the difference is told.
        syringe.beyond = syringe.beyond.plus(volume.less(held)?)?;
        syringe.volume = syringe.volume.plus(volume)?;
        self.portions.push((at, from, to, volume));
        Ok(())
    }

    fn end(mut self, until: Moment) -> Result<Course, CaseError> {
        self.advance(until)?;
        for (at, from, to, volume) in &self.portions {
            let part = in_last_hour(*from, *to, *volume, until)?;
            self.syringes[*at].last_hour = self.syringes[*at].last_hour.plus(part)?;
        }
        let syringe = self.syringe();
        let empty_at = match (self.rate, syringe.ran_empty) {
            (_, Some(empty)) => Some(empty),
            (Some(rate), None) if !rate.is_zero() => until.after(syringe.left.over(rate)?),
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
        })
    }
}

/// The part of a volume, given evenly from one moment to another, that falls into the hour before `until`.
fn in_last_hour(from: Moment, to: Moment, volume: Ratio, until: Moment) -> Result<Ratio, CaseError> {
    let age = |moment: Moment| until.hours_since(moment).unwrap_or(Ratio::ZERO);
    let (oldest, newest) = (age(from), age(to));
    if newest > Ratio::ONE {
        return Ok(Ratio::ZERO);
    }
    if oldest <= Ratio::ONE {
        return Ok(volume);
    }
    let (within, whole) = (Ratio::ONE.less(newest)?, oldest.less(newest)?);
    Ok(volume.times(within)?.over(whole)?)
}

pub(super) fn ml_per_hour(rate: &str) -> Result<Ratio, CaseError> {
    Ok(FlowRate::parse_computed(rate)?.value())
}
