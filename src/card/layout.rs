//! A card as people read it. In: its blocks; out: parts in the order in which they are used, the first side and the second
//! side of a sheet. Data keeps every fact; what nobody acts on at the bedside is left to it.

use super::block::{Block, Caption, FactRow, Lead, RECOUNT};
use super::course::ONE_IS_ENOUGH;

/// The two sides of a card.
pub(super) struct Layout {
    /// What is read at the bedside.
    pub(super) front: Vec<CardPart>,
    /// Provenance.
    pub(super) back: Vec<CardPart>,
}

/// Something that is drawn as one.
pub(super) enum CardPart {
    /// What is read at a metre.
    Face(Box<Face>),
    /// A block as it is.
    Block(Block),
}

/// What is read at a metre: the drug, its strength, one rate, and what that rate holds for.
#[derive(Default)]
pub(super) struct Face {
    /// What the rate is, where it is not simply the one to set.
    pub(super) heading: Option<String>,
    /// Drug and strength.
    pub(super) drug: String,
    /// What is in the syringe.
    pub(super) amount: String,
    /// What must not be overlooked about the drug, one warning each.
    pub(super) warnings: Vec<String>,
    /// What the rate lies beyond, in the frame with it.
    pub(super) beyond: Vec<String>,
    /// The one rate, or a word where nothing runs.
    pub(super) value: String,
    /// Its unit.
    pub(super) unit: String,
    /// What is to be known of what runs, a sentence each.
    pub(super) lines: Vec<String>,
    /// What the rate holds for.
    pub(super) rows: Vec<FactRow>,
}

/// Key of the heading of a second side.
pub(super) const SECOND_SIDE: &str = "second_side";

/// The heading of the part that follows the rates.
const VOLUMES: &str = "Volumes and times";
const PROVENANCE: &str = "Checked against";

/// Facts that nobody acts on at the bedside, by block and row: they stay in the data.
const LEFT_TO_DATA: [(&str, &str); 9] = [
    ("order", "class"),
    ("bolus", "after"),
    ("bolus", "amount"),
    ("case", "read_back"),
    ("syringe", "drawn_up_at"),
    ("course", "starts_at"),
    ("course", "starts_at_second"),
    ("course", "without_drug"),
    ("course", "priming"),
];

impl Layout {
    pub(super) fn arrange(blocks: &[Block]) -> Self {
        let mut facts = Facts::gather(blocks);
        let mut front: Vec<CardPart> = Vec::new();
        let face = Box::new(face(blocks, &mut facts));
        let shown_in_frame = |text: &String| face.beyond.contains(text);
        let warnings = blocks.iter().filter(|block| match block {
            Block::Banner(text) => !shown_in_frame(text),
            Block::Title { .. } => true,
            _ => false,
        });
        front.extend(warnings.cloned().map(CardPart::Block));
        front.push(CardPart::Face(face));
        let add = |side: &mut Vec<CardPart>, wanted: fn(&Block) -> bool| {
            side.extend(blocks.iter().filter(|block| wanted(block)).cloned().map(CardPart::Block));
        };
        add(&mut front, |block| matches!(block, Block::Text { key, .. } if key == "assumed"));
        add(&mut front, |block| matches!(block, Block::Ladder(_)));
        add(&mut front, |block| matches!(block, Block::Steps { .. }));
        facts.drop_rows(&LEFT_TO_DATA);
        if draws_up(blocks) {
            facts.drop_rows(&[("syringe", "made_from")]);
        }
        if blocks.iter().any(|block| matches!(block, Block::Ladder(ladder) if ladder.bolus.is_some())) {
            facts.take_block("bolus");
        }
        if has_range(blocks) {
            facts.drop_rows(&[("order", "range")]);
        }
        let volumes = volumes(&mut facts);
        let provenance = provenance(&mut facts);
        let checked_by = people(&mut facts);
        push_facts(&mut front, "course", VOLUMES, volumes);
        add(&mut front, |block| matches!(block, Block::Scale(_)));
        add(&mut front, |block| matches!(block, Block::Findings(_)));
        // What an earlier program put on its cards, and this one has no place of its own for.
        front.extend(facts.rest().map(CardPart::Block));
        add(&mut front, |block| matches!(block, Block::Text { key, .. } if key != "unsigned" && key != "assumed"));
        front.extend(checked_by.map(CardPart::Block));
        let mut back = Vec::new();
        push_facts(&mut back, "limits", PROVENANCE, provenance);
        add(&mut back, |block| matches!(block, Block::Text { key, .. } if key == "unsigned"));
        add(&mut back, |block| matches!(block, Block::Emptying(_)));
        add(&mut back, |block| matches!(block, Block::Code(_)));
        Self { front, back }
    }

