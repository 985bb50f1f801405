//! From an agreement to the blocks of its card. A line of the card is a row here.

use crate::check::{Audience, Checked, Finding, Severity};
use crate::entry::{AgeGiven, Entry, Identifiers, LineFilled};
use crate::formulary::{ApprovalStatus, Drug, Formulary, Indication, Microgram};
use crate::infusion::{Computed, Sum, working};
use crate::quantity::{Moment, Product, Unit, UnitKind, exact_or_about, grouped, plain};

use super::block::{Block, CardFinding, FactRow, Scale, ScaleMark};
use super::{Independence, Provenance, arrives, course, emptying, ladder, lifted, made, steps};

/// What everything made with a demonstration formulary begins with.
pub(crate) const DEMONSTRATION: &str = "DEMONSTRATION LIMITS, NOT FOR PATIENTS";

/// What a card begins with that rests on one entry, in every format.
const NOT_DOUBLE_CHECKED: &str = "NOT DOUBLE-CHECKED: ONE PERSON'S ENTRY";

/// What stands where a card of a case has its code.
const UNSIGNED: &str = "UNSIGNED: made from two files; no check can show a change.";

/// What the card of entries that nothing may be started from begins with.
const OLD: &str = "OLD ENTRIES: NOTHING IS STARTED FROM THIS CARD";

/// What a card is drawn from: one entry that nobody checked, or two that agree.
pub(super) struct Drawn<'d, 'f> {
    pub(super) first: &'d Checked<'f>,
    pub(super) second: Option<&'d Checked<'f>>,
    /// What was found, what stops first.
    pub(super) findings: Vec<&'d Finding>,
    pub(super) sum: &'d Sum,
    pub(super) at: Moment,
    pub(super) provenance: &'d Provenance,
}

impl<'d, 'f> Drawn<'d, 'f> {
    /// The entry that the first one was held against; itself where there was none.
    pub(super) fn other(&self) -> &'d Checked<'f> {
        self.second.unwrap_or(self.first)
    }

    pub(super) fn both(&self) -> [&'d Checked<'f>; 2] {
        [self.first, self.other()]
    }

    /// Who checked it with an entry that is not independent of the first.
    fn checked_afterwards_by(&self) -> Option<&'d str> {
        let second = self.second.filter(|_| self.independence() != Independence::Two)?;
        Some(second.computed().entry().name())
    }

    const fn independence(&self) -> Independence {
        match self.provenance {
            Provenance::Case { independence, .. } => *independence,
            Provenance::Files => Independence::Two,
        }
    }
}

