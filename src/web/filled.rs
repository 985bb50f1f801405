//! One person's form so far: the questions of `entry` in their order, what was typed, what is wrong with it, and what was
//! found. For the page and for programs alike; nothing is preselected.

use crate::case::{Author, CaseError, EntryTurn, SubmittedForm, Task};
use crate::check::{Finding, Severity};
use crate::diagnostic::Fault;
use crate::entry::{self, Answers, Need, QUESTIONS, Question, ReadFrom, emergency};
use crate::journal::Hash;

use super::answer::Refusal;
use super::sent::TypedFields;
use super::site::JournalWorker;

/// One person's form so far.
#[derive(Debug)]
pub(super) struct Filled {
    /// As typed.
    typed: TypedFields,
    answers: Answers,
    /// The few questions of an emergency; the form holds what is assumed besides.
    is_short: bool,
    /// Where the person has read everything and gone on: what is missing there is said.
    left: Vec<&'static str>,
    /// Clock times that cannot be read.
    times: Vec<(&'static str, Fault)>,
}

/// A question that is asked now.
#[derive(Debug)]
pub(super) struct OpenQuestion {
    pub(super) question: &'static Question,
    pub(super) need: Need,
    pub(super) typed: String,
    /// The words of a closed list.
    pub(super) offered: Vec<String>,
    pub(super) fault: Option<Fault>,
}

/// What is said about a form.
#[derive(Debug)]
pub(super) struct FormReview {
    /// The whole form, where it can be read.
    pub(super) form: Option<SubmittedForm>,
    pub(super) asked: Vec<OpenQuestion>,
    /// Whether it is asked one reading after the other: a whole entry is, a few questions are not.
    pub(super) by_reading: bool,
    pub(super) findings: Vec<Finding>,
    /// Everything that is wrong with the form as a whole.
    pub(super) faults: Vec<Fault>,
    /// The key of these findings: the person who seals says that they have seen them.
    pub(super) seen: String,
    /// A finding that asks for a reason has none.
    pub(super) reasons_wait: bool,
    /// The dose is to be typed again before a rate beyond the limits is shown.
    pub(super) dose_again: bool,
    /// Every finding was seen, and each that needs a reason has one.
    pub(super) may_be_sealed: bool,
}

impl Filled {
    /// What was typed, on top of what this person entered in the round before.
    pub(super) fn of(typed: TypedFields, task: &Task, desk: &JournalWorker) -> Self {
        let own = task.own_form();
        let mut answers = own.as_ref().map(|form| Answers::of_form(&form.text, form.json)).unwrap_or_default();
        for field in task.fields.iter().flatten() {
            answers.forget(field);
        }
        let mut times = Vec::new();
        let left = screens_left(&typed);
        let typed: TypedFields = typed.into_iter().filter(|(path, _)| is_asked(path, task)).collect();
        for (path, text) in &typed {
            let text = text.trim();
            match entry::written(path, text, desk.now) {
                Ok(text) => answers.say(path, &text),
                Err(fault) => {
                    answers.say(path, text);
                    times.extend(
                        QUESTIONS.iter().filter(|known| known.path == path).map(|known| (known.path, fault.clone())),
                    );
                }
            }
        }
        Self { typed, answers, is_short: false, left, times }
    }

    /// The few answers of an emergency.
    pub(super) fn of_emergency(typed: TypedFields) -> Self {
        let is_asked =
            |path: &str| path.starts_with("reasons.") || emergency::questions().any(|question| question.path == path);
        let typed: TypedFields = typed.into_iter().filter(|(path, _)| is_asked(path)).collect();
        let mut answers = Answers::default();
        typed.iter().for_each(|(path, text)| answers.say(path, text.trim()));
        Self { typed, answers, is_short: true, left: Vec::new(), times: Vec::new() }
    }

