//! Laws of delivery that hold for any set-up: volume is conserved, nothing arrives before half of V/Q, a faster flow is
//! never later, an interval holds what its formula makes of every value in it, and what is not known is never a number.
#![expect(clippy::float_arithmetic, reason = "estimates are floats")]

use countersign::delivery::arrival::{Passage, Shape, arrival};
use countersign::delivery::dispersion::{self, Share, convective_share, convective_spill, theta, unknown_spread};
use countersign::delivery::interval::Interval;
use countersign::delivery::occlusion::{self, Blockage};
use countersign::delivery::parameter::{self, SyringeSize};
use countersign::delivery::shared::{self, SharedSpace};
use countersign::delivery::si::{
    Compliance, Flow, Length, Pressure, Time, Volume, compliance::millilitre_per_kilopascal, flow::millilitre_per_hour,
    length::metre, pressure::millimetre_of_mercury, time::minute, volume::millilitre,
};
use countersign::delivery::start_up::{Course, volumes};
use countersign::delivery::tolerance;
use countersign::delivery::transit::{bore_volume, earliest, mean_bore, mean_transit};
use countersign::delivery::{
    CLOSEST_CLAIM, Circumstances, Delivery, DeliverySetUp, Estimate, Modelled, Purge, Solution,
};
use countersign::entry::{Access, LineFilled};
use countersign::formulary::{Container, ContainerKind, Driver, DriverKind, HowMade, Line, LineKind};
use countersign::quantity::{FlowRate, Quantity, Ratio};
use proptest::prelude::*;
use proptest::sample::select;

const CLOSE: f64 = 1e-9;

/// An interval above nothing, and a value in it.
fn within(from: f64, to: f64) -> impl Strategy<Value = (Interval<f64>, f64)> {
    (from..to, from..to, 0.0..=1.0_f64).prop_map(|(one, other, way)| {
        let (low, high) = (one.min(other), one.max(other));
        let inside = (low + (high - low) * way).clamp(low, high);
        (Interval::new(low, Some(inside), high).expect("in order"), inside)
    })
}

