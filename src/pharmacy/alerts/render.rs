//! The counts as a report.

use std::collections::BTreeMap;

use super::{Alerts, Dimension, FEW, RuleOutcomes, RuleTally, Tally, share};
use crate::case::DoseZone;
use crate::check::Severity;
use crate::pharmacy::report::{Bars, Cell, Report, SMALL, Section, Table, hide_small};
use crate::quantity::{Ratio, exact_or_about};

/// What a reader must know before any number is read.
const READ_FIRST: [&str; 3] = [
    "This judges rules, not people: no name and no patient is in it.",
    "Counted are sealed entries. What somebody saw and put right before sealing is not in the journal.",
    "Each syringe of a set-up, and each reading from the start, counts as a set-up of its own. Each kind of finding counts once for it.",
];

const OUTCOMES: [&str; 7] =
    ["spoke", "overridden", "then corrected", "stopped", "left", "passed in an emergency", "started without a card"];

/// In the order of [`DoseZone`].
const ZONES: [(DoseZone, &str); 6] = [
    (DoseZone::BelowSoft, "below soft"),
    (DoseZone::BelowUsual, "below usual"),
    (DoseZone::Usual, "usual"),
    (DoseZone::AboveUsual, "above usual"),
    (DoseZone::AboveSoft, "above soft"),
    (DoseZone::AboveHard, "above hard"),
];

/// From this many doses on their ends are shown too.
const ENOUGH_FOR_ENDS: usize = 20;

/// Number of months drawn; the table has every one.
const MOST_MONTHS_DRAWN: usize = 24;

impl Alerts {
    /// Everything that was counted, small counts hidden.
    #[must_use]
    pub fn report(&self) -> Report {
        let mut says: Vec<String> = READ_FIRST.map(str::to_owned).to_vec();
        says.push(format!(
            "A count from 1 to {} is hidden, and every count by which it could be worked out.",
            SMALL - 1
        ));
        says.extend(self.chosen());
        says.extend(self.not_counted());
        let mut sections = vec![self.in_all(), self.by_month()];
        for (at, dimension) in self.selection.by.iter().enumerate() {
            let mut rows: Vec<(String, Vec<u64>)> = self
                .groups
                .iter()
                .filter(|((group, _), _)| *group == at)
                .map(|((_, value), (set_ups, outcomes))| (value.clone(), [vec![*set_ups], outcomes.counts()].concat()))
                .collect();
            if *dimension != Dimension::Hour {
                rows.sort_by_key(|(_, counts)| std::cmp::Reverse(counts[1]));
            }
            let heads = [&[dimension.word(), "set-ups"], OUTCOMES.as_slice()].concat();
            sections.push(Section {
                id: ["by_drug", "by_indication", "by_area", "by_phase", "by_role", "by_hour", "by_edition"]
                    [*dimension as usize],
                heading: format!("By {}", dimension.word()),
                table: counted(heads, &rows, Some(1)),
                ..Section::default()
            });
        }
        sections.push(self.by_limit());
        for (id, head, rules) in self.by_weight() {
            let rows: Vec<(String, Vec<u64>)> =
                rules.iter().map(|rule| (rule.code.id.to_owned(), rule.outcomes.counts())).collect();
            let is_note = id == "rules_note";
            let rows =
                if is_note { rows.into_iter().map(|(id, counts)| (id, vec![counts[0]])).collect() } else { rows };
            let heads = if is_note { vec!["rule", "spoke"] } else { [&["rule"], OUTCOMES.as_slice()].concat() };
            let mut says: Vec<String> = rules.iter().flat_map(|rule| rule.in_words(rule.code.id)).collect();
            if rules.is_empty() {
                says.push("None has spoken.".to_owned());
            }
            let table = counted(heads, &rows, (!is_note).then_some(0));
            sections.push(Section { id, heading: head.to_owned(), says, table, bars: None });
        }
        sections.push(self.doses_given());
        sections.push(self.near_misses());
        sections.push(self.outstanding());
        Report { title: "How often the rules speak, and what ran".to_owned(), says, sections }
    }

