//! What one second pharmacist has typed so far: found among their drafts, kept there, and made into the answers of an
//! approval. The proposal itself takes no part in what is kept.

use axum::http::StatusCode;

use super::counted;
use crate::pharmacy::approval::{Answers, Progress, Proposal, TypedPlace, fault_of};
use crate::web::answer::Refusal;
use crate::web::drafts::LONG;
use crate::web::sent::{TypedFields, text};
use crate::web::session::Session;
use crate::web::site::Site;

/// What one person has typed so far.
pub(super) struct Mine {
    pub(super) proposal: Proposal,
    /// What was kept as typed, by anybody.
    pub(super) progress: Progress,
    /// The files with anything to be typed, in their order.
    pub(super) files: Vec<String>,
    /// For each place to be typed, in the order of the changes.
    pub(super) typed: Vec<String>,
    /// For each file: how long the typing took.
    paces: Vec<Pace>,
}

/// How long it took to type one file, by the clock of the server.
#[derive(Debug, Clone, Copy, Default)]
struct Pace {
    seconds: u64,
    /// When something was sent last, in seconds of that clock.
    last: u64,
}

/// One sending counts for no longer: a form that stood open and was filled by a script was not typed all that time.
const LONGEST: u64 = 60;
/// What the pace is called among the fields of a draft.
const PACE: [&str; 2] = ["pace_seconds", "pace_last"];

impl Pace {
    fn goes_on(&mut self) {
        let now = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).map_or(0, |since| since.as_secs());
        if self.last > 0 {
            self.seconds += now.saturating_sub(self.last).min(LONGEST);
        }
        self.last = now;
    }
}

impl Mine {
    pub(super) fn found(site: &Site, session: &Session, proposal: Proposal, progress: Progress) -> Self {
        let mut files: Vec<String> = Vec::new();
        for place in &proposal.changes.typed {
            if !files.contains(&place.file) {
                files.push(place.file.clone());
            }
        }
        let typed = vec![String::new(); proposal.changes.typed.len()];
        let paces = vec![Pace::default(); files.len()];
        let mut mine = Self { proposal, progress, files, typed, paces };
        for number in 1..=mine.files.len() {
            if let Some(draft) = site.drafts.find(&session.signer, &mine.task(number)) {
                // A number that is not of this file is not in a draft of it.
                let _ = mine.take(number, &draft);
                let kept = PACE.map(|name| text(&draft, name).parse().unwrap_or_default());
                mine.paces[number - 1] = Pace { seconds: kept[0], last: kept[1] };
            }
        }
        mine
    }

    pub(super) fn task(&self, number: usize) -> String {
        format!("{LONG}{} {number}", self.proposal.formulary.fingerprint())
    }

    /// What is still to be typed of a file.
    pub(super) fn of_file(&self, number: usize) -> Result<impl Iterator<Item = (usize, &TypedPlace)>, Refusal> {
        let file = number.checked_sub(1).and_then(|at| self.files.get(at)).ok_or_else(|| {
            Refusal::said(StatusCode::NOT_FOUND, "not-here", "nothing is here", "go back to the files")
        })?;
        let of_file = move |(at, place): &(usize, &TypedPlace)| place.file == *file && !self.progress.is_typed(*at);
        Ok(self.proposal.changes.typed.iter().enumerate().filter(of_file))
    }

    /// The clock of a file begins when its form is first shown.
    pub(super) fn shows(&mut self, site: &Site, session: &Session, number: usize) -> Result<(), Refusal> {
        let is_first = self.of_file(number)?.next().is_some() && self.paces[number - 1].last == 0;
        if is_first {
            self.paces[number - 1].goes_on();
            self.keep(site, session, number)?;
        }
        Ok(())
    }

    /// What was sent from a form: the time since the last sending counts where anything was typed.
    pub(super) fn sent(&mut self, number: usize, sent: &TypedFields) -> Result<(), Refusal> {
        let before = self.typed.clone();
        self.take(number, sent)?;
        if before != self.typed {
            self.paces[number - 1].goes_on();
        }
        Ok(())
    }

    fn take(&mut self, number: usize, sent: &TypedFields) -> Result<(), Refusal> {
        let mine: Vec<usize> = self.of_file(number)?.map(|(at, _)| at).collect();
        for at in mine {
            if let Some((_, typed)) = sent.iter().find(|(name, _)| *name == name_of(at)) {
                typed.trim().clone_into(&mut self.typed[at]);
            }
        }
        Ok(())
    }

    pub(super) fn keep(&self, site: &Site, session: &Session, number: usize) -> Result<(), Refusal> {
        let mut kept: TypedFields =
            self.of_file(number)?.map(|(at, _)| (name_of(at), self.typed[at].clone())).collect();
        let pace = self.paces[number - 1];
        kept.extend(PACE.iter().zip([pace.seconds, pace.last]).map(|(name, at)| ((*name).to_owned(), at.to_string())));
        site.drafts.keep(&session.signer, &self.task(number), &kept).map_err(|error| {
            let says = format!("what was typed cannot be kept: {error}");
            Refusal::said(
                StatusCode::SERVICE_UNAVAILABLE,
                "draft-not-kept",
                says,
                "Go back: it stands in the form still. Look at the disk of the server.",
            )
        })
    }

    /// Each file of which every value is typed and written rightly, with its number, its values and the seconds they took.
    pub(super) fn finished(&self) -> Result<Vec<(usize, Answers, u64)>, Refusal> {
        let mut finished = Vec::new();
        let mut wanting: Vec<(&str, usize)> = Vec::new();
        for (at, file) in self.files.iter().enumerate() {
            let (mut answers, mut count, mut short) = (Answers::default(), 0, 0);
            for (place, typed) in self.of_file(at + 1)?.map(|(at, place)| (place, &self.typed[at])) {
                count += 1;
                if fault_of(place, typed).is_some() {
                    short += 1;
                } else {
                    answers.put(place, typed);
                }
            }
            match (count, short) {
                (0, _) => {}
                (_, 0) => finished.push((at + 1, answers, self.paces[at].seconds)),
                _ => wanting.push((file, short)),
            }
        }
        if !finished.is_empty() || wanting.is_empty() {
            return Ok(finished);
        }
        let count = wanting.iter().map(|(_, short)| short).sum();
        let files: Vec<&str> = wanting.iter().map(|(file, _)| *file).collect();
        let says = format!(
            "no file is finished: {} not typed yet, or typed so that it cannot be read: {}",
            counted(count, "value"),
            files.join(", ")
        );
        Err(Refusal::said(StatusCode::CONFLICT, "sheet-short", says, "Go back to these files."))
    }

    /// What differs is read from its source again: it stands empty.
    pub(super) fn again(&mut self, site: &Site, session: &Session, differ: &[TypedPlace]) -> Result<(), Refusal> {
        for (place, typed) in self.proposal.changes.typed.iter().zip(&mut self.typed) {
            if differ.contains(place) {
                typed.clear();
            }
        }
        (1..=self.files.len()).try_for_each(|number| self.keep(site, session, number))
    }
}

/// What a place is called in a form.
pub(super) fn name_of(at: usize) -> String {
    format!("value-{}", at + 1)
}
