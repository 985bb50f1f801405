//! Entering a set-up: first, second and third, and fields again. Each sees their own entry and nothing of the other's.

use std::sync::Arc;

use axum::Json;
use axum::extract::{FromRequestParts, Path, State};
use axum::http::{StatusCode, request::Parts};
use serde::{Deserialize, Serialize};
use utoipa::openapi::path::{Parameter, ParameterIn};
use utoipa::{IntoParams, ToSchema};

use crate::case::data::EntrySealed;
use crate::case::{Author, CaseCode, EntryTurn, SetUpCode, SubmittedForm, Task, Turn};
use crate::check::{Finding, Severity};
use crate::diagnostic::Fault;
use crate::entry::Need;
use crate::formulary::Formulary;
use crate::quantity::clip;
use crate::web::answer::Refusal;
use crate::web::filled::{Filled, FormReview, OpenQuestion, is_asked, name_of, reads_all};
use crate::web::sent::TypedFields;
use crate::web::session::Session;
use crate::web::site::{JournalWorker, Site};

use super::Refused;
use super::refused::{FaultSaid, ForReadingOne, ForWriting};
use super::sent::{ApiSession, Body, ByPath, CasePath, once};

/// What is entered, as its address says: the case, its set-up, and `first`, `second` or `anew`.
#[derive(Debug)]
pub(super) struct TurnPath((CaseCode, Option<u16>), Turn);

/// Answers so far, to be judged. Nothing is sealed.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Unfinished {
    /// By the path of the question, as typed; a reason for a finding at `reasons.` and its code.
    #[schema(value_type = std::collections::BTreeMap<String, String>, example = json!({"drug": "noradrenaline"}))]
    answers: ByPath,
    /// Whether the person holds it for complete: then questions without an answer are faults.
    #[serde(default)]
    whole: bool,
}

/// An entry to be sealed.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Whole {
    /// Chosen anew for each thing that happened.
    #[schema(min_length = 16, max_length = 64)]
    idempotency_key: String,
    /// By the path of the question, as typed; a reason for a finding at `reasons.` and its code.
    #[schema(value_type = std::collections::BTreeMap<String, String>, example = json!({"drug": "noradrenaline"}))]
    answers: ByPath,
    /// `seen` of the judgement whose findings the person has read; not needed where nothing was found.
    seen: Option<String>,
    /// One's own PIN, where the house asks for it with each entry; elsewhere it is not looked at. An emergency entry
    /// needs none.
    pin: Option<String>,
}

/// An entry before it is sealed, for the person who enters it.
#[derive(Debug, Serialize, ToSchema)]
pub(super) struct EntryJudged {
    version: u8,
    /// None for an emergency entry: it gets its case when it is sealed.
    set_up: Option<String>,
    place: EntryTurn,
    round: u8,
    /// The fields that are read again; nothing where the whole form is.
    again: Option<Vec<&'static str>>,
    /// Whether two people agreed on the patient before: then nothing of the patient is asked.
    patient_known: bool,
    /// What is carried from the syringe that runs, and not asked again: answer `read_all` with yes where any of it changed.
    carried: Vec<CarriedAnswer>,
    /// In the order in which they are asked, as far as the answers tell which.
    questions: Vec<QuestionAsked>,
    /// What is wrong with the form as a whole.
    faults: Vec<FaultSaid>,
    findings: Vec<FindingSaid>,
    /// Stands for these findings; sealing says with it that the person has read them.
    seen: String,
    /// Whether every answer is there and can be read.
    readable: bool,
    /// Whether a finding that asks for a reason has none.
    reasons_wait: bool,
    /// Whether `dose_again` is needed: an emergency entry whose dose or rate lies beyond the limits.
    dose_again: bool,
}

/// An answer that two people agreed on for the syringe that runs.
#[derive(Debug, Serialize, ToSchema)]
struct CarriedAnswer {
    /// The question, in words.
    says: &'static str,
    answer: String,
}

/// A question, and the answer so far.
#[derive(Debug, Serialize, ToSchema)]
struct QuestionAsked {
    /// Under which its answer is sent.
    path: &'static str,
    /// The field that a disagreement names.
    field: &'static str,
    /// In words.
    says: &'static str,
    /// `needed`, `may-be-empty`, or `no` where what was typed does not belong here.
    need: &'static str,
    /// What an answer looks like; never the value of this patient or syringe.
    example: &'static str,
    /// The words of a closed list.
    offered: Vec<String>,
    /// As this person typed it.
    typed: String,
    fault: Option<FaultSaid>,
}

/// What the checks say of this entry. The rate is only on the card.
#[derive(Debug, Serialize, ToSchema)]
struct FindingSaid {
    /// Kebab-case, stable.
    code: &'static str,
    /// `note`, `justify` or `stop`, and what stops.
    severity: &'static str,
    field: &'static str,
    message: String,
    help: String,
    /// Where the written reason for it is answered, if one is asked for.
    reason_at: Option<String>,
    /// Words that may do as a reason.
    reasons_offered: Vec<String>,
}

