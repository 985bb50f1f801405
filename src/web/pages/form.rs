//! The form of an entry, as a page: the questions of `entry` in their order, what was typed, what is wrong with it, and
//! what was found. Nothing is preselected.

use maud::{Markup, html};

use crate::case::{Author, CaseError, Form, Place, Task};
use crate::check::{Finding, Severity};
use crate::diagnostic::Fault;
use crate::entry::{self, Answers, Need, QUESTIONS, Question};
use crate::journal::Hash;

use crate::web::answer::Refusal;
use crate::web::sent::Typed;
use crate::web::site::Desk;

/// More words than this are typed, with a list to choose from beside them.
const MOST_BUTTONS: usize = 12;

/// One person's form so far.
#[derive(Debug)]
pub(super) struct Filled {
    /// As typed.
    typed: Typed,
    answers: Answers,
    /// Clock times that cannot be read.
    times: Vec<(&'static str, Fault)>,
}

/// What is said about a form.
#[derive(Debug)]
pub(super) struct Judged {
    /// The whole form can be read.
    pub(super) form: Option<Form>,
    /// What the page shows.
    pub(super) fields: Markup,
    /// Every finding was on the page that was sent, and each that needs a reason has one.
    pub(super) may_be_sealed: bool,
}

impl Filled {
    /// What was typed, on top of what this person entered in the round before.
    pub(super) fn of(typed: Typed, task: &Task, desk: &Desk) -> Self {
        let own = task.own_form();
        let mut answers = own.as_ref().map(|form| Answers::of_form(&form.text, form.json)).unwrap_or_default();
        for field in task.fields.iter().flatten() {
            answers.forget(field);
        }
        let mut times = Vec::new();
        let typed: Typed = typed.into_iter().filter(|(path, _)| is_asked(path, task)).collect();
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
        Self { typed, answers, times }
    }

    /// What a draft keeps.
    pub(super) const fn typed(&self) -> &Typed {
        &self.typed
    }

    /// Judges it, field by field and as a whole. `whole` says that the person holds it for complete.
    pub(super) fn judged(
        &self,
        task: &Task,
        author: &Author<'_>,
        desk: &Desk,
        whole: bool,
        seen: &str,
    ) -> Result<Judged, Refusal> {
        let form = Form { name: "the answers".to_owned(), text: self.answers.to_json(), json: true };
        let asked: Vec<(&Question, Need)> = QUESTIONS
            .iter()
            .filter(|question| is_asked(question.path, task))
            .map(|question| {
                (question, self.answers.need(question, &desk.formulary, task.patient.is_some(), desk.now.date()))
            })
            .filter(|(question, need)| *need != Need::No || !self.text(question.path).is_empty())
            .collect();
        let (findings, unreasoned, faults, good) =
            match desk.cases.judge(task, &form, author, &desk.formulary, desk.now) {
                Ok(checked) if self.times.is_empty() => {
                    let unreasoned: Vec<&str> = checked.unreasoned().map(|finding| finding.code.id).collect();
                    (checked.findings().to_vec(), unreasoned, Vec::new(), true)
                }
                Ok(_) => (Vec::new(), Vec::new(), Vec::new(), false),
                Err(CaseError::Form(faults)) => {
                    let faults = faults.into_iter().flat_map(|(_, faults)| faults).collect();
                    (Vec::new(), Vec::new(), faults, false)
                }
                Err(other) => return Err(other.into()),
            };
        let stops = findings.iter().any(|finding| matches!(finding.severity(), Severity::Stop(_)));
        let now_seen = fingerprint(&findings);
        let reasons_wait = !unreasoned.is_empty() && !stops && task.place != Place::Emergency;
        let shown = html! {
            @for (question, need) in &asked { (self.question(question, *need, author, task, desk, whole)) }
            div #found aria-live="polite" {
                @if whole && !good { (unplaced(&faults, &asked)) }
                @if !findings.is_empty() { h2 { "What was found in your entry" } }
                @for finding in &findings { (self.finding(finding, desk)) }
                @if good && findings.is_empty() { p { "Nothing was found." } }
                @if reasons_wait && seen == now_seen { p.wrong role="alert" { "A reason is needed for each finding that asks for one." } }
            }
            input type="hidden" name="seen" value=(now_seen);
        };
        let may_be_sealed = good && !reasons_wait && (findings.is_empty() || seen == now_seen);
        Ok(Judged { form: good.then_some(form), fields: shown, may_be_sealed })
    }

    fn text(&self, path: &str) -> &str {
        self.typed.iter().rev().find(|(known, _)| known == path).map_or("", |(_, text)| text)
    }

