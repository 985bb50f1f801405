//! `dose`: the sum from a rate in mL/h back to a dose.

use std::fmt::Write as _;

use clap::Args;
use serde::Serialize;

use crate::infusion::rate::dose_at;
use crate::infusion::working;
use crate::quantity::{DoseRateUnit, FlowRate, Strength, exact_or_about};

use super::answer::Answer;
use super::input::{Refused, argument, optional};
use super::rate::{BodyArgs, refuse};
use super::report::{Exact, NOT_DOUBLE_CHECKED, Valued};
use super::{Common, Exit, Format};

#[derive(Debug, Args)]
pub(super) struct DoseArgs {
    /// The rate: "3.6 mL/h", as typed or as `rate` printed it
    #[arg(long, allow_hyphen_values = true)]
    rate: String,
    #[command(flatten)]
    body: BodyArgs,
    /// The strength: "500 mcg/mL", "4 mg in 50 mL", "1 %", "1:10 000"
    #[arg(long, allow_hyphen_values = true)]
    strength: Option<String>,
    /// The unit of the dose: mcg/kg/min
    #[arg(long, allow_hyphen_values = true)]
    unit: String,
    #[command(flatten)]
    common: Common,
}

#[derive(Debug, Serialize)]
struct DoseJson<'w> {
    version: u8,
    dose: Valued,
    exact: Exact,
    working: &'w [String],
}

pub(super) fn run(args: &DoseArgs) -> Answer {
    match answer(args) {
        Ok(answer) => answer,
        Err(refused) => Answer::refused(&refused, args.common.format),
    }
}

fn answer(args: &DoseArgs) -> Result<Answer, Refused> {
    let rate = argument("--rate", &args.rate, FlowRate::parse_computed)?;
    let unit = argument("--unit", &args.unit, DoseRateUnit::parse)?;
    let strength = optional("--strength", args.strength.as_ref(), Strength::parse)?;
    let (body, mut working) = args.body.read()?;
    let dose = match dose_at(rate.value(), unit, body, strength) {
        Ok(dose) => dose,
        Err(no_rate) => return refuse(&no_rate),
    };
    match working::from_rate(rate, unit, body, strength, dose) {
        Ok(lines) => working.extend(lines),
        Err(too_large) => return refuse(&too_large.into()),
    }
    Ok(match args.common.format {
        Format::Json => {
            let json =
                DoseJson { version: 1, dose: Valued::of(dose, unit), exact: Exact::of(dose, unit), working: &working };
            Answer::json(&json, Exit::Proceed)
        }
        Format::Text => {
            let mut text = format!("{} {unit}\n\n", exact_or_about(dose));
            for line in &working {
                let _ = writeln!(text, "  {line}");
            }
            let _ = writeln!(text, "\n{NOT_DOUBLE_CHECKED}");
            Answer::text(text, Exit::Proceed)
        }
    })
}