proptest! {
    #[test]
    fn an_interval_holds_what_its_formula_makes_of_every_value(
        (volume, in_volume) in within(0.01, 20.0),
        (flow, in_flow) in within(0.1, 999.0),
        (bore, in_bore) in within(0.3, 4.0),
        way in 0.0..=1.0_f64,
    ) {
        let formulas: [fn(f64, f64) -> f64; 5] =
            [|v, q| v / q, |v, q| v * q, |v, q| v + q, |v, q| v - q, |v, q| (v * q).sqrt() / (1.0 + q)];
        for (at, formula) in formulas.into_iter().enumerate() {
            // The last one rises and falls in q: only up to 1, where it rises, may it be asked.
            let flow = if at == 4 { flow.through(|q| q / 1000.0) } else { flow };
            let in_flow = if at == 4 { in_flow / 1000.0 } else { in_flow };
            let found = volume.with(&flow, formula);
            let value = formula(in_volume, in_flow);
            prop_assert!(found.contains(value), "{value} in {found:?}");
            prop_assert_eq!(found.typical(), Some(value));
            // Its edges are values of the formula, not looser.
            let corners = [volume.low(), volume.high()].map(|v| [flow.low(), flow.high()].map(|q| formula(v, q)));
            prop_assert!(corners.as_flattened().iter().any(|corner| *corner == found.low()));
            prop_assert!(corners.as_flattened().iter().any(|corner| *corner == found.high()));
        }
        prop_assert!(bore.through(|d| d.powi(-4)).contains(in_bore.powi(-4)));
        prop_assert!((volume + bore).contains(in_volume + in_bore));
        prop_assert!(volume.hull(&bore).covers(&volume) && volume.hull(&bore).covers(&bore));
        let wide = volume.widened(way);
        prop_assert!(wide.covers(&volume));
        prop_assert!((wide.high() - volume.high() * (1.0 + way)).abs() < CLOSE);
    }

    #[test]
    fn a_block_holds_every_value_of_its_parts(
        (slack, in_slack) in within(0.0, 0.5),
        (compliance, in_compliance) in within(0.0005, 0.05),
        (alarm, in_alarm) in within(50.0, 900.0),
        air in 0.0..2.0_f64,
        rate in 0.1..999.0_f64,
    ) {
        let block = Blockage {
            slack: Estimate::new(slack.through(ml), &[], &[]),
            compliance: Estimate::new(compliance.through(ml_kpa), &[], &[]),
            alarm: Estimate::new(alarm.through(mmhg), &[], &[]),
            air: ml(air),
        };
        let (slack, compliance, alarm) = (ml(in_slack), ml_kpa(in_compliance), mmhg(in_alarm));
        let displaced = occlusion::displaced(slack, compliance, alarm, mmhg(0.0), ml(air));
        let found = block.displaced().expect("air was measured up to 2 mL");
        prop_assert!(found.interval().widened(CLOSE).contains(displaced), "{displaced:?} in {found:?}");
        let claimed = block.time_to_alarm(ml_h(rate)).expect("modelled");
        prop_assert!(claimed.interval().contains(displaced / ml_h(rate)));
        // What is set free is never more than what was displaced, and never more than the bound.
        let released = occlusion::released(compliance, alarm, mmhg(0.0), ml(air));
        prop_assert!(released <= displaced);
        prop_assert!(block.largest_bolus().expect("modelled").high() >= released);
        // Against a vein it is less.
        prop_assert!(occlusion::released(compliance, alarm, mmhg(10.0), ml(air)) < released);
    }

    // hazard: H-ARRIVAL
    #[test]
    fn what_a_start_takes_up_and_delivers_is_what_was_displaced(
        slack in 0.0..1.0_f64,
        stored in 0.0..1.0_f64,
        rate in 0.1..100.0_f64,
        end in 0.0..500.0_f64,
    ) {
        let course = Course { slack: ml(slack), stored: ml(stored), flow: ml_h(rate) };
        let time = minutes(end);
        let displaced = course.flow * time;
        let found = course.delivered_by(time) + course.taken_up_by(time);
        prop_assert!(apart(found.get::<millilitre>(), displaced.get::<millilitre>()) < CLOSE);
        prop_assert!(course.delivered_by(time) >= ml(-1e-12) && course.taken_up_by(time) <= course.unrecovered() + ml(1e-12));
        prop_assert!(course.flow_at(time) <= course.flow && course.flow_at(time) >= ml_h(0.0));
        // Delivered is the sum of what flowed.
        let steps = 4000;
        let sum: f64 = (0..steps)
            .map(|step| (course.flow_at(time * ((f64::from(step) + 0.5) / f64::from(steps))) * time).get::<millilitre>())
            .sum::<f64>() / f64::from(steps);
        let delivered = course.delivered_by(time).get::<millilitre>();
        prop_assert!((sum - delivered).abs() < 1e-3 * displaced.get::<millilitre>() + CLOSE, "{sum} and {delivered}");
        // In the end all but Vs + Vc comes.
        let late = minutes(1e7);
        let lost = course.flow * late - course.delivered_by(late);
        prop_assert!(apart(lost.get::<millilitre>(), course.unrecovered().get::<millilitre>()) < 1e-5);
        for share in [0.1, 0.5, 0.9] {
            let reached = (course.flow_at(course.time_to(share) * (1.0 + CLOSE)) / course.flow).value;
            prop_assert!(reached >= share - 1e-6, "{reached} of {share}");
        }
    }

    // hazard: H-ARRIVAL
    #[test]
    fn a_shared_space_keeps_its_balance(
        volume in 0.01..20.0_f64,
        drug in 0.1..100.0_f64,
        before in 0.0..500.0_f64,
        after in 0.0..500.0_f64,
    ) {
        let space = |carrier| SharedSpace::new(Estimate::entered(ml(volume)), ml_h(drug), ml_h(carrier));
        let change = space(before).carrier_becomes(ml_h(after));
        // What comes beyond the set rate is what the factor brings in its time, and what the space no longer holds.
        let lasts = change.lasts.typical().expect("a plug");
        let extra = (ml_h(drug) * lasts).get::<millilitre>() * (change.factor - 1.0);
        let beyond = change.beyond_set.typical().expect("known").get::<millilitre>();
        prop_assert!((extra - beyond).abs() <= CLOSE * volume, "{extra} and {beyond}");
        let held = |carrier| shared::stored(ml(volume), ml_h(drug), ml_h(carrier)).get::<millilitre>();
        prop_assert!((held(before) - held(after) - beyond).abs() <= CLOSE * volume);
        // There and back again gives nothing.
        let back = space(after).carrier_becomes(ml_h(before)).beyond_set.typical().expect("known");
        prop_assert!((back.get::<millilitre>() + beyond).abs() <= CLOSE * volume);
        prop_assert_eq!(change.factor > 1.0, after > before);
        // What fills the space during the onset is what it then holds.
        let filled = ml_h(drug) * space(before).onset().typical().expect("a plug");
        prop_assert!(apart(filled.get::<millilitre>(), held(before)) < CLOSE);
        let mixed = [0.05, 0.5, 0.95].map(|share| shared::well_mixed(share, ml(volume), ml_h(drug)));
        prop_assert!(mixed[0] < mixed[1] && mixed[1] < mixed[2]);
        prop_assert!(space(before).onset().high() > shared::well_mixed(0.95, ml(volume), ml_h(drug + before)));
        prop_assert!(space(before).onset().low() <= earliest(ml(volume), ml_h(drug + before)) * (1.0 + CLOSE));
    }

    // hazard: H-ARRIVAL
    #[test]
    fn nothing_arrives_before_half_of_volume_over_flow(set_up in set_ups()) {
        let Ok(found) = set_up.delivery().arrival else { return Ok(()) };
        let edge = set_up.half_of_volume_over_flow();
        prop_assert!(found.earliest.low() >= edge * (1.0 - CLOSE), "{:?} before {edge:?}", found.earliest);
        for time in [&found.first, &found.half, &found.nearly_all].into_iter().flatten() {
            prop_assert!(time.low() >= edge * (1.0 - CLOSE), "{time:?} before {edge:?}");
        }
        prop_assert!(found.mean.low() >= edge);
        if let (Ok(first), Ok(half), Ok(last)) = (&found.first, &found.half, &found.nearly_all) {
            prop_assert!(first.low() <= half.low() && half.low() <= last.low());
            prop_assert!(first.high() <= half.high() && half.high() <= last.high());
            // The mean lies between the edges of the whole arrival.
            prop_assert!(first.low() <= found.mean.low() && found.mean.high() <= last.high());
        }
    }

    // hazard: H-ARRIVAL
    #[test]
    fn a_faster_flow_is_never_later(set_up in set_ups(), faster in 1.001..20.0_f64) {
        let slow = set_up.delivery();
        let fast = SetUpGiven { rate: set_up.rate * faster, ..set_up.clone() }.delivery();
        let earlier = |name: &str, slow: &Modelled<Time>, fast: &Modelled<Time>| {
            let (Ok(slow), Ok(fast)) = (slow, fast) else { return Ok(()) };
            let slack = 1.0 + CLOSE;
            prop_assert!(fast.low() <= slow.low() * slack && fast.high() <= slow.high() * slack, "{name}: {slow:?} {fast:?}");
            Ok(())
        };
        earlier("transit", &slow.transit, &fast.transit)?;
        earlier("alarm", &slow.time_to_alarm, &fast.time_to_alarm)?;
        if let (Ok(slow), Ok(fast)) = (&slow.start_up, &fast.start_up) {
            earlier("first fluid", &slow.first_fluid, &fast.first_fluid)?;
            earlier("steady", &slow.steady, &fast.steady)?;
            prop_assert_eq!(&slow.volumes, &fast.volumes);
        }
        if let (Ok(slow), Ok(fast)) = (&slow.arrival, &fast.arrival) {
            earlier("first", &slow.first, &fast.first)?;
            earlier("half", &slow.half, &fast.half)?;
            earlier("nearly all", &slow.nearly_all, &fast.nearly_all)?;
            prop_assert!(fast.mean.high() <= slow.mean.high() && fast.earliest.low() <= slow.earliest.low());
        }
        // What is stored at the alarm does not depend on the flow, and pressure rises with it.
        prop_assert_eq!(&slow.largest_bolus, &fast.largest_bolus);
        if let (Ok(slow), Ok(fast)) = (&slow.pressure_drop, &fast.pressure_drop) {
            prop_assert!(fast.low() > slow.low() && fast.high() > slow.high());
        }
    }

    #[test]
    fn the_spread_is_in_order_and_without_a_seam(spread in 0.02..300.0_f64, more in 1.0..1.01_f64) {
        let times = Share::ALL.map(|share| theta(spread, share).expect("from 0.02 on"));
        prop_assert!(times.is_sorted() && times[0] > 0.5, "{times:?}");
        for share in [Share::P5, Share::P50, Share::P95] {
            // More T at the same tube is a slower flow: theta may fall, theta x T may not, or a slower flow came
            // earlier.
            let (here, there) = (theta(spread, share).expect("here"), theta(spread * more, share).expect("there"));
            prop_assert!(there * more >= here * (1.0 - CLOSE), "T {spread}: {here} and {there}");
            prop_assert!((there / here - 1.0).abs() < 0.005, "a seam at T {spread}: {here} and {there}");
            let (low, high) = unknown_spread(share);
            prop_assert!(low <= here && here <= high);
        }
    }

    #[test]
    fn without_diffusion_the_spill_is_the_sum_of_what_came(theta in 0.0..10.0_f64) {
        let steps = 4000;
        let width = theta / f64::from(steps);
        let sum: f64 = (0..steps).map(|step| convective_share((f64::from(step) + 0.5) * width) * width).sum();
        prop_assert!((sum - convective_spill(theta)).abs() < 2e-3 * (1.0 + theta), "{sum} at {theta}");
        prop_assert!(convective_share(theta) < 1.0 && convective_share(theta + 0.1) >= convective_share(theta));
    }

    #[test]
    fn a_mean_is_exact_whatever_the_spread(
        line in 0.1..5.0_f64,
        beyond in 0.01..2.0_f64,
        slack in 0.0..0.2_f64,
        stored in 0.0..0.2_f64,
        rate in 0.5..500.0_f64,
    ) {
        let flow = ml_h(rate);
        let passages = [
            Passage { holds: Estimate::entered(ml(line)), shape: Shape::Tube(Length::new::<metre>(1.5)), flow },
            Passage { holds: Estimate::entered(ml(beyond)), shape: Shape::Catheter, flow },
        ];
        let lost = Estimate::entered(ml(slack) + ml(stored));
        let found = arrival(&passages, &lost, flow, &Ok(parameter::diffusivity()));
        let mean = ml(line + beyond + slack + stored) / flow;
        let said = found.mean.typical().expect("all of it is known");
        prop_assert!(apart(said.get::<minute>(), mean.get::<minute>()) < CLOSE);
        prop_assert!(apart((found.mean.high() / said).value, 1.0 + CLOSEST_CLAIM) < CLOSE);
        prop_assert!(apart((found.mean.low() / said).value, 1.0 - CLOSEST_CLAIM) < CLOSE);
        let bore = mean_bore(ml(line), Length::new::<metre>(1.5));
        prop_assert!(apart(bore_volume(bore, Length::new::<metre>(1.5)).get::<millilitre>(), line) < CLOSE);
    }

    // One after the other, each by chance: the shares of the sum lie in what is said of it.
    #[test]
    fn passages_in_a_row_arrive_as_is_said(
        line in 0.3..2.0_f64,
        beyond in 0.05..1.0_f64,
        rate in 0.5..40.0_f64,
        stopcocks in 0..4_u8,
        catheter in 0.02..20.0_f64,
        seed in any::<u64>(),
    ) {
        let (flow, long) = (ml_h(rate), Length::new::<metre>(1.5));
        let passages = [
            Passage { holds: Estimate::entered(ml(line)), shape: Shape::Tube(long), flow },
            Passage { holds: parameter::stopcocks(stopcocks), shape: Shape::Port, flow },
            Passage { holds: Estimate::entered(ml(beyond)), shape: Shape::Catheter, flow },
        ];
        let found = arrival(&passages, &Estimate::entered(ml(0.0)), flow, &Ok(parameter::diffusivity()));
        let usual = parameter::diffusivity().typical().expect("5e-10 m2/s");
        let spread = dispersion::spread_number(usual, long, flow);
        let mut state = seed | 1;
        let mut random = || {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            f64::from(u32::try_from(state >> 32).expect("32 bits are left")) / f64::from(u32::MAX)
        };
        let mean = |volume: f64| mean_transit(ml(volume), flow).get::<minute>();
        let (through_line, through_catheter) = (known(spread), known(catheter));
        let mut sums: Vec<f64> = (0..3_000)
            .map(|_| {
                let mixed: f64 = (0..stopcocks).map(|_| -(1.0 - random()).max(1e-12).ln()).sum();
                let tubes = mean(line) * drawn(&through_line, random()) + mean(beyond) * drawn(&through_catheter, random());
                tubes + mean(0.09) * mixed
            })
            .collect();
        sums.sort_by(f64::total_cmp);
        for (time, at) in [(&found.first, 150), (&found.half, 1_500), (&found.nearly_all, 2_850)] {
            let Ok(time) = time else { continue };
            let seen = minutes(sums[at]);
            prop_assert!(time.interval().contains(seen), "{seen:?} in {time:?}");
        }
    }

    // hazard: H-ARRIVAL
    #[test]
    fn what_is_not_known_is_never_a_number(set_up in set_ups(), trouble in 0..8_usize) {
        let set_up = SetUpGiven { trouble: Some(trouble), ..set_up };
        let found = set_up.delivery();
        prop_assert!(found.arrival.is_err(), "{trouble}: {:?}", found.arrival);
        if trouble < 3 {
            // Other drivers, a valve, a filter: nothing with a time, and no bound of a bolus.
            prop_assert!(found.transit.is_err() && found.time_to_alarm.is_err() && found.largest_bolus.is_err());
            prop_assert!(found.height_change(Length::new::<metre>(0.3)).is_err());
            let start_up = found.start_up.expect("a syringe");
            prop_assert!(start_up.first_fluid.is_err() && start_up.steady.is_err());
        }
    }

    #[test]
    fn every_number_is_finite_and_its_interval_in_order(set_up in set_ups()) {
        let found = set_up.delivery();
        let time = |estimate: &Modelled<Time>| sound(estimate, |time| time.get::<minute>());
        let volume = |estimate: &Modelled<Volume>| sound(estimate, |volume| volume.get::<millilitre>());
        prop_assert!(time(&found.transit) && time(&found.time_to_alarm) && volume(&found.largest_bolus));
        prop_assert!(volume(&Ok(found.dead_space.clone())));
        prop_assert!(sound(&found.pressure_drop, |drop| drop.get::<millimetre_of_mercury>()));
        if let Ok(start_up) = &found.start_up {
            prop_assert!(time(&start_up.first_fluid) && time(&start_up.steady));
        }
        if let Ok(arrival) = &found.arrival {
            prop_assert!(time(&arrival.first) && time(&arrival.half) && time(&arrival.nearly_all));
        }
        for by in [-0.5, 0.5] {
            let change = found.height_change(Length::new::<metre>(by));
            prop_assert!(volume(&change.map(|change| change.moves)));
        }
    }
}

