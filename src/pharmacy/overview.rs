//! A formulary at a glance: what it is, who approved it, which drugs cannot be used and why, and which review is due next.

use jiff::civil::Date;

use crate::formulary::{ApprovalStatus, Formulary};
use crate::quantity::Moment;

/// A formulary at a glance.
#[derive(Debug, Clone)]
pub struct Overview {
    /// Its title.
    pub title: String,
    /// Its version, as the pharmacist counts.
    pub version: String,
    /// When it was issued.
    pub issued: Date,
    /// The SHA-256 of its files.
    pub fingerprint: String,
    /// How it stands with its approval.
    pub standing: ApprovalStatus,
    /// How many drugs can be used.
    pub usable: usize,
    /// Files of drugs that cannot be used, each with every reason.
    pub unusable: Vec<(String, Vec<String>)>,
    /// Every drug that can be used with its review, the soonest first.
    pub reviews: Vec<Review>,
}

/// When a drug is looked at again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Review {
    /// The drug.
    pub drug: String,
    /// By when.
    pub by: Date,
    /// How it stands with that.
    pub due: Due,
}

/// How a review stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Due {
    /// Still to come, in so many days.
    In(i32),
    /// Past: each set-up is told so.
    Past,
    /// Past for so long that each set-up asks for a reason.
    AsksForReasons,
}

/// A formulary as of a moment.
#[must_use]
pub fn overview(formulary: &Formulary, now: Moment) -> Overview {
    let (today, policy) = (now.date(), formulary.policy());
    let mut unusable = Vec::new();
    formulary.each_drug_file(|file| {
        if let Err(faults) = file.read {
            let why = faults.iter().map(|fault| fault.message.clone()).collect();
            unusable.push((file.path.to_owned(), why));
        }
    });
    let mut reviews: Vec<Review> = formulary
        .usable()
        .into_iter()
        .map(|drug| {
            let by = drug.review.by;
            let due = if by >= today {
                Due::In(by.since(today).map_or(0, |span| span.get_days()))
            } else if drug.review.justify_from <= today {
                Due::AsksForReasons
            } else {
                Due::Past
            };
            Review { drug: drug.name.clone(), by, due }
        })
        .collect();
    reviews.sort_by(|one, other| (one.by, &one.drug).cmp(&(other.by, &other.drug)));
    Overview {
        title: policy.title.clone(),
        version: policy.version.clone(),
        issued: policy.issued,
        fingerprint: formulary.fingerprint().to_string(),
        standing: formulary.standing().clone(),
        usable: reviews.len(),
        unusable,
        reviews,
    }
}

impl Due {
    /// In words.
    #[must_use]
    pub fn says(self) -> String {
        match self {
            Self::In(0) => "due today".to_owned(),
            Self::In(1) => "due in 1 day".to_owned(),
            Self::In(days) => format!("due in {days} days"),
            Self::Past => "PAST: each set-up is told so".to_owned(),
            Self::AsksForReasons => "PAST: each set-up asks for a reason".to_owned(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_soonest_review_comes_first_and_a_faulty_drug_is_named() {
        let files = Formulary::demonstration().expect("it has no fault").files().to_vec();
        let changed = files.into_iter().map(|(path, text)| match path.as_str() {
            "drugs/noradrenaline.yaml" => {
                let text = text.replacen("by: 2099-12-31", "by: 2026-01-31", 1);
                let from = text.find("justify_from: ").expect("it is there") + "justify_from: ".len();
                let text = format!("{}2026-02-28{}", &text[..from], &text[from + 10..]);
                (path, text)
            }
            "drugs/heparin.yaml" => (path, text.replacen("class:", "clas:", 1)),
            _ => (path, text),
        });
        let formulary = Formulary::kept("changed", changed.collect()).expect("the small files are whole");
        let at = |text: &str| overview(&formulary, Moment::parse(text).expect("a moment"));
        let seen = at("2026-02-10T08:00:00+00:00");
        assert_eq!((seen.reviews[0].drug.as_str(), seen.reviews[0].due), ("noradrenaline", Due::Past));
        assert_eq!(seen.unusable.len(), 1);
        assert!(seen.unusable[0].0 == "drugs/heparin.yaml" && !seen.unusable[0].1.is_empty());
        assert_eq!(seen.usable, seen.reviews.len());
        assert_eq!(at("2026-03-10T08:00:00+00:00").reviews[0].due, Due::AsksForReasons);
        assert_eq!(at("2026-01-30T08:00:00+00:00").reviews[0].due, Due::In(1));
    }
}