pub(super) fn blocks(drawn: &Drawn<'_, '_>) -> Vec<Block> {
    let sum = drawn.sum;
    let computed = drawn.first.computed();
    let names = computed.names();
    let (Ok(drug), Ok(indication)) = (names.drug.as_ref(), names.indication.as_ref()) else {
        unreachable!("what is drawn has passed the rule that every name is known")
    };
    let mut blocks = Vec::new();
    if computed.formulary().policy().demonstration {
        blocks.push(Block::Banner(DEMONSTRATION.to_owned()));
    }
    if drawn.second.is_none() {
        blocks.push(Block::Banner(NOT_DOUBLE_CHECKED.to_owned()));
        blocks.extend(beyond(drawn).into_iter().map(Block::Banner));
    }
    if let Some(by) = drawn.checked_afterwards_by() {
        blocks.push(Block::Banner(not_independent(drawn.independence(), by)));
    }
    if drawn.both().iter().any(|checked| checked.computed().is_stale()) {
        blocks.push(Block::Banner(OLD.to_owned()));
    }
    let (title, at) = match (drawn.second, drawn.independence()) {
        (Some(_), Independence::Two) => ("Set-up card", "agreed"),
        (Some(_), Independence::AfterStart) => ("Set-up card", "checked after the start"),
        (Some(_), Independence::AfterEmergency) => ("Emergency card", "checked afterwards"),
        (None, _) => ("Emergency card", "not checked, entered"),
    };
    blocks.push(Block::Title { text: title.to_owned(), at: format!("{at} {}", drawn.at) });
    blocks.extend(lifted::name(computed, drug, indication).map(Block::Banner));
    blocks.push(patient(drawn));
    blocks.push(order(computed, drug, indication, sum));
    blocks.push(syringe(drawn));
    blocks.push(Block::Rate { value: grouped(&plain(sum.set)), unit: "mL/h".into(), beyond: beyond(drawn) });
    blocks.extend(assumed(computed));
    blocks.push(dose(computed, sum));
    blocks.extend(scale(computed));
    blocks.extend(bolus(computed, sum));
    blocks.extend(ladder::block(computed, sum));
    blocks.push(course::block(drawn, sum));
    // Neither a run time nor an arrival follows from what nobody read.
    if !computed.entry().assumes_volumes() {
        let discard = course::earlier(computed.discard_after(), drawn.other().computed().discard_after());
        blocks.extend(emptying::block(computed, sum, discard));
        blocks.extend(arrives::block(computed, sum));
    }
    blocks.extend(findings(drawn));
    blocks.push(steps::block(drawn));
    blocks.push(people(drawn));
    blocks.push(case(drawn.provenance));
    blocks.push(limits(computed.formulary(), drug, drawn.provenance));
    blocks.push(cautions(drawn));
    if drug.microgram == Microgram::Full { blocks.into_iter().map(in_full).collect() } else { blocks }
}

/// What a card begins with whose second entry is not independent of the first.
fn not_independent(independence: Independence, by: &str) -> String {
    let (after, seen) = match independence {
        Independence::AfterStart => ("STARTED BEFORE TWO PEOPLE AGREED", "THE RATE"),
        Independence::Two | Independence::AfterEmergency => ("EMERGENCY ENTRY", "IT"),
    };
    format!("NOT DOUBLE-CHECKED: {after}, CHECKED AFTERWARDS BY {by}, WHO COULD HAVE SEEN {seen}")
}

/// What the one entry of an emergency lies beyond. Two entries that stop have no card.
fn beyond(drawn: &Drawn<'_, '_>) -> Vec<String> {
    let stops = drawn.findings.iter().filter(|finding| matches!(finding.severity(), Severity::Stop(_)));
    let alone = stops.filter(|_| drawn.second.is_none());
    alone.map(|stop| format!("BEYOND THE LIMITS: {}", in_capitals(&stop.message))).collect()
}

pub(super) fn row(key: &'static str, label: &'static str, value: impl Into<String>) -> FactRow {
    FactRow { key: key.into(), label: label.into(), value: value.into() }
}

fn patient(drawn: &Drawn<'_, '_>) -> Block {
    let [patient, other] = drawn.both().map(|checked| checked.computed().entry().patient());
    let identifiers = match &patient.identifiers {
        Identifiers::Pending => "PENDING: needed before the start".to_owned(),
        Identifiers::Known(known) => known.join(" | "),
    };
    let from = if patient.weight_from == other.weight_from {
        patient.weight_from.to_string()
    } else {
        format!("{}; {} by the second entry", patient.weight_from, other.weight_from)
    };
    let mut rows = vec![
        row("identifiers", "Identifiers", identifiers),
        row("weight", "Weight", format!("{} ({from})", patient.weight)),
    ];
    let only = match (patient.age, other.age) {
        (Some(_), None) => " (first entry only)",
        (None, Some(_)) => " (second entry only)",
        _ => "",
    };
    match patient.age.or(other.age) {
        Some(AgeGiven::Born(born)) => rows.push(row("born", "Born", format!("{born}{only}"))),
        Some(AgeGiven::Aged(age)) => rows.push(row("age", "Age", format!("{age}{only}"))),
        None => {}
    }
    if let Some(sex) = patient.sex {
        rows.push(row("sex", "Sex", sex.to_string()));
    }
    if let Some(gestation) = patient.gestation {
        rows.push(row("gestation", "Gestation", gestation.to_string()));
    }
    Block::facts("patient", "Patient", rows)
}

