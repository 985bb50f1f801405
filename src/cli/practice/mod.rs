//! `practice`: a ward of invented people at the bedside page, in a temporary folder that is removed at the end.

mod folder;
mod theatre;

use std::fmt::Write as _;
use std::io;
use std::net::{Ipv4Addr, SocketAddr, TcpListener};
use std::time::Duration;

use clap::Args;

use crate::card::{DEMONSTRATION, wrapped};
use crate::diagnostic::Fault;
use crate::formulary::Formulary;
use crate::quantity::Moment;
use crate::web::{Clock, Site, UntilAsked};

use super::answer::Answer;
use super::entry_file::CommandError;
use super::input::Refused;
use super::{Exit, Format};

use folder::PracticeFolder;
use theatre::Theatre;

#[derive(Debug, Args)]
pub(super) struct PracticeArgs {
    /// Where it listens, on this machine [default: 127.0.0.1:8440, or the next free port]
    #[arg(long, value_name = "ADDRESS:PORT")]
    address: Option<SocketAddr>,
}

/// The ports that are tried where none is named.
const PORTS: std::ops::RangeInclusive<u16> = 8440..=8499;

/// A visitor reads for a while before the next touch.
const IDLE: Duration = Duration::from_mins(60);

pub(super) fn run(args: &PracticeArgs) -> Answer {
    practise(args).unwrap_or_else(|no_answer| no_answer.said(Format::Text))
}

fn practise(args: &PracticeArgs) -> Result<Answer, CommandError> {
    let elsewhere = "COUNTERSIGN_STORE_KEY";
    if std::env::var_os(elsewhere).is_some_and(|path| !path.is_empty()) {
        let fault =
            Fault::new("key-elsewhere", "it names a file for the key of a journal, and a practice removes its key")
                .help("leave it out for this command: `env -u COUNTERSIGN_STORE_KEY countersign practice`");
        return Err(Refused::one(elsewhere, fault).into());
    }
    let listener = listen(args.address)?;
    // A signal from here on ends the command only after the folder is removed.
    let until = UntilAsked::watch().map_err(|error| not_possible("signals-not-watched", "practice", &error))?;
    let within = std::env::temp_dir();
    let folder = PracticeFolder::create(&within)
        .map_err(|error| not_possible("folder-not-made", &within.display().to_string(), &error))?;
    let served = serve(until, listener, &folder);
    let path = folder.path().display().to_string();
    let removed = folder.remove().map_err(|error| not_possible("folder-not-removed", &path, &error));
    served.and(removed)?;
    Ok(Answer::text("Ended. The practice folder is removed.\n".to_owned(), Exit::Proceed))
}

/// Fills the folder and serves it. Filling takes some 0.6 s of a processor in a development build, six derivations of a key
/// from a PIN among it.
fn serve(until: UntilAsked, listener: TcpListener, folder: &PracticeFolder) -> Result<(), CommandError> {
    let formulary = Formulary::demonstration().map_err(Refused::from)?;
    formulary.load_all().map_err(Refused::from)?;
    let theatre = Theatre::prepare(&folder.journal(), &formulary, Moment::now().local())?;
    let (before, after) = (before_the_address(&theatre), after_the_address(&theatre));
    let site = Site::new(theatre.cases, formulary, Clock::Machine, IDLE, false);
    let ready = |address| {
        // The visitor needs these lines while the command runs: they are written at once.
        let says = format!("{before}\nServing at http://{address}/\n\n{after}");
        let _ = Answer::text(says, Exit::Proceed).write();
    };
    super::go_on_after_a_panic();
    until.serve(site, listener, ready).map_err(|not_served| {
        let fault = Fault::new("not-served", not_served.to_string()).help(not_served.help());
        Refused::one("practice", fault).into()
    })
}

/// At the address that is named, else at the first free port.
fn listen(address: Option<SocketAddr>) -> Result<TcpListener, CommandError> {
    const HELP: &str = "name another one: --address 127.0.0.1:8500";
    let refused = |says: String| {
        let fault = Fault::new("not-served", says).help(HELP);
        CommandError::from(Refused::one("--address", fault))
    };
    match address {
        Some(address) if !address.ip().is_loopback() => {
            Err(refused(format!("{address} can be reached from other machines, and a practice is for this one alone")))
        }
        Some(address) => TcpListener::bind(address).map_err(|error| refused(format!("{address}: {error}"))),
        None => {
            for port in PORTS {
                match TcpListener::bind((Ipv4Addr::LOCALHOST, port)) {
                    Err(error) if error.kind() == io::ErrorKind::AddrInUse => {}
                    bound => return bound.map_err(|error| refused(format!("127.0.0.1:{port}: {error}"))),
                }
            }
            Err(refused(format!("the ports {} to {} are all in use", PORTS.start(), PORTS.end())))
        }
    }
}

fn not_possible(code: &'static str, what: &str, error: &io::Error) -> CommandError {
    let help = "look at the permissions and the room of the folder for temporary files (TMPDIR)";
    Refused::one(what, Fault::new(code, error.to_string()).help(help)).into()
}

/// What this is, and what the second person reads.
fn before_the_address(theatre: &Theatre) -> String {
    let mut out = format!("{DEMONSTRATION}\n");
    wrapped(
        &mut out,
        "",
        "Practice: invented staff and patients, limits of the demonstration. Stop it with Ctrl-C: everything in it disappears.",
    );
    let second = &theatre.staff[1].person.name;
    let _ = writeln!(out, "\nWhat {second} reads for the second entry of {}:", theatre.waits);
    let width = theatre.sheet.iter().map(|(says, _)| says.len()).max().unwrap_or_default();
    for (says, text) in &theatre.sheet {
        let _ = writeln!(out, "  {says:width$}  {text}");
    }
    out
}

/// Who may sign in, and what to do first.
fn after_the_address(theatre: &Theatre) -> String {
    let mut out = String::new();
    let names = theatre.staff.iter().map(|member| &member.person);
    let width = names.clone().map(|person| person.name.len()).max().unwrap_or_default();
    let role_width = names.map(|person| person.role.word().len()).max().unwrap_or_default();
    for member in &theatre.staff {
        let (name, role) = (&member.person.name, member.person.role.word());
        let _ = writeln!(out, "  {name:width$}  {role:role_width$}  PIN {}", member.pin);
    }
    let [first, second] = [&theatre.staff[0].person.name, &theatre.staff[1].person.name];
    let waits = theatre.waits;
    let _ = writeln!(out, "\nTry first:");
    let _ =
        writeln!(out, "  1. Sign in as {second} and enter {waits} as above: both entries agree, and the card appears.");
    let _ = writeln!(out, "  2. Sign in as {first}, start {waits}, and change its rate.");
    let _ = writeln!(out, "  3. Open an infusion that runs: what was given until now, and who did what.");
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_port_that_is_taken_is_passed_over() {
        let [first, second] = [(); 2].map(|()| listen(None).map_err(|_| ()).expect("a free port"));
        let [first, second] = [&first, &second].map(|one| one.local_addr().expect("its address"));
        assert!(first.ip().is_loopback() && PORTS.contains(&first.port()) && first.port() < second.port());
    }
}
