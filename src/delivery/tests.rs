//! Every worked sum, to the last printed digit: computed from first principles, from numbers that were read.

use rstest::rstest;

use super::dispersion::{self, Share, by_gamma, spread_number, theta};
use super::not_modelled::NotModelled;
use super::parameter;
use super::pressure::{SizeMistake, from_force, resistance, reynolds, settling};
use super::shared::{self, SharedSpace};
use super::si::{
    Compliance, Diffusivity, Flow, Force, Length, Pressure, Time, Viscosity, Volume, compliance, diffusivity, flow,
    force, length, pressure, resistance as resistances, time, viscosity, volume,
};
use super::start_up::{Course, slack_volume, stored_volume};
use super::tolerance::{dilution, flushed_hub, graduation, run_time};
use super::transit::{bore_volume, mean_bore, mean_transit};
use super::{Estimate, Provenance, air, height, occlusion};

// hazard: H-ARRIVAL
#[rstest]
#[case("1.0", "1.5", "1.1781", "1", "70.69")]
#[case("0.6", "1.5", "0.42412", "2", "12.723")]
#[case("3.2", "1.5", "12.0637", "5", "144.76")]
fn a_line_is_passed_in_volume_over_flow(
    #[case] bore: &str,
    #[case] long: &str,
    #[case] holds: &str,
    #[case] rate: &str,
    #[case] minutes: &str,
) {
    let (bore, long) = (mm(number(bore)), metres(number(long)));
    let found = bore_volume(bore, long);
    meets(found.get::<volume::millilitre>(), holds);
    meets(mean_transit(found, ml_h(number(rate))).get::<time::minute>(), minutes);
    meets(mean_bore(found, long).get::<length::millimetre>() / bore.get::<length::millimetre>(), "1.000000000");
}

#[rstest]
#[case("0.5", "0.1963")]
#[case("0.6", "0.2827")]
#[case("0.9", "0.6362")]
#[case("1.0", "0.7854")]
#[case("1.2", "1.1310")]
#[case("1.5", "1.7671")]
#[case("2.0", "3.1416")]
#[case("3.0", "7.0686")]
#[case("3.2", "8.0425")]
fn a_metre_of_a_bore_holds(#[case] bore: &str, #[case] holds: &str) {
    meets(bore_volume(mm(number(bore)), metres(1.0)).get::<volume::millilitre>(), holds);
}

// V = 1.0 mL behind the junction.
// hazard: H-ARRIVAL
#[rstest]
#[case(3.0, 10.0, "4.615", "6.000", "0.23077", "0.23077")]
#[case(1.0, 1.0, "30", "60", "0.5", "0.5")]
fn onset_and_offset_in_a_shared_space(
    #[case] drug: f64,
    #[case] carrier: f64,
    #[case] onset: &str,
    #[case] offset: &str,
    #[case] share: &str,
    #[case] stored: &str,
) {
    let space = SharedSpace::new(Estimate::entered(ml(1.0)), ml_h(drug), ml_h(carrier));
    let minutes = |estimate: Estimate<Time>| estimate.typical().expect("a plug").get::<time::minute>();
    meets(minutes(space.onset()), onset);
    meets(minutes(space.offset().expect("a carrier")), offset);
    meets(space.share(), share);
    meets(space.stored().typical().expect("known").get::<volume::millilitre>(), stored);
    let without = SharedSpace::new(Estimate::entered(ml(1.0)), ml_h(drug), ml_h(0.0));
    assert_eq!(without.offset(), Err(NotModelled::NoCarrier));
}

// V = 1.0 mL, drug at 3 mL/h.
// hazard: H-ARRIVAL
#[rstest]
#[case(10.0, 20.0, "1.7692", "2.609", "0.10033")]
#[case(10.0, 0.0, "0.23077", "20", "-0.76923")]
#[case(0.0, 10.0, "4.3333", "4.615", "0.76923")]
fn a_carrier_that_changes_pushes_drug_out_or_keeps_it(
    #[case] before: f64,
    #[case] after: f64,
    #[case] factor: &str,
    #[case] minutes: &str,
    #[case] beyond: &str,
) {
    let space = SharedSpace::new(Estimate::entered(ml(1.0)), ml_h(3.0), ml_h(before));
    let change = space.carrier_becomes(ml_h(after));
    meets(change.factor, factor);
    meets(change.lasts.typical().expect("a plug").get::<time::minute>(), minutes);
    meets(change.beyond_set.typical().expect("known").get::<volume::millilitre>(), beyond);
}