fn order(computed: &Computed<'_>, drug: &Drug, indication: &Indication, sum: &Sum) -> Block {
    let entry = computed.entry();
    let mut rows = vec![row("drug", "Drug", drug.name.clone()), row("class", "Class", drug.class.clone())];
    if drug.high_alert {
        rows.push(row("high_alert", "", "HIGH ALERT"));
    }
    if let Some(amounts_as) = &drug.amounts_as {
        let label = format!("{} means", entry.label().amount.unit().shown());
        rows.push(FactRow { label: label.into(), ..row("amounts_as", "", amounts_as.clone()) });
    }
    if !drug.looks_like.is_empty() {
        rows.push(row("looks_like", "LOOK-ALIKE: not", drug.looks_like.join(", not ")));
    }
    rows.push(row("use", "For", format!("{}, {}, {}", indication.name, entry.phase(), indication.area)));
    rows.push(row("ordered", "Ordered dose", entry.dose().to_string()));
    if let Some(range) = entry.titration() {
        let step =
            range.step.map(|step| format!(", in steps of {}", grouped(&step.number().to_string()))).unwrap_or_default();
        let from = grouped(&range.from.number().to_string());
        rows.push(row("range", "Ordered range", format!("{from} to {}{step}", range.to)));
    }
    if computed.counts_by_size() {
        rows.push(row("counted_by", "Counted by", counted_by(computed, sum)));
    }
    Block::facts("order", "Order", rows)
}

/// The weight or body surface by which the dose is counted.
pub(super) fn counted_by(computed: &Computed<'_>, sum: &Sum) -> String {
    let weight = computed.entry().patient().weight.value();
    sum.derived.as_ref().map_or_else(
        || format!("{} weight, {} kg", computed.weight_choice(), exact_or_about(weight)),
        |derived| derived.working.clone(),
    )
}

fn syringe(drawn: &Drawn<'_, '_>) -> Block {
    let entry = drawn.first.computed().entry();
    let label = entry.label();
    let rounded = label.strength != label.content;
    let counts = if rounded { ", rounded: amount and volume count" } else { "" };
    let strength = format!("{}{counts}", label.strength);
    let mut rows = vec![
        row("amount", "Amount", label.amount.to_string()),
        row("volume", "In volume", label.volume.to_string()),
        row("strength", "Strength", strength),
    ];
    let other = drawn.second.map(|second| second.computed().entry());
    // Both are held against each other where the ampoules tell one stocked strength from another.
    let compared = drawn.first.computed().names().indication.as_ref().is_ok_and(|one| one.strengths.len() > 1);
    if !entry.assumes_volumes() {
        rows.push(made::row(entry, other, compared));
    }
    if let Some(drawn) = entry.drawn_up_at() {
        rows.push(row("drawn_up_at", "Drawn up (first entry)", drawn.to_string()));
    }
    // What is assumed stands together, as such, and nowhere else.
    let line = format!("{}, filled {}", entry.line(), filled(entry.line_filled()));
    let equipment = [
        row("container", "Container", entry.container()),
        row("line", "Line", line),
        row("access", "Access", entry.access().to_string()),
        row("driver", "Driver", entry.driver()),
    ];
    rows.extend(equipment.into_iter().filter(|row| !entry.assumes(&row.key)));
    Block::facts("syringe", "Syringe, line and driver", rows)
}

const fn filled(how: LineFilled) -> &'static str {
    match how {
        LineFilled::AlreadyFull => "already, with this drug",
        other => other.word(),
    }
}