    fn question(
        &self,
        question: &Question,
        need: Need,
        author: &Author<'_>,
        task: &Task,
        desk: &Desk,
        whole: bool,
    ) -> Markup {
        let (path, typed) = (question.path, self.text(question.path));
        let offered = self.answers.offered(question, &desk.formulary);
        let fault = match self.times.iter().find(|(known, _)| *known == path) {
            Some((_, fault)) => Some(fault.clone()),
            None if typed.trim().is_empty() => (whole && need == Need::Needed)
                .then(|| Fault::new("field-missing", "this needs an answer").help("read it, and type it")),
            None => self.answers.fault(path, &task.given(author, desk.now), &desk.formulary),
        };
        let unit = match path {
            "dose" | "titrate.from" | "titrate.to" | "titrate.step" => self.answers.dose_unit(&desk.formulary),
            _ => None,
        };
        let hint = match (unit, need) {
            (Some(unit), _) => format!("in {unit} here"),
            _ if !offered.is_empty() => "one of these".to_owned(),
            _ => format!("for example {}", question.example),
        };
        let hint = if need == Need::MayBeEmpty { format!("{hint}; empty where there is none") } else { hint };
        let (id, wrong, help) = (format!("q-{path}"), format!("w-{path}"), format!("h-{path}"));
        let described = if fault.is_some() { format!("{help} {wrong}") } else { help.clone() };
        let is_typed = offered.is_empty() || offered.len() > MOST_BUTTONS;
        let drugs: Vec<&str> = if path == "drug" {
            desk.formulary.usable().iter().map(|drug| drug.name.as_str()).collect()
        } else {
            Vec::new()
        };
        html! {
            div.question data-question=(path) {
                @if is_typed {
                    label for=(id) { (question.says) }
                    p.hint id=(help) { (hint) }
                    input id=(id) name=(path) value=(typed) autocomplete="off" spellcheck="false" aria-describedby=(described)
                        aria-invalid=[fault.as_ref().map(|_| "true")] list=[(path == "drug" || !offered.is_empty()).then(|| format!("l-{path}"))];
                    @if path == "drug" { datalist id=(format!("l-{path}")) { @for drug in &drugs { option value=(drug) { } } } }
                    @if !offered.is_empty() { datalist id=(format!("l-{path}")) { @for word in &offered { option value=(word) { } } } }
                } @else {
                    fieldset aria-describedby=(described) {
                        legend { (question.says) }
                        p.hint id=(help) { (hint) }
                        @if need == Need::MayBeEmpty { (choice(path, "", "none", false)) }
                        @for word in &offered { (choice(path, word, word, typed == word)) }
                        @if !typed.is_empty() && !offered.iter().any(|word| word == typed) { (choice(path, typed, typed, true)) }
                    }
                }
                @if let Some(fault) = &fault { (said(&wrong, fault)) }
            }
        }
    }

    fn finding(&self, finding: &Finding, desk: &Desk) -> Markup {
        let path = format!("reasons.{}", finding.code.id);
        let asks = finding.severity() == Severity::Justify;
        html! {
            div.finding data-severity=(finding.severity().word()) {
                p { strong { (finding.severity().word()) ": " } (finding.message) ". Do: " (finding.help) ". " span.code { "[" (finding.code.id) "]" } }
                @if asks {
                    label for=(path) { "Your reason, in your own words" }
                    input id=(path) name=(path) value=(self.text(&path)) list="reasons" autocomplete="off";
                    datalist id="reasons" { @for reason in &desk.formulary.policy().clinical_reasons { option value=(reason) { } } }
                }
            }
        }
    }
}

/// Whether an answer belongs to what is read now.
fn is_asked(path: &str, task: &Task) -> bool {
    if path.starts_with("reasons.") {
        return true;
    }
    let question = QUESTIONS.iter().find(|question| question.path == path);
    let known = task.patient.is_some() && path.starts_with("patient.");
    let again = |field| task.fields.as_ref().is_none_or(|fields| fields.contains(&field));
    question.is_some_and(|question| again(question.field)) && !known
}

fn choice(path: &str, value: &str, says: &str, chosen: bool) -> Markup {
    html! { label.choice { input type="radio" name=(path) value=(value) checked[chosen]; span { (says) } } }
}

fn said(id: &str, fault: &Fault) -> Markup {
    html! {
        p.wrong id=(id) {
            strong { "Look again: " } (fault.message)
            @if let Some(help) = &fault.help { "; " (help) }
            " " span.code { "[" (fault.code) "]" }
        }
    }
}

/// Faults that stand beside no question of this page.
fn unplaced(faults: &[Fault], asked: &[(&Question, Need)]) -> Markup {
    html! {
        p.wrong role="alert" { "Not sealed: look at what is marked." }
        @for fault in faults.iter().filter(|fault| !asked.iter().any(|(question, _)| question.path == fault.field)) {
            p.wrong { strong { (fault.field) ": " } (fault.message) @if let Some(help) = &fault.help { "; " (help) } }
        }
    }
}

/// Whether the findings are those that were on the page before.
fn fingerprint(findings: &[Finding]) -> String {
    let says: Vec<String> =
        findings.iter().map(|finding| format!("{}\0{}", finding.code.id, finding.message)).collect();
    Hash::of(says.join("\0").as_bytes()).to_string()
}
