//! Numbers that were published or computed, in one place. In: the size of a syringe, a filling volume; out: estimates
//! with their sources. A house's own value always goes before these.

use super::assumption::Assumption;
use super::estimate::Estimate;
use super::interval::Interval;
use super::si::{
    Acceleration, Compliance, Density, Diffusivity, Length, Pressure, Viscosity, Volume,
    acceleration::metre_per_second_squared,
    compliance::{cubic_metre_per_pascal, millilitre_per_kilopascal},
    density::kilogram_per_cubic_metre,
    diffusivity::square_metre_per_second,
    pressure::{kilopascal, millimetre_of_mercury, pascal},
    viscosity::millipascal_second,
    volume::millilitre,
};
use super::source::{
    ALARM_300, ALARM_400, DIFFUSIVITY, GOOSSENS_2015, HEIGHT_FOUR_TYPES, KUNTZ_2019, LINE_WALL, NEAL_2009, OWN_EDGE,
    ROOKE_1994, SNIJDER_2015, WATER, WEISS_2000,
};

/// Syringes that were measured together, by nominal size.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum SyringeSize {
    /// Below 10 mL.
    Small,
    /// From 10 to below 20 mL.
    Ten,
    /// From 20 to below 50 mL: none was measured.
    Between,
    /// From 50 mL.
    Large,
}

impl SyringeSize {
    /// The size of a syringe of this nominal volume.
    #[must_use]
    pub fn of(nominal: Volume) -> Self {
        let below = |limit| nominal < Volume::new::<millilitre>(limit);
        match () {
            () if below(10.0) => Self::Small,
            () if below(20.0) => Self::Ten,
            () if below(50.0) => Self::Between,
            () => Self::Large,
        }
    }
}

/// Fill volumes of catheters in mL. Read in source: Goossens 2015, Nurs Res Pract, article 985686, Table 4.
pub const CATHETERS: [(&str, f64); 7] = [
    ("peripheral cannula", 0.03),
    ("midline catheter", 0.4),
    ("peripherally inserted central catheter", 0.6),
    ("lumen of a central venous catheter that is not tunnelled", 0.6),
    ("tunnelled catheter, up to 1 mm inside", 0.7),
    ("tunnelled catheter, more than 1 mm inside", 1.3),
    ("port", 1.3),
];

/// The volume of a catheter of which nothing is known but where its tip lies. Read in Goossens 2015; the least central
/// one, 0.3 mL, is that of a child (Eur J Pediatr 2014;173:69, read in source).
#[must_use]
pub fn catheter(central: bool) -> Estimate<Volume> {
    let (low, high) = if central { (0.3, 1.3) } else { (0.03, 0.4) };
    Estimate::new(
        in_order(low, None, high).through(Volume::new::<millilitre>),
        &[Assumption::CatheterFromTable],
        &[GOOSSENS_2015],
    )
}

/// The volume of this many stopcocks: 0.0541 to 0.1265 mL for each port of one. Read in source: Kuntz 2019, doi
/// 10.1007/s10877-018-0179-3.
#[must_use]
pub fn stopcocks(count: u8) -> Estimate<Volume> {
    let each = in_order(0.0541, None, 0.1265);
    Estimate::new(each.through(|each| Volume::new::<millilitre>(each * f64::from(count))), &[], &[KUNTZ_2019])
}

/// The compliance of a syringe in its driver.
///
/// From 50 mL: 0.014 (0.009 to 0.022) mL/kPa, up to 0.042 allowed for. Read: Snijder 2015, doi 10.1515/bmt-2014-0148,
/// 53 studies; computed: four 50 mL types (PubMed 11069336), and Rooke & Bowdle 1994, Anesth Analg 78:150, for the
/// most. 10 mL: 0.0036 to 0.0093, computed from Weiss 2000, Can J Anaesth 47, as 130 or 50 cm were meant. Below 10 mL:
/// from what Neal & Lin 2009 measured in 3 mL, less one SD, at 400 mmHg, to the most of 10 mL. From 20 mL: nobody
/// measured one; from the least of 10 mL to the 0.022 of 50 mL.
#[must_use]
pub fn syringe_compliance(size: SyringeSize) -> Estimate<Compliance> {
    let (interval, assumptions, sources): (_, &[Assumption], &[_]) = match size {
        SyringeSize::Small => {
            (in_order(0.0007, None, 0.0093), &[Assumption::SizeInterpolated], &[NEAL_2009, WEISS_2000])
        }
        SyringeSize::Ten => (in_order(0.0036, None, 0.0093), &[], &[WEISS_2000]),
        SyringeSize::Between => {
            (in_order(0.0036, None, 0.022), &[Assumption::SizeInterpolated], &[WEISS_2000, HEIGHT_FOUR_TYPES])
        }
        SyringeSize::Large => {
            (in_order(0.009, Some(0.014), 0.042), &[], &[SNIJDER_2015, HEIGHT_FOUR_TYPES, ROOKE_1994])
        }
    };
    Estimate::new(interval.through(Compliance::new::<millilitre_per_kilopascal>), assumptions, sources)
        .noting(&[Assumption::ComplianceConstant], &[])
}