#[rstest]
#[case(0.5, "0.6931")]
#[case(0.9, "2.3026")]
#[case(0.95, "2.9957")]
fn a_well_mixed_space_lets_through(#[case] share: f64, #[case] times: &str) {
    let (volume, flow) = (ml(0.7), ml_h(4.0));
    meets((shared::well_mixed(share, volume, flow) / mean_transit(volume, flow)).value, times);
}

// Bores and the 5 N are illustrative; the range of forces was read (Kiselev 2020: 4.5 and 5.5 N).
#[rstest]
#[case(28.0, "0.30788", "18.47")]
#[case(15.0, "0.088357", "5.30")]
fn free_play_is_a_volume(#[case] bore: f64, #[case] slack: &str, #[case] minutes: &str) {
    let found = slack_volume(mm(bore), mm(0.5));
    meets(found.get::<volume::millilitre>(), slack);
    meets((found / ml_h(1.0)).get::<time::minute>(), minutes);
}

#[rstest]
#[case(28.0, 0.0194, "8.1202", "0.15753", "9.45")]
#[case(15.0, 0.0036, "28.294", "0.10186", "6.11")]
fn friction_is_a_volume(
    #[case] bore: f64,
    #[case] compliance: f64,
    #[case] pressure: &str,
    #[case] stored: &str,
    #[case] minutes: &str,
) {
    let friction = from_force(Force::new::<force::newton>(5.0), mm(bore));
    meets(kpa(friction), pressure);
    let found = stored_volume(ml_kpa(compliance), friction);
    meets(found.get::<volume::millilitre>(), stored);
    meets((found / ml_h(1.0)).get::<time::minute>(), minutes);
    meets((found / ml_h(0.1)).get::<time::minute>() / (found / ml_h(1.0)).get::<time::minute>(), "10.000");
}

#[test]
fn a_start_takes_its_course() {
    let course = Course { slack: ml(0.01), stored: ml(0.05), flow: ml_h(1.0) };
    meets(course.first_fluid().get::<time::minute>(), "0.6");
    meets(course.lag().get::<time::minute>(), "3.0");
    meets(course.time_to(0.9).get::<time::minute>(), "7.508");
    meets(course.unrecovered().get::<volume::millilitre>(), "0.060");
    let slower = Course { flow: ml_h(0.1), ..course };
    meets(slower.time_to(0.9).get::<time::minute>(), "75.08");
    // 18.5 % of 360 s at 1 mL/h go into the compliance when a vein of 10 mmHg is opened to it.
    let missing = stored_volume(ml_kpa(0.0139), mmhg(10.0));
    meets(missing.get::<volume::millilitre>(), "0.01853");
    let set = ml_h(1.0) * Time::new::<time::second>(360.0);
    meets(((set - missing) / set).value * 100.0, "81.5");
}

// hazard: H-ARRIVAL
#[rstest]
#[case(0.0194, "0.77594", ["93.11", "46.56", "9.311"])]
#[case(0.0036, "0.14399", ["17.28", "8.639", "1.728"])]
fn a_block_takes_its_volume_to_300_mmhg(#[case] compliance: f64, #[case] displaced: &str, #[case] minutes: [&str; 3]) {
    meets(kpa(mmhg(300.0)), "39.997");
    let found = occlusion::displaced(ml(0.0), ml_kpa(compliance), mmhg(300.0), mmhg(0.0), ml(0.0));
    meets(found.get::<volume::millilitre>(), displaced);
    for (rate, minutes) in [0.5, 1.0, 5.0].into_iter().zip(minutes) {
        meets(occlusion::time_to_alarm(found, ml_h(rate)).get::<time::minute>(), minutes);
    }
    assert_eq!(occlusion::released(ml_kpa(compliance), mmhg(300.0), mmhg(0.0), ml(0.0)), found);
}

#[test]
fn trapped_air_doubles_it() {
    let elastic = occlusion::displaced(ml(0.0), ml_kpa(0.013936), mmhg(300.0), mmhg(0.0), ml(0.0));
    let both = occlusion::displaced(ml(0.0), ml_kpa(0.013936), mmhg(300.0), mmhg(0.0), ml(2.0));
    meets(elastic.get::<volume::millilitre>(), "0.5574");
    meets(air::compressed(ml(2.0), mmhg(300.0)).get::<volume::millilitre>(), "0.5660");
    meets(both.get::<volume::millilitre>(), "1.1234");
    let times = (both / elastic).value;
    assert!((times - 2.015).abs() < 0.001, "{times}");
}

