//! Where no number is given, and why. In: nothing; out: one [`NotModelled`] for each thing that the formulas were never
//! shown to hold for. A reason is an answer: it stands where the number would.

/// Why there is no number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NotModelled {
    /// Neal & Lin 2009, Pediatr Crit Care Med 10:592 (read in source): a 60 mL syringe at 0.2 mL/h gave less than a
    /// fifth of its rate for more than 3 h.
    #[error("below 0.5 mL/h a large syringe sticks and slips: for hours, far less than the rate was measured")]
    SlowLargeSyringe,
    /// Schmidt 2010 (read in source: 0.4 to 1.0 mL/h): 10 mL syringes reached their rate in less than 20 min, 50 mL
    /// syringes not within 60 min.
    #[error("a large syringe at 1 mL/h and less: no steady flow was measured within 60 min of a start")]
    SlowStart,
    /// Neff 2001, Paediatr Anaesth 11:561 (read in source): 6.75 to 57.2 min to the first fluid, by driver.
    #[error("the driver was not purged before connecting: its start-up differs tenfold between drivers")]
    NotPurged,
    /// Weiss 2025, Paediatr Anaesth 35:118, and Weiss 2024, J Clin Monit Comput 38:213 (read in source): -252 % to 1321
    /// %.
    #[error("the line was connected to a closed tap: it may begin with a bolus or with backflow")]
    ConnectedClosed,
    /// Timmerman 2015, doi 10.1515/bmt-2014-0139 (read in source): errors of dead volume and of compliance have
    /// opposite signs.
    #[error("several drivers share the line: their compliances and dead volumes work against each other")]
    SeveralDrivers,
    /// Decaudin 2010, doi 10.1213/ANE.0b013e3181f66ee3, and van der Eijk 2014 (read in source).
    #[error("a valve that needs pressure to open is in the line: its effect is as large as that of the line")]
    Valve,
    /// Konings 2022, doi 10.1515/bmt-2022-0056 (read in source): a bubble of 1 cm before a filter, 600 % more delay.
    #[error("a filter is in the line: with one bubble the delay was measured sevenfold")]
    Filter,
    /// Schulz 2000, Anaesthesist 49:1018 (read in source).
    #[error("more air is in the syringe or line than was ever measured: the effect grows faster than that of a gas")]
    Air,
    /// Schulz 2000, Anaesthesist 49:1018, and Konings 2022, doi 10.1515/bmt-2022-0056 (read in source).
    #[error("there is air in the syringe or line: it delays more than any formula says")]
    Bubbles,
    /// Computed: the spread of droplets never follows the formula.
    #[error("droplets and particles spread otherwise than dissolved drugs")]
    Dispersed,
    /// From memory: insulin and glyceryl trinitrate are lost to the wall.
    #[error("the drug sticks to the wall of the line: it arrives later, and less of it")]
    SticksToWall,
    /// From memory: diffusivities of proteins lie outside the interval that is used.
    #[error("large molecules spread more than the small ones whose diffusivity is used")]
    LargeMolecules,
    /// Computed: solutions of different density run above each other in a bore of 3 mm and more.
    #[error("the line is wide: solutions of different density run past each other in it")]
    WideLine,
    /// Computed: below T = 0.02 only the earliest moment is known.
    #[error("at this rate diffusion does not even out the flow across the line: only the earliest moment is known")]
    HardlyAnyDiffusion,
    /// McPherson 2009, Anesth Analg 108:1198 (read in source).
    #[error("the flow is too fast to be laminar: pressure rises faster than with the flow")]
    NotLaminar,
    /// No viscosity of a lipid emulsion was found.
    #[error("no viscosity of this kind of solution was found")]
    ViscosityUnknown,
    /// No figure of a bag and a volumetric pump was read.
    #[error("the driver pushes no syringe: no published figure of another driver was read")]
    NoSyringe,
    /// Nothing moves the drug that is in the shared space.
    #[error("no carrier flows: what is in the shared space stays there")]
    NoCarrier,
    /// The line holds air, which is not delivered.
    #[error("the line is filled with air: fill it first")]
    LineEmpty,
}