    /// What the second side begins with, so that two sheets are not taken for one.
    pub(super) fn second_side(&self) -> CardPart {
        let face = self.front.iter().find_map(|part| match part {
            CardPart::Face(face) => Some(face),
            CardPart::Block(_) => None,
        });
        let patient = face.and_then(|face| face.rows.iter().find(|row| row.key == "patient"));
        let of = face.iter().map(|face| &face.drug).chain(patient.map(|row| &row.value));
        let heading = format!("Second side: {}", of.cloned().collect::<Vec<_>>().join("; "));
        CardPart::Block(Block::Text { key: SECOND_SIDE.into(), heading: heading.into(), lines: Vec::new() })
    }

    /// Both sides, one after the other.
    pub(super) fn parts(&self) -> impl Iterator<Item = &CardPart> {
        self.front.iter().chain(&self.back)
    }
}

fn push_facts(side: &mut Vec<CardPart>, key: &'static str, heading: &'static str, rows: Vec<FactRow>) {
    if !rows.is_empty() {
        side.push(CardPart::Block(Block::facts(key, heading, rows)));
    }
}

/// Whether the steps say how the syringe is drawn up.
fn draws_up(blocks: &[Block]) -> bool {
    blocks.iter().any(|block| matches!(block, Block::Steps { key, .. } if key == "setting_up"))
}

/// Whether the ladder shows the ordered range.
fn has_range(blocks: &[Block]) -> bool {
    blocks.iter().any(|block| matches!(block, Block::Ladder(ladder) if !ladder.rows.is_empty()))
}

fn face(blocks: &[Block], facts: &mut Facts) -> Face {
    let mut face = Face::default();
    for block in blocks {
        match block {
            Block::Lead(lead) => led(&mut face, lead),
            Block::Rate { value, unit, beyond } => {
                (face.value, face.unit) = (value.clone(), unit.to_string());
                face.beyond.clone_from(beyond);
            }
            _ => {}
        }
    }
    let said = |row: Option<FactRow>| row.map(|row| row.value).unwrap_or_default();
    let both = |row: Option<FactRow>| row.map(|row| format!("{} {}", row.label, row.value));
    let (drug, strength) = (said(facts.take("order", "drug")), said(facts.take("syringe", "strength")));
    face.drug = format!("{drug} {strength}");
    face.amount = match (facts.take("syringe", "amount"), facts.take("syringe", "volume")) {
        (Some(amount), Some(volume)) => format!("{} in {}", amount.value, volume.value),
        _ => String::new(),
    };
    let warnings = ["high_alert", "looks_like", "amounts_as"].map(|key| facts.take("order", key));
    face.warnings = warnings.into_iter().filter_map(both).map(|text| text.trim().to_owned()).collect();
    let counted_again = facts.take(RECOUNT, "rates").map(|row| row.value);
    face.heading = face.heading.take().or(counted_again);
    face.rows.extend(facts.take("agreed_rate", "rate"));
    face.rows.extend(facts.take(RECOUNT, "because"));
    face.rows.extend(facts.take(RECOUNT, "replaces"));
    face.rows.extend(dose(facts));
    face.rows.extend(weight(facts));
    face.rows.extend(patient(facts));
    face.rows.extend(run_time(facts));
    face
}

