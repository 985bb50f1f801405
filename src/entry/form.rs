//! The form as written and the entry as read: two types, one way between them.

use crate::diagnostic::Fault;
use crate::document::{Fields, Node, Path, Refusal, Typed, Value};
use crate::formulary::{DosingWeight, Phase};
use crate::quantity::{DoseRate, Moment, Quantity, Time, Volume};

use super::patient::Patient;
use super::read::{Kept, Texts, assumed_fields, choice, line, person, quantity};
use super::syringe::{Access, Bolus, Label, LineFilled, MadeFrom, Preparation, Titration};

/// A form as a person wrote it: a place in a document, nothing of it read yet.
#[derive(Debug, Clone, Copy)]
pub struct EntryForm<'n, 'a> {
    node: &'n Node<'a>,
    path: Path<'n>,
    given: Option<&'n FormContext>,
}

/// What a form need not say, because it is known where the form is used: who enters it and when, and what two people
/// agreed on before. What the form does say counts.
#[derive(Debug, Clone)]
pub struct FormContext {
    /// Who enters it.
    pub name: String,
    /// In which role.
    pub role: String,
    /// When.
    pub entered_at: Moment,
    /// The patient, where agreed.
    pub patient: Option<Patient>,
    /// Whether fields may be assumed that nobody was asked: in an emergency alone.
    pub may_assume: bool,
}

/// One person's reading of one set-up. Values are as typed; names are not looked up yet.
#[derive(Debug, Clone)]
pub struct Entry {
    texts: Texts,
    name: Kept,
    role: Kept,
    entered_at: Moment,
    patient: Patient,
    drug: Kept,
    area: Kept,
    indication: Option<Kept>,
    phase: Phase,
    dose: DoseRate,
    titration: Option<Titration>,
    bolus: Option<Bolus>,
    dosing_weight: Option<DosingWeight>,
    label: Label,
    preparation: Option<Preparation>,
    drawn_up_at: Option<Moment>,
    use_before: Option<Moment>,
    access: Access,
    container: Kept,
    fill: Quantity<Volume>,
    line: Kept,
    line_filled: LineFilled,
    beyond: Option<Quantity<Volume>>,
    driver: Kept,
    starts_at: Option<Moment>,
    planned_for: Option<Quantity<Time>>,
    reasons: Vec<(String, String)>,
    assumed: Vec<&'static str>,
}

impl<'n, 'a> EntryForm<'n, 'a> {
    /// The form that stands at a place of a document: the whole of it, or `first` and `second` of a pair.
    #[must_use]
    pub const fn at(node: &'n Node<'a>, path: Path<'n>) -> Self {
        Self { node, path, given: None }
    }

    /// The same form, where these things are known.
    #[must_use]
    pub const fn given(self, given: &'n FormContext) -> Self {
        Self { given: Some(given), ..self }
    }

    /// Reads every field. What is wrong with any of them is added to `faults`, all at once; nothing comes out then.
    #[must_use]
    pub fn read(self, faults: &mut Vec<Fault>) -> Option<Box<Entry>> {
        let before = faults.len();
        let entry = read_fields(self, faults);
        entry.filter(|_| faults.len() == before)
    }
}