/// The questions for a new set-up
///
/// With what this person has typed for it within the hour, and not sealed.
#[utoipa::path(get, path = "/api/v1/cases/{case}/enter", params(CasePath),
    responses((status = 200, description = "What is asked", body = EntryJudged), ForReadingOne))]
pub(super) async fn new_set_up(
    State(site): State<Arc<Site>>,
    ApiSession(session): ApiSession,
    CasePath(case): CasePath,
) -> Result<Json<EntryJudged>, Refused> {
    asked(&site, session, TurnPath::new_set_up(case)).await
}

/// Judge what was typed for a new set-up
#[utoipa::path(post, path = "/api/v1/cases/{case}/enter/judge", params(CasePath), request_body = Unfinished,
    responses((status = 200, description = "What is wrong, and what was found", body = EntryJudged), ForWriting))]
pub(super) async fn judge_new_set_up(
    State(site): State<Arc<Site>>,
    ApiSession(session): ApiSession,
    CasePath(case): CasePath,
    Body(sent): Body<Unfinished>,
) -> Result<Json<EntryJudged>, Refused> {
    judged(&site, session, TurnPath::new_set_up(case), sent).await
}

/// Seal the first entry of a new set-up
#[utoipa::path(post, path = "/api/v1/cases/{case}/enter", params(CasePath), request_body = Whole,
    responses((status = 201, description = "Sealed; nobody sees it before both entries are", body = EntrySealed), ForWriting))]
pub(super) async fn seal_new_set_up(
    State(site): State<Arc<Site>>,
    ApiSession(session): ApiSession,
    CasePath(case): CasePath,
    Body(sent): Body<Whole>,
) -> Result<(StatusCode, Json<EntrySealed>), Refused> {
    sealed(&site, session, TurnPath::new_set_up(case), sent).await
}

/// The questions of an entry
///
/// `first`: fields again, or the next syringe; `second`: the blind second entry, fields again, or the third; `anew`: from the
/// start although an entry is under way or a card is good. With what this person has typed for it within the hour.
#[utoipa::path(get, path = "/api/v1/cases/{case}/{number}/enter/{turn}", params(TurnPath),
    responses((status = 200, description = "What is asked", body = EntryJudged), ForReadingOne))]
pub(super) async fn entry(
    State(site): State<Arc<Site>>,
    ApiSession(session): ApiSession,
    of: TurnPath,
) -> Result<Json<EntryJudged>, Refused> {
    asked(&site, session, of).await
}

/// Judge what was typed for an entry
#[utoipa::path(post, path = "/api/v1/cases/{case}/{number}/enter/{turn}/judge", params(TurnPath), request_body = Unfinished,
    responses((status = 200, description = "What is wrong, and what was found", body = EntryJudged), ForWriting))]
pub(super) async fn judge_entry(
    State(site): State<Arc<Site>>,
    ApiSession(session): ApiSession,
    of: TurnPath,
    Body(sent): Body<Unfinished>,
) -> Result<Json<EntryJudged>, Refused> {
    judged(&site, session, of, sent).await
}

/// Seal an entry
#[utoipa::path(post, path = "/api/v1/cases/{case}/{number}/enter/{turn}", params(TurnPath), request_body = Whole,
    responses((status = 201, description = "Sealed; where the set-up stands now", body = EntrySealed), ForWriting))]
pub(super) async fn seal_entry(
    State(site): State<Arc<Site>>,
    ApiSession(session): ApiSession,
    of: TurnPath,
    Body(sent): Body<Whole>,
) -> Result<(StatusCode, Json<EntrySealed>), Refused> {
    sealed(&site, session, of, sent).await
}

async fn asked(site: &Arc<Site>, session: Arc<Session>, of: TurnPath) -> Result<Json<EntryJudged>, Refused> {
    let shared = Arc::clone(site);
    let done = site.with_journal(move |desk| {
        let author = Author::Signed(&session.person, &session.signer);
        let task = desk.cases.task(of.0, of.1, &author, desk.now)?;
        let draft = shared.drafts.find(&session.signer, &name_of(&task));
        EntryJudged::of(draft.unwrap_or_default(), &task, &author, desk, false)
    });
    Ok(Json(done.await?))
}

async fn judged(
    site: &Arc<Site>,
    session: Arc<Session>,
    of: TurnPath,
    sent: Unfinished,
) -> Result<Json<EntryJudged>, Refused> {
    let shared = Arc::clone(site);
    let done = site.with_journal(move |desk| {
        let author = Author::Signed(&session.person, &session.signer);
        let task = desk.cases.task(of.0, of.1, &author, desk.now)?;
        // As at the page: whatever goes wrong from here on, what was typed is still there.
        let _ = shared.drafts.keep(&session.signer, &name_of(&task), &sent.answers.0);
        sent.judged(&task, &author, desk)
    });
    Ok(Json(done.await?))
}