fn led(face: &mut Face, lead: &Lead) {
    face.heading = Some(lead.heading.clone());
    face.lines.clone_from(&lead.lines);
    if !lead.is_the_cards {
        (face.value, face.unit) = (lead.value.clone(), lead.unit.to_string());
    }
}

fn named(label: &'static str, row: FactRow) -> FactRow {
    FactRow { label: label.into(), ..row }
}

fn fact(key: &'static str, label: &'static str, value: String) -> FactRow {
    FactRow { key: key.into(), label: label.into(), value }
}

/// The ordered dose; where rounding to the driver's step changes it, what the rate gives.
fn dose(facts: &mut Facts) -> Option<FactRow> {
    let [ordered, given, off] = ["ordered", "given", "off"].map(|key| facts.take("dose", key).map(|row| row.value));
    let of_order = facts.take("order", "ordered");
    let Some(ordered) = ordered else { return of_order.map(|row| named("Ordered", row)) };
    let off = off.unwrap_or_default();
    let off = off.strip_prefix("to the driver's step: ").unwrap_or(&off);
    let off = off.strip_suffix(" than ordered").unwrap_or(off);
    let value = match given {
        Some(given) if given != ordered => {
            // The unit once: both are numbers of the ordered one.
            let unit = ordered.rsplit_once(' ').map_or("", |(_, unit)| unit);
            let given = given.strip_suffix(unit).map_or(given.as_str(), str::trim_end);
            format!("{ordered} ordered; gives {given}, {off}")
        }
        _ => ordered,
    };
    Some(fact("dose", "Dose", value))
}

fn weight(facts: &mut Facts) -> Option<FactRow> {
    let weight = facts.take("patient", "weight")?.value;
    let value = match facts.take("order", "counted_by").map(|row| row.value) {
        Some(by) if by.starts_with("actual weight") => format!("{weight}; the dose is based on it"),
        Some(by) => format!("{weight}; dose based on {by}"),
        None => weight,
    };
    Some(fact("weight", "Weight", value))
}

fn patient(facts: &mut Facts) -> Option<FactRow> {
    let identifiers = facts.take("patient", "identifiers")?.value;
    let born = facts.take("patient", "born").map(|row| row.value);
    let born = born.filter(|born| !identifiers.contains(born.as_str())).map(|born| format!("born {born}"));
    let others = ["age", "sex", "gestation"].map(|key| facts.take("patient", key).map(|row| row.value));
    let all = [Some(identifiers), born].into_iter().chain(others).flatten();
    Some(fact("patient", "Patient", all.collect::<Vec<_>>().join("; ")))
}

/// How long the syringe lasts, and for how long it is needed.
fn run_time(facts: &mut Facts) -> Option<FactRow> {
    let lasts = facts.take("course", "lasts")?.value;
    let planned = [("planned_for", "first entry"), ("planned_for_second", "second entry")];
    let planned = planned.map(|(key, who)| {
        // That one syringe is enough is not said.
        let row = facts.take("course", key).filter(|row| !row.value.ends_with(ONE_IS_ENOUGH));
        row.map(|row| format!("planned {} ({who})", row.value))
    });
    let all = std::iter::once(lasts).chain(planned.into_iter().flatten());
    Some(fact("lasts", "Run time", all.collect::<Vec<_>>().join("; ")))
}