// Water of 1000 kg/m3; 3.0 mPa s is illustrative.
#[rstest]
#[case(1.0, 1.0, 10.0, "0.0169765", ["0.16977", "1.273"], "3.54", "1.19")]
#[case(1.0, 0.5, 10.0, "0.271624", ["2.7162", "20.37"], "7.07", "18.97")]
#[case(1.0, 0.5, 100.0, "0.271624", ["27.162", "203.7"], "70.7", "18.97")]
#[case(3.0, 0.5, 50.0, "0.814873", ["40.744", "305.6"], "11.8", "56.9")]
fn a_line_takes_pressure(
    #[case] viscosity: f64,
    #[case] bore: f64,
    #[case] rate: f64,
    #[case] per_flow: &str,
    #[case] drop: [&str; 2],
    #[case] reynolds_number: &str,
    #[case] seconds: &str,
) {
    let viscosity = mpas(viscosity);
    let found = resistance(viscosity, mm(bore), metres(1.5));
    meets(found.get::<resistances::kilopascal_hour_per_millilitre>(), per_flow);
    meets(kpa(found * ml_h(rate)), drop[0]);
    meets(kpa(found * ml_h(rate)) / kpa(mmhg(1.0)), drop[1]);
    meets(reynolds(parameter::density(), viscosity, mm(bore), ml_h(rate)), reynolds_number);
    meets(settling(found, ml_kpa(0.0194)).get::<time::second>(), seconds);
}

// hazard: H-ARRIVAL
#[test]
fn a_wrong_syringe_size_changes_flow_and_alarm() {
    let fifty_newton = Force::new::<force::newton>(50.0);
    meets(kpa(from_force(fifty_newton, mm(28.0))), "81.2");
    meets(kpa(from_force(fifty_newton, mm(15.0))), "282.9");
    meets(kpa(from_force(fifty_newton, mm(28.0))) / kpa(mmhg(1.0)), "609");
    meets(kpa(from_force(fifty_newton, mm(15.0))) / kpa(mmhg(1.0)), "2122");
    let wider = SizeMistake::of(mm(15.0), mm(28.0));
    meets(wider.flow_factor, "3.48");
    meets(wider.flow_factor * wider.alarm_factor, "1.000000000");
}

#[test]
fn a_change_of_height_is_a_volume() {
    meets(kpa(height::column(metres(0.5))) / kpa(mmhg(1.0)), "36.78");
    let lowered = |compliance, metres_down, rate| {
        let moved = height::moved(ml_kpa(compliance), metres(metres_down), ml(0.0));
        (moved.get::<volume::millilitre>(), height::without_flow(moved, ml_h(rate)).get::<time::minute>())
    };
    meets(lowered(0.013_936_1, 0.5, 1.0).1, "4.100");
    meets(lowered(0.0194, 1.3, 0.5).1, "29.68");
    meets(lowered(0.034, 0.3, 2.0).0, "0.1000");
    meets(lowered(0.034, 0.3, 2.0).1, "3.00");
    // Air by the same: 6.87 min with 1 mL, 9.64 min with 2 mL.
    for (air, minutes) in [(1.0, "6.87"), (2.0, "9.64")] {
        let moved = height::moved(ml_kpa(0.013_936), metres(0.5), ml(air));
        meets(height::without_flow(moved, ml_h(1.0)).get::<time::minute>(), minutes);
    }
}

#[test]
fn the_wall_of_a_line_gives_little() {
    let modulus = Pressure::new::<pressure::kilopascal>(10_000.0);
    let found = parameter::tube_compliance(ml(1.18), 2.5, modulus, 0.5);
    meets(found.get::<compliance::millilitre_per_kilopascal>(), "0.0004");
    // 5.4 times between bores of 28 and 15 mm: the interpolation goes through both.
    let small = parameter::interpolated_compliance(ml_kpa(0.0194), mm(28.0), mm(15.0));
    meets(0.0194 / small.get::<compliance::millilitre_per_kilopascal>(), "5.4");
}