async fn sealed(
    site: &Arc<Site>,
    session: Arc<Session>,
    of: TurnPath,
    sent: Whole,
) -> Result<(StatusCode, Json<EntrySealed>), Refused> {
    // Where the house does not ask for it, a PIN is not tried: nobody is slowed for what nobody needs.
    let is_asked = match sent.pin {
        Some(_) => site.with_journal(|desk| Ok(desk.formulary.policy().sealing_asks_pin)).await?,
        None => false,
    };
    let again = site.signs_again(&session, sent.pin.as_deref().filter(|_| is_asked)).await?;
    let (shared, by, chosen) = (Arc::clone(site), Arc::clone(&session), sent.idempotency_key.clone());
    let done = once(site, Some(&session), &chosen, move |desk| {
        let author = Author::Signed(&by.person, again.as_ref().unwrap_or(&by.signer));
        let task = desk.cases.task(of.0, of.1, &author, desk.now)?;
        let _ = shared.drafts.keep(&by.signer, &name_of(&task), &sent.answers.0);
        let code = sent.sealed(&task, &author, None, desk)?;
        shared.drafts.drop_one(&by.signer, &name_of(&task));
        let case = desk.cases.case(code.case)?;
        let reading = case.set_up(code.number)?.reading(task.reading);
        let reading = reading.ok_or_else(|| Refusal::fault(&format!("{code} lost its reading")))?;
        Ok(EntrySealed::of(code, &task, &case.standing(reading).stage))
    });
    Ok((StatusCode::CREATED, Json(done.await?)))
}

impl Unfinished {
    /// Says what is wrong with it so far, and what was found.
    pub(super) fn judged(self, task: &Task, author: &Author<'_>, desk: &JournalWorker) -> Result<EntryJudged, Refusal> {
        let typed = self.answers.asked_for(task)?;
        EntryJudged::of(typed, task, author, desk, self.whole)
    }
}

impl Whole {
    pub(super) fn once(&self) -> &str {
        &self.idempotency_key
    }

    /// Seals it where everything is answered, every finding was read, and each that asks for a reason has one.
    pub(super) fn sealed(
        self,
        task: &Task,
        author: &Author<'_>,
        dose_again: Option<&str>,
        desk: &mut JournalWorker,
    ) -> Result<SetUpCode, Refusal> {
        let form = self.whole_form(task, author, dose_again, desk)?;
        let JournalWorker { cases, formulary, now } = desk;
        Ok(cases.seal(task, &form, author, formulary, *now)?)
    }

    /// The form, where it may be sealed.
    pub(super) fn whole_form(
        self,
        task: &Task,
        author: &Author<'_>,
        dose_again: Option<&str>,
        desk: &JournalWorker,
    ) -> Result<SubmittedForm, Refusal> {
        let filled = Filled::of(self.answers.asked_for(task)?, task, desk);
        let judged = filled.judged(task, author, desk, true, self.seen.as_deref().unwrap_or_default())?;
        let may_be_sealed = judged.may_be_sealed;
        let Some(form) = judged.form.clone().filter(|_| may_be_sealed) else {
            return Err(not_sealed(judged, &filled));
        };
        Ok(SubmittedForm { dose_again: dose_again.map(str::to_owned), ..form })
    }
}

impl ByPath {
    /// Every answer, where each is asked for now.
    fn asked_for(self, task: &Task) -> Result<TypedFields, Refusal> {
        let reads_all = reads_all(&self.0);
        let not_asked = self.0.iter().filter(|(path, _)| !is_asked(path, task, reads_all));
        let fault = |(path, _): &(String, String)| {
            let help = "see which questions are asked, and answer them by their `path`";
            Fault::new("field-unknown", "this is not asked here").in_field(clip(path).to_string()).help(help)
        };
        let faults: Vec<Fault> = not_asked.map(fault).collect();
        if faults.is_empty() { Ok(self.0) } else { Err(Refusal::of_fields(faults)) }
    }
}

