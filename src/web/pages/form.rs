//! The form of an entry, as a page: the questions that are asked, what was typed, what is wrong with it, and what was
//! found. Nothing is preselected.

use maud::{Markup, html};

use crate::check::{Finding, Severity};
use crate::diagnostic::Fault;
use crate::entry::{Need, QUESTIONS, ReadFrom};

use crate::quantity::Unit;
use crate::web::filled::{Filled, FormReview, OpenQuestion};
use crate::web::site::JournalWorker;

/// More words than this are typed, with a list to choose from beside them.
const MOST_BUTTONS: usize = 12;

/// The questions and what was found. `whole` and `seen` as the form was judged with them.
pub(super) fn drawn(filled: &Filled, judged: &FormReview, desk: &JournalWorker, whole: bool, seen: &str) -> Markup {
    let good = judged.form.is_some();
    let has = |from: &ReadFrom| judged.asked.iter().any(|asked| asked.question.read_from() == *from);
    let screens: Vec<Option<ReadFrom>> =
        if judged.by_reading { ReadFrom::ALL.into_iter().filter(has).map(Some).collect() } else { vec![None] };
    html! {
        @for screen in screens {
            section data-screen=[Some(screen.map_or("all", ReadFrom::word))] {
                @if let Some(from) = screen { h2 tabindex="-1" { (from.says()) } }
                @for asked in judged.asked.iter().filter(|asked| screen.is_none_or(|from| asked.question.read_from() == from)) { (question(asked)) }
            }
        }
        div #found aria-live="polite" {
            @if whole && !good { (unplaced(&judged.faults, &judged.asked)) }
            @if !judged.findings.is_empty() { h2 { "What was found in your entry" } }
            @for one in &judged.findings { (finding(one, filled, desk)) }
            @if good && judged.findings.is_empty() { p { "Nothing was found." } }
            @if judged.reasons_wait && seen == judged.seen { p.wrong role="alert" { "A reason is needed for each finding that asks for one." } }
        }
        input type="hidden" name="seen" value=(judged.seen);
    }
}

fn question(asked: &OpenQuestion) -> Markup {
    let OpenQuestion { need, typed, offered, fault, .. } = asked;
    let (path, keys) = (asked.question.path, asked.question.keys);
    // A hint is a format, and never a value or a unit that could be taken over.
    let has_units = keys.iter().flat_map(|row| row.iter()).any(|key| Unit::spelled(key).is_some());
    let hint = match () {
        () if !offered.is_empty() => "one of these".to_owned(),
        () if has_units => "number and unit".to_owned(),
        () => format!("for example {}", asked.question.example),
    };
    let hint = if *need == Need::MayBeEmpty { format!("{hint}; optional") } else { hint };
    let (id, wrong, help) = (format!("q-{path}"), format!("w-{path}"), format!("h-{path}"));
    let described = if fault.is_some() { format!("{help} {wrong}") } else { help.clone() };
    // Names are touched however many there are: a letter leaves those that begin with it.
    let is_drug = path == "drug";
    let is_typed = offered.is_empty() || (offered.len() > MOST_BUTTONS && !is_drug);
    html! {
        div.question data-question=(path) data-names[is_drug && !is_typed] {
            @if is_typed {
                label for=(id) { (asked.question.says) }
                p.hint id=(help) { (hint) }
                @if keys.is_empty() {
                    input id=(id) name=(path) value=(typed) autocomplete="off" spellcheck="false" aria-describedby=(described)
                        aria-invalid=[fault.as_ref().map(|_| "true")] list=[(!offered.is_empty()).then(|| format!("l-{path}"))];
                } @else { (keyed_input(path, typed, keys, &described, fault.is_some())) }
                @if !offered.is_empty() { datalist id=(format!("l-{path}")) { @for word in offered { option value=(word) { } } } }
            } @else {
                fieldset aria-describedby=(described) {
                    legend { (asked.question.says) }
                    p.hint id=(help) { (hint) }
                    @if *need == Need::MayBeEmpty { (choice(path, "", "none", false)) }
                    @for word in offered { (choice(path, word, word, typed == word)) }
                    @if !typed.is_empty() && !offered.contains(typed) { (choice(path, typed, typed, true)) }
                }
            }
            @if let Some(fault) = fault { (said(&wrong, fault)) }
        }
    }
}

/// A field for digits and units: the script sets keys beneath it that write what they say. Without it everything is typed.
pub(super) fn keyed_input(path: &str, typed: &str, keys: &[&[&str]], described: &str, is_wrong: bool) -> Markup {
    let rows: Vec<String> = keys.iter().map(|row| row.join("\t")).collect();
    let id = if path == "dose_again" { path.to_owned() } else { format!("q-{path}") };
    html! {
        input id=(id) name=(path) value=(typed) autocomplete="off" spellcheck="false" aria-describedby=(described)
            aria-invalid=[is_wrong.then_some("true")] data-keys=(rows.join("\n"));
    }
}

/// The keys of a question.
pub(super) fn keys_of(path: &str) -> &'static [&'static [&'static str]] {
    QUESTIONS.iter().find(|question| question.path == path).map_or(&[], |question| question.keys)
}

fn finding(finding: &Finding, filled: &Filled, desk: &JournalWorker) -> Markup {
    let path = format!("reasons.{}", finding.code.id);
    let asks = finding.severity() == Severity::Justify;
    html! {
        div.finding data-severity=(finding.severity().word()) {
            p { strong { (finding.severity().word()) ": " } (finding.message) (if finding.message.ends_with('?') { " Do: " } else { ". Do: " }) (finding.help) (if finding.help.ends_with('?') { " " } else { ". " }) span.code { "[" (finding.code.id) "]" } }
            @if asks {
                label for=(path) { "Your reason, in your own words" }
                input id=(path) name=(path) value=(filled.text(&path)) list="reasons" autocomplete="off";
                datalist id="reasons" { @for reason in &desk.formulary.policy().clinical_reasons { option value=(reason) { } } }
            }
        }
    }
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

/// Faults that stand beside no question of this page, in the words of the question that asks for it.
fn unplaced(faults: &[Fault], asked: &[OpenQuestion]) -> Markup {
    html! {
        p.wrong role="alert" { "Not sealed: look at what is marked." }
        @for fault in faults.iter().filter(|fault| !asked.iter().any(|asked| asked.question.path == fault.field)) {
            @let question = QUESTIONS.iter().find(|one| one.path == fault.field || one.field == fault.field);
            p.wrong {
                strong { (question.map_or(&*fault.field, |one| one.says)) ": " }
                @if question.is_some() && fault.code == "field-missing" { "this is not answered" }
                @else { (fault.message) @if let Some(help) = &fault.help { "; " (help) } }
            }
        }
    }
}
