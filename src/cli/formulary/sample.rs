//! `formulary sample`: entries by lot, for trying out.

use std::io::{self, BufWriter, Write as _};

use clap::Args;

use super::KeepArgs;
use crate::cli::Exit;
use crate::cli::answer::Answer;
use crate::cli::input::Refused;
use crate::diagnostic::Fault;
use crate::upkeep::sample::sample;

#[derive(Debug, Args)]
pub(in crate::cli) struct SampleArgs {
    /// How many entries
    many: u64,
    /// The same seed gives the same entries
    #[arg(long, default_value_t = 1)]
    seed: u64,
    #[command(flatten)]
    pub(super) keep: KeepArgs,
}

pub(super) fn run(args: &SampleArgs) -> Result<Answer, Refused> {
    let formulary = args.keep.source().open_whole()?;
    let at = args.keep.against.now.moment()?;
    let failed =
        |message: String| Refused::one("formulary sample", Fault::new("sample", message).help("run `formulary lint`"));
    let entries = sample(&formulary, args.seed, at).map_err(failed)?;
    let mut out = BufWriter::new(io::stdout().lock());
    let many = usize::try_from(args.many).unwrap_or(usize::MAX);
    for entry in entries.take(many) {
        match writeln!(out, "{entry}") {
            Err(error) if error.kind() == io::ErrorKind::BrokenPipe => break,
            Err(error) => return Err(failed(format!("the entries could not be written: {error}"))),
            Ok(()) => {}
        }
    }
    match out.flush() {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err(failed(format!("the entries could not be written: {error}")))
        }
        _ => Ok(Answer::text(String::new(), Exit::Proceed)),
    }
}