/// Why it is not sealed, field by field.
fn not_sealed(judged: FormReview, filled: &Filled) -> Refusal {
    let about = |code: &str, says: &str, help: &str, faults: Vec<Fault>| {
        Refusal::Said(StatusCode::UNPROCESSABLE_ENTITY, code.to_owned(), says.to_owned(), help.to_owned(), faults)
    };
    let reason_at = |finding: &Finding| format!("reasons.{}", finding.code.id);
    let as_fault = |finding: &Finding, field: String| {
        Fault::new(finding.code.id, finding.message.clone()).in_field(field).help(finding.help.clone())
    };
    if judged.form.is_none() {
        let mut faults: Vec<Fault> = Vec::new();
        for asked in judged.asked {
            let field = asked.question.path;
            faults.extend(asked.fault.map(|fault| fault.in_field(field)));
        }
        let placed: Vec<String> = faults.iter().map(|fault| fault.field.clone()).collect();
        faults.extend(judged.faults.into_iter().filter(|fault| !placed.contains(&fault.field)));
        return about(
            "form-not-whole",
            "the form cannot be sealed as it is",
            "look at each field that is named",
            faults,
        );
    }
    if judged.reasons_wait {
        let waits = |finding: &&Finding| {
            finding.severity() == Severity::Justify && filled.text(&reason_at(finding)).trim().is_empty()
        };
        let faults = judged.findings.iter().filter(waits).map(|finding| as_fault(finding, reason_at(finding)));
        let (says, help) = ("a written reason is needed", "answer each field that is named, in one's own words");
        return about("reason-missing", says, help, faults.collect());
    }
    let faults = judged.findings.iter().map(|finding| as_fault(finding, finding.field.to_owned())).collect();
    let help = "have the person read them, and seal it with the `seen` that judging it answers";
    about("findings-not-seen", "something was found in this entry, and nobody has read it", help, faults)
}

impl EntryJudged {
    pub(super) fn of(
        typed: TypedFields,
        task: &Task,
        author: &Author<'_>,
        desk: &JournalWorker,
        whole: bool,
    ) -> Result<Self, Refusal> {
        let filled = Filled::of(typed, task, desk);
        let judged = filled.judged(task, author, desk, whole, "")?;
        let carried = filled.carried(task).map(|(says, answer)| CarriedAnswer { says, answer });
        Ok(Self {
            version: 1,
            set_up: (task.place != EntryTurn::Emergency).then(|| task.set_up.to_string()),
            place: task.place,
            round: task.round,
            again: task.fields.clone(),
            patient_known: task.patient.is_some(),
            carried: carried.collect(),
            readable: judged.form.is_some(),
            reasons_wait: judged.reasons_wait,
            dose_again: judged.dose_again,
            questions: judged.asked.into_iter().map(QuestionAsked::of).collect(),
            faults: judged.faults.iter().filter(|_| whole).map(FaultSaid::from).collect(),
            findings: judged.findings.iter().map(|finding| FindingSaid::of(finding, &desk.formulary)).collect(),
            seen: judged.seen,
        })
    }
}

impl QuestionAsked {
    fn of(asked: OpenQuestion) -> Self {
        let need = match asked.need {
            Need::Needed => "needed",
            Need::MayBeEmpty => "may-be-empty",
            Need::No => "no",
        };
        let (path, field) = (asked.question.path, asked.question.field);
        let (says, example) = (asked.question.says, asked.question.example);
        let fault = asked.fault.as_ref().map(FaultSaid::from);
        Self { path, field, says, need, example, offered: asked.offered, typed: asked.typed, fault }
    }
}

impl FindingSaid {
    fn of(finding: &Finding, formulary: &Formulary) -> Self {
        let asks = finding.severity() == Severity::Justify;
        let offered = &formulary.policy().clinical_reasons;
        Self {
            code: finding.code.id,
            severity: finding.severity().word(),
            field: finding.field,
            message: finding.message.clone(),
            help: finding.help.clone(),
            reason_at: asks.then(|| format!("reasons.{}", finding.code.id)),
            reasons_offered: offered.iter().filter(|_| asks).cloned().collect(),
        }
    }
}

impl TurnPath {
    const fn new_set_up(case: CaseCode) -> Self {
        Self((case, None), Turn::First { anew: false })
    }
}

impl FromRequestParts<Arc<Site>> for TurnPath {
    type Rejection = Refused;

    async fn from_request_parts(parts: &mut Parts, site: &Arc<Site>) -> Result<Self, Refused> {
        let path = Path::<(String, u16, String)>::from_request_parts(parts, site).await;
        let Path((case, number, turn)) = path.map_err(Refusal::from)?;
        let case = CaseCode::parse(&case).map_err(Refusal::from)?;
        let turn = match &*turn {
            "first" => Turn::First { anew: false },
            "anew" => Turn::First { anew: true },
            "second" => Turn::Second,
            _ => {
                let help = "write first, second or anew";
                return Err(Refusal::said(StatusCode::NOT_FOUND, "not-here", "nothing is here", help).into());
            }
        };
        Ok(Self((case, Some(number)), turn))
    }
}

impl IntoParams for TurnPath {
    fn into_params(place: impl Fn() -> Option<ParameterIn>) -> Vec<Parameter> {
        let mut params = super::sent::SetUpPath::into_params(place);
        params.push(super::sent::words("turn", "Whose turn it is", &["first", "second", "anew"]));
        params
    }
}