#[test]
fn a_purged_driver_costs_less_and_a_running_one_nothing() {
    for size in [SyringeSize::Small, SyringeSize::Ten, SyringeSize::Between, SyringeSize::Large] {
        let [running, purged, not] = [Purge::Running, Purge::OnTheDriver, Purge::Not].map(|purge| volumes(size, purge));
        assert_eq!(running.unrecovered.high(), ml(0.0));
        assert!(purged.first.high() < not.first.low() && purged.steady.high() < not.steady.low(), "{size:?}");
        assert!(purged.unrecovered.interval().covers(&purged.steady.interval()), "{size:?}");
    }
    assert_eq!(SyringeSize::of(ml(9.9)), SyringeSize::Small);
    assert_eq!(SyringeSize::of(ml(10.0)), SyringeSize::Ten);
    assert_eq!(SyringeSize::of(ml(20.0)), SyringeSize::Between);
    assert_eq!(SyringeSize::of(ml(50.0)), SyringeSize::Large);
}

/// A set-up in plain numbers.
#[derive(Debug, Clone)]
struct SetUpGiven {
    size: u32,
    priming_hundredths: u32,
    long_cm: u32,
    rate: f64,
    beyond_hundredths: Option<u32>,
    stopcocks: u8,
    filled: LineFilled,
    purge: Purge,
    trouble: Option<usize>,
}