    fn chosen(&self) -> Option<String> {
        let mut chosen: Vec<String> = Vec::new();
        chosen.extend(self.selection.from.map(|day| format!("from {day}")));
        chosen.extend(self.selection.to.map(|day| format!("to {day}")));
        chosen.extend(self.selection.only.iter().map(|(dimension, value)| format!("{} {value}", dimension.word())));
        (!chosen.is_empty()).then(|| format!("Only set-ups: {}.", chosen.join(", ")))
    }

    /// What no count is about, in sentences.
    fn not_counted(&self) -> Vec<String> {
        let mut says = Vec::new();
        match self.uncounted.waiting.len() {
            0 => {}
            1 => says.push("1 set-up still waits for somebody; nothing of it is counted.".to_owned()),
            many => says.push(format!("{many} set-ups still wait for somebody; nothing of them is counted.")),
        }
        if self.late > 0 {
            says.push(format!("Waiting for more than an hour: {}.", self.late));
        }
        match self.uncounted.forgotten {
            0 => {}
            1 => says.push("1 case was forgotten, and cannot be counted any more.".to_owned()),
            many => says.push(format!("{many} cases were forgotten, and cannot be counted any more.")),
        }
        says
    }

    fn in_all(&self) -> Section {
        let Tally { set_ups, stops, asked, notes } = self.all;
        let mut rows = vec![];
        if set_ups == 0 {
            let says = vec!["No set-up of these has come to an end yet. There is nothing to count.".to_owned()];
            return Section { id: "in_all", heading: "In all".to_owned(), says, ..Section::default() };
        }
        for (name, count) in
            [("findings that stop", stops), ("findings that ask for a reason", asked), ("notes", notes)]
        {
            rows.push(vec![Cell::Text(name.to_owned()), Cell::Text(shown_share(count, set_ups))]);
        }
        let [started, independent] = self.started;
        rows.push(vec![
            Cell::Text("infusions that two people had entered independently before the start".to_owned()),
            Cell::Text(shown_share(independent, started)),
        ]);
        let table = Table { heads: vec!["what", "how often"], rows };
        Section { id: "in_all", heading: format!("In all: {}", set_ups_shown(set_ups)), table, ..Section::default() }
    }

    fn by_month(&self) -> Section {
        let rows: Vec<(String, Vec<u64>)> = self
            .months
            .iter()
            .map(|(month, of)| (month.clone(), vec![of.set_ups, of.stops, of.asked, of.notes]))
            .collect();
        let table = counted(vec!["month", "set-ups", "stops", "reasons asked for", "notes"], &rows, None);
        let part = |cells: &[Cell], at: usize| match (&cells[at], &cells[1]) {
            (Cell::Count(count), Cell::Count(of)) if *of >= FEW => (count * 200 + of) / (of * 2),
            _ => 0,
        };
        let skipped = table.rows.len().saturating_sub(MOST_MONTHS_DRAWN);
        let drawn: Vec<(String, [u64; 3])> = table
            .rows
            .iter()
            .skip(skipped)
            .zip(rows.iter().skip(skipped))
            .filter(|(_, (_, counts))| counts[0] >= FEW)
            .map(|(cells, (month, _))| (month.clone(), [2, 3, 4].map(|at| part(cells, at))))
            .collect();
        let kinds = ["stops", "reasons asked for", "notes"];
        let bars = (!drawn.is_empty()).then_some(Bars { unit: "findings per 100 set-ups", kinds, rows: drawn });
        let says = if bars.is_some() {
            vec![format!(
                "Drawn are months of {FEW} set-ups or more, at most the last {MOST_MONTHS_DRAWN}; a hidden count is not drawn."
            )]
        } else {
            vec![format!("No month has {FEW} set-ups yet: a picture of shares would mislead.")]
        };
        Section { id: "by_month", heading: "By month".to_owned(), says, table, bars }
    }

