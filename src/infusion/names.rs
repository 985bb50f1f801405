//! What the typed names lead to in the formulary. A name that leads nowhere is kept with what was perhaps meant.

use crate::entry::Entry;
use crate::formulary::{Area, Container, DoseLimits, Driver, Drug, Faulty, Formulary, Indication, Line, Lookup};

/// The parts of the formulary that an entry names.
#[derive(Debug)]
pub struct Names<'f> {
    /// The drug, or names near the one that was typed.
    pub drug: Result<&'f Drug, Vec<String>>,
    /// The area.
    pub area: Option<&'f Area>,
    /// What the drug is used for in the area.
    pub indication: Result<&'f Indication, NoIndication>,
    /// The limits of the phase.
    pub limits: Option<&'f DoseLimits>,
    /// The syringe or bag.
    pub container: Option<&'f Container>,
    /// The line.
    pub line: Option<&'f Line>,
    /// The driver or pump.
    pub driver: Option<&'f Driver>,
}

/// Why a drug has no indication here.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NoIndication {
    /// The drug or the area is not known, which is said already.
    NameUnknown,
    /// The drug is not used in this area.
    NotInArea {
        /// Where it is used.
        areas: Vec<String>,
    },
    /// It has several indications here, and none was named.
    NotNamed {
        /// Which.
        indications: Vec<String>,
    },
    /// It has no indication of this name here.
    Unknown {
        /// Which it has.
        indications: Vec<String>,
    },
}

impl<'f> Names<'f> {
    /// Looks every name up.
    ///
    /// # Errors
    /// [`Faulty`] when the drug's file cannot be used.
    pub(super) fn of(entry: &Entry, formulary: &'f Formulary) -> Result<Self, Faulty> {
        let drug = match formulary.drug(entry.drug()) {
            Lookup::Found(drug) => Ok(drug),
            Lookup::Unknown { near } => Err(near),
            Lookup::Faulty(faulty) => return Err(faulty),
        };
        let area = formulary.area(entry.area());
        let indication = match (&drug, area) {
            (Ok(drug), Some(area)) => indication(drug, area, entry.indication()),
            _ => Err(NoIndication::NameUnknown),
        };
        let limits = indication.as_ref().ok().and_then(|indication| indication.limits(entry.phase()));
        let equipment = formulary.equipment();
        Ok(Self {
            drug,
            area,
            indication,
            limits,
            container: equipment.container(entry.container()),
            line: equipment.line(entry.line()),
            driver: equipment.driver(entry.driver()),
        })
    }
}

fn indication<'f>(drug: &'f Drug, area: &Area, name: Option<&str>) -> Result<&'f Indication, NoIndication> {
    let mut here = drug.indications.iter().filter(|one| one.area == area.name);
    let names = || drug.indications.iter().filter(|one| one.area == area.name).map(|one| one.name.clone()).collect();
    let found = match name {
        Some(name) => here.clone().find(|one| one.name.eq_ignore_ascii_case(name)),
        None => match (here.next(), here.next()) {
            (Some(only), None) => return Ok(only),
            (Some(_), Some(_)) => return Err(NoIndication::NotNamed { indications: names() }),
            _ => None,
        },
    };
    if let Some(found) = found {
        return Ok(found);
    }
    let indications: Vec<String> = names();
    if indications.is_empty() {
        let mut areas: Vec<String> = drug.indications.iter().map(|one| one.area.clone()).collect();
        areas.dedup();
        return Err(NoIndication::NotInArea { areas });
    }
    Err(NoIndication::Unknown { indications })
}
