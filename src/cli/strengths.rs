//! `strengths`: which of the stocked strengths lets the driver hold a dose.

use clap::Args;
use serde_json::json;

use crate::card::{DEMONSTRATION, wrapped};
use crate::check::strengths::{NotJudged, Strong, Wanted, shown, strengths};
use crate::diagnostic::Fault;
use crate::entry::Access;
use crate::formulary::{Container, DosingWeight, Formulary, Named, Phase, Use};
use crate::quantity::{BodyMass, DoseRate, Quantity, Unit, clip, duration, exact_or_about, plain};

use super::answer::Answer;
use super::input::{FormularyArg, Refused, argument};
use super::rate::{BodyArgs, word};
use super::report::NOT_DOUBLE_CHECKED;
use super::{Common, Exit, Format};

#[derive(Debug, Args)]
pub(super) struct StrengthsArgs {
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
    /// The dose with its unit: "0.05 mcg/kg/min"
    #[arg(long, allow_hyphen_values = true)]
    dose: String,
    #[command(flatten)]
    body: BodyArgs,
    /// The key of a driver [default: the area's]
    #[arg(long, value_name = "KEY")]
    driver: Option<String>,
    /// The key of a syringe or bag [default: the area's]
    #[arg(long, value_name = "KEY")]
    container: Option<String>,
    /// central or peripheral, where a strength may be too much for a vein
    #[arg(long, value_name = "WHERE")]
    access: Option<String>,
    #[command(flatten)]
    formulary: FormularyArg,
    #[command(flatten)]
    common: Common,
}

pub(super) fn run(args: &StrengthsArgs) -> Answer {
    judged(args).unwrap_or_else(|refused| Answer::refused(&refused, args.common.format))
}

fn judged(args: &StrengthsArgs) -> Result<Answer, Refused> {
    let formulary = args.formulary.open_whole()?;
    let phase = args.phase.as_deref().map(|text| word("--phase", text, Phase::WORDS, Phase::written)).transpose()?;
    let access =
        args.access.as_deref().map(|text| word("--access", text, Access::WORDS, Access::written)).transpose()?;
    let named = Named { drug: &args.drug, area: &args.area, indication: args.indication.as_deref(), phase };
    let used = formulary.used(&named)?;
    let driver = formulary.driver_named(args.driver.as_deref(), used.area)?;
    let container = container(&formulary, &used, args.container.as_deref())?;
    let dose = argument("--dose", &args.dose, DoseRate::parse)?;
    let pounds = args.body.weight.as_deref().and_then(|text| Quantity::<BodyMass>::parse(text).ok());
    if pounds.is_some_and(|weight| weight.unit() == Unit::Pound) {
        let fault = Fault::new("weight-in-pounds", "the weight is in pounds");
        return Err(Refused::one("--weight", fault.help("write the weight in kg, as the card will")));
    }
    let offered = &used.indication.dosing_weights;
    let asked = args.body.dosing_weight.as_deref().and_then(|which| DosingWeight::written(which.trim()));
    if let Some(asked) = asked.filter(|asked| !offered.contains(asked)) {
        let all: Vec<&str> = offered.iter().map(|one| one.word()).collect();
        let fault = Fault::new("dosing-weight-not-local", format!("this use is not dosed by {asked} weight"));
        return Err(Refused::one("--dosing-weight", fault.help(format!("write one of: {}", all.join(", ")))));
    }
    let (body, working) = args.body.read()?;
    let wanted = Wanted { used, policy: formulary.policy(), dose, body, container, driver, access };
    let all = match strengths(&wanted) {
        Ok(all) => all,
        Err(NotJudged::RateError(no_rate)) => return super::rate::refuse(&no_rate),
        Err(not_judged) => {
            let fault = Fault::new(not_judged.code(), not_judged.to_string()).help(not_judged.help());
            return Err(Refused::one("strengths", fault));
        }
    };
    Ok(match args.common.format {
        Format::Json => Answer::json(&as_data(&formulary, &wanted, &all), Exit::Proceed),
        Format::Text => Answer::text(text(&formulary, &wanted, &all, &counted(args, &used), &working), Exit::Proceed),
    })
}

/// By which weight the dose is counted: the one that was asked for, else the use's own.
fn counted(args: &StrengthsArgs, used: &Use<'_>) -> String {
    let own = || used.indication.dosing_weights.first().map(|which| format!("{which} weight"));
    let asked = args.body.dosing_weight.as_ref().map(|which| format!("{} weight", which.trim()));
    asked.or_else(own).unwrap_or_else(|| "weight".to_owned())
}