    /// Each limit of a dose: the most often crossed first.
    fn by_limit(&self) -> Section {
        let mut limits: Vec<(&[String; 2], &RuleTally)> = self.limits.iter().collect();
        limits.sort_by_key(|(place, tally)| (std::cmp::Reverse(tally.outcomes.fired), *place));
        let name = |[place, limit]: &[String; 2]| format!("{place}: {limit}");
        let rows: Vec<(String, Vec<u64>)> =
            limits.iter().map(|(place, tally)| (name(place), tally.outcomes.counts())).collect();
        let says = limits.iter().flat_map(|(place, tally)| tally.in_words(&name(place))).collect();
        let heading = "By limit of a dose".to_owned();
        let table = counted([&["limit"], OUTCOMES.as_slice()].concat(), &rows, Some(0));
        Section { id: "by_limit", heading, says, table, bars: None }
    }

    fn by_weight(&self) -> [(&'static str, &'static str, Vec<&RuleTally>); 3] {
        [
            ("rules_justify", "Rules that ask for a reason", self.rules_of(|severity| severity == Severity::Justify)),
            ("rules_stop", "Rules that stop", self.rules_of(|severity| matches!(severity, Severity::Stop(_)))),
            ("rules_note", "Rules that note", self.rules_of(|severity| severity == Severity::Note)),
        ]
    }

    /// Doses that ran, held against the limits of their phase; and what the middle and the ends of them are.
    fn doses_given(&self) -> Section {
        let rows: Vec<(String, Vec<u64>)> = self
            .doses
            .iter()
            .map(|((place, unit), doses)| {
                let zones = ZONES.map(|(zone, _)| many(doses.iter().filter(|(_, at)| *at == zone).count()));
                (format!("{place}, in {unit}"), [vec![many(doses.len())], zones.to_vec()].concat())
            })
            .collect();
        let heads = [&["use", "doses"], ZONES.map(|(_, head)| head).as_slice()].concat();
        let mut table = counted(heads, &rows, Some(0));
        let percentiles = ["5th", "25th", "middle", "75th", "95th"];
        table.heads.extend(percentiles);
        for (row, doses) in table.rows.iter_mut().zip(self.doses.values()) {
            let mut sorted: Vec<Ratio> = doses.iter().map(|(dose, _)| *dose).collect();
            sorted.sort_unstable();
            let told = match sorted.len() {
                many if many >= ENOUGH_FOR_ENDS => 0..5,
                many if u64::try_from(many).unwrap_or(u64::MAX) >= SMALL => 2..3,
                _ => 0..0,
            };
            for (at, hundredth) in [5, 25, 50, 75, 95].into_iter().enumerate() {
                let value = told.contains(&at).then(|| percentile(&sorted, hundredth)).flatten();
                row.push(value.map_or(Cell::Hidden, |value| Cell::Text(exact_or_about(value))));
            }
        }
        let bars = table.rows.iter().filter_map(|row| {
            let parts: Option<Vec<u64>> =
                row[2..8].iter().map(|cell| if let Cell::Count(count) = cell { Some(*count) } else { None }).collect();
            let (parts, Cell::Text(name), Cell::Count(all)) = (parts?, &row[0], &row[1]) else { return None };
            let share = |count: u64| (count * 200 + all) / (all * 2);
            Some((name.clone(), [share(parts[2]), share(parts[1] + parts[3]), share(parts[0] + parts[4] + parts[5])]))
        });
        let kinds = ["usual", "within soft limits", "beyond a soft limit"];
        let bars: Vec<(String, [u64; 3])> = bars.collect();
        Section {
            id: "doses",
            heading: "Doses that ran, against the limits".to_owned(),
            says: vec![format!(
                "Each dose at which a syringe was started, and each change of its rate. Percentiles are nearest ranks: the middle from {SMALL} doses on, the others from {ENOUGH_FOR_ENDS}."
            )],
            bars: (!bars.is_empty()).then_some(Bars { unit: "per 100 doses", kinds, rows: bars }),
            table,
        }
    }

