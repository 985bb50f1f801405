//! The counts for a terminal, and as data.

use std::fmt::Write as _;

use serde_json::{Value, json as object};

use super::{Alerts, RuleTally, Tally, share};
use crate::card::wrapped;
use crate::check::Severity;

/// What a reader must know before any number is read.
pub const READ_FIRST: [&str; 3] = [
    "This judges rules, not people: no name, patient or value is in it.",
    "Counted are sealed entries. What somebody saw and put right before sealing is not in the journal.",
    "Each syringe of a set-up, and each reading from the start, counts as a set-up of its own. Each kind of finding counts once for it.",
];

/// In lines of 80 columns.
#[must_use]
pub fn text(alerts: &Alerts) -> String {
    let mut out = String::new();
    for says in READ_FIRST {
        wrapped(&mut out, "", says);
    }
    for says in alerts.not_counted() {
        wrapped(&mut out, "", &says);
    }
    out.push('\n');
    wrapped(&mut out, "", &format!("In all {}: {}", counted_set_ups(alerts.all.set_ups), alerts.all.says()));
    let _ = writeln!(out, "\n{:<10} {:>9} {:>9} {:>14} {:>9}", "month", "set-ups", "stops", "reasons asked", "notes");
    for (month, tally) in &alerts.months {
        let Tally { set_ups, stops, asked, notes } = tally;
        let _ = writeln!(out, "{month:<10} {set_ups:>9} {stops:>9} {asked:>14} {notes:>9}");
    }
    for (head, rules) in alerts.groups() {
        let _ = writeln!(out, "\n{head}{}", if rules.is_empty() { ": none" } else { "" });
        for rule in rules {
            wrapped(&mut out, "  ", &format!("{}: {}", rule.code.id, came_of_it(rule, alerts.all.set_ups)));
            for (reason, count) in &rule.reasons {
                wrapped(&mut out, "      ", &format!("reason: {} ({count})", reason.says()));
            }
            if !rule.fields.is_empty() {
                wrapped(&mut out, "      ", &format!("entered otherwise: {}", rule.fields_in_words()));
            }
        }
    }
    out
}

/// The same as data.
#[must_use]
pub fn json(alerts: &Alerts) -> Value {
    let tally = |tally: &Tally| object!({"set_ups": tally.set_ups, "stops": tally.stops, "reasons_asked": tally.asked, "notes": tally.notes});
    let months: Vec<Value> = alerts
        .months
        .iter()
        .map(|(month, of)| {
            let mut value = tally(of);
            value["month"] = month.as_str().into();
            value
        })
        .collect();
    let rules: Vec<Value> = alerts
        .rules
        .values()
        .map(|rule| {
            let reasons: Vec<Value> =
                rule.reasons.iter().map(|(reason, count)| object!({"reason": reason.says(), "count": count})).collect();
            object!({
                "code": rule.code.id,
                "severity": rule.code.severity.word(),
                "set_ups": rule.fired,
                "overridden": rule.overridden,
                "entered_otherwise": rule.otherwise,
                "stopped": rule.stopped,
                "left": rule.left,
                "emergency": rule.alone,
                "ran_without_a_card": rule.ran,
                "fields": rule.fields,
                "reasons": reasons,
            })
        })
        .collect();
    object!({
        "version": 1,
        "all": tally(&alerts.all),
        "months": months,
        "rules": rules,
        "waiting": alerts.waiting,
        "forgotten_cases": alerts.forgotten,
    })
}

impl Alerts {
    /// What no count is about, in sentences.
    #[must_use]
    pub fn not_counted(&self) -> Vec<String> {
        let mut says = Vec::new();
        match self.waiting {
            0 => {}
            1 => says.push("1 set-up still waits for somebody; nothing of it is counted.".to_owned()),
            many => says.push(format!("{many} set-ups still wait for somebody; nothing of them is counted.")),
        }
        match self.forgotten {
            0 => {}
            1 => says.push("1 case was forgotten, and cannot be counted any more.".to_owned()),
            many => says.push(format!("{many} cases were forgotten, and cannot be counted any more.")),
        }
        says
    }

    /// Rules in their three groups, each under its heading.
    #[must_use]
    pub fn groups(&self) -> [(&'static str, Vec<&RuleTally>); 3] {
        [
            ("Rules that ask for a reason", self.rules_of(|severity| severity == Severity::Justify)),
            ("Rules that stop", self.rules_of(|severity| matches!(severity, Severity::Stop(_)))),
            ("Rules that tell", self.rules_of(|severity| severity == Severity::Note)),
        ]
    }
}

impl Tally {
    /// In words: each count with what it is counted among.
    #[must_use]
    pub fn says(&self) -> String {
        let Self { set_ups, stops, asked, notes } = *self;
        let [stops, asked, notes] = [stops, asked, notes].map(|count| share(count, set_ups));
        format!("stops {stops}; reasons asked for {asked}; notes {notes}")
    }
}

impl RuleTally {
    /// Which fields were entered otherwise, and how often each.
    #[must_use]
    pub fn fields_in_words(&self) -> String {
        let all: Vec<String> =
            self.fields.iter().map(|(field, count)| format!("{} ({count})", field.replace('_', " "))).collect();
        all.join(", ")
    }
}

fn came_of_it(rule: &RuleTally, set_ups: u64) -> String {
    let mut says = share(rule.fired, set_ups);
    for (count, what) in [
        (rule.overridden, "overridden with reasons"),
        (rule.otherwise, "then entered otherwise"),
        (rule.stopped, "stopped"),
        (rule.left, "left"),
        (rule.alone, "passed in an emergency"),
        (rule.ran, "started without a card"),
    ] {
        if count > 0 {
            let _ = write!(says, "; {count} {what}");
        }
    }
    says
}

fn counted_set_ups(count: u64) -> String {
    format!("{count} set-up{}", if count == 1 { "" } else { "s" })
}