/// The compliance of a syringe between 10 and 50 mL out of that of a 50 mL one, C50 (A / A50)^1.35, with A the areas of
/// their bores. Computed: an interpolation between two points, whose bores of 15 and 28 mm are from memory.
#[must_use]
pub fn interpolated_compliance(fifty: Compliance, bore_of_fifty: Length, bore: Length) -> Compliance {
    fifty * (bore / bore_of_fifty).value.powf(2.0 * 1.35)
}

/// The compliance of a line that holds this volume: from none to twice that of a thick-walled tube of 1.0 mm bore and
/// 2.5 mm outside. Computed, with a modulus of 10 MPa and a Poisson ratio of 0.5 from memory: no measured value of a
/// line was found.
#[must_use]
pub fn line_compliance(holds: &Estimate<Volume>) -> Estimate<Compliance> {
    let modulus = Pressure::new::<kilopascal>(10_000.0);
    let wall = |volume| tube_compliance(volume, 2.5, modulus, 0.5);
    let none = Compliance::new::<cubic_metre_per_pascal>(0.0);
    let twice = holds.interval().through(|volume| wall(volume) * 2.0);
    let typical = holds.typical().map(wall);
    holds
        .of(Interval::new(none, typical, twice.high()).expect("twice a volume above nothing lies above it"))
        .noting(&[Assumption::LineComplianceUnmeasured, Assumption::ComplianceConstant], &[LINE_WALL])
}

/// The compliance of a thick-walled tube, V 2 (1 + nu) / E b^2 / (b^2 - a^2); `widths` is b / a, outside by inside.
/// Computed, with a free outer wall.
#[must_use]
pub fn tube_compliance(holds: Volume, widths: f64, modulus: Pressure, poisson: f64) -> Compliance {
    let wall = widths * widths / (widths * widths - 1.0);
    holds / modulus * (2.0 * (1.0 + poisson) * wall)
}

/// The pressure at which a driver alarms, where its own is not known: 300 mmHg (read, JPPT 25:500) to 400 mmHg (read,
/// doi 10.1186/s12911-021-01668-7).
#[must_use]
pub fn alarm_pressure() -> Estimate<Pressure> {
    Estimate::new(
        in_order(300.0, None, 400.0).through(Pressure::new::<millimetre_of_mercury>),
        &[Assumption::AlarmPressureFromPublications],
        &[ALARM_300, ALARM_400],
    )
}

/// The diffusivity of a small dissolved drug: 5e-10 (4e-10 to 7e-10) m2/s. From memory.
#[must_use]
pub fn diffusivity() -> Estimate<Diffusivity> {
    Estimate::new(
        in_order(4e-10, Some(5e-10), 7e-10).through(Diffusivity::new::<square_metre_per_second>),
        &[Assumption::SmallMolecules],
        &[DIFFUSIVITY],
    )
}

/// The viscosity of a watery solution: 1.002 (0.692 to 1.2 times 1.002) mPa s. From memory.
#[must_use]
pub fn viscosity() -> Estimate<Viscosity> {
    Estimate::new(
        in_order(0.692, Some(1.002), 1.2 * 1.002).through(Viscosity::new::<millipascal_second>),
        &[Assumption::LikeWater],
        &[WATER],
    )
}

/// The pressure of the room's air, 101.325 kPa.
#[must_use]
pub fn room() -> Pressure {
    Pressure::new::<kilopascal>(101.325)
}

/// The density of water, 1000 kg/m3.
#[must_use]
pub fn density() -> Density {
    Density::new::<kilogram_per_cubic_metre>(1000.0)
}

/// Standard gravity, 9.80665 m/s2.
#[must_use]
pub fn gravity() -> Acceleration {
    Acceleration::new::<metre_per_second_squared>(9.80665)
}

/// The pressure of the room itself, in this module nothing.
#[must_use]
pub(super) fn no_pressure() -> Pressure {
    Pressure::new::<pascal>(0.0)
}

/// A volume of which no more is known than that it is at most this.
pub(super) fn up_to(most: Estimate<Volume>) -> Estimate<Volume> {
    let none = Volume::new::<millilitre>(0.0);
    most.of(Interval::new(none, None, most.high()).expect("a volume is above nothing")).noting(&[], &[OWN_EDGE])
}

/// Numbers that stand in rising order in this file.
pub(super) fn in_order(low: f64, typical: Option<f64>, high: f64) -> Interval<f64> {
    Interval::new(low, typical, high).expect("written in rising order")
}
