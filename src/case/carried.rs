//! The next syringe like the one that runs: what two people agreed on for it is carried, and few things are asked. In: a
//! task and the answers so far; out: which questions are asked, the whole form, and what is wrong with an answer.

use crate::diagnostic::{Fault, Source};
use crate::entry::{Answers, Carried, Need, Question, READ_ALL};
use crate::formulary::Formulary;
use crate::quantity::Moment;

use super::enter::{Author, SubmittedForm, Task};
use super::error::CaseError;
use super::restart::RunningDose;
use super::review::ReviewStage;
use super::state::{Case, SetUp};

impl Task {
    /// What is carried, where few things are asked of a next syringe: not where fields are read again, and not where this
    /// person says that something else changed.
    #[must_use]
    pub fn like_the_one_that_runs(&self, answers: &Answers) -> Option<&Carried> {
        let carried = self.carried.as_deref().filter(|_| self.fields.is_none());
        carried.filter(|_| answers.said(READ_ALL).is_none())
    }

    /// Whether a question is asked, by what was answered before it.
    #[must_use]
    pub fn need(&self, question: &Question, answers: &Answers, formulary: &Formulary, now: Moment) -> Need {
        match self.like_the_one_that_runs(answers) {
            Some(carried) => carried.need(question.path),
            None if question.path == READ_ALL => Need::MayBeEmpty,
            None => answers.need(question, formulary, self.asking(now)),
        }
    }

    /// The whole form of the answers: with what is carried.
    #[must_use]
    pub fn whole(&self, answers: &Answers) -> Answers {
        let mut said = answers.clone();
        said.say(READ_ALL, "");
        match self.like_the_one_that_runs(answers) {
            Some(carried) => carried.complete(&said),
            None => said.filled_as_labelled(),
        }
    }

    /// What is wrong with an answer.
    #[must_use]
    pub fn fault(
        &self,
        path: &str,
        answers: &Answers,
        author: &Author<'_>,
        formulary: &Formulary,
        now: Moment,
    ) -> Option<Fault> {
        if path == READ_ALL {
            return None;
        }
        let own = answers.fault(path, &self.given(author, now), formulary);
        own.or_else(|| self.like_the_one_that_runs(answers)?.fault(path, answers, formulary))
    }
}

impl Case {
    /// What two people agreed on about the syringe that runs, for the next one of the set-up.
    pub(super) fn carried_to(&self, set_up: &SetUp, reading: u16, now: Moment) -> Option<Box<Carried>> {
        let number = set_up.running_reading().filter(|running| *running < reading)?;
        let running = set_up.reading(number)?;
        // Once it is stopped its line may be off the patient; a record that cannot be followed carries nothing.
        RunningDose::at_the_end(&self.course(set_up, now).ok().flatten()?).ok().flatten()?;
        let standing = self.standing(running);
        let ReviewStage::Agreed(decision) = &standing.stage else { return None };
        let opened = self.open(running.first_of(decision)?).ok()?;
        Carried::from_agreed(&Answers::of_form(&opened.form, opened.json), standing.at).map(Box::new)
    }
}

/// What a form carries is what two people agreed on, and the syringe is like the one that runs.
pub(super) fn require_alike(task: &Task, form: &SubmittedForm, formulary: &Formulary) -> Result<(), CaseError> {
    let answers = Answers::of_form(&form.text, form.json);
    if !answers.carries() {
        return Ok(());
    }
    let source = || Source::new(form.name.clone(), String::new());
    let refused = |fault: Fault| Err(CaseError::Form(vec![(source(), vec![fault])]));
    let Some(carried) = task.carried.as_deref().filter(|carried| carried.holds(&answers)) else {
        let says = "what this form carries is not what two people agreed on for the syringe that runs";
        let help = "leave `carried` out, and read everything";
        return refused(Fault::new("answer-not-carried", says).in_field("carried").help(help));
    };
    let paths = ["drug", "label.volume"].into_iter().filter(|_| task.fields.is_none());
    match paths.filter_map(|path| carried.fault(path, &answers, formulary)).next() {
        Some(fault) => refused(fault),
        None => Ok(()),
    }
}
