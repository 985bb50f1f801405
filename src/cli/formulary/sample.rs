//! `formulary sample`: invented entries, one JSON object a line, to try a replay or a batch with.

use std::io::{self, BufWriter, Write as _};

use clap::Args;

use crate::cli::Exit;
use crate::cli::answer::Answer;
use crate::cli::input::{FormularyArg, Refused, argument};
use crate::diagnostic::Fault;
use crate::pharmacy::sample::Sample;
use crate::quantity::Moment;

#[derive(Debug, Args)]
pub(crate) struct SampleArgs {
    /// How many entries
    #[arg(value_name = "N")]
    count: u64,
    /// The same seed gives the same entries
    #[arg(long, value_name = "S")]
    seed: u64,
    /// The moment of the entries, with its offset from UTC [default: 08:00 UTC on the day the formulary was issued]
    #[arg(long, value_name = "TIME", allow_hyphen_values = true)]
    at: Option<String>,
    #[command(flatten)]
    formulary: FormularyArg,
}

/// Each line is written as it is made: a million of them are not kept in memory.
pub(super) fn run(args: &SampleArgs) -> Result<Answer, Refused> {
    let formulary = args.formulary.open_whole()?;
    let issued = format!("{}T08:00:00+00:00", formulary.policy().issued);
    let at = argument("--at", args.at.as_deref().unwrap_or(&issued), Moment::parse)?;
    let refuse =
        |message: String| Refused::one("sample", Fault::new("sample", message).help("run `formulary lint` first"));
    if !formulary.policy().demonstration {
        let fault =
            Fault::new("sample-for-demonstration", "invented entries are made of a demonstration formulary only");
        return Err(Refused::one(
            "--formulary",
            fault.help("write `--formulary demonstration`, or a copy with `demonstration: true`"),
        ));
    }
    let mut sample = Sample::new(&formulary, args.seed, at).map_err(refuse)?;
    let mut out = BufWriter::with_capacity(256 * 1024, io::stdout());
    for _ in 0..args.count {
        let entry = sample.next_entry().map_err(refuse)?;
        match writeln!(out, "{entry}") {
            Ok(()) => {}
            Err(error) if error.kind() == io::ErrorKind::BrokenPipe => break,
            Err(error) => return Err(unwritten(&error)),
        }
    }
    match out.flush() {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => Err(unwritten(&error)),
        _ => Ok(Answer::text(String::new(), Exit::Proceed)),
    }
}

fn unwritten(error: &io::Error) -> Refused {
    let fault = Fault::new("answer-unwritable", format!("the entries could not be written: {error}"));
    Refused::one("sample", fault.help("look at the space left"))
}
