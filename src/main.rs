//! The program: one command line in, one answer out.

use std::process::ExitCode;

#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> ExitCode {
    // A panic is a fault of the program: it says so, shows no number, and ends with 70.
    std::panic::set_hook(Box::new(|_| {}));
    let run = std::panic::catch_unwind(|| countersign::cli::run(std::env::args_os()).write());
    ExitCode::from(run.unwrap_or_else(|panic| countersign::cli::fell_over(panic.as_ref())))
}
