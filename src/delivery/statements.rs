//! What is estimated, in words. In: a [`Delivery`] and what is asked beside it; out: one [`Statement`] for each question, an
//! interval rounded outwards to two digits or the reason why there is none, with its assumptions and sources.

use super::assumption::Assumption;
use super::estimate::{Estimate, Modelled};
use super::estimates::Delivery;
use super::interval::Interval;
use super::not_modelled::NotModelled;
use super::pressure::SizeMistake;
use super::si::{
    Length, Pressure, Time, Volume, length::centimetre, pressure::millimetre_of_mercury, time::second,
    volume::millilitre,
};
use super::source::Source;

/// A question and what can be said.
#[derive(Debug, Clone)]
pub struct Statement {
    /// Kebab-case, stable.
    pub key: &'static str,
    /// Under which heading it belongs.
    pub part: Part,
    /// The question, in words.
    pub what: &'static str,
    /// The answer.
    pub answer: Result<Range, NotModelled>,
}

/// Under which heading an answer belongs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// From the start of the driver to the patient.
    Arrival,
    /// A drug and a carrier through one space.
    Carrier,
    /// A line that is blocked.
    Blocked,
    /// A driver that is moved.
    Moved,
    /// What else is asked.
    Other,
}

/// An interval in words: `9 to 15 min`.
#[derive(Debug, Clone)]
pub struct Range {
    /// As a person reads it.
    pub text: String,
    /// The edges in the unit, as data; a bound from above has none below.
    pub edges: (Option<f64>, f64),
    /// The unit of the edges: s, mL, mmHg, or none for a factor.
    pub unit: &'static str,
    /// What it assumes.
    pub assumptions: Vec<Assumption>,
    /// What it rests on.
    pub sources: Vec<Source>,
}

impl Range {
    /// The edges as data: text, in the unit, rounded outwards as they are shown.
    #[must_use]
    pub fn edges_as_text(&self) -> (Option<String>, String) {
        (self.edges.0.map(down), up(self.edges.1))
    }

    /// The edges in whole units, outwards: for a drawing.
    #[must_use]
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "nothing is negative, or too large to draw"
    )]
    pub fn whole_edges(&self) -> (u64, u64) {
        (self.edges.0.unwrap_or(0.0).max(0.0).floor() as u64, self.edges.1.max(0.0).ceil() as u64)
    }

    /// Whether a time in seconds is past the latest.
    #[must_use]
    pub fn is_past(&self, seconds: i64) -> bool {
        f64::from(i32::try_from(seconds).unwrap_or(i32::MAX)) > self.edges.1
    }
}

/// What is asked beside the set-up itself.
#[derive(Debug, Clone, Copy, Default)]
pub struct Beside {
    /// The carrier's rate in mL/h.
    pub carrier: Option<crate::quantity::Ratio>,
    /// The rate that the carrier is changed to, in mL/h.
    pub carrier_becomes: Option<crate::quantity::Ratio>,
    /// By how much the driver is raised; below nothing, lowered.
    pub raised: Option<Length>,
    /// The bore of the syringe that was entered and that of the one in the driver.
    pub bores: Option<(Length, Length)>,
}

