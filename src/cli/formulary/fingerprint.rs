//! `formulary fingerprint`: the SHA-256 of every file, and of all of them.

use std::fmt::Write as _;

use serde_json::json;

use super::KeepArgs;
use crate::cli::answer::Answer;
use crate::cli::input::Refused;
use crate::cli::{Exit, Format};

pub(super) fn run(args: &KeepArgs) -> Result<Answer, Refused> {
    let formulary = args.source().open()?;
    let fingerprint = formulary.fingerprint();
    Ok(match args.against.format() {
        Format::Json => {
            let files: serde_json::Map<String, serde_json::Value> =
                fingerprint.manifest().iter().map(|(path, sum)| (path.clone(), json!(sum))).collect();
            Answer::json(&json!({"version": 1, "fingerprint": fingerprint.to_string(), "files": files}), Exit::Proceed)
        }
        Format::Text => {
            let mut text = String::new();
            for (path, sum) in fingerprint.manifest() {
                let _ = writeln!(text, "{sum}  {path}");
            }
            let _ = writeln!(text, "{fingerprint}  (the lines above)");
            Answer::text(text, Exit::Proceed)
        }
    })
}