/// What nobody was asked, and what the card takes for it.
fn assumed(computed: &Computed<'_>) -> Option<Block> {
    let entry = computed.entry();
    let says = |field: &'static str| match field {
        "weight_from" => format!("weight {}", entry.patient().weight_from),
        "phase" => format!("phase {}, for the limits", entry.phase()),
        "dosing_weight" => format!("dose by {} weight", computed.weight_choice()),
        "drawn_up_at" => "solution in date".to_owned(),
        "access" => format!("{} access", entry.access()),
        "container" => entry.container().to_owned(),
        "fill" => format!("{} in it", entry.fill()),
        "line" => format!("line {}", entry.line()),
        "line_filled" => format!("line filled {}", filled(entry.line_filled())),
        "driver" => format!("driver {}, for its steps", entry.driver()),
        other => other.to_owned(),
    };
    let assumed: Vec<String> = entry.assumed().iter().map(|field| says(field)).collect();
    (!assumed.is_empty()).then(|| Block::text("assumed", "ASSUMED, not asked: look at each", vec![assumed.join("; ")]))
}

fn dose(computed: &Computed<'_>, sum: &Sum) -> Block {
    let ordered = computed.entry().dose();
    let given = format!("{} {}", exact_or_about(sum.given), ordered.unit());
    let off = working::off(sum.off, sum.given, ordered).unwrap_or_else(|| "exactly as ordered".to_owned());
    let rows = vec![
        row("ordered", "Dose ordered", ordered.to_string()),
        row("given", "Dose given", given),
        row("off", "After rounding to the driver's step", off),
    ];
    Block::facts("dose", "Dose at this rate", rows)
}

fn scale(computed: &Computed<'_>) -> Option<Block> {
    let limits = computed.names().limits?;
    let dose = computed.entry().dose();
    let mark = |dose: Option<crate::quantity::DoseRate>| dose.map(|dose| ScaleMark(dose.number()));
    let (soft, hard) = (limits.beyond.soft.as_ref(), limits.beyond.hard.as_ref());
    let ends = [Some(&limits.usual), soft, hard].into_iter().flatten().flat_map(|band| [band.from, band.to]);
    // Numbers of another unit do not stand on one scale: the emergency card of a dose in a wrong unit has none.
    if ends.flatten().any(|end| end.unit() != dose.unit()) {
        return None;
    }
    Some(Block::Scale(Box::new(Scale {
        unit: dose.unit().to_string(),
        dose: ScaleMark(dose.number()),
        hard_from: mark(hard.and_then(|band| band.from)),
        soft_from: mark(soft.and_then(|band| band.from)),
        usual_from: mark(limits.usual.from),
        usual_to: mark(limits.usual.to),
        soft_to: mark(soft.and_then(|band| band.to)),
        hard_to: mark(hard.and_then(|band| band.to)),
    })))
}

/// A bolus is a dose, a volume and a time; its rate stands apart.
/// How much drug a bolus is for this patient.
pub(super) fn bolus_amount(computed: &Computed<'_>, sum: &Sum) -> Option<String> {
    let (ordered, found) = (computed.entry().bolus()?, sum.bolus?);
    let unit = ordered.dose.unit().amount();
    let held = Product::ONE.ratio(found.volume);
    // A bolus that is a volume holds itself.
    let held = if unit.kind() == UnitKind::Volume { held } else { held.ratio(sum.strength.concentration().per_ml) };
    let held = held.over_unit(unit).finish();
    held.map(|held| format!("{} {}", exact_or_about(held), unit.shown())).ok()
}

fn bolus(computed: &Computed<'_>, sum: &Sum) -> Option<Block> {
    let (ordered, found) = (computed.entry().bolus()?, sum.bolus?);
    let held = bolus_amount(computed, sum)?;
    let rows = vec![
        row("dose", "Bolus", ordered.dose.to_string()),
        row("amount", "For this patient", held),
        row("volume", "Volume", format!("{} mL", exact_or_about(found.volume))),
        row("over", "Over", ordered.over.to_string()),
        row("after", "Afterwards", "the infusion's rate, read back again"),
    ];
    Some(Block::facts("bolus", "Bolus", rows))
}

fn findings(drawn: &Drawn<'_, '_>) -> Option<Block> {
    let found: Vec<CardFinding> = drawn.findings.iter().map(|finding| found(finding, drawn)).collect();
    (!found.is_empty()).then_some(Block::Findings(found))
}