    /// The form that is judged and sealed.
    fn form_answers(&self, desk: &JournalWorker) -> Answers {
        if self.is_short { self.answers.in_an_emergency(&desk.formulary) } else { self.answers.clone() }
    }

    fn has_left(&self, question: &Question) -> bool {
        self.left.contains(&question.read_from().word())
    }

    /// What a draft keeps.
    pub(super) const fn typed(&self) -> &TypedFields {
        &self.typed
    }

    /// What was typed at one place.
    pub(super) fn text(&self, path: &str) -> &str {
        self.typed.iter().rev().find(|(known, _)| known == path).map_or("", |(_, text)| text)
    }

    /// Judges it, field by field and as a whole. `whole` says that the person holds it for complete; `seen` is what was
    /// said for the findings that they have seen.
    pub(super) fn judged(
        &self,
        task: &Task,
        author: &Author<'_>,
        desk: &JournalWorker,
        whole: bool,
        seen: &str,
    ) -> Result<FormReview, Refusal> {
        let answers = self.form_answers(desk);
        let asks_all = task.place == EntryTurn::Emergency && !self.is_short;
        let text = if asks_all { answers.of_unknown_age() } else { answers }.to_json();
        let form = SubmittedForm { name: "the answers".to_owned(), text, json: true, dose_again: None };
        let (findings, lacks_reason, in_doubt, faults, good) =
            match desk.cases.judge(task, &form, author, &desk.formulary, desk.now) {
                Ok(checked) if self.times.is_empty() => {
                    let lacks_reason = checked.unreasoned().next().is_some();
                    let in_doubt = checked.dose_in_doubt().next().is_some();
                    (checked.findings().to_vec(), lacks_reason, in_doubt, Vec::new(), true)
                }
                Ok(_) => (Vec::new(), false, false, Vec::new(), false),
                Err(CaseError::Form(faults)) => {
                    let faults = faults.into_iter().flat_map(|(_, faults)| faults).collect();
                    (Vec::new(), false, false, faults, false)
                }
                Err(other) => return Err(other.into()),
            };
        let stops = findings.iter().any(|finding| matches!(finding.severity(), Severity::Stop(_)));
        // In an emergency a note or a soft limit holds nobody up: it stands on the card.
        let in_an_emergency = task.place == EntryTurn::Emergency;
        let is_read = |finding: &&Finding| !in_an_emergency || matches!(finding.severity(), Severity::Stop(_));
        let read: Vec<&Finding> = findings.iter().filter(is_read).collect();
        let now_seen = fingerprint(&read);
        let is_seen = read.is_empty() || seen == now_seen;
        let reasons_wait = lacks_reason && !stops && !in_an_emergency;
        let asked = self.asked(task, author, desk, whole);
        // What follows from an answer that is missing is not said beside it: nobody was asked for that.
        let is_led_to = self.is_short && asked.iter().any(|asked| asked.fault.is_some());
        let faults = if is_led_to { Vec::new() } else { faults };
        Ok(FormReview {
            form: good.then_some(form),
            asked,
            by_reading: !self.is_short && task.fields.is_none(),
            may_be_sealed: good && !reasons_wait && is_seen,
            dose_again: in_doubt && in_an_emergency,
            findings,
            faults,
            seen: now_seen,
            reasons_wait,
        })
    }

    fn asked(&self, task: &Task, author: &Author<'_>, desk: &JournalWorker, whole: bool) -> Vec<OpenQuestion> {
        if self.is_short {
            return emergency::questions()
                .filter_map(|question| self.short_one(question, task, author, desk, whole))
                .collect();
        }
        let asking = task.asking(desk.now);
        let need = |question: &Question| self.answers.need(question, &desk.formulary, asking);
        let questions = QUESTIONS.iter().filter(|question| is_asked(question.path, task));
        let asked = questions.map(|question| (question, need(question)));
        let asked = asked.filter(|(question, need)| *need != Need::No || !self.text(question.path).is_empty());
        asked.map(|(question, need)| self.one_asked(question, need, task, author, desk, whole)).collect()
    }