// D = 5e-10 m2/s; exact by the numerical solution, gamma by N = 24 T.
#[rstest]
#[case(1.0, 1.0, "70.686", "8.482", "203.6", Some(["62.74", "70.57", "79.03"]), [62.74, 70.58, 78.98])]
#[case(1.0, 10.0, "7.0686", "0.8482", "20.36", Some(["4.704", "6.953", "9.827"]), [4.772, 6.961, 9.727])]
#[case(1.0, 100.0, "0.70686", "0.08482", "2.04", None, [0.374, 0.570, 1.422])]
#[case(0.6, 2.0, "12.723", "4.241", "101.8", Some(["10.72", "12.68", "14.87"]), [10.73, 12.69, 14.85])]
fn a_front_spreads(
    #[case] bore: f64,
    #[case] rate: f64,
    #[case] minutes: &str,
    #[case] spread: &str,
    #[case] tanks: &str,
    #[case] gamma: Option<[&str; 3]>,
    #[case] solved: [f64; 3],
) {
    let (long, rate) = (metres(1.5), ml_h(rate));
    let mean = mean_transit(bore_volume(mm(bore), long), rate).get::<time::minute>();
    meets(mean, minutes);
    let found = spread_number(diffusing(5e-10), long, rate);
    meets(found, spread);
    meets(dispersion::tanks(found), tanks);
    for (at, share) in [Share::P5, Share::P50, Share::P95].into_iter().enumerate() {
        if let Some(gamma) = gamma {
            meets(by_gamma(found, share) * mean, gamma[at]);
        }
        let ours = theta(found, share).expect("a regime with numbers") * mean;
        assert!((ours / solved[at] - 1.0).abs() < 0.012, "{share:?}: {ours} and {}", solved[at]);
    }
}

#[test]
fn taylors_own_numbers_for_the_first_line() {
    let (radius, length, mean) = (0.5e-3, 1.5, 70.686 * 60.0);
    meets(radius * radius / 5e-10, "500");
    let speed: f64 = length / mean;
    meets(speed * 1e4, "3.5368");
    let peclet = radius * speed / 5e-10;
    meets(peclet, "353.68");
    let spreading = 5e-10 * (1.0 + peclet * peclet / 48.0);
    meets(spreading * 1e6, "1.3035");
    // Without the axial part of it.
    meets((1.0_f64 / (24.0 * 8.482)).sqrt() * 70.686, "4.954");
    let with_axial = (2.0 * spreading / (speed * length)).sqrt() * mean / 60.0;
    assert!((with_axial / 4.954 - 1.0).abs() < 0.001, "{with_axial}");
    // With the correction for a tube that is not endless.
    let used = (dispersion::relative_variance(8.482)).sqrt() * mean / 60.0;
    assert!((used / 4.954 - 1.0).abs() < 0.005, "{used}");
    // A droplet of 200 nm: hardly any diffusion.
    meets(spread_number(diffusing(2.45e-12), metres(1.5), ml_h(1.0)), "0.042");
    meets(spread_number(diffusing(2.45e-12), metres(1.5), ml_h(20.0)), "0.002");
}

// Levenspiel, Chemical Reaction Engineering, 3rd ed., p. 344; the spill of a catheter lock: a quarter of the filling
// volume when one filling volume went in, 20 to 25 % measured (Blood Purif 26:255).
#[test]
fn convection_alone() {
    let printed = [(Share::P5, "0.5130"), (Share::P50, "0.7071"), (Share::P90, "1.5811"), (Share::P95, "2.2361")];
    for (share, theta) in printed {
        meets(dispersion::convective_arrival(share), theta);
        assert!((dispersion::convective_share(dispersion::convective_arrival(share)) - share.part()).abs() < 1e-12);
    }
    meets(dispersion::convective_arrival(Share::P99), "5.0");
    assert!(dispersion::convective_share(0.5).abs() < 1e-15 && dispersion::convective_spill(0.5).abs() < 1e-15);
    meets(dispersion::convective_spill(1.0), "0.25");
    assert_eq!(theta(0.0199, Share::P50), Err(NotModelled::HardlyAnyDiffusion));
}

// Volumes and dilution: ISO 7886-1:1993, Table 1, from memory.

