//! `delivery`: what leaves the syringe, and when, for a line, a syringe, a driver and a rate.

use std::fmt::Write as _;
use std::path::PathBuf;

use clap::{Args, ValueEnum};
use serde_json::json;

use crate::card::{DEMONSTRATION, wrapped};
use crate::delivery::statements::{Beside, Part, Statement, centimetres, rests_on, taken_for_granted, told};
use crate::delivery::{Circumstances, Delivery, DeliverySetUp, Purge, Solution, length_of, volume_of};
use crate::diagnostic::Fault;
use crate::entry::{Access, LineFilled};
use crate::formulary::Formulary;
use crate::infusion::Computed;
use crate::quantity::{FlowRate, Length, Quantity, Volume, clip, exact_or_about};

use super::answer::Answer;
use super::entry_file::{CommandError, read};
use super::input::{FormularyArg, Refused, argument, optional};
use super::rate::word;
use super::{Common, Exit, Format, Now};

#[derive(Debug, Args)]
pub(super) struct DeliveryArgs {
    /// An entry, whose set-up is taken; what is named beside it counts instead
    entry: Option<PathBuf>,
    /// The key of a syringe or bag
    #[arg(long, value_name = "KEY")]
    container: Option<String>,
    /// The key of a line
    #[arg(long, value_name = "KEY")]
    line: Option<String>,
    /// The key of a driver
    #[arg(long, value_name = "KEY")]
    driver: Option<String>,
    /// The rate: "2 mL/h"
    #[arg(long, value_name = "RATE")]
    rate: Option<String>,
    /// from this syringe, already full, with diluent or empty
    #[arg(long, value_name = "HOW")]
    line_filled: Option<String>,
    /// central or peripheral
    #[arg(long, value_name = "WHERE")]
    access: Option<String>,
    /// Dead space after the line, catheter and shared part [default: published catheters]
    #[arg(long, value_name = "VOLUME")]
    beyond: Option<String>,
    /// How the driver was prepared
    #[arg(long, value_enum, default_value = "on-the-driver")]
    purged: Purged,
    /// Stopcocks after the line
    #[arg(long, value_name = "N", default_value = "0")]
    stopcocks: u8,
    /// What is in the syringe
    /// [default: as the formulary says of an entry's drug, else dissolved]
    #[arg(long, value_enum)]
    solution: Option<SyringeContents>,
    /// A carrier's rate through the dead space after the line: "10 mL/h"
    #[arg(long, value_name = "RATE")]
    carrier: Option<String>,
    /// The rate that the carrier is changed to
    #[arg(long, value_name = "RATE", requires = "carrier")]
    carrier_becomes: Option<String>,
    /// Air in syringe and line: "0.5 mL"
    #[arg(long, value_name = "VOLUME")]
    air: Option<String>,
    /// A valve that needs pressure to open is in the line
    #[arg(long)]
    valve: bool,
    /// A filter is in the line
    #[arg(long)]
    filter: bool,
    /// Further drivers run into the same line
    #[arg(long)]
    several_drivers: bool,
    /// The line was connected to a closed tap
    #[arg(long)]
    connected_closed: bool,
    /// The driver is raised by this: "50 cm"
    #[arg(long, value_name = "HEIGHT", conflicts_with = "lowered")]
    raised: Option<String>,
    /// The driver is lowered by this: "50 cm"
    #[arg(long, value_name = "HEIGHT")]
    lowered: Option<String>,
    /// The bore of the syringe that the driver takes it for, "2.9 cm", where it is another
    #[arg(long, value_name = "BORE", requires = "bore")]
    taken_for_bore: Option<String>,
    /// The bore of the syringe in the driver: "1.9 cm"
    #[arg(long, value_name = "BORE", requires = "taken_for_bore")]
    bore: Option<String>,
    /// Also the publications and sums that it rests on
    #[arg(long)]
    sources: bool,
    #[command(flatten)]
    formulary: FormularyArg,
    #[command(flatten)]
    now: Now,
    #[command(flatten)]
    common: Common,
}

