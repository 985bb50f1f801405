//! The end: drawn up = given + in the line + left + discarded. Volumes are read blind: what does not balance is kept as the
//! first reading, and a second one closes it.

use crate::entry::LineFilled;
use crate::journal::Signer;
use crate::quantity::{Moment, Quantity, Ratio, Volume};

use super::Cases;
use super::accounting::{ClosingVolumes, Course, SyringeTotals};
use super::code::SetUpCode;
use super::error::{CaseError, refuse};
use super::people::Person;
use super::pins::signed_now;
use super::record::{When, happened_at};
use super::record_event::{Mark, RecordEvent, Recorded};
use super::state::{Header, RECORD, SetUp, Signed, WITNESSED};

/// What somebody read when a set-up came to its end.
#[derive(Debug, Clone, Copy)]
pub struct VolumesRead {
    /// In the line.
    pub in_line: Quantity<Volume>,
    /// Left in the syringe, and kept.
    pub left: Quantity<Volume>,
    /// Discarded.
    pub discarded: Quantity<Volume>,
    /// What the driver itself says that it gave, where somebody read it.
    pub driver_total: Option<Quantity<Volume>>,
}

/// What became of a reading.
#[derive(Debug, Clone)]
pub enum Closing {
    /// It is closed, and both sides are shown.
    Closed {
        /// Nothing where nobody agreed on what was drawn up.
        balance: Option<Box<Balance>>,
        /// What the driver said, held against the record.
        driver: Option<DriverTotal>,
    },
    /// It is kept as a reading. Nothing says how far the two sides are apart.
    ReadAgain {
        /// What cannot be told apart on this syringe, in words.
        tolerance: String,
        /// Whether the second reading is another person's.
        by_another: bool,
    },
}

/// What the driver says that it gave, and what the record comes to, in mL.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DriverTotal {
    /// By the driver.
    pub driver: Ratio,
    /// By the record.
    pub record: Ratio,
}

impl DriverTotal {
    /// In words.
    #[must_use]
    pub fn says(&self) -> String {
        let ml = crate::quantity::exact_or_about;
        let (driver, record) = (ml(self.driver), ml(self.record));
        let apart = self.driver.less(self.record).ok().filter(|apart| !apart.is_zero());
        let apart = apart.or_else(|| self.record.less(self.driver).ok()).unwrap_or(Ratio::ZERO);
        if apart.is_zero() {
            format!("The driver says {driver} mL, as the record does.")
        } else {
            format!("THE DRIVER SAYS {driver} mL, AND THE RECORD {record} mL: {} mL apart.", ml(apart))
        }
    }
}

impl Closing {
    /// What to do, in words, where it is to be read again.
    #[must_use]
    pub fn read_again_in_words(tolerance: &str, by_another: bool) -> String {
        let who = if by_another {
            "The witness now reads the volumes and signs first, with you as witness; or you read the same again and say why"
        } else {
            "Read the volumes again and close it with them; or say why they are right"
        };
        format!(
            "Your reading is kept. The two sides of the first reading differ by more than can be read on this syringe: {tolerance}. {who}."
        )
    }
}