fn found(finding: &Finding, drawn: &Drawn<'_, '_>) -> CardFinding {
    let people = [Some(drawn.first), drawn.second].into_iter().flatten().map(|checked| checked.computed().entry());
    let reasons = if finding.severity() == Severity::Justify {
        let reason =
            |entry: &Entry| entry.reason(finding.code.id).map(|reason| (entry.name().to_owned(), reason.to_owned()));
        people.filter_map(reason).collect()
    } else {
        Vec::new()
    };
    let audience = if drawn.second.is_some() { Audience::Agreed } else { Audience::Reader };
    let is_in = |checked: &Checked<'_>| {
        checked.findings().iter().any(|one| one.code == finding.code && one.field == finding.field)
    };
    let only = match drawn.both().map(is_in) {
        [true, false] => " (first entry only)",
        [false, true] => " (second entry only)",
        _ => "",
    };
    CardFinding {
        code: finding.code.id.into(),
        severity: finding.severity().word().into(),
        message: format!("{}{only}", finding.message_for(audience)),
        help: finding.help.clone(),
        source: finding.source.clone(),
        reasons,
    }
}

fn people(drawn: &Drawn<'_, '_>) -> Block {
    let shown = |entry: &Entry| format!("{}, {}, {}", entry.name(), entry.role(), entry.entered_at());
    let afterwards = drawn.checked_afterwards_by().is_some();
    let mut rows = vec![row("first", "First entry", shown(drawn.first.computed().entry()))];
    rows.push(match drawn.second {
        Some(second) if afterwards => row("second", "Checked afterwards by", shown(second.computed().entry())),
        Some(second) => row("second", "Second entry", shown(second.computed().entry())),
        None => row("second", "Second entry", "NONE: nobody checked this"),
    });
    let proof = match (drawn.provenance, drawn.second) {
        (Provenance::Files, _) => "as typed, not verified",
        (Provenance::Case { .. }, None) => "as typed, not verified, without a PIN",
        (Provenance::Case { independence, .. }, Some(_)) => match independence {
            Independence::Two => "each signed under their own PIN",
            Independence::AfterStart => {
                "each signed under their own PIN; the later one could have seen the rate at which it was started"
            }
            Independence::AfterEmergency => {
                "the first as typed, signed by nobody; the second signed under their own PIN, and could have seen the first"
            }
        },
    };
    rows.push(row("names", "Names", proof));
    let independent = drawn.second.is_some() && !afterwards;
    let heading = if independent { "Entered independently by" } else { "Entered by" };
    Block::facts("checked_by", heading, rows)
}

/// Where the record of this set-up is kept, and how far the journal had come: a cut journal is found by it.
fn case(provenance: &Provenance) -> Block {
    let Provenance::Case { code, journal, head, .. } = provenance else {
        return Block::text("unsigned", "Code", vec![UNSIGNED.to_owned()]);
    };
    let rows = vec![
        row("code", "Case", code.clone()),
        row("journal", "Journal", journal.clone()),
        row("head", "Its head then", head.clone()),
    ];
    Block::facts("case", "Record", rows)
}

fn limits(formulary: &Formulary, drug: &Drug, provenance: &Provenance) -> Block {
    let policy = formulary.policy();
    let unknown = matches!((provenance, formulary.standing()), (Provenance::Files, ApprovalStatus::Approved { .. }));
    // Without a journal nobody knows whose the keys are.
    let known = if unknown { " (the signatures fit; whose keys they are is not known without a journal)" } else { "" };
    let approved = format!("{}{known}", formulary.standing().said());
    let rows = vec![
        row(
            "formulary",
            "Formulary",
            format!("{}, version {}, issued {}", policy.title, policy.version, policy.issued),
        ),
        row("review", "Review of this drug by", drug.review.by.to_string()),
        row("approved", "Approved by", approved),
        row("fingerprint", "Fingerprint (SHA-256)", formulary.fingerprint().to_string()),
    ];
    Block::facts("limits", "Checked against", rows)
}

