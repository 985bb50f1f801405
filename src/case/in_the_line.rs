//! What a line still holds of an earlier strength after a change of syringe: it reaches the patient first.

use crate::quantity::{Ratio, duration, exact_or_about};

use super::accounting::{Course, SyringeTotals};
use super::error::CaseError;

/// What a line still holds of an earlier syringe.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct InTheLine {
    /// How much, with its unit; nothing where nobody read the line.
    pub volume: Option<String>,
    /// Its strength, as the label said it; of several, that of the last syringe.
    pub strength: String,
    /// Whether the line may hold more than one earlier strength, or diluent.
    pub is_mixed: bool,
    /// How long it takes at the rate of now, hours; nothing while nothing flows.
    pub lasts: Option<Ratio>,
    /// The dose that it gives meanwhile, with its unit; nothing where the line may hold more than one earlier strength.
    pub dose: Option<String>,
}

impl InTheLine {
    /// In words: the line first gives what it holds.
    #[must_use]
    pub fn says(&self) -> String {
        let Self { volume, strength, lasts, dose, .. } = self;
        let Some(volume) = volume else {
            return format!(
                "the line still holds the old strength, {strength}; HOW MUCH IS NOT KNOWN, nobody read the line: it comes first"
            );
        };
        let mut says = match self.is_mixed {
            false => format!("the line still holds the old strength, {strength}: {volume} of it comes first"),
            true => {
                format!("the line still holds what was in it before, not of one strength: {volume} of it comes first")
            }
        };
        if let Some(dose) = dose {
            says.push_str(&format!(" and gives {dose}"));
        }
        if let Some(lasts) = lasts {
            says.push_str(&format!(", for about {}", duration(*lasts)));
        }
        says
    }
}

impl Course {
    /// What the line still holds of an earlier strength just after a change of syringe: it reaches the patient first.
    /// Nothing where a new line came with the syringe.
    ///
    /// # Errors
    /// When two routes of the sum disagree.
    pub fn still_in_the_line(&self) -> Result<Option<InTheLine>, CaseError> {
        let [before @ .., now] = &self.syringes[..] else { return Ok(None) };
        let Some(earlier) = before.last().filter(|earlier| now.follows_another_strength(earlier)) else {
            return Ok(None);
        };
        if earlier.basis.volumes_assumed && !now.basis.volumes_unknown() {
            // It is over, once this syringe has given what its own entry says the line holds.
            return Ok((now.volume < now.basis.dead_space()?).then(|| earlier.in_an_unread_line()));
        }
        let left = earlier.basis.dead_space()?.less(now.volume).ok().filter(|left| !left.is_zero());
        let Some(volume) = left.filter(|_| !earlier.basis.volumes_unknown() && !now.basis.volumes_unknown()) else {
            return Ok(None);
        };
        earlier.in_the_line(volume, self.flowing(), fills_its_line(before)?).map(Some)
    }
}

impl SyringeTotals {
    /// Whether the line held another strength when this syringe was put in.
    fn follows_another_strength(&self, earlier: &Self) -> bool {
        self.basis.keeps_line_after(&earlier.basis)
    }

    /// This syringe's strength in a line that nobody read.
    pub(super) fn in_an_unread_line(&self) -> InTheLine {
        let strength = self.basis.strength_on_label.clone();
        InTheLine { volume: None, strength, is_mixed: false, lasts: None, dose: None }
    }

    /// A volume of this syringe's strength in the line, at a rate in mL/h.
    pub(super) fn in_the_line(&self, volume: Ratio, rate: Option<Ratio>, alone: bool) -> Result<InTheLine, CaseError> {
        let lasts = rate.map(|rate| volume.over(rate)).transpose()?;
        let dose = rate.filter(|_| alone).map(|rate| self.basis.dose_shown(rate)).transpose()?;
        let strength = self.basis.strength_on_label.clone();
        let volume = Some(format!("{} mL", exact_or_about(volume)));
        Ok(InTheLine { volume, strength, is_mixed: !alone, lasts, dose })
    }
}

/// Whether the line holds nothing but what the last of these syringes held.
pub(super) fn fills_its_line(syringes: &[SyringeTotals]) -> Result<bool, CaseError> {
    Ok(match syringes {
        [.., earlier, last] => last.volume >= last.basis.dead_space()? || !last.follows_another_strength(earlier),
        [first] => first.volume >= first.basis.dead_space()? || first.basis.line_held_drug(),
        [] => false,
    })
}
