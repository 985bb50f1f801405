//! `dose`: the sum from a rate in mL/h back to a dose; or what a set-up of a case gives now.

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
use super::{Exit, Format};
#[cfg(feature = "journal")]
use {
    super::desk::{CaseArgs, one_set_up},
    super::entry_file::CommandError,
    super::record::{BY_THE_RECORD, paragraph},
    crate::card::DEMONSTRATION,
    crate::diagnostic::Fault,
};

#[derive(Debug, Args)]
pub(super) struct DoseArgs {
    /// The rate: "3.6 mL/h", as typed or as `rate` printed it
    #[arg(long, allow_hyphen_values = true)]
    #[cfg_attr(feature = "journal", arg(required_unless_present = "case"))]
    #[cfg_attr(not(feature = "journal"), arg(required = true))]
    rate: Option<String>,
    #[command(flatten)]
    body: BodyArgs,
    /// The strength: "500 mcg/mL", "4 mg in 50 mL", "1 %", "1:10 000"
    #[arg(long, allow_hyphen_values = true)]
    strength: Option<String>,
    /// The unit of the dose: mcg/kg/min
    #[arg(long, allow_hyphen_values = true)]
    #[cfg_attr(feature = "journal", arg(required_unless_present = "case"))]
    #[cfg_attr(not(feature = "journal"), arg(required = true))]
    unit: Option<String>,
    /// What this set-up of a case gives now instead, by its record: K7M-4QX/1
    #[cfg(feature = "journal")]
    #[arg(long, value_name = "CODE", conflicts_with_all = ["rate", "strength", "unit", "weight", "bsa", "dosing_weight", "bsa_by", "height", "sex", "age"])]
    case: Option<String>,
    #[cfg(feature = "journal")]
    #[command(flatten)]
    desk: CaseArgs,
    #[cfg(not(feature = "journal"))]
    #[command(flatten)]
    common: super::Common,
}

impl DoseArgs {
    #[cfg(feature = "journal")]
    const fn format(&self) -> Format {
        self.desk.format()
    }

    #[cfg(not(feature = "journal"))]
    const fn format(&self) -> Format {
        self.common.format
    }
}

#[derive(Debug, Serialize)]
struct DoseJson<'w> {
    version: u8,
    dose: Valued,
    exact: Exact,
    working: &'w [String],
}

pub(super) fn run(args: &DoseArgs) -> Answer {
    #[cfg(feature = "journal")]
    if let Some(code) = &args.case {
        return by_the_record(code, &args.desk).unwrap_or_else(|no_answer| no_answer.said(args.format()));
    }
    match answer(args) {
        Ok(answer) => answer,
        Err(refused) => Answer::refused(&refused, args.format()),
    }
}

/// What a set-up gives now: by what was recorded, whatever its driver does.
#[cfg(feature = "journal")]
fn by_the_record(code: &str, desk: &CaseArgs) -> Result<Answer, CommandError> {
    let (cases, now) = desk.open()?;
    let code = one_set_up(&cases, code)?;
    let case = cases.case(code.case)?;
    let Some(course) = case.course(case.set_up(code.number)?, now)? else {
        let fault = Fault::new("not-started", format!("{code} is not recorded as started"))
            .help(format!("record the start: `countersign record start {code}`; its card says what was agreed"));
        return Err(Refused::one("--case", fault).into());
    };
    let basis = &course.syringe().basis;
    if basis.sealed {
        let fault = Fault::new("not-agreed", format!("{code} runs, and two people have not agreed on it"))
            .help(format!("what it gives is shown when they have: `countersign case second {code}`"));
        return Err(Refused::one("--case", fault).into());
    }
    let given = crate::case::data::GivenNow::of(&course)?;
    let notice = cases.journal().is_demonstration().then_some(DEMONSTRATION);
    let strength = &basis.strength_on_label;
    Ok(match desk.format() {
        Format::Json => {
            let json = serde_json::json!({
                "version": 1, "notice": notice, "set_up": code.to_string(), "at": now.to_rfc3339(), "drug": basis.drug,
                "strength": strength, "driver": basis.driver(), "double_checked": basis.agreed, "now": given,
            });
            Answer::json(&json, Exit::Proceed)
        }
        Format::Text => {
            let mut text = notice.map(|notice| format!("{notice}\n")).unwrap_or_default();
            if let Some(dose) = course.flowing().map(|rate| basis.dose_shown(rate)).transpose()? {
                let _ = writeln!(text, "{dose}\n");
            }
            paragraph(&mut text, "  ", &format!("{code}: {}, {strength}, driver {}", basis.drug, basis.driver()));
            paragraph(&mut text, "  ", &format!("{}, as of {now}", given.says));
            if !basis.agreed {
                text.push_str("  NOT DOUBLE-CHECKED\n");
            }
            let _ = writeln!(text, "\n{BY_THE_RECORD}");
            Answer::text(text, Exit::Proceed)
        }
    })
}

fn answer(args: &DoseArgs) -> Result<Answer, Refused> {
    let rate = argument("--rate", args.rate.as_deref().unwrap_or_default(), FlowRate::parse_computed)?;
    let unit = argument("--unit", args.unit.as_deref().unwrap_or_default(), DoseRateUnit::parse)?;
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
    Ok(match args.format() {
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
