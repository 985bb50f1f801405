//! What was decided, worked out once more: a warning by name where this program comes to something else. Nothing is
//! changed by it, and nothing waits for it.

use super::Cases;
use super::decision::{Decided, Decision, Outcome};
use super::error::CaseError;
use super::formularies::Formularies;
use super::recount::Recount;
use super::state::{Case, Reading, SetUp};

/// Every decision of a journal, worked out once more.
#[derive(Debug, Default)]
pub struct Audit {
    /// How many this program comes to again.
    pub same: u64,
    /// Those for which it comes to something else.
    pub differ: Vec<String>,
    /// Those that it cannot work out, such as by a formulary of another form.
    pub not_recomputed: Vec<String>,
}

impl Cases {
    /// Works out every kept decision once more, by the formulary of its entries and the rules of this program. What was
    /// forgotten is passed over.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn audit(&self) -> Result<Audit, CaseError> {
        let mut audit = Audit::default();
        for code in self.codes()? {
            match self.case(code) {
                Ok(case) if case.key().is_ok() => self.audit_case(&case, &mut audit)?,
                Ok(_) => {}
                Err(CaseError::Journal(error)) => return Err(error.into()),
                Err(error) => audit.not_recomputed.push(format!("case {code}: {error}")),
            }
        }
        Ok(audit)
    }

    fn audit_case(&self, case: &Case, audit: &mut Audit) -> Result<(), CaseError> {
        let kept = self.kept_of_case(case)?;
        for (at, set_up) in case.set_ups.iter().enumerate() {
            for (number, reading) in set_up.readings.iter().enumerate() {
                for (nth, kept_recount) in reading.recounts.iter().enumerate() {
                    let name = format!(
                        "{} reading {}, counted again with event {}",
                        set_up.code, reading.number, kept_recount.seq
                    );
                    match recounted_again(case, reading, nth, &kept) {
                        Ok(None) => audit.same += 1,
                        Ok(Some(says)) => audit.differ.push(format!("{name}: {says}")),
                        Err(error) => audit.not_recomputed.push(format!("{name}: {error}")),
                    }
                }
                for decided in reading.decisions.iter().filter(|decided| decided.is_kept) {
                    let name = format!("{} reading {}, after event {}", set_up.code, reading.number, decided.after);
                    let runs = decided.decision.as_ref().ok().and_then(|then| then.runs.clone());
                    let again = case.decide((at, number, decided.after), runs, &kept, true);
                    match (&decided.decision, again) {
                        (Err(why), _) => audit.not_recomputed.push(format!("{name}: {why}")),
                        (_, Err(error)) => audit.not_recomputed.push(format!("{name}: {error}")),
                        (Ok(then), Ok(now)) => match then.differs_from(&now) {
                            None => audit.same += 1,
                            Some(_)
                                if was_decided_late(set_up, reading.number, decided, then)
                                    && then.rate() == now.rate() =>
                            {
                                audit.same += 1;
                            }
                            Some(says) => audit.differ.push(format!("{name}: {says}")),
                        },
                    }
                }
            }
        }
        Ok(())
    }
}

/// In what a kept recount comes to something else when it is worked out once more.
fn recounted_again(
    case: &Case,
    reading: &Reading,
    nth: usize,
    kept: &Formularies,
) -> Result<Option<String>, CaseError> {
    let recount = &reading.recounts[nth];
    let then = recount.recount.as_ref().map_err(|why| CaseError::Fault(why.to_string()))?;
    let head = case.weights.iter().chain(&case.identifiers).map(|one| one.head).find(|head| head.seq == then.because);
    let head = head.ok_or_else(|| CaseError::Fault(format!("event {} agrees on nothing", then.because)))?;
    let earlier = &reading.recounts[..nth];
    let again = case.recounted((reading, earlier), (head, recount.at), then.runs.clone(), kept)?;
    if let Some(why) = again.as_ref().and_then(Recount::not_readable).filter(|_| then.not_readable().is_none()) {
        return Err(CaseError::Fault(why.to_owned()));
    }
    Ok(again.map_or_else(|| Some("nothing was to be counted again".to_owned()), |again| then.differs_from(&again)))
}

/// Journals from before decisions took what agreed after a start for an agreement: their decisions say so still.
fn was_decided_late(set_up: &SetUp, reading: u16, decided: &Decided, then: &Decision) -> bool {
    then.outcome == Outcome::Agreed && set_up.was_put_in_before(reading, decided.after)
}