fn read_fields(form: EntryForm<'_, '_>, faults: &mut Vec<Fault>) -> Option<Box<Entry>> {
    let mut fields = Fields::of(form.node, form.path, faults)?;
    let mut texts = Texts::new();
    let known = |name: &str| form.given.filter(|_| form.node.member(name).is_none());
    let person = match known("entered_by") {
        Some(given) => Some((texts.keep(&given.name), texts.keep(&given.role))),
        None => fields.required_item("entered_by").and_then(|item| person(item, &mut texts)),
    };
    let entered_at = match known("entered_at") {
        Some(given) => Some(given.entered_at),
        None => fields.required("entered_at", quantity(Moment::parse)),
    };
    let patient = match known("patient").and_then(|given| given.patient.clone()) {
        Some(patient) => Some(patient),
        None => fields.required_item("patient").and_then(super::patient::read),
    };
    let drug = fields.required("drug", |typed| Ok(texts.keep(line(typed)?)));
    let area = fields.required("area", |typed| Ok(texts.keep(line(typed)?)));
    let indication = fields.optional("indication", |typed| Ok(texts.keep(line(typed)?)));
    let phase = fields.required("phase", choice("phase", Phase::WORDS, Phase::written));
    let dose = fields.required("dose", quantity(DoseRate::parse));
    let titration = fields.item("titrate").and_then(super::syringe::titration);
    let bolus = fields.item("bolus").and_then(super::syringe::bolus);
    let dosing_weight =
        fields.optional("dosing_weight", choice("dosing weight", DosingWeight::WORDS, DosingWeight::written));
    let made_here = form.node.member("made_from").is_some_and(|member| !matches!(member.node.value, Value::Text(_)));
    let label = fields.required_item("label").and_then(|item| super::syringe::label(item, made_here));
    // Anywhere else the form has no such field, and it is refused with the others that are unknown.
    let assumed = form.given.filter(|given| given.may_assume).and_then(|_| fields.item("assumed"));
    let assumed = assumed.map_or(Some(Vec::new()), assumed_fields);
    let is_assumed = |name: &str| assumed.iter().flatten().any(|known| *known == name);
    let drawn_up_at = fields.typed("drawn_up_at", quantity(Moment::parse));
    let use_before = fields.typed("use_before", quantity(Moment::parse));
    if made_here && drawn_up_at.is_absent() {
        let says = "it was made here, and `drawn_up_at` is not given: how old is the solution?";
        let help = "write `drawn_up_at:` and the time; `use_before` is for a bought-in syringe, without `made_from`";
        fields.refuse("drawn_up_at", Refusal::new("field-missing", says).help(help));
    } else if drawn_up_at.is_absent() && use_before.is_absent() && !is_assumed("drawn_up_at") {
        let says = "neither `drawn_up_at` nor `use_before` is given: how old is the solution?";
        let help = "write `drawn_up_at:` and the time, or `use_before:` as a bought-in syringe says";
        fields.refuse("drawn_up_at", Refusal::new("field-missing", says).help(help));
    }
    let access = fields.required("access", choice("access", Access::WORDS, Access::written));
    let container = fields.required("container", |typed| Ok(texts.keep(line(typed)?)));
    let fill = fields.required("fill", quantity(Quantity::<Volume>::parse));
    let line_typed = fields.required("line", |typed| Ok(texts.keep(line(typed)?)));
    let line_filled = fields.required("line_filled", choice("line filling", LineFilled::WORDS, LineFilled::written));
    let beyond = fields.optional("beyond", quantity(Quantity::<Volume>::parse_or_zero));
    let driver = fields.required("driver", |typed| Ok(texts.keep(line(typed)?)));
    let starts_at = fields.optional("starts_at", quantity(Moment::parse));
    let planned_for = fields.optional("planned_for", quantity(Quantity::<Time>::parse));
    let preparation = fields.item("made_from").and_then(super::syringe::preparation);
    let reasons = fields.entries("reasons").value().map_or(Some(Vec::new()), |entries| {
        entries.read(|member, item| item.text(super::read::reason).map(|reason| (member.key.to_string(), reason)))
    });
    fields.no_others();
    let (name, role) = person?;
    Some(Box::new(Entry {
        texts,
        name,
        role,
        entered_at: entered_at?,
        patient: patient?,
        drug: drug?,
        area: area?,
        indication,
        phase: phase?,
        dose: dose?,
        titration,
        bolus,
        dosing_weight,
        label: label?,
        preparation,
        drawn_up_at: drawn_up_at.value(),
        use_before: use_before.value(),
        access: access?,
        container: container?,
        fill: fill?,
        line: line_typed?,
        line_filled: line_filled?,
        beyond,
        driver: driver?,
        starts_at,
        planned_for,
        reasons: reasons?,
        assumed: assumed?,
    }))
}

/// What each field says. The names are those of the form.
impl Entry {
    /// Who entered it, as typed.
    #[must_use]
    pub fn name(&self) -> &str {
        self.texts.text(self.name)
    }

    /// In which role.
    #[must_use]
    pub fn role(&self) -> &str {
        self.texts.text(self.role)
    }

    /// When.
    #[must_use]
    pub const fn entered_at(&self) -> Moment {
        self.entered_at
    }

    /// For whom.
    #[must_use]
    pub const fn patient(&self) -> &Patient {
        &self.patient
    }

    /// The same reading, with what two people agreed on later about the patient.
    #[must_use]
    pub fn of_patient(self, patient: Patient) -> Self {
        Self { patient, ..self }
    }

    /// The drug, as typed.
    #[must_use]
    pub fn drug(&self) -> &str {
        self.texts.text(self.drug)
    }

    /// The area, as typed.
    #[must_use]
    pub fn area(&self) -> &str {
        self.texts.text(self.area)
    }