fn cautions(drawn: &Drawn<'_, '_>) -> Block {
    let proves = if drawn.second.is_some() && drawn.independence() == Independence::AfterStart {
        "Proves the sum, and that two entries say the same. It was started before they agreed: they are not independent."
    } else if drawn.checked_afterwards_by().is_some() {
        "Proves the sum, and that one signed entry says the same as the emergency entry. Two people have not entered it independently."
    } else if drawn.second.is_some() {
        "Proves sum and agreement of two entries, not what is in the syringe."
    } else {
        "Proves the sum of one entry that nobody checked. A second person enters theirs as soon as there is one."
    };
    let lines = [
        &format!("Not a medical device. {proves}"),
        "Verify against order, label and local policy; a licensed practitioner decides.",
        "Valid for this syringe, strength, weight and line only.",
        "First and last dose arrive late: do not flush the dead space.",
        "Clamp while changing; line off the patient before clearing a blockage.",
        "Read back at handover and after changes.",
    ];
    Block::text("cautions", "Cautions", lines.map(str::to_owned).to_vec())
}

/// The house writes this drug's micrograms in full. What people typed as names and identifiers is left alone.
fn in_full(block: Block) -> Block {
    let full = microgram_in_full;
    match block {
        Block::Facts { key, heading, rows } if !matches!(&*key, "patient" | "checked_by" | "case" | "limits") => {
            let rows = rows.into_iter().map(|row| FactRow { value: full(row.value), ..row }).collect();
            Block::Facts { key, heading, rows }
        }
        Block::Steps { key, heading, steps } => {
            Block::Steps { key, heading, steps: steps.into_iter().map(full).collect() }
        }
        Block::Ladder(mut ladder) => {
            ladder.dose_unit = full(ladder.dose_unit);
            ladder.step = ladder.step.map(full);
            ladder.rows.iter_mut().for_each(|row| row.dose = full(std::mem::take(&mut row.dose)));
            if let Some(bolus) = &mut ladder.bolus {
                bolus.dose = full(std::mem::take(&mut bolus.dose));
            }
            Block::Ladder(ladder)
        }
        Block::Scale(mut scale) => {
            scale.unit = full(scale.unit);
            Block::Scale(scale)
        }
        Block::Findings(found) => Block::Findings(
            found
                .into_iter()
                .map(|one| CardFinding { message: full(one.message), help: full(one.help), ..one })
                .collect(),
        ),
        other => other,
    }
}

/// A text with the micrograms written as the house writes them for a drug.
pub(super) fn microgram(drug: &Drug, text: String) -> String {
    if drug.microgram == Microgram::Full { microgram_in_full(text) } else { text }
}

#[expect(clippy::needless_pass_by_value, reason = "it is mapped over owned texts")]
pub(crate) fn microgram_in_full(text: String) -> String {
    let word = |word: &str| match word.strip_prefix(Microgram::Short.word()) {
        Some(rest) if !rest.starts_with(|c: char| c.is_alphanumeric()) => format!("{}{rest}", Microgram::Full.word()),
        _ => word.to_owned(),
    };
    text.split(' ').map(word).collect::<Vec<_>>().join(" ")
}

/// In capitals, but for units, which capitals would change.
pub(super) fn in_capitals(text: &str) -> String {
    let is_unit = |word: &str| {
        let bare = word.trim_matches(|c: char| !c.is_alphanumeric());
        !bare.is_empty() && bare.split('/').all(|part| Unit::spelled(part).is_some())
    };
    let word = |word: &str| if is_unit(word) { word.to_owned() } else { word.to_uppercase() };
    text.split(' ').map(word).collect::<Vec<_>>().join(" ")
}

/// Kept beside the renderers: a number on a scale, as people read it.
impl ScaleMark {
    pub(super) fn shown(self) -> String {
        grouped(&self.0.to_string())
    }
}
