//! `case enter`, `case second` and `case emergency`: a form from a file or from questions, judged, and sealed.

use std::fmt::Write as _;
use std::path::PathBuf;

use clap::Args;

use crate::card::{DEMONSTRATION, wrapped};
use crate::case::data::{CardShown, EntrySealed, owed_for};
use crate::case::{
    Author, CardAnswer, Cases, EmergencyEntry, EntryTurn, ReviewStage, SetUpCode, SubmittedForm, Task, Turn,
    dose_is_the_same, emergency_not_recorded,
};
use crate::check::{Audience, Checked, Finding, Severity, Verdict};
use crate::cli::answer::Answer;
use crate::cli::ask::{Ask, Prompt, terminal_or_lines};
use crate::cli::desk::{CaseArgs, SignedBy};
use crate::cli::entry_file::CommandError;
use crate::cli::input::{FormularyArg, Refused};
use crate::cli::journal_arg::JournalCommandError;
use crate::cli::report::{findings, kept_findings, reasons_offered};
use crate::cli::{Exit, Format};
use crate::diagnostic::Fault;
use crate::document::{ENTRY_LIMIT, read_file};
use crate::entry::{self, Answers, EQUIPMENT, Need, QUESTIONS, Question};
use crate::formulary::Formulary;
use crate::journal::JournalError;
use crate::quantity::Moment;

