//! `formulary lint`: every problem of every file; and `--fix`.

use std::fmt::Write as _;

use clap::Args;
use serde_json::json;

use super::KeepArgs;
use crate::cli::answer::{Answer, palette};
use crate::cli::input::Refused;
use crate::cli::{Exit, Format};
use crate::diagnostic::Fault;
use crate::formulary::Files;
use crate::pharmacy::lint::{self, Counts, Mended};

#[derive(Debug, Args)]
pub(crate) struct LintArgs {
    /// Rewrites the spelling of units and numbers, never a value, and says what was changed
    #[arg(long)]
    fix: bool,
    /// Ends with 3 where a warning is neither mended nor accepted with a written reason
    #[arg(long)]
    deny_warnings: bool,
    #[command(flatten)]
    pub(super) keep: KeepArgs,
}

pub(super) fn run(args: &LintArgs) -> Result<Answer, Refused> {
    let source = args.keep.source();
    let folder = source.folder()?;
    let is_inside = folder.as_os_str() == "demonstration";
    let read =
        || if is_inside { Ok(Files::demonstration()) } else { Files::of_folder_in_part(&folder).map_err(Refused) };
    let now = args.keep.against.now.moment()?;
    let mut files = read()?;
    let mut mended = Vec::new();
    if args.fix {
        if is_inside {
            let fault = Fault::new("fix-not-a-folder", "the demonstration inside the program cannot be changed");
            return Err(Refused::one("--fix", fault.help("name a folder")));
        }
        // What cannot be read cannot be held against what was mended.
        files = files.whole().map_err(Refused)?;
        mended =
            lint::mend(&files).and_then(|mended| lint::write(&folder, &mended).map(|()| mended)).map_err(|error| {
                let help = "look at the file, mend it by hand, and run the lint again";
                Refused::one("--fix", Fault::new(error.code(), error.to_string()).help(help))
            })?;
        files = read()?;
    }
    let report = lint::lint(files, now);
    let Counts { errors, warnings, .. } = report.counts();
    let exit = match (errors, warnings) {
        (0, 0) => Exit::Proceed,
        (0, _) if args.deny_warnings => Exit::Justify,
        (0, _) => Exit::Proceed,
        _ => Exit::Refused,
    };
    Ok(match args.keep.against.format() {
        Format::Json => {
            let mut answer = report.json();
            if args.fix {
                answer["changed"] = changed_json(&mended);
            }
            Answer::json(&answer, exit).moved_to_stderr(errors > 0)
        }
        Format::Text => {
            let mut said = changed(&mended, args.fix);
            if errors == 0 {
                said += &report.summary();
            }
            Answer::text(said, exit).with_diagnostics(report.text(palette()))
        }
    })
}

/// Each change in its own line, with its place.
fn changed(mended: &[Mended], asked: bool) -> String {
    let mut said = String::new();
    for file in mended {
        for change in &file.changes {
            let _ = writeln!(
                said,
                "{}:{}:{}: {}: `{}` is now `{}`",
                file.path, change.line, change.column, change.field, change.from, change.to
            );
        }
    }
    if asked && said.is_empty() {
        said += "nothing to fix\n";
    }
    said
}

fn changed_json(mended: &[Mended]) -> serde_json::Value {
    let changes = mended.iter().flat_map(|file| {
        file.changes.iter().map(|change| {
            json!({
                "file": file.path, "line": change.line, "column": change.column, "field": change.field,
                "from": change.from, "to": change.to,
            })
        })
    });
    changes.collect()
}
