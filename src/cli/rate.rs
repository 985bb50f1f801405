//! `rate`: the sum from a dose to a rate in mL/h.

use std::fmt::Write as _;

use clap::Args;
use serde::Serialize;

use crate::diagnostic::Fault;
use crate::formulary::{DosingWeight, SurfaceFormula};
use crate::infusion::body_size::{Derived, Sex, Size, body_surface, dosing_weight};
use crate::infusion::rate::{Body, RateError, dose_at, percent_off, rate_for};
use crate::infusion::working;
use crate::quantity::{
    Age, BodyMass, BodySurface, DoseRate, Length, Per, Quantity, Step, Strength, Unit, UnitKind, exact_or_about,
};

use super::answer::Answer;
use super::input::{Refused, argument, optional};
use super::report::{Exact, NOT_DOUBLE_CHECKED, Valued};
use super::{Common, Exit, Format};

#[derive(Debug, Args)]
pub(super) struct RateArgs {
    /// The dose with its unit: "0.5 mcg/kg/min"
    #[arg(long, allow_hyphen_values = true)]
    dose: String,
    #[command(flatten)]
    body: BodyArgs,
    /// The strength: "500 mcg/mL", "4 mg in 50 mL", "1 %", "1:10 000"
    #[arg(long, allow_hyphen_values = true)]
    strength: Option<String>,
    /// The driver's step: "0.1 mL/h", or none for the unrounded rate
    #[arg(long, default_value = "none", allow_hyphen_values = true)]
    step: String,
    #[command(flatten)]
    common: Common,
}

/// What a dose is counted against.
#[derive(Debug, Args)]
pub(super) struct BodyArgs {
    /// The weight: "60 kg"; g and lb are understood here and echoed in kg
    #[arg(long, allow_hyphen_values = true)]
    pub(super) weight: Option<String>,
    /// The body surface, for a dose per m2: "1.8 m2"
    #[arg(long, allow_hyphen_values = true)]
    bsa: Option<String>,
    /// Count by this weight instead: actual, ideal, lean, adjusted
    #[arg(long, value_name = "WHICH")]
    pub(super) dosing_weight: Option<String>,
    /// Work the body surface out by this formula: mosteller, "du bois"
    #[arg(long, value_name = "FORMULA", conflicts_with = "bsa")]
    bsa_by: Option<String>,
    /// The height, where a formula asks for it: "164 cm"
    #[arg(long, allow_hyphen_values = true)]
    height: Option<String>,
    /// The sex, where a formula asks for it: female, male
    #[arg(long)]
    sex: Option<String>,
    /// The age, where a formula asks for it: "40 years"
    #[arg(long, allow_hyphen_values = true)]
    age: Option<String>,
}

#[derive(Debug, Serialize)]
struct RateJson<'w> {
    version: u8,
    rate: Valued,
    exact: Exact,
    given: Valued,
    working: &'w [String],
}

pub(super) fn run(args: &RateArgs) -> Answer {
    match answer(args) {
        Ok(answer) => answer,
        Err(refused) => Answer::refused(&refused, args.common.format),
    }
}

fn answer(args: &RateArgs) -> Result<Answer, Refused> {
    let dose = argument("--dose", &args.dose, DoseRate::parse)?;
    let strength = optional("--strength", args.strength.as_ref(), Strength::parse)?;
    let step = argument("--step", &args.step, Step::parse)?;
    let (body, mut working) = args.body.read()?;
    let exact = match rate_for(dose, body, strength) {
        Ok(exact) => exact,
        Err(no_rate) => return refuse(&no_rate),
    };
    match working::from_dose(dose, body, strength, exact) {
        Ok(lines) => working.extend(lines),
        Err(too_large) => return refuse(&too_large.into()),
    }
    if dose.unit().dose().kind() == UnitKind::Volume && strength.is_some() {
        working.push("the strength is not used: the dose is a volume".to_owned());
    }
    working.extend(args.body.unused(dose));
    let (set, given) = match step {
        Step::None => {
            working.push("not rounded: no step is given".to_owned());
            (exact, dose.number().ratio())
        }
        Step::Of(step) => {
            let set = exact.to_nearest(step.value()).map_err(|error| unusable(&error.into()))?;
            if set.is_zero() {
                return refuse(&RateError::RoundsToNothing { step: step.to_string() });
            }
            working.push(working::rounded(exact, set, step));
            match dose_at(set, dose.unit(), body, strength) {
                Ok(given) => (set, given),
                Err(no_rate) => return refuse(&no_rate),
            }
        }
    };
    Ok(match args.common.format {
        Format::Json => {
            let json = RateJson {
                version: 1,
                rate: Valued::of(set, "mL/h"),
                exact: Exact::of(exact, "mL/h"),
                given: Valued::of(given, dose.unit()),
                working: &working,
            };
            Answer::json(&json, Exit::Proceed)
        }
        Format::Text => {
            let mut text = format!("{} mL/h\n\n", exact_or_about(set));
            for line in &working {
                let _ = writeln!(text, "  {line}");
            }
            let off = percent_off(given, dose).map_err(|error| unusable(&error.into()))?;
            let off = working::off(off, given, dose).map_or_else(String::new, |off| format!(", {off}"));
            let _ = writeln!(text, "  gives {} {}{off}\n\n{NOT_DOUBLE_CHECKED}", exact_or_about(given), dose.unit());
            Answer::text(text, Exit::Proceed)
        }
    })
}

