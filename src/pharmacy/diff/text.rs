//! The changes for a terminal, and as data.

use std::fmt::Write as _;

use serde_json::{Value, json as object};

use super::{Change, Risk};

/// In lines of 80 columns, each risk under its heading.
#[must_use]
pub fn text(old: &str, new: &str, changes: &[Change]) -> String {
    let mut out = String::new();
    let counted = super::counted(changes.len());
    crate::card::wrapped(&mut out, "", &format!("From {old} to {new}: {counted}."));
    for risk in Risk::ALL {
        let of_risk: Vec<&Change> = changes.iter().filter(|change| change.risk == risk).collect();
        if of_risk.is_empty() {
            continue;
        }
        let _ = writeln!(out, "\n{} ({})", risk.says(), of_risk.len());
        for change in of_risk {
            crate::card::wrapped(&mut out, "  ", &format!("{} ({})", change.line(), change.file));
        }
    }
    out
}

/// The same as data: `version`, `old`, `new`, `changes`, the most dangerous first.
#[must_use]
pub fn json(old: &str, new: &str, changes: &[Change]) -> Value {
    object!({"version": 1, "old": old, "new": new, "changes": changes})
}
