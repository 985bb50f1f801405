//! Which drug of a formulary an order means: by its codes alone.

use crate::diagnostic::Fault;
use crate::formulary::{Formulary, Lookup};
use crate::quantity::clip;

use super::order::Ordered;

/// The name of the one drug that the codes of an order name here.
///
/// # Errors
/// A fault where they name none or two, or where the words beside a code name another drug.
pub fn ordered_drug(ordered: &Ordered, formulary: &Formulary) -> Result<String, Fault> {
    let mut named: Vec<&str> = Vec::new();
    for one in &ordered.codes {
        named.extend(formulary.drugs_of_code(&one.system, &one.code).into_iter().map(|drug| drug.name.as_str()));
    }
    named.sort_unstable();
    named.dedup();
    let drug = match named[..] {
        [one] => one,
        [] => {
            let codes: Vec<String> = ordered.codes.iter().map(|one| format!("{}|{}", one.system, one.code)).collect();
            let message = format!("no drug of this formulary has the code `{}`", clip(&codes.join("`, `")));
            let help = "the pharmacist names the drug's codes in its file: `codes`";
            return Err(Fault::new("order-drug-unknown", message).in_field("medication").help(help));
        }
        _ => {
            let message = format!("the codes of one order name several drugs: {}", named.join(", "));
            let help = "correct the order where it was written: it says two drugs";
            return Err(Fault::new("order-drug-contradicts", message).in_field("medication").help(help));
        }
    };
    for display in ordered.codes.iter().filter_map(|one| one.display.as_deref()) {
        if let Lookup::Found(other) = formulary.drug(display)
            && other.name != drug
        {
            let message = format!("the code means {drug}, and the words beside it {}", other.name);
            let help = "correct the order where it was written: it says two drugs";
            return Err(Fault::new("order-drug-contradicts", message).in_field("medication").help(help));
        }
    }
    Ok(drug.to_owned())
}