#[rstest]
#[case(1.0, 0.1, "0.017")]
#[case(1.0, 0.3, "0.021")]
#[case(2.0, 1.0, "0.05")]
#[case(10.0, 2.0, "0.17")]
#[case(10.0, 5.0, "0.20")]
#[case(50.0, 10.0, "0.85")]
#[case(50.0, 50.0, "2.0")]
fn a_scale_may_be_off_by(#[case] size: f64, #[case] expelled: f64, #[case] off: &str) {
    meets(graduation(ml(size), ml(expelled)).get::<volume::millilitre>(), off);
}

#[test]
fn both_halves_of_the_tolerance_meet_at_the_half() {
    for size in [1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 50.0, 60.0] {
        let below = graduation(ml(size), ml(size / 2.0 * (1.0 - 1e-12))).get::<volume::millilitre>();
        let at = graduation(ml(size), ml(size / 2.0)).get::<volume::millilitre>();
        assert!((below / at - 1.0).abs() < 1e-9, "{size} mL: {below} and {at}");
    }
}

#[test]
fn tolerances_come_together() {
    let small = dilution(0.07, 0.04, &[]);
    meets(small.worst_above * 100.0, "11.46");
    meets(small.worst_below * 100.0, "-10.58");
    meets(small.twice_standard * 100.0, "9.31");
    meets(small.twice_standard * 50.0, "4.655");
    let with_flow = dilution(0.07, 0.04, &[0.05]);
    meets(with_flow.twice_standard * 50.0, "5.477");
    meets(with_flow.twice_standard * 100.0, "10.95");
    let six = dilution(0.04, 0.04, &[]);
    meets(six.worst_above * 100.0, "8.33");
    meets(six.twice_standard * 50.0, "3.266");
    meets(six.twice_standard * 100.0, "6.53");
    meets(flushed_hub(ml(0.05), ml(0.07)), "2.4");
    // 65 % of 232 ward morphine infusions were more than 10 % off (Parshuram 2003, Crit Care Med 31:2483).
    assert!(small.twice_standard < 0.10, "tolerances alone understate what was measured, and say so");
    let run = run_time(ml(50.0), ml(50.0), bore_volume(mm(1.0), metres(1.5)), ml_h(2.0));
    assert!(run.is_optimistic(), "{run:?}");
    meets(run.typical().expect("the scale").get::<time::hour>(), "24.411");
    meets(run.low().get::<time::hour>(), "23.4");
    meets(run.high().get::<time::hour>(), "25.4");
    assert!(run.sources().iter().any(|source| source.mark() == Provenance::FromMemory), "the standard was not seen");
}

/// The same as printed, to half a unit of its last digit.
fn meets(found: f64, printed: &str) {
    let decimals = printed.split_once('.').map_or(0, |(_, decimals)| decimals.len());
    let half = 0.5 * 10_f64.powi(-i32::try_from(decimals).expect("few")) * (1.0 + 1e-6);
    let value: f64 = printed.parse().expect("a printed number");
    assert!((found - value).abs() <= half, "{found} is not {printed}");
}

/// A printed number.
fn number(printed: &str) -> f64 {
    printed.parse().expect("a printed number")
}

fn ml(value: f64) -> Volume {
    Volume::new::<volume::millilitre>(value)
}

fn ml_h(value: f64) -> Flow {
    Flow::new::<flow::millilitre_per_hour>(value)
}

fn mm(value: f64) -> Length {
    Length::new::<length::millimetre>(value)
}

fn metres(value: f64) -> Length {
    Length::new::<length::metre>(value)
}

fn ml_kpa(value: f64) -> Compliance {
    Compliance::new::<compliance::millilitre_per_kilopascal>(value)
}

fn mmhg(value: f64) -> Pressure {
    Pressure::new::<pressure::millimetre_of_mercury>(value)
}

fn kpa(value: Pressure) -> f64 {
    value.get::<pressure::kilopascal>()
}

fn mpas(value: f64) -> Viscosity {
    Viscosity::new::<viscosity::millipascal_second>(value)
}

fn diffusing(value: f64) -> Diffusivity {
    Diffusivity::new::<diffusivity::square_metre_per_second>(value)
}

// Goossens 2015, Nurs Res Pract, article 985686, Table 4: what is used where none was entered holds every catheter.
#[test]
fn an_unknown_catheter_is_any_of_the_published_ones() {
    for (name, holds) in parameter::CATHETERS {
        let central = !(name.starts_with("peripheral cannula") || name.starts_with("midline"));
        let found = parameter::catheter(central);
        assert!(found.interval().contains(ml(holds)), "{name}: {found:?}");
    }
}
