//! A set-up to be checked: a clean one with fields replaced, against the demonstration formulary or another house's.

use std::fmt;
use std::sync::OnceLock;

use countersign::check::{Checked, RunningInfusion, Severity, Stop};
use countersign::document::{ENTRY_LIMIT, Path, read_yaml};
use countersign::entry::{Entry, EntryForm};
use countersign::formulary::Formulary;
use countersign::infusion::Computed;
use countersign::quantity::Moment;

/// The moment of every check.
pub(crate) const NOW: &str = "2026-03-14T07:45:00+00:00";

/// Noradrenaline for a woman of 84.2 kg: nothing is found about it.
const CLEAN: &[(&str, &str)] = &[
    ("entered_by", "{name: A. Idowu, role: anaesthetist}"),
    ("entered_at", "2026-03-14T07:40:00+00:00"),
    ("patient.identifiers", r#"["1959-08-02", "QM-30417"]"#),
    ("patient.weight", "84.2 kg"),
    ("patient.weight_from", "measured"),
    ("patient.born", "1959-08-02"),
    ("patient.sex", "female"),
    ("patient.height", "164 cm"),
    ("drug", "noradrenaline"),
    ("area", "adult theatre"),
    ("indication", "vasopressor"),
    ("phase", "maintenance"),
    ("dose", "0.08 mcg/kg/min"),
    ("label.amount", "4 mg"),
    ("label.volume", "50 mL"),
    ("label.strength", "80 mcg/mL"),
    ("made_from", "{ampoules: 4, of: 1 mg in 1 mL, diluent: glucose 5 %, how: made up to}"),
    ("drawn_up_at", "2026-03-14T07:35:00+00:00"),
    ("access", "central"),
    ("container", "syringe 50 mL"),
    ("fill", "50 mL"),
    ("line", "narrow-150"),
    ("line_filled", "from this syringe"),
    ("beyond", "0.3 mL"),
    ("driver", "bench"),
    ("starts_at", "2026-03-14T08:00:00+00:00"),
    ("planned_for", "3 h"),
];

#[derive(Clone)]
pub(crate) struct SetUp {
    fields: Vec<(String, String)>,
    house: &'static Formulary,
    now: Moment,
    runs: Option<RunningInfusion>,
}

/// Nothing is found about it: every case changes one thing and keeps the rest.
pub(crate) fn clean() -> SetUp {
    let fields = CLEAN.iter().map(|(field, value)| ((*field).to_owned(), (*value).to_owned())).collect();
    SetUp { fields, house: demonstration(), now: moment(NOW), runs: None }
}

pub(crate) fn demonstration() -> &'static Formulary {
    static DEMONSTRATION: OnceLock<Formulary> = OnceLock::new();
    DEMONSTRATION.get_or_init(|| Formulary::demonstration().expect("a test of its own lints it"))
}

pub(crate) fn moment(text: &str) -> Moment {
    Moment::parse(text).unwrap_or_else(|refused| panic!("{text}: {refused}"))
}

impl SetUp {
    /// Replaces a field, or adds it beside the others of its group. `patient.weight` is the weight in `patient`.
    pub(crate) fn with(mut self, field: &str, value: &str) -> Self {
        match self.fields.iter_mut().find(|(known, _)| known == field) {
            Some((_, old)) => value.clone_into(old),
            None => self.fields.push((field.to_owned(), value.to_owned())),
        }
        self
    }

    /// Takes a field away, which must be there.
    pub(crate) fn without(mut self, field: &str) -> Self {
        let before = self.fields.len();
        self.fields.retain(|(known, _)| known != field);
        assert!(self.fields.len() < before, "there is no {field} to take away");
        self
    }

    /// The three lines of a label.
    pub(crate) fn labelled(self, amount: &str, volume: &str, strength: &str) -> Self {
        self.with("label.amount", amount).with("label.volume", volume).with("label.strength", strength)
    }

    /// A bought-in syringe with this label.
    pub(crate) fn bought_in(self, amount: &str, volume: &str, strength: &str) -> Self {
        let made_here = self.fields.iter().any(|(field, _)| field == "made_from");
        let set_up = if made_here { self.without("made_from") } else { self };
        set_up.labelled(amount, volume, strength)
    }

    pub(crate) const fn against(mut self, house: &'static Formulary) -> Self {
        self.house = house;
        self
    }

    pub(crate) fn at(mut self, now: &str) -> Self {
        self.now = moment(now);
        self
    }

    /// As a person would write it.
    pub(crate) fn yaml(&self) -> String {
        let mut text = String::new();
        let mut done: Vec<&str> = Vec::new();
        for (field, value) in &self.fields {
            let Some((group, _)) = field.split_once('.') else {
                text += &format!("{field}: {value}\n");
                continue;
            };
            if done.contains(&group) {
                continue;
            }
            done.push(group);
            text += &format!("{group}:\n");
            for (field, value) in &self.fields {
                if let Some((of, name)) = field.split_once('.')
                    && of == group
                {
                    text += &format!("  {name}: {value}\n");
                }
            }
        }
        text
    }

    pub(crate) fn entry(&self) -> Box<Entry> {
        let text = self.yaml();
        let mut faults = Vec::new();
        let root = read_yaml(&text, ENTRY_LIMIT, &mut faults);
        let entry = root.as_ref().and_then(|root| EntryForm::at(root, Path::Root).read(&mut faults));
        entry.unwrap_or_else(|| panic!("{faults:#?}\n{text}"))
    }

    pub(crate) fn computed(&self) -> Computed<'static> {
        Computed::of(self.entry(), self.house, self.now).unwrap_or_else(|faulty| panic!("{faulty:#?}"))
    }

    /// As the next syringe of what runs.
    pub(crate) fn beside(mut self, runs: RunningInfusion) -> Self {
        self.runs = Some(runs);
        self
    }

    pub(crate) fn checked(&self) -> Checked<'static> {
        let checked = Checked::of(self.computed());
        match &self.runs {
            Some(runs) => checked.beside(runs),
            None => checked,
        }
    }

    /// The codes of every finding, what stops first.
    pub(crate) fn codes(&self) -> Vec<&'static str> {
        self.checked().findings().iter().map(|finding| finding.code.id).collect()
    }

    /// Every finding of one kind, whole.
    pub(crate) fn found(&self, code: &str) -> String {
        let checked = self.checked();
        let of_this_kind = checked.findings().iter().filter(|finding| finding.code.id == code);
        let shown = of_this_kind.map(|finding| {
            let severity = match finding.severity() {
                Severity::Stop(Stop::Beyond) => "stop, beyond",
                Severity::Stop(Stop::Impossible) => "stop, impossible",
                other => other.word(),
            };
            let mut lines = format!("{severity}: {}\n{}\ndo: {}\n", finding.field, finding.message, finding.help);
            lines.extend(finding.working.iter().map(|sum| format!("sum: {sum}\n")));
            lines.extend(finding.source.iter().map(|source| format!("from: {source}\n")));
            lines
        });
        shown.collect()
    }
}

/// As a person would write it: what a failing law shows.
impl fmt::Debug for SetUp {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.yaml())
    }
}