/// How the driver was prepared.
#[derive(Debug, Clone, Copy, ValueEnum)]
enum Purged {
    /// It pushed fluid through the line before that was connected.
    OnTheDriver,
    /// It did not.
    Not,
    /// It has been running at about this rate.
    Running,
}

/// What is in the syringe.
#[derive(Debug, Clone, Copy, ValueEnum)]
enum SyringeContents {
    /// A dissolved drug of small molecules.
    Dissolved,
    /// A dissolved protein.
    Protein,
    /// An emulsion or a suspension.
    Emulsion,
    /// A drug that sticks to plastic.
    SticksToPlastic,
}

/// Whose estimates they are not.
const NO_ORDER: &str = "Estimates of physics, not of an effect. Nothing here is a reason to change a rate or to give a bolus. Do not flush the dead space into the patient.";

pub(super) fn run(args: &DeliveryArgs) -> Answer {
    estimated(args).unwrap_or_else(|no_answer| no_answer.said(args.common.format))
}

fn estimated(args: &DeliveryArgs) -> Result<Answer, CommandError> {
    let formulary = args.formulary.open_whole()?;
    let computed = match &args.entry {
        Some(path) => Some(Computed::of(read(path)?, &formulary, args.now.moment()?).map_err(Refused::from)?),
        None => None,
    };
    let asked = DeliveryRequest::of(args, &formulary, computed.as_ref())?;
    let delivery = Delivery::of(asked.set_up, &asked.how).map_err(|no_flow| {
        Refused::one("--rate", Fault::new("rate-nothing", no_flow.to_string()).help("name the rate: --rate \"2 mL/h\""))
    })?;
    let all = told(&delivery, &asked.beside);
    Ok(match args.common.format {
        Format::Json => Answer::json(&as_data(&formulary, &asked, &all), Exit::Proceed),
        Format::Text => Answer::text(text(&formulary, &asked, &all, args.sources), Exit::Proceed),
    })
}

/// Everything that is asked, found.
struct DeliveryRequest<'f> {
    set_up: DeliverySetUp<'f>,
    how: Circumstances,
    beside: Beside,
}