    fn one_asked(
        &self,
        question: &'static Question,
        need: Need,
        task: &Task,
        author: &Author<'_>,
        desk: &JournalWorker,
        whole: bool,
    ) -> OpenQuestion {
        let (path, typed) = (question.path, self.text(question.path));
        let offered = self.offered(question, desk);
        let fault = match self.times.iter().find(|(known, _)| *known == path) {
            Some((_, fault)) => Some(fault.clone()),
            None if typed.trim().is_empty() => (need == Need::Needed && (whole || self.has_left(question)))
                .then(|| Fault::new("field-missing", "this needs an answer").help("read it, and type it")),
            None => self.answers.fault(path, &task.given(author, desk.now), &desk.formulary),
        };
        OpenQuestion { question, need, typed: typed.to_owned(), offered, fault }
    }

    /// What is chosen by touch: the words of a closed list, and the drugs of the area by their names.
    fn offered(&self, question: &Question, desk: &JournalWorker) -> Vec<String> {
        match question.path {
            "drug" => self.answers.drugs_here(&desk.formulary).into_iter().map(str::to_owned).collect(),
            emergency::STRENGTH => self.answers.strengths_here(&desk.formulary),
            _ => self.answers.offered(question, &desk.formulary),
        }
    }

    /// One of the few questions of an emergency; nothing before the answers that it follows from.
    fn short_one(
        &self,
        question: &'static Question,
        task: &Task,
        author: &Author<'_>,
        desk: &JournalWorker,
        whole: bool,
    ) -> Option<OpenQuestion> {
        let (path, typed) = (question.path, self.text(question.path));
        let offered = self.offered(question, desk);
        let follows = matches!(path, "drug" | emergency::STRENGTH);
        let is_one_use = path == "indication" && offered.len() < 2;
        if (is_one_use || follows && offered.is_empty()) && typed.is_empty() {
            return None;
        }
        let fault = if typed.trim().is_empty() {
            whole.then(|| Fault::new("field-missing", "this needs an answer").help("read it, and enter it"))
        } else if path == emergency::STRENGTH {
            let help = "choose what the label says; for any other syringe the whole form is asked";
            (!offered.iter().any(|known| known == typed))
                .then(|| Fault::new("strength-not-stocked", "this strength is not stocked for this use").help(help))
        } else {
            self.form_answers(desk).fault(path, &task.given(author, desk.now), &desk.formulary)
        };
        Some(OpenQuestion { question, need: Need::Needed, typed: typed.to_owned(), offered, fault })
    }
}

/// The screens that the person has gone on from, as the page names them.
fn screens_left(typed: &TypedFields) -> Vec<&'static str> {
    let left = super::sent::text(typed, "left");
    ReadFrom::ALL.iter().map(|from| from.word()).filter(|word| left.split(' ').any(|one| one == *word)).collect()
}

/// Whether an answer belongs to what is read now.
pub(super) fn is_asked(path: &str, task: &Task) -> bool {
    if path.starts_with("reasons.") {
        return true;
    }
    let question = QUESTIONS.iter().find(|question| question.path == path);
    let known = task.patient.is_some() && path.starts_with("patient.");
    let again = |field| task.fields.as_ref().is_none_or(|fields| fields.contains(&field));
    question.is_some_and(|question| again(question.field)) && !known
}

/// Which entry a draft is for. A later round of the same set-up is another one.
pub(super) fn name_of(task: &Task) -> String {
    format!("{} {} {:?} {}", task.set_up, task.reading, task.place, task.round)
}

/// Whether the findings are those that were seen before.
fn fingerprint(findings: &[&Finding]) -> String {
    let says: Vec<String> =
        findings.iter().map(|finding| format!("{}\0{}", finding.code.id, finding.message)).collect();
    Hash::of(says.join("\0").as_bytes()).to_string()
}