/// Everything that can be said, in the order in which it is read.
#[must_use]
pub fn told(delivery: &Delivery, beside: &Beside) -> Vec<Statement> {
    let mut all = Vec::new();
    let mut add = |key, part, what, answer| all.push(Statement { key, part, what, answer });
    add("dead-space", Part::Arrival, "dead space before the patient", Ok(volume(&delivery.dead_space)));
    let arrival = delivery.arrival.as_ref().map_err(|why| *why);
    add("earliest", Part::Arrival, "no drug before", arrival.map(|arrival| not_before(&arrival.earliest)));
    add("arrived-5", Part::Arrival, "5 % of the rate arrives after", arrival.and_then(|arrival| times(&arrival.first)));
    add(
        "arrived-50",
        Part::Arrival,
        "half of the rate arrives after",
        arrival.and_then(|arrival| times(&arrival.half)),
    );
    add(
        "arrived-95",
        Part::Arrival,
        "95 % of the rate arrives after",
        arrival.and_then(|arrival| times(&arrival.nearly_all)),
    );
    add("transit", Part::Arrival, "through the dead space, the driver running", times(&delivery.transit));
    let start_up = delivery.start_up.as_ref().map_err(|why| *why);
    add(
        "first-fluid",
        Part::Arrival,
        "driver started, until it pushes",
        start_up.and_then(|start| times(&start.first_fluid)),
    );
    add(
        "steady",
        Part::Arrival,
        "driver started, until the flow is steady",
        start_up.and_then(|start| times(&start.steady)),
    );
    add(
        "start-volume",
        Part::Arrival,
        "what the start costs, never made up for",
        start_up.map(|start| volume(&start.volumes.unrecovered)),
    );
    add("alarm", Part::Blocked, "blocked, until the driver alarms", times(&delivery.time_to_alarm));
    add(
        "stored-bolus",
        Part::Blocked,
        "set free when the block is released, at most",
        delivery.largest_bolus.as_ref().map_err(|why| *why).map(at_most),
    );
    add(
        "pressure",
        Part::Other,
        "pressure that the line takes",
        delivery.pressure_drop.as_ref().map_err(|why| *why).map(pressure),
    );
    if let Some(carrier) = beside.carrier {
        let shared = delivery.shared(carrier);
        let shared = shared.as_ref().map_err(|why| *why);
        add(
            "shared-onset",
            Part::Carrier,
            "with the carrier: from start to patient",
            shared.map(|space| time(&space.onset())),
        );
        add(
            "shared-offset",
            Part::Carrier,
            "with the carrier: from stop to none",
            shared.and_then(|space| space.offset().as_ref().map(time).map_err(|why| *why)),
        );
        add(
            "shared-stored",
            Part::Carrier,
            "drug solution that stands in the shared space",
            shared.map(|space| volume(&space.stored())),
        );
        if let Some(becomes) = beside.carrier_becomes {
            let change = shared.map(|space| space.carrier_becomes(super::set_up::flow_of(becomes)));
            let change = change.as_ref().map_err(|why| *why);
            add(
                "carrier-factor",
                Part::Carrier,
                "carrier changed: the drug is multiplied by",
                change.map(|change| factor(change.factor)),
            );
            add("carrier-lasts", Part::Carrier, "carrier changed: for", change.map(|change| time(&change.lasts)));
            add(
                "carrier-beyond",
                Part::Carrier,
                "carrier changed: drug solution beyond the rate",
                change.map(|change| volume(&change.beyond_set)),
            );
        }
    }
    if let Some(by) = beside.raised {
        let moved = delivery.height_change(by);
        let moved = moved.as_ref().map_err(|why| *why);
        let up = by > by * 0.0;
        let what = if up { "raised: given at once beyond the rate, at most" } else { "lowered: drawn back, at most" };
        add("height-volume", Part::Moved, what, moved.map(|change| at_most(&change.moves)));
        if !up {
            let without = |change: &super::height::HeightChange| change.without_flow.as_ref().map(time);
            if let Some(answer) = moved.map(without).transpose() {
                add("height-without", Part::Moved, "lowered: nothing is delivered for", answer);
            }
        }
    }
    if let Some((entered, loaded)) = beside.bores {
        let mistake = SizeMistake::of(entered, loaded);
        add(
            "size-flow",
            Part::Other,
            "another syringe than entered: the flow is multiplied by",
            Ok(factor(mistake.flow_factor)),
        );
        add(
            "size-alarm",
            Part::Other,
            "another syringe than entered: the alarm pressure by",
            Ok(factor(mistake.alarm_factor)),
        );
    }
    all
}

/// The assumptions of all of these, each once.
#[must_use]
pub fn taken_for_granted(all: &[Statement]) -> Vec<Assumption> {
    each_once(all, |range| &range.assumptions)
}

/// What they rest on, each once.
#[must_use]
pub fn rests_on(all: &[Statement]) -> Vec<Source> {
    each_once(all, |range| &range.sources)
}

/// A time as a person reads it, rounded outwards.
#[must_use]
pub fn time(estimate: &Estimate<Time>) -> Range {
    let seconds = |time: Time| time.get::<second>();
    let (low, high) = (seconds(estimate.low()), seconds(estimate.high()));
    let (unit, per) = if high < 120.0 {
        ("s", 1.0)
    } else if high < 7200.0 {
        ("min", 60.0)
    } else {
        ("h", 3600.0)
    };
    range(estimate, (Some(low), high), "s", between(low / per, high / per, unit))
}

/// A volume.
#[must_use]
pub fn volume(estimate: &Estimate<Volume>) -> Range {
    let ml = |volume: Volume| volume.get::<millilitre>();
    let (low, high) = (ml(estimate.low()), ml(estimate.high()));
    range(estimate, (Some(low), high), "mL", between(low, high, "mL"))
}