impl<'f> DeliveryRequest<'f> {
    fn of(args: &DeliveryArgs, formulary: &'f Formulary, computed: Option<&Computed<'f>>) -> Result<Self, Refused> {
        let equipment = formulary.equipment();
        let entry = computed.map(Computed::entry);
        let container = named("--container", args.container.as_deref().or(entry.map(|entry| entry.container())))?;
        let line = named("--line", args.line.as_deref().or(entry.map(|entry| entry.line())))?;
        let driver = named("--driver", args.driver.as_deref().or(entry.map(|entry| entry.driver())))?;
        let keys = |all: Vec<&str>| format!("write one of: {}", all.join(", "));
        let container = equipment.container(container).ok_or_else(|| {
            unknown("--container", container, keys(equipment.containers.iter().map(|one| one.key.as_str()).collect()))
        })?;
        let line = equipment.line(line).ok_or_else(|| {
            unknown("--line", line, keys(equipment.lines.iter().map(|one| one.key.as_str()).collect()))
        })?;
        let driver = equipment.driver(driver).ok_or_else(|| {
            unknown("--driver", driver, keys(equipment.drivers.iter().map(|one| one.key.as_str()).collect()))
        })?;
        if !driver.takes(container) {
            let message = format!("`{}` does not take `{}`", driver.key, container.key);
            let fault = Fault::new("driver-does-not-take-container", message);
            return Err(Refused::one("--driver", fault.help(format!("it takes: {}", driver.accepts.join(", ")))));
        }
        let rate = match (&args.rate, computed.map(Computed::sum)) {
            (Some(text), _) => argument("--rate", text, FlowRate::parse)?.value(),
            (None, Some(Ok(sum))) => sum.set,
            (None, Some(Err(_))) => {
                let fault = Fault::new("rate-missing", "no rate follows from this entry");
                return Err(Refused::one("entry", fault.help("run `countersign check` on it, or name a rate: --rate")));
            }
            (None, None) => {
                let fault = Fault::new("rate-missing", "no rate is named");
                return Err(Refused::one("--rate", fault.help("name the rate: --rate \"2 mL/h\"")));
            }
        };
        let filled = match &args.line_filled {
            Some(text) => word("--line-filled", text, LineFilled::WORDS, LineFilled::written)?,
            None => entry.map_or(LineFilled::FromThisSyringe, |entry| entry.line_filled()),
        };
        let access = match &args.access {
            Some(text) => word("--access", text, Access::WORDS, Access::written)?,
            None => entry.map_or(Access::Peripheral, |entry| entry.access()),
        };
        let purge = match args.purged {
            Purged::OnTheDriver => Purge::OnTheDriver,
            Purged::Not => Purge::Not,
            Purged::Running => Purge::Running,
        };
        let flow = |name, text: &Option<String>| {
            Ok::<_, Refused>(optional(name, text.as_ref(), FlowRate::parse)?.map(FlowRate::value))
        };
        let length = |name, text: &Option<String>| optional(name, text.as_ref(), Quantity::<Length>::parse);
        let carrier = flow("--carrier", &args.carrier)?;
        let beyond = optional("--beyond", args.beyond.as_ref(), Quantity::<Volume>::parse_or_zero)?;
        let air = optional("--air", args.air.as_ref(), Quantity::<Volume>::parse_or_zero)?;
        let of_entry =
            computed.map_or(Solution::SmallMolecules, |computed| Circumstances::of(computed, purge).solution);
        let mut how = Circumstances {
            beyond: beyond.or_else(|| entry.and_then(|entry| entry.beyond())),
            stopcocks: args.stopcocks,
            carrier,
            solution: args.solution.map_or(of_entry, SyringeContents::solution),
            several_drivers: args.several_drivers,
            valve: args.valve,
            filter: args.filter,
            connected_closed: args.connected_closed,
            ..Circumstances::plain(purge, filled, access)
        };
        if let Some(air) = air {
            how.air = volume_of(air);
        }
        let raised = length("--raised", &args.raised)?.map(length_of);
        let lowered = length("--lowered", &args.lowered)?.map(|by| centimetres(0.0) - length_of(by));
        let bores = match (length("--taken-for-bore", &args.taken_for_bore)?, length("--bore", &args.bore)?) {
            (Some(entered), Some(loaded)) => Some((length_of(entered), length_of(loaded))),
            _ => None,
        };
        let carrier_becomes = match &args.carrier_becomes {
            Some(text) => Some(argument("--carrier-becomes", text, FlowRate::parse)?.value()),
            None => None,
        };
        let beside = Beside { carrier, carrier_becomes, raised: raised.or(lowered), bores };
        Ok(Self { set_up: DeliverySetUp { container, line, driver, rate }, how, beside })
    }

    fn said(&self) -> String {
        let DeliverySetUp { container, line, driver, rate } = self.set_up;
        let beyond = match self.how.beyond {
            Some(beyond) => format!("{beyond} beyond the line"),
            None => format!("beyond the line as in published {} catheters", self.how.access),
        };
        format!(
            "`{}` in `{}`, line `{}` ({}), filled {}, {beyond}, at {} mL/h",
            container.key,
            driver.key,
            line.key,
            line.priming_volume,
            self.how.filled,
            exact_or_about(rate)
        )
    }

    /// The one thing that helps most.
    fn do_this(&self) -> &'static str {
        match self.how {
            Circumstances { filled: LineFilled::Empty, .. } => "fill the line until no air is left",
            Circumstances { purge: Purge::Not, .. } => {
                "let the driver push until fluid comes, before the line is connected"
            }
            Circumstances { connected_closed: true, .. } => {
                "connect to an open line: a closed tap is put under pressure"
            }
            Circumstances { filled: LineFilled::WithDiluent, .. } => {
                "fill the line with the drug, or expect it that late"
            }
            _ => "start the driver early enough, and expect the end as late as the beginning",
        }
    }
}