impl Cases {
    /// Accounts for what was drawn up; a controlled drug needs a second person who saw it, and who signs too. What does not
    /// balance is kept as a first reading; a second one closes it, by another person where a witness is needed, or the same
    /// again with a reason.
    ///
    /// # Errors
    /// When it runs still, a witness is needed and is not another person, or a controlled drug is signed without a PIN.
    #[expect(clippy::too_many_arguments, reason = "what one line of a record needs, each once")]
    pub fn close(
        &mut self,
        code: SetUpCode,
        by: (&Person, &Signer),
        read: VolumesRead,
        witness: Option<(&Person, &Signer)>,
        when: &When,
        reason: Option<&str>,
        now: Moment,
    ) -> Result<(Closing, Course), CaseError> {
        let happened = happened_at(when, now)?;
        self.act(now, code.case, |case, _| {
            let set_up = case.set_up(code.number)?;
            let course = case.course(set_up, happened)?;
            let course = course
                .ok_or_else(|| refuse("not-started", format!("{code} was never started"), "nothing is to be closed"))?;
            // What nobody agreed on may be one.
            let may_be = |given: &&SyringeTotals| given.basis.controlled || given.basis.sealed;
            let controlled = course.syringes.iter().find(may_be).map(|given| &given.basis);
            if let Some((person, _)) = witness.filter(|(person, _)| person.id == by.0.id) {
                let says = format!("{} cannot be their own witness", person.name);
                return Err(refuse("same-person", says, "a second person looks at what is discarded"));
            }
            if let Some(basis) = controlled.filter(|_| witness.is_none()) {
                let says = match basis.sealed {
                    true => "two people have not agreed on what was in it: discarding it needs a witness".to_owned(),
                    false => format!("{} is a controlled drug: discarding it needs a witness", basis.drug),
                };
                let help = "add --witness and the name of a second person; their PIN is asked";
                return Err(refuse("witness-needed", says, help));
            }
            if controlled.is_some() {
                for signer in std::iter::once(by.1).chain(witness.map(|(_, signer)| signer)) {
                    signed_now(signer)?;
                }
            }
            let found = ClosingVolumes {
                in_line: read.in_line.value(),
                left: read.left.value(),
                discarded: read.discarded.value(),
            };
            let balance = Balance::of(&course, &found)?;
            let mark = balance.as_ref().and_then(Balance::mark);
            let reader = Reader { by: &by.0.id, found, is_explained: reason.is_some() };
            let reads_again = set_up.reads_again(&reader, mark.is_some(), controlled.is_some())?;
            // The answer to a reading says neither how far it is off, nor in which direction.
            let reads_again = reads_again && balance.is_some();
            let witness_id = witness.map(|(person, _)| person.id.clone());
            let [in_line, left, discarded] = [read.in_line, read.left, read.discarded].map(|volume| volume.to_string());
            let driver_total = read.driver_total.map(|total| total.to_string());
            let what = if reads_again {
                RecordEvent::ClosingRead { in_line, left, discarded, witness: witness_id, driver_total }
            } else {
                RecordEvent::Close { in_line, left, discarded, witness: witness_id, driver_total }
            };
            let recorded = Recorded {
                what,
                happened: happened.to_rfc3339(),
                late: when.late.clone(),
                reason: reason.map(str::to_owned),
                marks: mark.into_iter().filter(|_| !reads_again).collect(),
            };
            case.follows(set_up, &recorded)?;
            let record = course.volume()?;
            let answer = match balance {
                Some(balance) if reads_again => {
                    Closing::ReadAgain { tolerance: balance.tolerance_in_words(), by_another: controlled.is_some() }
                }
                balance => {
                    let driver = read.driver_total.map(|total| DriverTotal { driver: total.value(), record });
                    Closing::Closed { balance: balance.map(Box::new), driver }
                }
            };
            let follows = case.course_with(set_up, Some(&recorded), now)?.unwrap_or(course);
            let header = || Header { set_up: Some(code.number), ..Header::default() };
            let mut drafts = vec![case.draft(RECORD, Some(by.1), header(), Some(&recorded))?];
            if let Some((_, signer)) = witness {
                // The witness signs the same words, in an event of their own that counts for nothing else.
                drafts.push(case.draft(WITNESSED, Some(signer), header(), Some(&recorded))?);
            }
            Ok((drafts, (answer, follows)))
        })
    }
}

/// Who reads, what, and whether a reason is given.
struct Reader<'r> {
    by: &'r str,
    found: ClosingVolumes,
    is_explained: bool,
}

impl SetUp {
    /// Whether it was closed by a later line, taken back or not.
    pub(super) fn is_closed_after(&self, seq: u64) -> bool {
        self.record.iter().any(|one| one.seq > seq && matches!(one.what.what, RecordEvent::Close { .. }))
    }

    /// Whether a reading does not close it yet.
    fn reads_again(&self, reader: &Reader<'_>, differs: bool, needs_another: bool) -> Result<bool, CaseError> {
        let is_open = |one: &&Signed<Recorded>| {
            matches!(one.what.what, RecordEvent::ClosingRead { .. }) && !self.is_closed_after(one.seq)
        };
        let earlier: Vec<&Signed<Recorded>> = self.record.iter().filter(is_open).collect();
        if earlier.is_empty() {
            return Ok(differs && (needs_another || !reader.is_explained));
        }
        if !needs_another || earlier.iter().all(|one| one.by != reader.by) {
            return Ok(false);
        }
        // One's own figures are not changed until they fit: the same again, with a reason, or another person's.
        let mut repeats = false;
        for one in earlier.iter().filter(|one| one.by == reader.by) {
            if let RecordEvent::ClosingRead { in_line, left, discarded, .. } = &one.what.what {
                repeats |= ClosingVolumes::parse(in_line, left, discarded)? == reader.found;
            }
        }
        Ok(!(repeats && reader.is_explained))
    }
}

