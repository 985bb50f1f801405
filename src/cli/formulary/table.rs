//! `formulary table`: doses and rates of one drug, to read.

use clap::{Args, ValueEnum};

use crate::cli::answer::Answer;
use crate::cli::input::{FormularyArg, Refused, argument};
use crate::cli::{Exit, Format};
use crate::diagnostic::Fault;
use crate::formulary::Phase;
use crate::pharmacy::table::{self, TableRequest};
use crate::quantity::{BodyMass, Quantity, Unit};

#[derive(Debug, Args)]
pub(crate) struct TableArgs {
    /// The drug
    drug: String,
    /// The area
    #[arg(long, value_name = "AREA")]
    area: String,
    /// The indication, where the drug has several there
    #[arg(long, value_name = "NAME")]
    indication: Option<String>,
    /// start, maintenance, weaning or load [default: maintenance]
    #[arg(long, value_name = "PHASE")]
    phase: Option<String>,
    /// The key of a strength [default: the first of the indication]
    #[arg(long, value_name = "KEY")]
    strength: Option<String>,
    /// The key of a driver [default: the area's]
    #[arg(long, value_name = "KEY")]
    driver: Option<String>,
    /// A weight, `70 kg`; more than once for more columns [default: common weights of the area]
    #[arg(long, value_name = "WEIGHT")]
    weight: Vec<String>,
    #[command(flatten)]
    formulary: FormularyArg,
    /// How the answer is written
    #[arg(long, value_enum, default_value = "text")]
    format: TableFormat,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum TableFormat {
    /// For people.
    Text,
    /// One line for each rate.
    Csv,
    /// A page to be printed.
    Html,
}

pub(super) fn run(args: &TableArgs) -> Answer {
    asked(args).unwrap_or_else(|refused| Answer::refused(&refused, Format::Text))
}

fn asked(args: &TableArgs) -> Result<Answer, Refused> {
    let formulary = args.formulary.open_whole()?;
    let weights =
        args.weight.iter().map(|text| argument("--weight", text, Quantity::parse)).collect::<Result<_, _>>()?;
    for (text, weight) in args.weight.iter().zip::<&Vec<Quantity<BodyMass>>>(&weights) {
        if weight.unit() == Unit::Pound {
            let fault = Fault::new("weight-in-pounds", format!("`{}` is in pounds", crate::quantity::clip(text)));
            return Err(Refused::one("--weight", fault.help("write the weight in kg, as the card will")));
        }
    }
    let phase = args.phase.as_deref().map(phase).transpose()?;
    let asked = TableRequest {
        drug: &args.drug,
        area: &args.area,
        indication: args.indication.as_deref(),
        phase,
        strength: args.strength.as_deref(),
        driver: args.driver.as_deref(),
        weights,
    };
    let table = table::table(&formulary, &asked).map_err(|no_table| {
        Refused::one("table", Fault::new(no_table.code, no_table.message.clone()).help(no_table.help))
    })?;
    let written = match args.format {
        TableFormat::Text => table::text(&table),
        TableFormat::Csv => table::csv(&table),
        TableFormat::Html => table::html(&table),
    };
    Ok(Answer::text(written, Exit::Proceed))
}

fn phase(text: &str) -> Result<Phase, Refused> {
    Phase::written(text).ok_or_else(|| {
        let message = format!("`{}` is no phase", crate::quantity::clip(text));
        let help = format!("write one of: {}", Phase::WORDS.join(", "));
        Refused::one("--phase", Fault::new("phase-unknown", message).help(help))
    })
}
