//! A bolus that the driver cannot give in the time it may take.

use crate::pharmacy::lint::patients::{stocked, volume, weights};
use crate::pharmacy::lint::rule::{Code, DrugSeen, Looks, Remarks, Rule};
use crate::quantity::{Quantity, Ratio, duration};

static NEVER: Code = Code::warning("bolus-never-in-time");

pub(super) const RULE: Rule = Rule { codes: &[&NEVER], looks: Looks::Drug(look) };

fn look(seen: &DrugSeen<'_>, remarks: &mut Remarks) {
    for indication in &seen.drug.indications {
        let Some(area) = seen.formulary.area(&indication.area) else { continue };
        let Some(bolus) = &indication.bolus else { continue };
        let Some(driver) = seen.formulary.equipment().driver(&area.standard.driver) else { continue };
        let usual = bolus.usual.as_ref().and_then(|usual| usual.to);
        let highest = usual.or_else(|| bolus.beyond.soft.as_ref().and_then(|soft| soft.to));
        let (Some(dose), Some(longest)) = (highest, bolus.over.to.map(Quantity::value)) else { continue };
        let weight = weights(area, indication).map(|weights| weights.heaviest);
        let takes = |volume: Ratio| volume.over(driver.bolus_rate.value()).ok();
        let times: Vec<Ratio> =
            stocked(seen.drug, indication).filter_map(|one| takes(volume(dose, one, weight)?)).collect();
        let Some(least) = times.into_iter().min().filter(|least| *least > longest) else { continue };
        let message = format!(
            "{dose} takes {} at the {} of `{}`, and may take {}",
            duration(least),
            driver.bolus_rate,
            driver.key,
            duration(longest)
        );
        let keys = ["areas", &indication.area, &indication.name, "bolus", "over"];
        remarks.add(&NEVER, &seen.drug.file, &keys, message);
    }
}
