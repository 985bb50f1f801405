//! The dead space that a drug shares with a carrier, from where they meet to the blood. In: its volume, the flow of the
//! drug and the flow of everything else that runs through it; out: onset, offset, and what a change of the carrier
//! does.
//!
//! Another drug in the same space is pushed out in the same way by any change of the other flows. All formulas here are
//! computed (balance of volume); the definition of the volume was read in Lovich 2005, Anesth Analg 100:1048. Dead
//! volumes and compliances of several drivers work against each other (Timmerman 2015, doi 10.1515/bmt-2014-0139, read
//! in source), so that a space with more than a drug and its carrier is not modelled.

use super::CLOSEST_CLAIM;
use super::assumption::Assumption;
use super::estimate::{Estimate, Modelled};
use super::interval::Interval;
use super::not_modelled::NotModelled;
use super::si::{Flow, Time, Volume, flow::cubic_metre_per_second};
use super::source::{KONINGS_2016, LOVICH_2005, SHARED_VOLUME};
use super::transit::{EARLIEST, mean_transit};

/// After this many V/Q a well-mixed space has let through 95 % of a change: -ln 0.05. Computed.
const MIXED_95: f64 = 2.995_732_273_553_991;

/// A volume through which a drug and a carrier flow together.
#[derive(Debug, Clone, PartialEq)]
pub struct SharedSpace {
    volume: Estimate<Volume>,
    drug: Flow,
    carrier: Flow,
}

/// What follows when the carrier changes and the drug does not.
#[derive(Debug, Clone, PartialEq)]
pub struct CarrierChange {
    /// By how much the drug reaching the patient is multiplied for a while. Exact for a plug.
    pub factor: f64,
    /// For how long.
    pub lasts: Estimate<Time>,
    /// How much undiluted drug solution is given beyond the set rate; below nothing, how much is withheld.
    pub beyond_set: Estimate<Volume>,
}

impl SharedSpace {
    /// A space through which a drug and everything else flow. The drug's flow is above nothing, the other not below it.
    #[must_use]
    pub const fn new(volume: Estimate<Volume>, drug: Flow, carrier: Flow) -> Self {
        Self { volume, drug, carrier }
    }

    /// How much of the drug solution there is in what flows through the space, Qd / (Qd + Qc).
    #[must_use]
    pub fn share(&self) -> f64 {
        share(self.drug, self.carrier)
    }

    /// How much undiluted drug solution stands in the space, V Qd / (Qd + Qc).
    #[must_use]
    pub fn stored(&self) -> Estimate<Volume> {
        self.volume
            .through(|volume| stored(volume, self.drug, self.carrier))
            .noting(&[], &[SHARED_VOLUME, LOVICH_2005])
            .claimed()
    }

    /// From the drug's start until it arrives: V / (Qd + Qc) for a plug.
    #[must_use]
    pub fn onset(&self) -> Estimate<Time> {
        self.passage(self.drug + self.carrier)
    }

    /// From the drug's stop until it no longer arrives, the carrier still running: V / Qc for a plug. Slower than the
    /// onset.
    ///
    /// # Errors
    /// [`NotModelled::NoCarrier`]
    pub fn offset(&self) -> Modelled<Time> {
        if self.carrier > Flow::new::<cubic_metre_per_second>(0.0) {
            Ok(self.passage(self.carrier))
        } else {
            Err(NotModelled::NoCarrier)
        }
    }

    /// What follows when the carrier's flow becomes this one: as a plug, for V / (Qd + Qc') the drug is multiplied by
    /// (Qd + Qc') / (Qd + Qc).
    #[must_use]
    pub fn carrier_becomes(&self, carrier: Flow) -> CarrierChange {
        let beyond = |volume| stored(volume, self.drug, self.carrier) - stored(volume, self.drug, carrier);
        CarrierChange {
            factor: factor(self.drug, self.carrier, carrier),
            lasts: self.passage(self.drug + carrier),
            beyond_set: self.volume.through(beyond).noting(&[], &[SHARED_VOLUME, LOVICH_2005]).claimed(),
        }
    }

    /// From the fastest part of a laminar stream to 95 % of a well-mixed space; a plug in between.
    fn passage(&self, total: Flow) -> Estimate<Time> {
        let plug = self.volume.interval().through(|volume| mean_transit(volume, total));
        let claimed = plug.widened(CLOSEST_CLAIM);
        let interval = Interval::new(plug.low() * EARLIEST, plug.typical(), claimed.high() * MIXED_95);
        self.volume.of(interval.expect("half of the low edge lies below, and three times the high edge above")).noting(
            &[Assumption::PlugOrMixed, Assumption::NoCloserThanFourteenPercent],
            &[SHARED_VOLUME, LOVICH_2005, KONINGS_2016],
        )
    }
}

/// How much of the drug solution there is in what flows: Qd / (Qd + Qc).
#[must_use]
pub fn share(drug: Flow, carrier: Flow) -> f64 {
    (drug / (drug + carrier)).value
}

/// How much undiluted drug solution stands in a shared volume: V Qd / (Qd + Qc).
#[must_use]
pub fn stored(volume: Volume, drug: Flow, carrier: Flow) -> Volume {
    volume * share(drug, carrier)
}

/// By how much the drug is multiplied while the old mixture is pushed out: (Qd + Qc') / (Qd + Qc).
#[must_use]
pub fn factor(drug: Flow, before: Flow, after: Flow) -> f64 {
    ((drug + after) / (drug + before)).value
}

/// When a well-mixed volume has let through this share of a change: -ln(1 - share) V/Q, share from 0 to below 1.
#[must_use]
pub fn well_mixed(share: f64, volume: Volume, flow: Flow) -> Time {
    mean_transit(volume, flow) * -(1.0 - share).ln()
}