impl BodyArgs {
    /// What was typed and a dose does not count by: said, so that nobody takes it for counted.
    fn unused(&self, dose: DoseRate) -> Option<String> {
        let per = dose.unit().dose().per();
        let surface = self.bsa.is_some() || self.bsa_by.is_some();
        let by_a_formula = self.bsa_by.is_some();
        match per {
            Per::Kilogram if self.bsa.is_some() => Some("the body surface is not used: the dose is per kg".to_owned()),
            Per::SquareMetre if self.weight.is_some() && !by_a_formula => {
                Some("the weight is not used: the dose is per m2".to_owned())
            }
            Per::Patient if self.weight.is_some() => {
                Some("the weight is not used: the dose is neither per kg nor per m2".to_owned())
            }
            Per::Patient if surface => {
                Some("the body surface is not used: the dose is neither per kg nor per m2".to_owned())
            }
            _ => None,
        }
    }

    /// Weight and surface as given or worked out, with the lines that say so.
    pub(super) fn read(&self) -> Result<(Body, Vec<String>), Refused> {
        let weight = optional("--weight", self.weight.as_ref(), Quantity::<BodyMass>::parse)?;
        let surface = optional("--bsa", self.bsa.as_ref(), Quantity::<BodySurface>::parse)?;
        let height = optional("--height", self.height.as_ref(), Quantity::<Length>::parse)?;
        let age = optional("--age", self.age.as_ref(), Age::parse)?;
        let sex = self.sex.as_ref().map(|sex| {
            word("--sex", sex, &["female", "male"], |text| match text {
                "female" => Some(Sex::Female),
                "male" => Some(Sex::Male),
                _ => None,
            })
        });
        let sex = sex.transpose()?;
        let mut lines = Vec::new();
        let mut body = Body { weight: weight.map(Quantity::value), surface: surface.map(Quantity::value) };
        if let Some(weight) = weight.filter(|weight| weight.unit() != Unit::Kilogram) {
            lines.push(working::about_once(format!("{weight} = {} kg", exact_or_about(weight.value()))));
        }
        let which = self
            .dosing_weight
            .as_ref()
            .map(|which| word("--dosing-weight", which, DosingWeight::WORDS, DosingWeight::written));
        let formula = self
            .bsa_by
            .as_ref()
            .map(|formula| word("--bsa-by", formula, SurfaceFormula::WORDS, SurfaceFormula::written));
        let (which, formula) = (which.transpose()?, formula.transpose()?);
        if which.is_none() && formula.is_none() {
            return Ok((body, lines));
        }
        let Some(weight) = body.weight else {
            let fault = Fault::new(
                "weight-missing",
                "a dosing weight or body surface is worked out from the weight, and none is given",
            );
            return Err(Refused::one(
                "--weight",
                fault.in_field("--weight").help("give the weight: --weight \"60 kg\""),
            ));
        };
        let adult = age.map(|age| Size::is_adult(age.days()));
        let size = Size { weight, height: height.map(Quantity::value), sex, adult };
        let mut take = |found: Result<Derived, crate::infusion::body_size::NoSize>| match found {
            Ok(derived) => {
                lines.push(derived.working);
                Ok(derived.value)
            }
            Err(error) => {
                let fault = Fault::new("size-missing", error.to_string()).help(error.help());
                Err(Refused::one(&error.field().replace("patient.born", "--age").replace("patient.", "--"), fault))
            }
        };
        if let Some(which) = which {
            body.weight = Some(take(dosing_weight(which, size))?);
        }
        if let Some(formula) = formula {
            body.surface = Some(take(body_surface(formula, size))?);
        }
        Ok((body, lines))
    }
}

pub(super) fn word<T>(
    name: &str,
    text: &str,
    words: &[&str],
    written: impl FnOnce(&str) -> Option<T>,
) -> Result<T, Refused> {
    written(text.trim()).ok_or_else(|| {
        let message = format!("`{}` is not known here", crate::quantity::clip(text));
        Refused::one(
            name,
            Fault::new("word-unknown", message).in_field(name).help(format!("write one of: {}", words.join(", "))),
        )
    })
}

/// A rate that cannot be worked out: refused, unless the program itself is at fault.
pub(super) fn refuse(no_rate: &RateError) -> Result<Answer, Refused> {
    if matches!(no_rate, RateError::RoutesDiffer(_)) {
        Ok(Answer::fault(&no_rate.to_string()))
    } else {
        Err(unusable(no_rate))
    }
}

pub(super) fn unusable(no_rate: &RateError) -> Refused {
    let option = match no_rate {
        RateError::WeightMissing { .. } => "--weight",
        RateError::SurfaceMissing { .. } => "--bsa",
        RateError::StrengthMissing { .. } | RateError::KindsDiffer { .. } => "--strength",
        RateError::RoundsToNothing { .. } => "--step",
        RateError::TooLarge(_) | RateError::RoutesDiffer(_) => "--dose",
    };
    Refused::one(option, Fault::new("no-rate", no_rate.to_string()).in_field(option).help(no_rate.help()))
}