fn text(formulary: &Formulary, asked: &DeliveryRequest<'_>, all: &[Statement], sources: bool) -> String {
    let mut text = String::new();
    if formulary.policy().demonstration {
        let _ = writeln!(text, "{DEMONSTRATION}\n");
    }
    wrapped(&mut text, "", &asked.said());
    let mut reasons: Vec<String> =
        all.iter().filter_map(|told| told.answer.as_ref().err()).map(ToString::to_string).collect();
    let mut seen = std::collections::BTreeSet::new();
    reasons.retain(|reason| seen.insert(reason.clone()));
    let number = |why: String| reasons.iter().position(|reason| *reason == why).map_or(0, |at| at + 1);
    for (part, heading) in HEADINGS {
        let some: Vec<&Statement> = all.iter().filter(|told| told.part == part).collect();
        if some.is_empty() {
            continue;
        }
        let _ = writeln!(text, "\n{heading}");
        for told in some {
            let answer = match &told.answer {
                Ok(range) => range.text.clone(),
                Err(why) => format!("not told ({})", number(why.to_string())),
            };
            wrapped(&mut text, "  ", &format!("{}: {answer}", told.what));
        }
    }
    if !reasons.is_empty() {
        text.push_str("\nNot told, because\n");
        for (at, reason) in reasons.iter().enumerate() {
            wrapped(&mut text, &format!("  ({}) ", at + 1), reason);
        }
    }
    let _ = writeln!(text, "\nDo: {}.\n\nAssumed", asked.do_this());
    for assumption in taken_for_granted(all) {
        wrapped(&mut text, "  - ", &assumption.to_string());
    }
    if sources {
        text.push_str("\nRests on\n");
        for source in rests_on(all) {
            wrapped(&mut text, "  - ", &source.to_string());
        }
    } else {
        text.push_str("\nWhat it rests on: --sources.\n");
    }
    text.push('\n');
    wrapped(&mut text, "", NO_ORDER);
    text
}

fn as_data(formulary: &Formulary, asked: &DeliveryRequest<'_>, all: &[Statement]) -> serde_json::Value {
    let answers: Vec<_> = all
        .iter()
        .map(|told| match &told.answer {
            Ok(range) => json!({
                "key": told.key,
                "what": told.what,
                "text": range.text,
                "low": range.edges_as_text().0,
                "high": range.edges_as_text().1,
                "unit": range.unit,
                "assumptions": range.assumptions.iter().map(ToString::to_string).collect::<Vec<_>>(),
                "sources": range.sources.iter().map(ToString::to_string).collect::<Vec<_>>(),
            }),
            Err(why) => json!({"key": told.key, "what": told.what, "not_modelled": why.to_string()}),
        })
        .collect();
    json!({
        "version": 1,
        "notice": formulary.policy().demonstration.then_some(DEMONSTRATION),
        "set_up": asked.said(),
        "answers": answers,
        "do": asked.do_this(),
        "caution": NO_ORDER,
    })
}

const HEADINGS: [(Part, &str); 5] = [
    (Part::Arrival, "From the driver to the patient"),
    (Part::Carrier, "Together with the carrier"),
    (Part::Blocked, "If the line is blocked"),
    (Part::Moved, "If the driver is moved"),
    (Part::Other, "Pressure and syringe"),
];

impl SyringeContents {
    const fn solution(self) -> Solution {
        match self {
            Self::Dissolved => Solution::SmallMolecules,
            Self::Protein => Solution::LargeMolecules,
            Self::Emulsion => Solution::Dispersed,
            Self::SticksToPlastic => Solution::SticksToWall,
        }
    }
}

fn named<'a>(option: &str, key: Option<&'a str>) -> Result<&'a str, Refused> {
    key.ok_or_else(|| {
        let fault = Fault::new("equipment-not-named", format!("{option} is missing, and no entry is given"));
        Refused::one(option, fault.help("name the set-up: --container, --line, --driver, --rate; or an entry's file"))
    })
}

fn unknown(option: &str, key: &str, help: String) -> Refused {
    let fault = Fault::new("equipment-unknown", format!("the formulary has no `{}`", clip(key)));
    Refused::one(option, fault.help(help))
}