/// Drawn up = given + in the line + left + discarded, in mL.
#[derive(Debug, Clone, Copy)]
pub struct Balance {
    /// In all syringes after drawing up.
    pub drawn_up: Ratio,
    /// Given, by the record.
    pub given: Ratio,
    /// In the line.
    pub in_line: Ratio,
    /// Left in the syringe.
    pub left: Ratio,
    /// Discarded.
    pub discarded: Ratio,
    /// More accounted for than drawn up.
    pub too_much: Ratio,
    /// Less accounted for than drawn up.
    pub missing: Ratio,
    /// What cannot be told apart on the syringe's scale.
    pub tolerance: Ratio,
}

/// By how much a volume read on the scale of the last syringe may be off: ISO 7886-1:1993, Table 1, from memory, as in
/// [`crate::delivery`], here exact. Half of the nominal size and more: 5 % of the volume (below 5 mL) or 4 %; less than
/// half: 1.5 % of the size and 2 % (below 5 mL) or 1 % of the volume.
fn tolerance(course: &Course, read: Ratio) -> Result<Ratio, CaseError> {
    // Half of a tenth of a mL, where the syringe is not known (common practice, no source).
    let Some((container, ..)) = &course.syringe().basis.equipment else { return Ok(Ratio::new(1, 20)?) };
    let size = container.size.value();
    let is_small = size < Ratio::whole(5);
    let share = |of: Ratio, thousandths: u64| of.times(Ratio::whole(thousandths))?.over(Ratio::whole(1000));
    let half = size.over(Ratio::whole(2))?;
    Ok(if read < half {
        share(size, 15)?.plus(share(read, if is_small { 20 } else { 10 })?)?
    } else {
        share(read, if is_small { 50 } else { 40 })?
    })
}

impl Balance {
    /// Of a course, and what was found at its end; nothing where nobody agreed on what was drawn up, or read it. It is worked out anew
    /// from the record: what is written down later for an earlier moment counts too.
    ///
    /// # Errors
    /// When it cannot be kept exactly.
    pub fn of(course: &Course, found: &ClosingVolumes) -> Result<Option<Self>, CaseError> {
        if course.syringes.iter().any(|given| given.basis.volumes_unknown()) {
            return Ok(None);
        }
        let ClosingVolumes { in_line, left, discarded } = *found;
        let drawn_up = course.syringes.iter().try_fold(Ratio::ZERO, |sum, one| sum.plus(one.basis.fill))?;
        let out = course.volume()?;
        // A line that was filled otherwise took its fill out of what the driver pushed: that much never left it.
        let first = course.syringes.first().is_some_and(|one| one.basis.line_filled != LineFilled::FromThisSyringe);
        let given = if first { out.less(in_line.min(out))? } else { out };
        let found = given.plus(in_line)?.plus(left)?.plus(discarded)?;
        let (too_much, missing) =
            if found > drawn_up { (found.less(drawn_up)?, Ratio::ZERO) } else { (Ratio::ZERO, drawn_up.less(found)?) };
        let tolerance = tolerance(course, left.plus(discarded)?)?;
        Ok(Some(Self { drawn_up, given, in_line, left, discarded, too_much, missing, tolerance }))
    }

    /// Whether the two sides differ by more than can be read on the syringe.
    #[must_use]
    pub fn differs(&self) -> bool {
        self.too_much > self.tolerance || self.missing > self.tolerance
    }

    /// By how much two sides may differ that are the same, and why.
    #[must_use]
    pub fn tolerance_in_words(&self) -> String {
        let tolerance = crate::quantity::exact_or_about(self.tolerance);
        format!("{tolerance} mL can be the scale of this syringe (ISO 7886-1:1993, Table 1, from memory)")
    }

    /// Where they differ, by how much.
    #[must_use]
    pub fn mark(&self) -> Option<Mark> {
        let says = if self.too_much.is_zero() {
            format!("{} mL of what was drawn up are not accounted for", crate::quantity::exact_or_about(self.missing))
        } else {
            format!("{} mL more are accounted for than were drawn up", crate::quantity::exact_or_about(self.too_much))
        };
        self.differs().then(|| Mark::new("balance-differs", says))
    }
}
