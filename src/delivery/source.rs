//! Where a number or a formula comes from, and how it was come by. In: nothing; out: one [`Source`] for each
//! publication or sum that the estimates rest on.

use std::fmt;

/// How a number or formula was come by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Mark {
    /// Entered, or in the house's formulary.
    Given,
    /// Read in the publication; of most, the abstract only.
    Read,
    /// Computed, from first principles or from numbers that were read.
    Computed,
    /// From memory: the publication was not seen.
    FromMemory,
    /// Chosen for this program, with no publication behind it.
    Chosen,
}

/// What an estimate rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Source {
    mark: Mark,
    cite: &'static str,
}

impl Source {
    /// How it was come by.
    #[must_use]
    pub const fn mark(&self) -> Mark {
        self.mark
    }

    /// The publication, or what the sum is made of.
    #[must_use]
    pub const fn cite(&self) -> &'static str {
        self.cite
    }
}

impl fmt::Display for Mark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Given => "given",
            Self::Read => "read in source",
            Self::Computed => "computed",
            Self::FromMemory => "from memory",
            Self::Chosen => "chosen",
        })
    }
}

impl fmt::Display for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} ({})", self.cite, self.mark)
    }
}

const fn given(cite: &'static str) -> Source {
    Source { mark: Mark::Given, cite }
}

const fn read(cite: &'static str) -> Source {
    Source { mark: Mark::Read, cite }
}

const fn computed(cite: &'static str) -> Source {
    Source { mark: Mark::Computed, cite }
}

const fn from_memory(cite: &'static str) -> Source {
    Source { mark: Mark::FromMemory, cite }
}

const fn chosen(cite: &'static str) -> Source {
    Source { mark: Mark::Chosen, cite }
}

/// The set-up as entered.
pub const SET_UP: Source = given("the set-up as entered and the equipment of the formulary");
/// A value of the house in place of a published one.
pub const HOUSE: Source = given("a value of the house");
/// Mean arrival is volume over flow.
pub const VOLUME_OVER_FLOW: Source = computed("volume / flow, for any profile in which nothing sticks to the wall");
/// A shared volume behind a junction.
pub const SHARED_VOLUME: Source = computed("balance of volume in a shared space, plug flow and the well-mixed limit");
/// What the shared volume is.
pub const LOVICH_2005: Source =
    read("Lovich 2005, Anesth Analg 100:1048: the dead volume reaches from where drug and carrier meet to the blood");
/// How well flow and dead volume together can be foretold.
pub const KONINGS_2016: Source = read(
    "Konings 2016, doi 10.1186/s12938-016-0309-4: theory and experiment differ by 14 % (delay) and 13 % (duration), SD",
);
/// Dead volumes of catheters.
pub const GOOSSENS_2015: Source =
    read("Goossens 2015, Nurs Res Pract, article 985686, Table 4: fill volumes of catheters");
/// Dead volumes of stopcocks.
pub const KUNTZ_2019: Source =
    read("Kuntz 2019, doi 10.1007/s10877-018-0179-3: 0.0541 (0.0028) to 0.1265 (0.0083) mL for a port of a stopcock");
/// Laminar flow without diffusion.
pub const CONVECTION: Source = read(
    "residence times in laminar flow, Levenspiel, Chemical Reaction Engineering, 3rd ed., p. 344, as cited by a library",
);
/// Spreading of a front in a tube.
pub const TAYLOR_ARIS: Source =
    computed("Taylor 1953, Proc R Soc A 219:186; Aris 1956, A 235:67: relative variance 1 / (24 T), rearranged");
/// The table of quantiles.
pub const QUANTILES: Source = computed(
    "numerical solution of laminar convection with radial diffusion, checked against a simulation of particles",
);
/// Diffusivity of small molecules.
pub const DIFFUSIVITY: Source =
    from_memory("diffusivities in water at 25 C: glucose 6.7e-10, sucrose 5.2e-10, small drugs 4 to 7e-10 m2/s");