#[derive(Debug, Args)]
pub(in crate::cli) struct EnterArgs {
    /// The case, for a new set-up; or a set-up of it, for its next syringe or fields again
    code: String,
    /// Read a set-up from the start although an entry is under way or a card is good
    #[arg(long)]
    anew: bool,
    #[command(flatten)]
    by: SignedBy,
    #[command(flatten)]
    from: From,
    #[command(flatten)]
    next: NextSyringe,
    #[command(flatten)]
    pub(super) desk: CaseArgs,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct SecondArgs {
    /// The case, or the set-up where several wait
    code: String,
    #[command(flatten)]
    by: SignedBy,
    #[command(flatten)]
    from: From,
    #[command(flatten)]
    next: NextSyringe,
    #[command(flatten)]
    pub(super) desk: CaseArgs,
}

/// Printed in the place of a role that nobody gave.
const ROLE_NOT_SAID: &str = "role not said";

#[derive(Debug, Args)]
pub(in crate::cli) struct EmergencyArgs {
    /// The case; a new one is opened where it is left out
    code: Option<String>,
    /// Who enters it, asked where it is left out; no PIN is asked, and the card says so
    #[arg(long, value_name = "NAME")]
    by: Option<String>,
    /// In which role [default: as in the journal; of a name that is not in it, "role not said"]
    #[arg(long)]
    role: Option<String>,
    /// The dose, read off the order once more: needed where dose or rate lie beyond the limits; asked at a terminal
    #[arg(long, value_name = "DOSE", allow_hyphen_values = true)]
    dose_again: Option<String>,
    #[command(flatten)]
    from: From,
    #[command(flatten)]
    pub(super) desk: CaseArgs,
}

/// How the next syringe of an infusion that runs is asked.
#[derive(Debug, Args)]
struct NextSyringe {
    /// Ask everything of a next syringe: more than the syringe changed, its strength, its use, the line or the driver
    #[arg(long)]
    read_all: bool,
}

/// Where the form comes from.
#[derive(Debug, Args)]
struct From {
    /// A file with the entry, YAML or JSON; else the form is asked question by question
    #[arg(long, value_name = "FILE")]
    from: Option<PathBuf>,
    #[command(flatten)]
    formulary: FormularyArg,
}

pub(super) fn enter(args: &EnterArgs) -> Result<Answer, CommandError> {
    let turn = Turn::First { anew: args.anew };
    signed(&args.code, turn, &args.by, (&args.from, &args.next), &args.desk)
}

pub(super) fn second(args: &SecondArgs) -> Result<Answer, CommandError> {
    signed(&args.code, Turn::Second, &args.by, (&args.from, &args.next), &args.desk)
}

fn signed(
    code: &str,
    turn: Turn,
    by: &SignedBy,
    (from, next): (&From, &NextSyringe),
    desk: &CaseArgs,
) -> Result<Answer, CommandError> {
    let (mut cases, now) = desk.open()?;
    let formulary = from.formulary.open()?;
    // What was kept while the journal could not be written goes first; what still cannot be written stays there.
    let _ = cases.write_down_kept(&formulary, now);
    let code = SetUpCode::parse(code)?;
    let mut ask = terminal_or_lines();
    let (person, signer) = by.unlock(&mut cases, now, ask.as_mut())?;
    let author = Author::Signed(&person, &signer);
    let mut task = cases.task(code, turn, &author, now)?;
    task.carried = task.carried.filter(|_| !next.read_all || task.fields.is_some());
    one_entry(&mut cases, &task, &author, (from, None), &formulary, ask.as_mut(), now, desk.format())
}

pub(super) fn emergency(args: &EmergencyArgs) -> Result<Answer, CommandError> {
    let formulary = args.from.formulary.open()?;
    let mut ask = terminal_or_lines();
    let by = match &args.by {
        Some(by) => by.clone(),
        None => ask.line(&Prompt {
            says: "Your name:",
            help: "no PIN is asked, and the card says so".to_owned(),
            offered: Vec::new(),
            judge: &|typed| {
                let no_name =
                    || Fault::new("name-empty", "nobody is named").help("write the name of the person who enters this");
                (!typed.chars().any(char::is_alphabetic)).then(no_name)
            },
        })?,
    };
    let by = by.trim();
    let (mut cases, now) = match args.desk.open() {
        Ok(opened) => opened,
        Err(CommandError::Journal(JournalCommandError::Journal(why))) if !why.is_another_place() => {
            return without_journal(args, by, &formulary, &why);
        }
        Err(error) => return Err(error),
    };
    let _ = cases.write_down_kept(&formulary, now);
    // Somebody who is known here is not printed in another role.
    let known = cases.people()?.active(by, now).ok().map(|person| person.role.to_string());
    let role = args.role.clone().or(known).unwrap_or_else(|| ROLE_NOT_SAID.to_owned());
    let author = Author::Typed { name: by, role: role.trim() };
    let task = match &args.code {
        Some(code) => cases.task((SetUpCode::parse(code)?.0, None), Turn::Emergency, &author, now)?,
        // Nothing stands in the way: no PIN, no case opened before.
        None => Task::emergency_without_a_case(),
    };
    let from = (&args.from, args.dose_again.as_deref());
    one_entry(&mut cases, &task, &author, from, &formulary, ask.as_mut(), now, args.desk.format())
}

#[expect(clippy::too_many_arguments, reason = "what one entry needs, each once; a struct would only rename it")]
fn one_entry(
    cases: &mut Cases,
    task: &Task,
    author: &Author<'_>,
    (from, dose_again): (&From, Option<&str>),
    formulary: &Formulary,
    ask: &mut dyn Ask,
    now: Moment,
    format: Format,
) -> Result<Answer, CommandError> {
    let mut before = String::new();
    let form = match &from.from {
        Some(path) => {
            let name = path.display().to_string();
            let text = read_file(path, ENTRY_LIMIT).map_err(|fault| Refused::one(&name, fault))?;
            let json = path.extension().is_some_and(|extension| extension == "json");
            let form = SubmittedForm { name, text, json, dose_again: dose_again.map(str::to_owned) };
            let judged = cases.judge(task, &form, author, formulary, now)?;
            own_findings(&mut before, &judged, task);
            if !judged.findings().is_empty() {
                reasons_offered(&mut before, judged.verdict(), formulary);
                before.push('\n');
            }
            drop(judged);
            form
        }
        None => Conversation { cases, task, author, formulary, ask, now, dose_again }.form()?,
    };
    if task.place == EntryTurn::Emergency {
        return match cases.enter_emergency(task, &form, author, formulary, now)? {
            EmergencyEntry::Recorded(code, card) => Ok(match format {
                Format::Json => Answer::json(&CardShown::of(code, &card), Exit::Proceed),
                Format::Text => Answer::text(card.text(), Exit::Proceed),
            }),
            EmergencyEntry::NotRecorded(card) => Ok(not_recorded(&card, format)),
            EmergencyEntry::WithoutCard(_, why) => Err(why.into()),
        };
    }
    let code = cases.seal(task, &form, author, formulary, now)?;
    sealed(cases, code, task, formulary, before, format, now)
}

/// The card where the journal cannot even be opened. The form comes from a file: the questions need no less than a journal
/// that can be read.
fn without_journal(
    args: &EmergencyArgs,
    by: &str,
    formulary: &Formulary,
    why: &JournalError,
) -> Result<Answer, CommandError> {
    let now = args.desk.moment()?;
    let (Some(folder), Some(path)) = (args.desk.folder(), &args.from.from) else {
        let fault = Fault::new(why.code(), why.to_string());
        let help = "the journal cannot be opened: write the entry into a file, and give it with --from FILE; its card is shown";
        return Err(Refused::one("journal", fault.help(help)).into());
    };
    let name = path.display().to_string();
    let text = read_file(path, ENTRY_LIMIT).map_err(|fault| Refused::one(&name, fault))?;
    let json = path.extension().is_some_and(|extension| extension == "json");
    let form = SubmittedForm { name, text, json, dose_again: args.dose_again.clone() };
    let role = args.role.as_deref().unwrap_or(ROLE_NOT_SAID).trim();
    let author = Author::Typed { name: by, role };
    let card = emergency_not_recorded(folder, &form, &author, formulary, now, why)?;
    Ok(not_recorded(&card, args.desk.format()))
}

fn not_recorded(card: &CardAnswer, format: Format) -> Answer {
    match format {
        Format::Json => Answer::json(&CardShown::not_recorded(card), Exit::Proceed),
        Format::Text => Answer::text(card.text(), Exit::Proceed),
    }
}

/// Says that the entry is sealed and where the set-up stands. Nothing of either entry is repeated.
fn sealed(
    cases: &Cases,
    code: SetUpCode,
    task: &Task,
    formulary: &Formulary,
    before: String,
    format: Format,
    now: Moment,
) -> Result<Answer, CommandError> {
    let case = cases.case(code.case)?;
    let set_up = case.set_up(code.number)?;
    let reading =
        set_up.reading(task.reading).ok_or_else(|| CommandError::Fault(format!("{code} lost its reading")))?;
    let standing = case.standing(reading);
    let (exit, next) = match &standing.stage {
        ReviewStage::Agreed(_) => (Exit::Proceed, format!("the card: `countersign case card {code}`")),
        ReviewStage::CheckedAfterwards(..) => {
            let stays = "this syringe stays NOT DOUBLE-CHECKED to its end; two people enter the next one beforehand";
            let next =
                format!("the card: `countersign case card {code}`; {stays}: `countersign case enter {code} --as NAME`");
            (Exit::Proceed, next)
        }
        ReviewStage::Stopped(_) => {
            (Exit::Stopped, format!("read it again from the order: `countersign case enter {code} --as NAME`"))
        }
        ReviewStage::AwaitsAgain { fields, first: true, second: true, .. } => {
            let exit = if fields.as_slice() == ["reasons"] { Exit::Justify } else { Exit::Disagree };
            (exit, format!("`countersign case enter {code} --as NAME` and `countersign case second {code} --as NAME`"))
        }
        // One of the two has entered it again, and nothing is compared before the other has.
        ReviewStage::AwaitsAgain { first: true, .. } => {
            (Exit::Proceed, format!("`countersign case enter {code} --as NAME`"))
        }
        ReviewStage::AwaitsAgain { .. } | ReviewStage::AwaitsSecond | ReviewStage::Unchecked => {
            (Exit::Proceed, format!("`countersign case second {code} --as NAME`"))
        }
        ReviewStage::AwaitsThird { .. } => {
            (Exit::Disagree, format!("a third person: `countersign case second {code} --as NAME`"))
        }
        ReviewStage::NotReadable { .. } => {
            (Exit::Refused, format!("begin again: `countersign case enter {code} --as NAME`"))
        }
        ReviewStage::NotAgreed { .. } => {
            (Exit::Disagree, format!("begin again: `countersign case enter {code} --as NAME`"))
        }
    };
    if format == Format::Json {
        let json = EntrySealed::of(code, task, &standing.stage);
        return Ok(Answer::json(&json, exit));
    }
    let mut text = String::new();
    if formulary.policy().demonstration {
        let _ = writeln!(text, "{DEMONSTRATION}");
    }
    // Where both stop, what stops stands below, once.
    if !matches!(standing.stage, ReviewStage::Stopped(_)) {
        text.push_str(&before);
    }
    let _ = writeln!(text, "Sealed for {code}.");
    // What two people have just found wrong with what runs stands before all else.
    let owed = owed_for(cases, code, None, now)?;
    let otherwise: Vec<_> = owed.iter().filter(|owed| owed.code == "runs-otherwise").collect();
    let exit = if otherwise.is_empty() { exit } else { Exit::Disagree };
    for owed in otherwise {
        wrapped(&mut text, "", &format!("{}.", owed.says));
    }
    wrapped(&mut text, "", &format!("Now: {}.", standing.stage.says()));
    if let ReviewStage::Stopped(decision) = &standing.stage {
        kept_findings(&mut text, &decision.findings);
        text.push('\n');
    }
    wrapped(&mut text, "", &format!("Next: {next}"));
    Ok(Answer::text(text, exit))
}

/// What the checks say about this person's own entry. The rate is only on the card, and so is every sum that shows it.
fn own_findings(out: &mut String, checked: &Checked<'_>, task: &Task) {
    let verdict = checked.verdict();
    if checked.findings().is_empty() {
        return;
    }
    let head = match verdict {
        Verdict::Stop if task.place == EntryTurn::Emergency => "BEYOND THE LIMITS",
        Verdict::Stop => "THIS ENTRY STOPS: there will be no card from it",
        Verdict::Justify => "A WRITTEN REASON IS NEEDED",
        Verdict::Proceed => "About this entry:",
    };
    let _ = writeln!(out, "{head}");
    // The reason that this person has written stands beside what it answers.
    let entry = checked.computed().entry();
    let reason = |finding: &Finding| entry.reason(finding.code.id).filter(|_| finding.severity() == Severity::Justify);
    findings(out, Verdict::Stop, checked.findings(), Audience::Reader, reason);
}

/// The form, question by question.
struct Conversation<'c> {
    cases: &'c Cases,
    task: &'c Task,
    author: &'c Author<'c>,
    formulary: &'c Formulary,
    ask: &'c mut dyn Ask,
    now: Moment,
    dose_again: Option<&'c str>,
}

