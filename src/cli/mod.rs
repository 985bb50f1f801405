//! The commands: people's words in, one answer out. One file per command; no rule lives here.

mod agree;
mod answer;
#[cfg(feature = "journal")]
mod ask;
mod batch;
#[cfg(feature = "journal")]
mod case;
mod check;
#[cfg(feature = "journal")]
mod desk;
mod delivery;
mod dose;
mod drawing;
mod entry_file;
mod example;
mod explain;
mod formulary;
mod input;
#[cfg(feature = "journal")]
mod journal;
#[cfg(feature = "journal")]
mod journal_arg;
#[cfg(feature = "backup")]
mod journal_backup;
#[cfg(feature = "journal")]
mod journal_files;
mod lines;
#[cfg(feature = "journal")]
mod journal_show;
#[cfg(feature = "journal")]
mod journal_upgrade;
#[cfg(feature = "journal")]
mod people;
#[cfg(feature = "web")]
mod practice;
mod prepare;
mod rate;
#[cfg(feature = "journal")]
mod record;
mod report;
#[cfg(feature = "web")]
mod request_log;
#[cfg(feature = "web")]
mod serve;
mod strengths;
#[cfg(feature = "journal")]
mod unique_json;

use std::ffi::OsString;

use clap::{Args, Parser, Subcommand};

use crate::quantity::Moment;

pub(crate) use answer::Format;
pub use answer::{Answer, Exit};
use drawing::Drawing;

/// Checks an infusion set-up: two blind entries, exact arithmetic, local limits, one set-up card.
///
/// Not a medical device. Verify against the order, the label and local policy; licensed practitioners decide.
#[derive(Debug, Parser)]
#[command(name = "countersign", version, max_term_width = 100, disable_help_subcommand = true)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// The rate in mL/h for a dose: one person's sum, not double-checked
    Rate(rate::RateArgs),
    /// The dose that a rate in mL/h gives: one person's sum, not double-checked
    Dose(dose::DoseArgs),
    /// From ampoules and diluent to the syringe and its label: not double-checked
    Prepare(prepare::PrepareArgs),
    /// Which stocked strength lets a driver hold a dose: not double-checked
    Strengths(strengths::StrengthsArgs),
    /// What leaves the syringe and when: arrival, blocked line, carrier; estimates, not double-checked
    Delivery(Box<delivery::DeliveryArgs>),
    /// One entry, or many, against the formulary: not double-checked
    Check(check::CheckArgs),
    /// Two entries of two people against each other and the formulary; prints the set-up card when both agree
    Agree(agree::AgreeArgs),
    /// An example that travels inside the program: two invented people, demonstration limits, times moved to now
    Example(example::ExampleArgs),
    /// Who may sign
    #[cfg(feature = "journal")]
    #[command(subcommand)]
    People(people::PeopleCommand),
    /// One patient and their set-ups, from the first sealed entry to the card
    #[cfg(feature = "journal")]
    #[command(subcommand)]
    Case(case::CaseCommand),
    /// What really happened: started, changed, paused, given, stopped, accounted for
    #[cfg(feature = "journal")]
    #[command(subcommand)]
    Record(record::RecordCommand),
    /// What the pharmacist keeps
    #[command(subcommand)]
    Formulary(formulary::FormularyCommand),
    /// The record itself: made, proved whole, copied away and brought back
    #[cfg(feature = "journal")]
    #[command(subcommand)]
    Journal(journal::JournalCommand),
    /// What a code on a screen means, why it matters and what to do
    Explain(explain::ExplainArgs),
    /// The bedside page: the same work in a browser
    #[cfg(feature = "web")]
    Serve(serve::ServeArgs),
    /// A ward of invented people to try the bedside page with; it disappears when it is stopped
    #[cfg(feature = "web")]
    Practice(practice::PracticeArgs),
}

#[derive(Debug, Args)]
struct Common {
    /// How the answer is written
    #[arg(long, value_enum, default_value = "text")]
    format: Format,
}

/// What an entry is held against, at which moment, and how the answer is written.
#[derive(Debug, Args)]
struct Against<F: Args = Common> {
    #[command(flatten)]
    formulary: input::FormularyArg,
    #[command(flatten)]
    now: Now,
    #[command(flatten)]
    common: F,
}

impl Against {
    const fn format(&self) -> Format {
        self.common.format
    }
}

#[derive(Debug, Args)]
struct Now {
    /// The moment of the check, with its offset from UTC [default: the clock]
    #[arg(long, value_name = "TIME", allow_hyphen_values = true)]
    at: Option<String>,
}

impl Now {
    fn moment(&self) -> Result<Moment, input::Refused> {
        self.at.as_ref().map_or_else(|| Ok(Moment::now()), |text| input::argument("--at", text, Moment::parse))
    }

    /// The same, shown in this machine's time zone where it is the clock's.
    #[cfg(feature = "journal")]
    fn local_moment(&self) -> Result<Moment, input::Refused> {
        let moment = self.moment()?;
        Ok(if self.at.is_some() { moment } else { moment.local() })
    }
}

/// Runs one command line and gives its answer; writes nothing but files that were asked for and the lines of a batch.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> Answer {
    let cli = match Cli::try_parse_from(arguments) {
        Ok(cli) => cli,
        Err(error) => return Answer::of_command_line(&error),
    };
    match cli.command {
        Command::Rate(args) => rate::run(&args),
        Command::Dose(args) => dose::run(&args),
        Command::Prepare(args) => prepare::run(&args),
        Command::Strengths(args) => strengths::run(&args),
        Command::Delivery(args) => delivery::run(&args),
        Command::Check(args) => check::run(&args),
        Command::Agree(args) => agree::run(&args),
        Command::Example(args) => example::run(&args),
        #[cfg(feature = "journal")]
        Command::People(command) => people::run(&command),
        #[cfg(feature = "journal")]
        Command::Case(command) => case::run(&command),
        #[cfg(feature = "journal")]
        Command::Record(command) => record::run(&command),
        Command::Formulary(command) => formulary::run(&command),
        #[cfg(feature = "journal")]
        Command::Journal(command) => journal::run(&command),
        Command::Explain(args) => explain::run(&args),
        #[cfg(feature = "web")]
        Command::Serve(args) => serve::run(&args),
        #[cfg(feature = "web")]
        Command::Practice(args) => practice::run(&args),
    }
}

/// Says that the program fell over, and gives the exit code.
#[must_use]
pub fn fell_over(panic: &dyn std::any::Any) -> u8 {
    let said = panic.downcast_ref::<&str>().copied().or_else(|| panic.downcast_ref::<String>().map(String::as_str));
    Answer::fault(said.unwrap_or("the program fell over")).write()
}

/// From here on a panic ends the request in which it happened, with a refusal that shows no number, and not the server
/// that everybody else uses. It is told on the standard error.
#[cfg(feature = "web")]
fn go_on_after_a_panic() {
    std::panic::set_hook(Box::new(|panic| {
        let at = panic.location().map(|at| format!(" ({}:{})", at.file(), at.line())).unwrap_or_default();
        // What the panic says may hold what somebody typed: only the place is printed.
        let _ = std::io::Write::write_all(
            &mut std::io::stderr(),
            format!("A request fell over{at}. It was refused; the server goes on. Report this.\n").as_bytes(),
        );
    }));
}

#[cfg(test)]
mod tests {
    // hazard: H-ARITHMETIC
    #[test]
    fn a_program_that_fell_over_ends_with_70() {
        let panic = std::panic::catch_unwind(|| panic!("a test")).expect_err("it fell over");
        assert_eq!(super::fell_over(panic.as_ref()), 70);
    }
}
