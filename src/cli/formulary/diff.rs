//! `formulary diff`: what changed between two formularies.

use std::fmt::Write as _;
use std::path::Path;

use clap::Args;
use serde_json::json;

use crate::card::{DEMONSTRATION, wrapped};
use crate::cli::answer::Answer;
use crate::cli::input::Refused;
use crate::cli::{CardFormat, Drawing, Exit};
use crate::diagnostic::Fault;
use crate::formulary::Formulary;
use crate::upkeep::diff::{Change, Risk, diff, page};

#[derive(Debug, Args)]
pub(in crate::cli) struct DiffArgs {
    /// The older one: a folder, `demonstration`, or the fingerprint of one that the journal keeps
    old: String,
    /// The newer one
    new: String,
    #[cfg(feature = "journal")]
    #[command(flatten)]
    journal: crate::cli::journal_arg::JournalArg,
    #[command(flatten)]
    pub(super) drawing: Drawing,
}

pub(super) fn run(args: &DiffArgs) -> Result<Answer, Refused> {
    let (old, new) = (args.named(&args.old)?, args.named(&args.new)?);
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

impl DiffArgs {
    fn named(&self, name: &str) -> Result<Formulary, Refused> {
        if name == "demonstration" {
            return Formulary::demonstration().map_err(Refused::from);
        }
        if Path::new(name).is_dir() {
            return Formulary::open(Path::new(name)).map_err(Refused::from);
        }
        const SHORTEST: usize = 8;
        let is_fingerprint = name.len() >= SHORTEST && name.bytes().all(|byte| byte.is_ascii_hexdigit());
        let fault = if is_fingerprint {
            #[cfg(feature = "journal")]
            if let Some(found) = self.kept(name)? {
                return Ok(found);
            }
            Fault::new("formulary-not-kept", format!("the journal keeps no formulary of the fingerprint `{name}`"))
                .help("name the journal with --journal DIR, or the formulary's folder")
        } else {
            Fault::new("formulary-not-named", format!("`{name}` is no folder, and no fingerprint"))
                .help("name a folder, `demonstration`, or eight and more hexadecimal digits of a fingerprint")
        };
        Err(Refused::one(name, fault))
    }

    #[cfg(feature = "journal")]
    fn kept(&self, fingerprint: &str) -> Result<Option<Formulary>, Refused> {
        use crate::case::Cases;
        let journal = self.journal.open().map_err(|trouble| trouble.refused())?;
        Cases::of(journal).kept_formulary(&fingerprint.to_ascii_lowercase()).map_err(|error| {
            Refused::one("the journal", Fault::new("formulary-not-kept", error.to_string()).help("run `journal verify`"))
        })
    }
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