fn set_ups() -> impl Strategy<Value = SetUpGiven> {
    let beyond = prop::option::of(1..300_u32);
    let filled = select(vec![LineFilled::FromThisSyringe, LineFilled::AlreadyFull, LineFilled::WithDiluent]);
    let purge = select(vec![Purge::OnTheDriver, Purge::Running]);
    (
        select(vec![3_u32, 5, 10, 20, 30, 50, 60]),
        30..500_u32,
        50..300_u32,
        0.1..40.0_f64,
        beyond,
        0..4_u8,
        filled,
        purge,
    )
        .prop_map(|(size, priming_hundredths, long_cm, rate, beyond_hundredths, stopcocks, filled, purge)| {
            SetUpGiven {
                size,
                priming_hundredths,
                long_cm,
                rate,
                beyond_hundredths,
                stopcocks,
                filled,
                purge,
                trouble: None,
            }
        })
}

impl SetUpGiven {
    fn delivery(&self) -> Delivery {
        let rate = |text: &str| FlowRate::parse(text).expect("a rate");
        let size = hundredths(self.size * 100);
        let container = Container {
            key: "any".to_owned(),
            kind: ContainerKind::Syringe,
            size,
            usable: size,
            stays_behind: hundredths(5),
        };
        let line = Line {
            key: "any".to_owned(),
            kind: LineKind::Narrow,
            length: Quantity::parse(&format!("{} cm", self.long_cm)).expect("a length"),
            priming_volume: hundredths(self.priming_hundredths),
        };
        let driver = Driver {
            key: "any".to_owned(),
            kind: DriverKind::SyringeDriver,
            accepts: vec!["any".to_owned()],
            smallest: rate("0.1 mL/h"),
            largest: rate("999 mL/h"),
            steps: Vec::new(),
            bolus_rate: rate("999 mL/h"),
            shows: Vec::new(),
        };
        let mut how = Circumstances::plain(self.purge, self.filled, Access::Central);
        how.beyond = self.beyond_hundredths.map(hundredths);
        how.stopcocks = self.stopcocks;
        match self.trouble {
            Some(0) => how.several_drivers = true,
            Some(1) => how.valve = true,
            Some(2) => how.filter = true,
            Some(3) => {
                how.connected_closed = true;
                how.purge = Purge::OnTheDriver;
            }
            Some(4) => how.purge = Purge::Not,
            Some(5) => how.air = ml(0.3),
            Some(6) => how.filled = LineFilled::Empty,
            Some(_) => how.solution = Solution::SticksToWall,
            None => {}
        }
        // Four decimals, as a fraction.
        let rate = Ratio::new((self.rate * 1e4).round() as u128, 10_000).expect("a small number");
        Delivery::of(DeliverySetUp { container: &container, line: &line, driver: &driver, rate }, &how)
            .expect("it flows")
    }