    /// Findings after which a field was entered otherwise, by field.
    fn near_misses(&self) -> Section {
        let mut fields: BTreeMap<&str, u64> = BTreeMap::new();
        for (field, count) in self.rules.values().flat_map(|rule| &rule.fields) {
            *fields.entry(field).or_default() += count;
        }
        let rows: Vec<(String, Vec<u64>)> =
            fields.into_iter().map(|(field, count)| (field.replace('_', " "), vec![count])).collect();
        let says = vec!["A rule spoke, and the person then changed this field.".to_owned()];
        let table = counted(vec!["field", "corrected"], &rows, None);
        Section { id: "near_misses", heading: "Near misses, by what was corrected".to_owned(), says, table, bars: None }
    }

    fn outstanding(&self) -> Section {
        let rows = self
            .uncounted
            .outstanding
            .iter()
            .map(|(code, count)| vec![Cell::Text((*code).to_owned()), Cell::Count(*count)]);
        let says =
            vec!["What the open set-ups lack now, of all drugs and areas: work to be done, and no finding.".to_owned()];
        let table = Table { heads: vec!["what", "outstanding"], rows: rows.collect() };
        Section { id: "outstanding", heading: "Outstanding now".to_owned(), says, table, bars: None }
    }
}

impl RuleOutcomes {
    /// In the order of the heads.
    fn counts(&self) -> Vec<u64> {
        let Self { fired, overridden, otherwise, stopped, left, alone, ran } = *self;
        vec![fired, overridden, otherwise, stopped, left, alone, ran]
    }
}

impl RuleTally {
    /// Its reasons, and the fields that were corrected, each with its count.
    fn in_words(&self, name: &str) -> Vec<String> {
        let reasons = self.reasons.iter().map(|(reason, count)| (reason.says().to_owned(), *count)).collect();
        let fields = self.fields.iter().map(|(field, count)| (field.replace('_', " "), *count)).collect();
        [("reasons", reasons), ("corrected", fields)]
            .into_iter()
            .filter(|(_, counts): &(_, Vec<(String, u64)>)| !counts.is_empty())
            .map(|(what, counts)| format!("{name}, {what}: {}", listed(&counts)))
            .collect()
    }
}

/// Counts of parts that are no whole: each small one is hidden, and the next that would tell it.
fn listed(counts: &[(String, u64)]) -> String {
    let cells = hide_small(&counts.iter().map(|(_, count)| vec![*count]).collect::<Vec<_>>(), None);
    let each = counts.iter().zip(cells).map(|((name, _), cell)| match &cell[0] {
        Cell::Count(count) => format!("{name} ({count})"),
        _ => format!("{name} (hidden)"),
    });
    each.collect::<Vec<_>>().join(", ")
}

fn counted(heads: Vec<&'static str>, rows: &[(String, Vec<u64>)], total: Option<usize>) -> Table {
    let cells = hide_small(&rows.iter().map(|(_, counts)| counts.clone()).collect::<Vec<_>>(), total);
    let rows = rows.iter().zip(cells).map(|((name, _), cells)| [vec![Cell::Text(name.clone())], cells].concat());
    Table { heads, rows: rows.collect() }
}

fn shown_share(count: u64, of: u64) -> String {
    match (count, of) {
        (_, 0) => "none of none".to_owned(),
        (1..SMALL, _) | (_, 1..SMALL) => format!("hidden, in {}", set_ups_shown(of)),
        _ => share(count, of),
    }
}

fn set_ups_shown(count: u64) -> String {
    match count {
        1..SMALL => format!("fewer than {SMALL} set-ups"),
        _ => format!("{count} set-ups"),
    }
}

/// By nearest rank.
fn percentile(sorted: &[Ratio], hundredth: usize) -> Option<Ratio> {
    let rank = (sorted.len() * hundredth).div_ceil(100);
    sorted.get(rank.saturating_sub(1)).copied()
}

fn many(count: usize) -> u64 {
    u64::try_from(count).unwrap_or(u64::MAX)
}
