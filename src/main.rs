//! The program: one command line in, one answer out.

use std::process::ExitCode;

fn main() -> ExitCode {
    // A panic, in whichever thread, is a fault of the program: it says so, shows no number, and ends with 70. Of
    // one answer nothing has been written by then; of a batch, only lines that were answered in full.
    std::panic::set_hook(Box::new(|panic| std::process::exit(countersign::cli::fell_over(panic.payload()).into())));
    ExitCode::from(countersign::cli::run(std::env::args_os()).write())
}
