//! A use of a drug as a person names it: drug, area, indication, phase; and the driver.

use crate::quantity::clip;

use super::area::Area;
use super::drug::{Drug, Indication};
use super::equipment::Driver;
use super::load::{Formulary, Lookup};
use super::words::Phase;

/// Names as typed.
#[derive(Debug, Clone, Copy, Default)]
pub struct Named<'a> {
    /// The drug.
    pub drug: &'a str,
    /// The area.
    pub area: &'a str,
    /// The indication; left out where the drug has one there.
    pub indication: Option<&'a str>,
    /// The phase; maintenance, or else the first, where it is left out.
    pub phase: Option<Phase>,
}

/// What they lead to.
#[derive(Debug, Clone, Copy)]
pub struct Use<'f> {
    /// The drug.
    pub drug: &'f Drug,
    /// The area.
    pub area: &'f Area,
    /// The indication.
    pub indication: &'f Indication,
    /// The phase.
    pub phase: Phase,
}

/// A name that leads nowhere.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{message}")]
pub struct NotNamed {
    /// Kebab-case, stable.
    pub code: &'static str,
    /// What was found.
    pub message: String,
    /// What to write instead.
    pub help: String,
}

impl Formulary {
    /// A use of a drug, everything named found.
    ///
    /// # Errors
    /// [`NotNamed`], with what to write instead.
    pub fn used(&self, asked: &Named<'_>) -> Result<Use<'_>, NotNamed> {
        let drug = self.drug_named(asked.drug)?;
        let Some(area) = self.area(asked.area) else {
            let names: Vec<&str> = self.areas().iter().map(|area| area.name.as_str()).collect();
            let message = format!("the formulary has no area `{}`", clip(asked.area));
            return Err(refuse("area-unknown", message, format!("write one of: {}", names.join(", "))));
        };
        let uses: Vec<&Indication> = drug.indications.iter().filter(|one| one.area == area.name).collect();
        let names = || uses.iter().map(|one| one.name.as_str()).collect::<Vec<_>>().join(", ");
        let indication = match (asked.indication, uses.as_slice()) {
            (_, []) => {
                let areas: Vec<&str> = drug.indications.iter().map(|one| one.area.as_str()).collect();
                let message = format!("{} has no limits in {}", drug.name, area.name);
                return Err(refuse("drug-not-in-area", message, format!("it has limits in: {}", areas.join(", "))));
            }
            (None, [only]) => *only,
            (None, _) => {
                let message = format!("{} has several indications in {}", drug.name, area.name);
                return Err(refuse(
                    "indication-not-named",
                    message,
                    format!("write --indication with one of: {}", names()),
                ));
            }
            (Some(name), all) => {
                *all.iter().find(|one| one.name.eq_ignore_ascii_case(name.trim())).ok_or_else(|| {
                    let message = format!("{} has no indication `{}` in {}", drug.name, clip(name), area.name);
                    refuse("indication-unknown", message, format!("write one of: {}", names()))
                })?
            }
        };
        let has = |phase: &Phase| indication.limits(*phase).is_some();
        let phases: Vec<Phase> = indication.phases.iter().map(|(phase, _)| *phase).collect();
        let phase = match asked.phase {
            Some(phase) => Some(phase).filter(has),
            None => Some(Phase::Maintenance).filter(has).or_else(|| phases.first().copied()),
        };
        let phase = phase.ok_or_else(|| {
            let known: Vec<&str> = phases.iter().map(|phase| phase.word()).collect();
            let message = format!("{} has no limits for this phase in {}", drug.name, area.name);
            refuse("phase-without-limits", message, format!("write --phase with one of: {}", known.join(", ")))
        })?;
        Ok(Use { drug, area, indication, phase })
    }

    /// The drug of this name.
    ///
    /// # Errors
    /// [`NotNamed`], with names near it.
    pub fn drug_named(&self, name: &str) -> Result<&Drug, NotNamed> {
        match self.drug(name) {
            Lookup::Found(drug) => Ok(drug),
            Lookup::Unknown { near } => {
                let help = if near.is_empty() {
                    "look at the folder drugs".to_owned()
                } else {
                    format!("perhaps {}", near.join(", "))
                };
                Err(refuse("drug-unknown", format!("the formulary has no drug `{}`", clip(name)), help))
            }
            Lookup::Faulty(faulty) => Err(refuse("drug-faulty", faulty.to_string(), "run `formulary lint`".to_owned())),
        }
    }

    /// The driver of this key; the area's where none is named.
    ///
    /// # Errors
    /// [`NotNamed`], with the keys there are.
    pub fn driver_named(&self, key: Option<&str>, area: &Area) -> Result<&Driver, NotNamed> {
        let key = key.unwrap_or(&area.standard.driver);
        self.equipment().driver(key).ok_or_else(|| {
            let keys: Vec<&str> = self.equipment().drivers.iter().map(|driver| driver.key.as_str()).collect();
            refuse(
                "driver-unknown",
                format!("the formulary has no driver `{}`", clip(key)),
                format!("write one of: {}", keys.join(", ")),
            )
        })
    }
}

fn refuse(code: &'static str, message: String, help: String) -> NotNamed {
    NotNamed { code, message, help }
}