    /// The indication, as typed, where one was needed.
    #[must_use]
    pub fn indication(&self) -> Option<&str> {
        self.indication.map(|kept| self.texts.text(kept))
    }

    /// The phase.
    #[must_use]
    pub const fn phase(&self) -> Phase {
        self.phase
    }

    /// The ordered dose.
    #[must_use]
    pub const fn dose(&self) -> DoseRate {
        self.dose
    }

    /// The ordered range, where one was.
    #[must_use]
    pub const fn titration(&self) -> Option<Titration> {
        self.titration
    }

    /// The ordered bolus, where one was.
    #[must_use]
    pub const fn bolus(&self) -> Option<Bolus> {
        self.bolus
    }

    /// The weight by which the dose is counted, where it was said.
    #[must_use]
    pub const fn dosing_weight(&self) -> Option<DosingWeight> {
        self.dosing_weight
    }

    /// What the syringe says.
    #[must_use]
    pub const fn label(&self) -> Label {
        self.label
    }

    /// What this person knows of how it was made, where they were asked.
    #[must_use]
    pub const fn preparation(&self) -> Option<&Preparation> {
        self.preparation.as_ref()
    }

    /// What it was made from; nothing for a bought-in syringe, and where this person did not see it.
    #[must_use]
    pub const fn made_from(&self) -> Option<&MadeFrom> {
        match &self.preparation {
            Some(Preparation::Told(made)) => Some(made),
            Some(Preparation::NotTold(_)) | None => None,
        }
    }

    /// When it was drawn up.
    #[must_use]
    pub const fn drawn_up_at(&self) -> Option<Moment> {
        self.drawn_up_at
    }

    /// Until when it may be used, as a bought-in syringe says.
    #[must_use]
    pub const fn use_before(&self) -> Option<Moment> {
        self.use_before
    }

    /// Into which kind of vessel.
    #[must_use]
    pub const fn access(&self) -> Access {
        self.access
    }

    /// The syringe or bag, as typed.
    #[must_use]
    pub fn container(&self) -> &str {
        self.texts.text(self.container)
    }

    /// How much is in it, before the line is filled.
    #[must_use]
    pub const fn fill(&self) -> Quantity<Volume> {
        self.fill
    }

    /// The line, as typed.
    #[must_use]
    pub fn line(&self) -> &str {
        self.texts.text(self.line)
    }

    /// With what the line is filled.
    #[must_use]
    pub const fn line_filled(&self) -> LineFilled {
        self.line_filled
    }

    /// Dead space after the line, where any was named.
    #[must_use]
    pub const fn beyond(&self) -> Option<Quantity<Volume>> {
        self.beyond
    }

    /// The driver or pump, as typed.
    #[must_use]
    pub fn driver(&self) -> &str {
        self.texts.text(self.driver)
    }

    /// When it is to start, where that is known.
    #[must_use]
    pub const fn starts_at(&self) -> Option<Moment> {
        self.starts_at
    }

    /// How long it is to run, where that is known.
    #[must_use]
    pub const fn planned_for(&self) -> Option<Quantity<Time>> {
        self.planned_for
    }

    /// The written reason for a finding, by its code.
    #[must_use]
    pub fn reason(&self, code: &str) -> Option<&str> {
        self.reasons.iter().find(|(written, _)| written == code).map(|(_, reason)| reason.as_str())
    }

    /// The fields that nobody read: an emergency asks few, and the house's usual equipment stands in for the rest.
    #[must_use]
    pub fn assumed(&self) -> &[&'static str] {
        &self.assumed
    }

    /// Whether nobody read a field.
    #[must_use]
    pub fn assumes(&self, field: &str) -> bool {
        self.assumed.contains(&field)
    }

    /// Whether what the syringe holds, or the way through the line, was read by nobody: then no run time and no arrival
    /// follows from it.
    #[must_use]
    pub fn assumes_volumes(&self) -> bool {
        ["container", "fill", "line", "line_filled"].iter().any(|field| self.assumes(field))
    }

    /// Every written reason, with the code it is for.
    pub fn reasons(&self) -> impl Iterator<Item = (&str, &str)> {
        self.reasons.iter().map(|(code, reason)| (code.as_str(), reason.as_str()))
    }
}

/// What was typed, for those who only want to look at it.
impl<'n> EntryForm<'n, '_> {
    /// The text of a top-level field, where it is one.
    #[must_use]
    pub fn typed(self, field: &str) -> Option<&'n str> {
        Typed::of(&self.node.member(field)?.node).map(|typed| typed.text())
    }
}