    /// With the least volume after the line that it may be.
    fn half_of_volume_over_flow(&self) -> Time {
        let beyond = self.beyond_hundredths.map_or(0.3, |hundredths| f64::from(hundredths) / 100.0);
        let line =
            if self.filled == LineFilled::WithDiluent { f64::from(self.priming_hundredths) / 100.0 } else { 0.0 };
        // The rate is typed to four decimals.
        earliest(ml(line + beyond), ml_h(self.rate + 5e-5))
    }
}

fn hundredths(count: u32) -> Quantity<countersign::quantity::Volume> {
    Quantity::parse(&format!("{}.{:02} mL", count / 100, count % 100)).expect("a volume")
}

/// The known times of arrival, as shares of V/Q, by the share that has arrived, and the two ends that follow from them.
fn known(spread: f64) -> Vec<(f64, f64)> {
    let mut known: Vec<(f64, f64)> =
        Share::ALL.iter().map(|share| (share.part(), theta(spread, *share).expect("from 0.02 on"))).collect();
    let ((_, second), (_, last)) = (known[7], known[8]);
    known.insert(0, (0.0, 0.5_f64.max(2.0 * known[0].1 - known[1].1)));
    known.push((1.0, 2.0 * last - second));
    known
}

/// One arrival by chance: straight lines between the known ones.
fn drawn(known: &[(f64, f64)], part: f64) -> f64 {
    let after = known.partition_point(|(known, _)| *known <= part).clamp(1, known.len() - 1);
    let ((from, before), (to, next)) = (known[after - 1], known[after]);
    before + (next - before) * (part - from) / (to - from)
}

