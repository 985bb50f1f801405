//! Where a number or a formula comes from, and how it was come by. In: nothing; out: one [`Source`] for each
//! publication or sum that the estimates rest on.

use std::fmt;

use super::listed::listed;

/// How a number or formula was come by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Provenance {
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

listed! {
    /// What an estimate rests on: how each was come by, and the publication or what the sum is made of. In the order in
    /// in which they are listed: what was entered first, by the alphabet within each.
    #[expect(non_camel_case_types, reason = "named as publications are cited: author and year")]
    Source: (Provenance, &'static str) {
        /// A value of the house in place of a published one.
        HOUSE = (Provenance::Given, "a value of the house"),
        /// The set-up as entered.
        SET_UP = (Provenance::Given, "the set-up as entered and the equipment of the formulary"),
        /// Dead volumes of catheters.
        GOOSSENS_2015 = (
            Provenance::Read,
            "Goossens 2015, Nurs Res Pract, article 985686, Table 4: fill volumes of catheters",
        ),
        /// Measured pressure of a column.
        IGARASHI = (Provenance::Read, "Igarashi, Can J Anesth: 37.5 (4.0) and 37.3 (3.1) mmHg for 50 cm"),
        /// Alarm pressure that was set.
        ALARM_300 = (Provenance::Read, "JPPT 25:500: 300 mmHg set on every device"),
        /// How well flow and dead volume together can be foretold.
        KONINGS_2016 = (
            Provenance::Read,
            "Konings 2016, doi 10.1186/s12938-016-0309-4: theory and experiment differ by 14 % (delay) and 13 % (duration), SD",
        ),
        /// Dead volumes of stopcocks.
        KUNTZ_2019 = (
            Provenance::Read,
            "Kuntz 2019, doi 10.1007/s10877-018-0179-3: 0.0541 (0.0028) to 0.1265 (0.0083) mL for a port of a stopcock",
        ),
        /// What the shared volume is.
        LOVICH_2005 = (
            Provenance::Read,
            "Lovich 2005, Anesth Analg 100:1048: the dead volume reaches from where drug and carrier meet to the blood",
        ),
        /// Start-up and alarm by syringe size.
        NEAL_2009 = (
            Provenance::Read,
            "Neal & Lin 2009, Pediatr Crit Care Med 10:592: start-up and time to alarm of 3, 12 and 60 mL syringes, volumes computed",
        ),
        /// Start-up by syringe size.
        NEFF_2007 = (
            Provenance::Read,
            "Neff SB 2007, Eur J Anaesthesiol 24:602: start-up of 10 and 50 mL syringes, volumes computed",
        ),
        /// Start-up of four drivers.
        NEFF_2001 = (
            Provenance::Read,
            "Neff T 2001, Paediatr Anaesth 11:561: four drivers at 1 mL/h, volumes computed; syringe size not in the abstract",
        ),
        /// Measured effect of trapped air.
        SCHULZ_2000 = (
            Provenance::Read,
            "Schulz 2000, Anaesthesist 49:1018: 2 mL of air made the alarm 2.6 times as late and the bolus 3 times as large",
        ),
        /// Compliance of syringes in drivers.
        SNIJDER_2015 = (
            Provenance::Read,
            "Snijder 2015, doi 10.1515/bmt-2014-0148, review of 53 studies: 0.009 to 0.021 mL/kPa, the syringe the largest part",
        ),
        /// Alarm pressure that is usual.
        ALARM_400 = (Provenance::Read, "doi 10.1186/s12911-021-01668-7 (2021): 400 mmHg the conventional threshold"),
        /// Laminar flow without diffusion.
        CONVECTION = (
            Provenance::Read,
            "residence times in laminar flow, Levenspiel, Chemical Reaction Engineering, 3rd ed., p. 344, as cited by a library",
        ),
        /// Compliance out of a change of height, four types.
        HEIGHT_FOUR_TYPES = (
            Provenance::Computed,
            "0.0111 to 0.0217 mL/kPa, from the times without flow of four 50 mL syringes (PubMed 11069336)",
        ),
        /// Compliance of small syringes.
        WEISS_2000 = (
            Provenance::Computed,
            "10 mL 0.0036 (50 mL 0.0194) mL/kPa, from Weiss 2000, Can J Anaesth 47, if lowered by 130 cm; 0.0093 if by 50 cm",
        ),
        /// Weight of a column of water.
        HYDROSTATIC = (Provenance::Computed, "9.80665 kPa for each metre of water"),
        /// Resistance of a tube.
        POISEUILLE = (Provenance::Computed, "Hagen-Poiseuille, 128 mu L / (pi d^4)"),
        /// Spreading of a front in a tube.
        TAYLOR_ARIS = (
            Provenance::Computed,
            "Taylor 1953, Proc R Soc A 219:186; Aris 1956, A 235:67: relative variance 1 / (24 T), rearranged",
        ),
        /// Trapped air.
        BOYLE = (Provenance::Computed, "V P / (P_atm + P), isothermal, V at the pressure of the room"),
        /// A shared volume behind a junction.
        SHARED_VOLUME = (Provenance::Computed, "balance of volume in a shared space, plug flow and the well-mixed limit"),
        /// A blockage.
        OCCLUSION = (Provenance::Computed, "displaced volume = slack + compliance x alarm pressure + compressed air"),
        /// The table of quantiles.
        QUANTILES = (
            Provenance::Computed,
            "numerical solution of laminar convection with radial diffusion, checked against a simulation of particles",
        ),
        /// Force on an area.
        FORCE_OVER_AREA = (Provenance::Computed, "pressure = force / area of the bore"),
        /// Tolerances that come together.
        PROPAGATION = (Provenance::Computed, "rectangular tolerances, root of the sum of squares, k = 2; and the worst case"),
        /// Compliance of a line.
        LINE_WALL = (
            Provenance::Computed,
            "thick-walled tube, 10 MPa from memory; no measured compliance of a line was found, so from nothing to twice as much",
        ),
        /// The largest compliance that was seen.
        ROOKE_1994 = (
            Provenance::Computed,
            "up to 0.042 mL/kPa, from 0.5 mL over 120 cm, Rooke & Bowdle 1994, Anesth Analg 78:150",
        ),
        /// Mean arrival is volume over flow.
        VOLUME_OVER_FLOW = (Provenance::Computed, "volume / flow, for any profile in which nothing sticks to the wall"),
        /// Free play and compliance as volumes.
        QUASI_STATIC = (
            Provenance::Computed,
            "volume taken up by free play, and by compliance until friction and outlet pressure are met",
        ),
        /// Graduation of syringes.
        ISO_7886_1 = (
            Provenance::FromMemory,
            "ISO 7886-1:1993, Table 1; the standard was not seen, and a later edition may differ",
        ),
        /// Diffusivity of small molecules.
        DIFFUSIVITY = (
            Provenance::FromMemory,
            "diffusivities in water at 25 C: glucose 6.7e-10, sucrose 5.2e-10, small drugs 4 to 7e-10 m2/s",
        ),
        /// Viscosity of watery solutions.
        WATER = (
            Provenance::FromMemory,
            "water 1.002 mPa s at 20 C and 0.692 at 37 C; saline 2 % above it; glucose 5 % 1.1 to 1.2 times it, with little confidence",
        ),
        /// Edges without a publication.
        OWN_EDGE = (Provenance::Chosen, "an edge of this program, wider than what was read"),
    }
}

pub use Source::*;

impl Source {
    /// How it was come by.
    #[must_use]
    pub const fn mark(self) -> Provenance {
        self.says().0
    }

    /// The publication, or what the sum is made of.
    #[must_use]
    pub const fn cite(self) -> &'static str {
        self.says().1
    }
}

impl fmt::Display for Provenance {
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
        write!(f, "{} ({})", self.cite(), self.mark())
    }
}

#[cfg(test)]
mod tests {
    use super::super::listed::Listed as _;
    use super::Source;

    #[test]
    fn they_are_told_by_how_they_were_come_by_and_by_the_alphabet() {
        let all: Vec<_> = Source::ALL.iter().map(|one| one.says()).collect();
        assert!(all.is_sorted(), "{all:?}");
    }
}