fn text(formulary: &Formulary, wanted: &Wanted<'_>, all: &[Strong<'_>], counted: &str, working: &[String]) -> String {
    let mut text = String::new();
    if formulary.policy().demonstration {
        text.push_str(&format!("{DEMONSTRATION}\n\n"));
    }
    let Use { drug, area, indication, phase } = wanted.used;
    let counted = match wanted.body.weight {
        Some(weight) => format!(" for {} kg ({counted})", exact_or_about(weight)),
        None => String::new(),
    };
    for line in working {
        wrapped(&mut text, "", line);
    }
    wrapped(
        &mut text,
        "",
        &format!(
            "{}, {}, {}, {phase}: {}{counted}, `{}` in `{}`",
            drug.name, area.name, indication.name, wanted.dose, wanted.container.key, wanted.driver.key
        ),
    );
    text.push('\n');
    for (suits, heading) in [(true, "Suits"), (false, "Does not suit")] {
        let some: Vec<_> = all.iter().filter(|strong| strong.against.is_empty() == suits).collect();
        if some.is_empty() {
            continue;
        }
        text.push_str(&format!("{heading}:\n"));
        for strong in some {
            wrapped(&mut text, "  - ", &line(wanted, strong));
        }
    }
    if !all.iter().any(|strong| strong.against.is_empty()) {
        wrapped(
            &mut text,
            "",
            "No stocked strength suits: another syringe or driver, or the pharmacist is asked for a strength. None is made up that the formulary does not list.",
        );
    }
    text.push_str(&format!("\n{NOT_DOUBLE_CHECKED}\n"));
    text
}

fn line(wanted: &Wanted<'_>, strong: &Strong<'_>) -> String {
    let stocked = strong.stocked;
    let mut line = format!("{}: {stocked}, {}", stocked.key, strong.content.readable(stocked.amount_unit()));
    if let (Some(rate), Some(given), Some(lasts)) = (strong.rate, strong.given, strong.lasts) {
        let unit = wanted.dose.unit();
        line.push_str(&format!(
            ": {}, gives {} {unit}, a full `{}` lasts {}",
            shown(rate),
            exact_or_about(given),
            wanted.container.key,
            duration(lasts)
        ));
        if strong.outlasts_its_life {
            line.push_str(&format!(" (it keeps {})", wanted.used.drug.life));
        }
    }
    if !strong.against.is_empty() {
        line.push_str(&format!("; {}", strong.against.join("; ")));
    }
    line
}

fn as_data(formulary: &Formulary, wanted: &Wanted<'_>, all: &[Strong<'_>]) -> serde_json::Value {
    let strengths: Vec<_> = all
        .iter()
        .map(|strong| {
            json!({
                "strength": strong.stocked.key,
                "made_of": strong.stocked.to_string(),
                "per_ml": strong.content.readable(strong.stocked.amount_unit()),
                "suits": strong.against.is_empty(),
                "rate": strong.rate.map(|rate| json!({"value": plain(rate), "unit": "mL/h"})),
                "given": strong.given.map(|given| json!({"value": plain(given), "unit": wanted.dose.unit().to_string()})),
                "lasts": strong.lasts.map(|hours| json!({"value": plain(hours), "unit": "h"})),
                "outlasts_its_life": strong.outlasts_its_life,
                "against": strong.against,
            })
        })
        .collect();
    json!({
        "version": 1,
        "notice": formulary.policy().demonstration.then_some(DEMONSTRATION),
        "fingerprint": formulary.fingerprint().to_string(),
        "dose": wanted.dose.to_string(),
        "driver": wanted.driver.key,
        "container": wanted.container.key,
        "strengths": strengths,
    })
}

fn container<'f>(formulary: &'f Formulary, used: &Use<'_>, key: Option<&str>) -> Result<&'f Container, Refused> {
    let key = key.unwrap_or(&used.area.standard.container);
    formulary.equipment().container(key).ok_or_else(|| {
        let keys: Vec<&str> = formulary.equipment().containers.iter().map(|one| one.key.as_str()).collect();
        let fault = Fault::new("container-unknown", format!("the formulary has no container `{}`", clip(key)));
        Refused::one("--container", fault.help(format!("write one of: {}", keys.join(", "))))
    })
}