fn sound<T: Copy + PartialOrd>(estimate: &Modelled<T>, number: impl Fn(T) -> f64) -> bool {
    let Ok(estimate) = estimate else { return true };
    let (low, high) = (number(estimate.low()), number(estimate.high()));
    let typical = estimate.typical().map_or(low, &number);
    low >= 0.0 && high.is_finite() && low <= typical && typical <= high && !estimate.sources().is_empty()
}

fn apart(one: f64, other: f64) -> f64 {
    (one - other).abs() / (other.abs() + 1e-12)
}

fn ml(value: f64) -> Volume {
    Volume::new::<millilitre>(value)
}

fn ml_h(value: f64) -> Flow {
    Flow::new::<millilitre_per_hour>(value)
}

fn ml_kpa(value: f64) -> Compliance {
    Compliance::new::<millilitre_per_kilopascal>(value)
}

fn mmhg(value: f64) -> Pressure {
    Pressure::new::<millimetre_of_mercury>(value)
}

fn minutes(value: f64) -> Time {
    Time::new::<minute>(value)
}

proptest! {
    // Whatever both scales are off within their tolerance, the strength lies in what is told of it: by sampling, not by
    // the formulas that made it.
    #[test]
    fn a_preparation_stays_within_what_is_told(
        drawn in 0.2_f64..20.0,
        rest in 20.0_f64..50.0,
        off in prop::array::uniform2(-1.0_f64..=1.0),
        made_up in any::<bool>(),
    ) {
        let measured = |volume: f64, within: f64| tolerance::Measured {
            volume: Volume::new::<millilitre>(volume),
            within: Volume::new::<millilitre>(within),
        };
        let how = if made_up { HowMade::MadeUpTo } else { HowMade::AddedTo };
        let (drug, other) = (measured(drawn, 20.0), measured(rest, 50.0));
        let told = tolerance::preparation(how, drug, other).expect("it is mixed");
        let by = |measured: tolerance::Measured| tolerance::graduation(measured.within, measured.volume).get::<millilitre>();
        let (really, rest_really) = (drawn + off[0] * by(drug), rest + off[1] * by(other));
        let strength = |drug: f64, rest: f64| if made_up { drug / rest } else { drug / (drug + rest) };
        let ratio = strength(really, rest_really) / strength(drawn, rest) - 1.0;
        prop_assert!(ratio <= told.worst_above + CLOSE && ratio >= told.worst_below - CLOSE, "{ratio} {told:?}");
        prop_assert!(told.worst_below <= 0.0 && told.twice_standard > 0.0);
    }
}

// Undiluted, nothing is mixed.
#[test]
fn what_is_not_mixed_has_no_tolerance() {
    let one = tolerance::Measured { volume: Volume::new::<millilitre>(1.0), within: Volume::new::<millilitre>(2.0) };
    assert!(tolerance::preparation(HowMade::Undiluted, one, one).is_none());
    for (share, shown) in
        [(0.0, "0 %"), (0.0435, "4.4 %"), (0.040, "4 %"), (0.1201, "13 %"), (0.00991, "1 %"), (-0.35, "35 %")]
    {
        assert_eq!(tolerance::percent_upwards(share), shown);
    }
}
