//! Areas: places of work, with their patients and their usual equipment.

use crate::quantity::{Age, BodyMass, Quantity, Time};

use super::limits::{Band, SoftHard};

/// A place of work, with its patients and its usual equipment.
#[derive(Debug, Clone)]
pub struct Area {
    /// What a person types.
    pub name: String,
    /// Limits on the weight of its patients.
    pub weight: SoftHard<Quantity<BodyMass>>,
    /// The ages of its patients.
    pub age: Option<Band<Age>>,
    /// Its usual equipment.
    pub standard: StandardEquipment,
    /// How long an entry that was not started stays good.
    pub unstarted_entry_expires: Quantity<Time>,
}

/// Keys of the equipment that an area usually takes.
#[derive(Debug, Clone)]
pub struct StandardEquipment {
    /// Syringe or bag.
    pub container: String,
    /// Line.
    pub line: String,
    /// Driver.
    pub driver: String,
}