impl Conversation<'_> {
    fn form(&mut self) -> Result<SubmittedForm, CommandError> {
        let own = self.task.own_form();
        let mut answers = own.as_ref().map(|form| Answers::of_form(&form.text, form.json)).unwrap_or_default();
        let again = self.task.fields.clone();
        self.ask.say(&self.heading());
        if let Some(fields) = &again {
            self.ask.say(&match fields.as_slice() {
                ["reasons"] => "The entries say the same. Your reasons are missing:".to_owned(),
                read => format!("To be read again, from the order, the label and the line: {}", read.join(", ")),
            });
            fields.iter().for_each(|field| answers.forget(field));
        }
        if let Some(carried) = self.task.like_the_one_that_runs(&answers) {
            self.ask.say("Carried from the syringe that runs, not asked again; where any of it changed, leave and use --read-all:");
            for (says, answer) in carried.shown() {
                self.ask.say(&format!("  {says}: {answer}"));
            }
            self.ask.say("  The strength is that of the syringe that runs, and the volume the one on the label.");
        }
        let asked = |question: &Question| again.as_ref().is_none_or(|fields| fields.contains(&question.field));
        for question in QUESTIONS.iter().filter(|question| asked(question)) {
            self.question(question, &mut answers)?;
        }
        let mut said = Vec::new();
        loop {
            let dose_again = self.dose_again.map(str::to_owned);
            let whole = answers.clone();
            let is_emergency = self.task.place == EntryTurn::Emergency;
            let text = if is_emergency { whole.of_unknown_age() } else { self.task.whole(&whole) }.to_json();
            let form = SubmittedForm { name: "the answers".to_owned(), text, json: true, dose_again };
            let checked = self.cases.judge(self.task, &form, self.author, self.formulary, self.now)?;
            let found: Vec<String> = checked.findings().iter().map(|finding| finding.message.clone()).collect();
            // A reason takes nothing away from what was found: that is said once.
            if found != said {
                let mut says = String::new();
                own_findings(&mut says, &checked, self.task);
                self.ask.say(says.trim_end());
                said = found;
            }
            let open: Vec<&'static str> = checked.unreasoned().map(|finding| finding.code.id).collect();
            let stops = checked.findings().iter().any(|finding| matches!(finding.severity(), Severity::Stop(_)));
            let beyond = self.task.place == EntryTurn::Emergency && checked.dose_in_doubt().next().is_some();
            drop(checked);
            if self.task.place != EntryTurn::Emergency || stops {
                for code in open.iter().filter(|_| !stops) {
                    self.reason(code, &mut answers)?;
                }
            }
            if !open.is_empty() && !stops && self.task.place != EntryTurn::Emergency {
                continue;
            }
            match self.seal_or_change(&answers)? {
                None if beyond && form.dose_again.is_none() => {
                    let dose_again = Some(self.dose_again(&form)?);
                    return Ok(SubmittedForm { dose_again, ..form });
                }
                None => return Ok(form),
                Some(field) => {
                    answers.forget(field);
                    for question in QUESTIONS.iter().filter(|question| question.field == field) {
                        self.question(question, &mut answers)?;
                    }
                }
            }
        }
    }

    fn heading(&self) -> String {
        let which = match self.task.place {
            EntryTurn::First => "First entry",
            EntryTurn::Second => "Second entry",
            EntryTurn::Third => "Third entry",
            EntryTurn::Emergency => {
                return "Emergency entry: NOT DOUBLE-CHECKED. Esc leaves it, and nothing is written.".to_owned();
            }
        };
        format!("{which} for {}. Esc leaves it, and nothing is written.", self.task.set_up)
    }

    fn question(&mut self, question: &Question, answers: &mut Answers) -> Result<(), CommandError> {
        let need = self.task.need(question, answers, self.formulary, self.now);
        let answered_by_standard = EQUIPMENT.contains(&question.path) && answers.said(question.path).is_some();
        if need == Need::No || answered_by_standard {
            return Ok(());
        }
        if question.path == EQUIPMENT[0] && self.standard_equipment(answers)? {
            return Ok(());
        }
        let offered = answers.offered(question, self.formulary);
        // Words that may be chosen stand below the line that is typed. The example is the same for every drug and use.
        let mut help =
            if offered.is_empty() { format!("for example {}", question.example) } else { "one of these".to_owned() };
        if need == Need::MayBeEmpty {
            help.push_str(match question.path {
                "use_before" => "; empty where it is not known",
                _ => "; empty where there is none",
            });
        }
        let (task, author) = (self.task, self.author);
        let (so_far, formulary, now) = (answers.clone(), self.formulary, self.now);
        let judge = move |typed: &str| {
            if typed.is_empty() {
                let needed = need == Need::Needed;
                return needed
                    .then(|| Fault::new("field-missing", "this needs an answer").help("read it, and type it"));
            }
            match entry::written(question.path, typed, now) {
                Err(fault) => Some(fault),
                Ok(text) => {
                    let mut with = so_far.clone();
                    with.say(question.path, &text);
                    task.fault(question.path, &with, author, formulary, now)
                }
            }
        };
        let says = format!("{}:", question.says);
        let typed = self.ask.line(&Prompt { says: &says, help, offered, judge: &judge })?;
        let text = entry::written(question.path, &typed, self.now).map_err(|fault| Refused::one(&says, fault))?;
        if text != typed {
            self.ask.say(&format!("  read as {text}"));
        }
        answers.say(question.path, &text);
        Ok(())
    }

    /// The area's usual equipment, asked for in one word: whoever has it in their hands looks at it and says so.
    fn standard_equipment(&mut self, answers: &mut Answers) -> Result<bool, CommandError> {
        let Some(standard) = answers.standard_equipment(self.formulary).cloned() else { return Ok(false) };
        let says = format!("Look at it: line {}, driver {}? standard or other:", standard.line, standard.driver);
        let offered = vec!["standard".to_owned(), "other".to_owned()];
        let judge = |typed: &str| {
            let known = matches!(typed, "standard" | "other");
            (!known).then(|| Fault::new("word-unknown", "neither of the two").help("write standard, or other"))
        };
        let typed = self.ask.line(&Prompt { says: &says, help: String::new(), offered, judge: &judge })?;
        if typed != "standard" {
            return Ok(false);
        }
        for (path, key) in EQUIPMENT.iter().zip([&standard.line, &standard.driver]) {
            answers.say(path, key);
        }
        Ok(true)
    }

    fn reason(&mut self, code: &str, answers: &mut Answers) -> Result<(), CommandError> {
        let path = format!("reasons.{code}");
        let given = self.task.given(self.author, self.now);
        let (so_far, formulary) = (answers.clone(), self.formulary);
        let judge = |typed: &str| {
            let mut with = so_far.clone();
            with.say(&path, typed);
            if typed.is_empty() {
                return Some(Fault::new("reason-empty", "a reason is needed").help("write it in a few words"));
            }
            with.fault(&path, &given, formulary)
        };
        let offered = self.formulary.policy().clinical_reasons.clone();
        let says = format!("Reason for {code}, in your own words:");
        let typed = self.ask.line(&Prompt {
            says: &says,
            help: "one of these, or your own words".to_owned(),
            offered,
            judge: &judge,
        })?;
        answers.say(&path, &typed);
        Ok(())
    }

    /// The dose, typed again before a rate beyond the limits is shown.
    fn dose_again(&mut self, form: &SubmittedForm) -> Result<String, CommandError> {
        let checked = self.cases.judge(self.task, form, self.author, self.formulary, self.now)?;
        let judge = |typed: &str| match dose_is_the_same(&checked, typed) {
            Ok(true) => None,
            Ok(false) => Some(
                Fault::new("dose-again-differs", "this is not the dose that was entered first")
                    .help("read the order once more; Esc leaves it, and nothing is written"),
            ),
            Err(refused) => Some(Fault::new(refused.problem.code(), refused.to_string()).help(refused.help)),
        };
        let says = "BEYOND THE LIMITS. The dose again, read off the order:";
        Ok(self.ask.line(&Prompt { says, help: String::new(), offered: Vec::new(), judge: &judge })?)
    }

    /// Seals it, changes one field, or leaves.
    fn seal_or_change(&mut self, answers: &Answers) -> Result<Option<&'static str>, CommandError> {
        let mut offered: Vec<String> = vec!["seal".to_owned()];
        // A carried answer is not read again here: everything is, with --read-all.
        let carried = self.task.like_the_one_that_runs(answers);
        let may_change = |question: &&Question| carried.is_none_or(|carried| carried.need(question.path) != Need::No);
        for question in QUESTIONS.iter().filter(may_change) {
            if !offered.iter().any(|known| known == question.field) {
                offered.push(question.field.to_owned());
            }
        }
        let judge = |typed: &str| {
            let known = typed == "seal" || QUESTIONS.iter().filter(may_change).any(|question| question.field == typed);
            (!known).then(|| {
                Fault::new("word-unknown", "neither seal nor a field").help("write seal, or the name of a field")
            })
        };
        let says = "seal, or the field that is to be read again:";
        let typed = self.ask.line(&Prompt { says, help: String::new(), offered, judge: &judge })?;
        Ok(QUESTIONS.iter().find(|question| question.field == typed).map(|question| question.field))
    }
}
