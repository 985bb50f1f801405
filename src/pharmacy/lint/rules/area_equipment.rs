//! Standard equipment of an area that the checks remark on every time.

use crate::formulary::{DriverKind, LineKind};
use crate::pharmacy::lint::rule::{AllSeen, Code, Looks, Remarks, Rule};

static WIDE: Code = Code::warning("standard-line-wide");

pub(super) const RULE: Rule = Rule { codes: &[&WIDE], looks: Looks::All(look) };

fn look(seen: &AllSeen<'_>, remarks: &mut Remarks) {
    let equipment = seen.formulary.equipment();
    for area in seen.formulary.areas() {
        let standard = &area.standard;
        let (line, driver) = (equipment.line(&standard.line), equipment.driver(&standard.driver));
        let is_wide = line.is_some_and(|line| line.kind != LineKind::Narrow);
        if is_wide && driver.is_some_and(|driver| driver.kind == DriverKind::SyringeDriver) {
            let message =
                format!("`{}` is not a narrow line, and `{}` is a syringe driver", standard.line, standard.driver);
            remarks.add(&WIDE, "areas.yaml", &[&area.name, "standard_equipment", "line"], message);
        }
    }
}