fn times(modelled: &Modelled<Time>) -> Result<Range, NotModelled> {
    modelled.as_ref().map(time).map_err(|why| *why)
}

fn not_before(estimate: &Estimate<Time>) -> Range {
    let told = time(&estimate.of(Interval::exactly(estimate.low())));
    Range { text: told.text.split(" to ").next().map_or_else(String::new, |low| with_unit(low, &told.text)), ..told }
}

/// The low edge alone, with the unit at the end of the whole.
fn with_unit(low: &str, whole: &str) -> String {
    let unit = whole.rsplit(' ').next().unwrap_or_default();
    if low.ends_with(unit) { low.to_owned() } else { format!("{low} {unit}") }
}

fn at_most(estimate: &Estimate<Volume>) -> Range {
    let high = estimate.high().get::<millilitre>();
    range(estimate, (None, high), "mL", format!("{} mL", up(high)))
}

fn pressure(estimate: &Estimate<Pressure>) -> Range {
    let mmhg = |pressure: Pressure| pressure.get::<millimetre_of_mercury>();
    let (low, high) = (mmhg(estimate.low()), mmhg(estimate.high()));
    range(estimate, (Some(low), high), "mmHg", between(low, high, "mmHg"))
}

fn factor(value: f64) -> Range {
    let digits = if value > 0.0 { (2.0 - value.log10().floor()).clamp(0.0, 12.0) } else { 0.0 };
    let scale = 10_f64.powf(digits);
    let text = format!("{:.12}", (value * scale).round() / scale);
    let text = text.trim_end_matches('0').trim_end_matches('.').to_owned();
    Range { text, edges: (Some(value), value), unit: "", assumptions: vec![Assumption::PlugFlow], sources: Vec::new() }
}

fn range<T: Copy + PartialOrd>(
    estimate: &Estimate<T>,
    edges: (Option<f64>, f64),
    unit: &'static str,
    text: String,
) -> Range {
    Range { text, edges, unit, assumptions: estimate.assumptions(), sources: estimate.sources() }
}

fn between(low: f64, high: f64, unit: &str) -> String {
    let (low, high) = (down(low), up(high));
    if low == high { format!("{low} {unit}") } else { format!("{low} to {high} {unit}") }
}

/// To two digits, towards nothing.
fn down(value: f64) -> String {
    if value < 0.0 { format!("-{}", outwards(-value, f64::ceil)) } else { outwards(value, f64::floor) }
}

/// To two digits, away from nothing.
fn up(value: f64) -> String {
    if value < 0.0 { format!("-{}", outwards(-value, f64::floor)) } else { outwards(value, f64::ceil) }
}

/// Of two significant digits; what is exact to a billionth stays.
fn outwards(value: f64, to: fn(f64) -> f64) -> String {
    if value < 1e-9 {
        return "0".to_owned();
    }
    let scale = 10_f64.powf(1.0 - value.log10().floor());
    let (scaled, nearest) = (value * scale, (value * scale).round());
    let kept = if (scaled - nearest).abs() < 1e-6 { nearest } else { to(scaled) };
    let text = format!("{:.9}", kept / scale);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn each_once<T: Ord + Copy>(all: &[Statement], of: impl Fn(&Range) -> &Vec<T>) -> Vec<T> {
    let mut found: Vec<T> =
        all.iter().filter_map(|told| told.answer.as_ref().ok()).flat_map(|range| of(range).iter().copied()).collect();
    found.sort_unstable();
    found.dedup();
    found
}

/// A length in centimetres, positive or negative.
#[must_use]
pub fn centimetres(value: f64) -> Length {
    Length::new::<centimetre>(value)
}

#[cfg(test)]
mod tests {
    use super::{between, down, up};
    use rstest::rstest;

    #[rstest]
    #[case(0.0, "0", "0")]
    #[case(4.5, "4.5", "4.5")]
    #[case(14.61, "14", "15")]
    #[case(0.1849, "0.18", "0.19")]
    #[case(123.4, "120", "130")]
    #[case(0.05, "0.05", "0.05")]
    #[case(-0.1849, "-0.19", "-0.18")]
    fn edges_are_rounded_outwards(#[case] value: f64, #[case] low: &str, #[case] high: &str) {
        assert_eq!((&*down(value), &*up(value)), (low, high));
    }

    #[test]
    fn an_exact_value_is_one_number() {
        assert_eq!(between(9.0, 9.0, "min"), "9 min");
        assert_eq!(between(9.01, 14.61, "min"), "9 to 15 min");
    }
}
