//! `formulary diff`: what changed between two formularies.

use std::fmt::Write as _;

use clap::Args;
use serde_json::json;

use super::named::Named;
use crate::card::{DEMONSTRATION, wrapped};
use crate::cli::answer::Answer;
use crate::cli::input::Refused;
use crate::cli::{CardFormat, Drawing, Exit};
use crate::formulary::Formulary;
use crate::upkeep::diff::{Change, Risk, diff, page};

#[derive(Debug, Args)]
pub(in crate::cli) struct DiffArgs {
    /// The older one: a folder, `demonstration`, or the fingerprint of one that the journal keeps
    old: String,
    /// The newer one
    new: String,
    #[command(flatten)]
    named: Named,
    #[command(flatten)]
    pub(super) drawing: Drawing,
}

pub(super) fn run(args: &DiffArgs) -> Result<Answer, Refused> {
    let (old, new) = (args.named.open(&args.old)?, args.named.open(&args.new)?);
    let changes = diff(&old, &new).map_err(Refused::from)?;
    let demonstration = old.policy().demonstration || new.policy().demonstration;
    let notice = demonstration.then_some(DEMONSTRATION);
    Ok(match args.drawing.format {
        CardFormat::Json => {
            let json = json!({
                "version": 1,
                "notice": notice,
                "old": {"name": args.old, "fingerprint": old.fingerprint().to_string()},
                "new": {"name": args.new, "fingerprint": new.fingerprint().to_string()},
                "changes": changes,
            });
            Answer::json(&json, Exit::Proceed)
        }
        CardFormat::Text => Answer::text(text(&changes, notice), Exit::Proceed),
        CardFormat::Html => Answer::text(page(&told(&old), &told(&new), &changes, notice), Exit::Proceed),
    })
}

fn told(formulary: &Formulary) -> String {
    let policy = formulary.policy();
    let fingerprint = formulary.fingerprint().to_string();
    format!("{}, version {} ({})", policy.title, policy.version, &fingerprint[..12])
}

fn text(changes: &[Change], notice: Option<&str>) -> String {
    let mut out = notice.map(|notice| format!("{notice}\n")).unwrap_or_default();
    if changes.is_empty() {
        out.push_str("No changes.\n");
    }
    for risk in Risk::ALL {
        let of_risk: Vec<&Change> = changes.iter().filter(|change| change.risk == risk).collect();
        if of_risk.is_empty() {
            continue;
        }
        let _ = writeln!(out, "\n{} ({})", risk.says(), of_risk.len());
        for change in of_risk {
            wrapped(&mut out, "  ", &format!("{} [{}]", change.line(), change.file));
        }
    }
    out
}