/// Start-up of four drivers.
pub const NEFF_2001: Source = read(
    "Neff T 2001, Paediatr Anaesth 11:561: four drivers at 1 mL/h, volumes computed; syringe size not in the abstract",
);
/// Start-up by syringe size.
pub const NEFF_2007: Source =
    read("Neff SB 2007, Eur J Anaesthesiol 24:602: start-up of 10 and 50 mL syringes, volumes computed");
/// Start-up and alarm by syringe size.
pub const NEAL_2009: Source = read(
    "Neal & Lin 2009, Pediatr Crit Care Med 10:592: start-up and time to alarm of 3, 12 and 60 mL syringes, volumes computed",
);
/// Free play and compliance as volumes.
pub const QUASI_STATIC: Source =
    computed("volume taken up by free play, and by compliance until friction and outlet pressure are met");
/// Compliance of syringes in drivers.
pub const SNIJDER_2015: Source = read(
    "Snijder 2015, doi 10.1515/bmt-2014-0148, review of 53 studies: 0.009 to 0.021 mL/kPa, the syringe the largest part",
);
/// Compliance out of a change of height, four types.
pub const HEIGHT_FOUR_TYPES: Source =
    computed("0.0111 to 0.0217 mL/kPa, from the times without flow of four 50 mL syringes (PubMed 11069336)");
/// Compliance of small syringes.
pub const WEISS_2000: Source = computed(
    "10 mL 0.0036 (50 mL 0.0194) mL/kPa, from Weiss 2000, Can J Anaesth 47, if lowered by 130 cm; 0.0093 if by 50 cm",
);
/// The largest compliance that was seen.
pub const ROOKE_1994: Source =
    computed("up to 0.042 mL/kPa, from 0.5 mL over 120 cm, Rooke & Bowdle 1994, Anesth Analg 78:150");
/// Compliance of a line.
pub const LINE_WALL: Source = computed(
    "thick-walled tube, 10 MPa from memory; no measured compliance of a line was found, so from nothing to twice as much",
);
/// Trapped air.
pub const BOYLE: Source = computed("V P / (P_atm + P), isothermal, V at the pressure of the room");
/// Measured effect of trapped air.
pub const SCHULZ_2000: Source = read(
    "Schulz 2000, Anaesthesist 49:1018: 2 mL of air made the alarm 2.6 times as late and the bolus 3 times as large",
);
/// Alarm pressure that was set.
pub const ALARM_300: Source = read("JPPT 25:500: 300 mmHg set on every device");
/// Alarm pressure that is usual.
pub const ALARM_400: Source = read("doi 10.1186/s12911-021-01668-7 (2021): 400 mmHg the conventional threshold");
/// A blockage.
pub const OCCLUSION: Source = computed("displaced volume = slack + compliance x alarm pressure + compressed air");
/// Resistance of a tube.
pub const POISEUILLE: Source = computed("Hagen-Poiseuille, 128 mu L / (pi d^4)");
/// Viscosity of watery solutions.
pub const WATER: Source = from_memory(
    "water 1.002 mPa s at 20 C and 0.692 at 37 C; saline 2 % above it; glucose 5 % 1.1 to 1.2 times it, with little confidence",
);
/// Weight of a column of water.
pub const HYDROSTATIC: Source = computed("9.80665 kPa for each metre of water");
/// Measured pressure of a column.
pub const IGARASHI: Source = read("Igarashi, Can J Anesth: 37.5 (4.0) and 37.3 (3.1) mmHg for 50 cm");
/// Force on an area.
pub const FORCE_OVER_AREA: Source = computed("pressure = force / area of the bore");
/// Graduation of syringes.
pub const ISO_7886_1: Source =
    from_memory("ISO 7886-1:1993, Table 1; the standard was not seen, and a later edition may differ");
/// Tolerances that come together.
pub const PROPAGATION: Source =
    computed("rectangular tolerances, root of the sum of squares, k = 2; and the worst case");
/// Edges without a publication.
pub const OWN_EDGE: Source = chosen("an edge of this program, wider than what was read");