/// Where the infusion stands in the room, in few lines.
fn volumes(facts: &mut Facts) -> Vec<FactRow> {
    let mut rows = Vec::new();
    let mut add = |key, label, values: Vec<Option<String>>| {
        let said: Vec<String> = values.into_iter().flatten().collect();
        if !said.is_empty() {
            rows.push(fact(key, label, said.join("; ")));
        }
    };
    let value = |facts: &mut Facts, block, key| facts.take(block, key).map(|row| row.value);
    let with = |facts: &mut Facts, block, key, before: &str, after: &str| {
        value(facts, block, key).map(|value| format!("{before}{value}{after}"))
    };
    add("use", "For", vec![value(facts, "order", "use"), with(facts, "order", "range", "range ", "")]);
    add(
        "syringe",
        "Syringe",
        vec![
            value(facts, "syringe", "container"),
            with(facts, "course", "fill", "fill ", ""),
            with(facts, "course", "left", "", " to infuse"),
            with(facts, "course", "stays_behind", "residual ", ""),
        ],
    );
    add(
        "line",
        "Line",
        vec![
            value(facts, "syringe", "line"),
            value(facts, "syringe", "access"),
            with(facts, "syringe", "driver", "driver ", ""),
        ],
    );
    add("dead_space", "Dead space", vec![value(facts, "course", "dead_space"), value(facts, "course", "through")]);
    let bolus = ["dose", "volume"].map(|key| value(facts, "bolus", key));
    let over = with(facts, "bolus", "over", "over ", "");
    add("bolus", "Bolus", bolus.into_iter().chain([over]).collect());
    add("change_by", "Change by", vec![value(facts, "course", "change_by")]);
    add("blocked", "If blocked", vec![value(facts, "course", "blocked")]);
    rows
}

/// Who entered it; what their names are worth stands in the heading where there is room.
fn people(facts: &mut Facts) -> Option<Block> {
    const ROOM: usize = 50;
    let names = facts.take("checked_by", "names");
    let Block::Facts { key, heading, mut rows } = facts.take_block("checked_by")? else { return None };
    let heading = match names {
        Some(names) if names.value.len() <= ROOM => format!("{heading} ({})", names.value).into(),
        names => {
            rows.extend(names);
            heading
        }
    };
    Some(Block::Facts { key, heading, rows })
}

/// By which a card is held against the formulary and the journal.
fn provenance(facts: &mut Facts) -> Vec<FactRow> {
    let mut rows = Vec::new();
    let parts = [("formulary", ""), ("review", "review by "), ("approved", "approved by ")];
    let parts = parts.map(|(key, before)| facts.take("limits", key).map(|row| format!("{before}{}", row.value)));
    let said: Vec<String> = parts.into_iter().flatten().collect();
    if !said.is_empty() {
        rows.push(fact("formulary", "Formulary", said.join("; ")));
    }
    rows.extend(facts.take("limits", "fingerprint").map(|row| named("Fingerprint", row)));
    rows.extend(facts.take("case", "code"));
    rows.extend(facts.take("case", "journal"));
    rows.extend(facts.take("case", "head"));
    rows
}

/// The facts of a card that have no place yet.
struct Facts(Vec<(Caption, Caption, Vec<FactRow>)>);

impl Facts {
    fn gather(blocks: &[Block]) -> Self {
        let facts = blocks.iter().filter_map(|block| match block {
            Block::Facts { key, heading, rows } => Some((key.clone(), heading.clone(), rows.clone())),
            _ => None,
        });
        Self(facts.collect())
    }

    /// One row, which is then nowhere else.
    fn take(&mut self, block: &str, row: &str) -> Option<FactRow> {
        let (_, _, rows) = self.0.iter_mut().find(|(key, ..)| key == block)?;
        let at = rows.iter().position(|one| one.key == row)?;
        Some(rows.remove(at))
    }

    /// All that is left of a block.
    fn take_block(&mut self, block: &str) -> Option<Block> {
        let at = self.0.iter().position(|(key, ..)| key == block)?;
        let (key, heading, rows) = self.0.remove(at);
        Some(Block::Facts { key, heading, rows })
    }

    fn drop_rows(&mut self, rows: &[(&str, &str)]) {
        for (block, row) in rows {
            self.take(block, row);
        }
    }

    /// Every block of which something is left.
    fn rest(self) -> impl Iterator<Item = Block> {
        let left = self.0.into_iter().filter(|(.., rows)| !rows.is_empty());
        left.map(|(key, heading, rows)| Block::Facts { key, heading, rows })
    }
}
