//! The slips, one line each in the table: what is done to an entry. In: a correct entry. Out: the entry as somebody who
//! slipped would have made it, or nothing where the slip cannot be made there.

use countersign::formulary::{Composition, Formulary, Lookup};
use countersign::pharmacy::sample::Lot;
use countersign::quantity::{Number, NumberForm, Product, Ratio, plain};
use serde_json::{Value, json};

use super::draw::Correct;

/// A slip.
pub(crate) struct Slip {
    pub(crate) id: &'static str,
    pub(crate) says: &'static str,
    /// How often it is drawn among its neighbours.
    pub(crate) weight: usize,
    /// Whether two readings of it tell their cause.
    pub(crate) tells: bool,
    /// Whether both may read the same wrong source.
    pub(crate) shared: bool,
    pub(crate) make: fn(&Made<'_>, &mut Lot) -> Option<Value>,
}

/// What a slip is made of.
pub(crate) struct Made<'m> {
    pub(crate) correct: &'m Correct,
    /// Another correct set-up, lying about.
    pub(crate) other: &'m Correct,
    pub(crate) formulary: &'m Formulary,
    /// The label is read as one: amount and strength slip together.
    pub(crate) both: bool,
}

macro_rules! slips {
    ($($id:literal, $says:literal, $weight:literal, $tells:literal, $shared:literal, $make:expr;)+) => {
        /// Every slip. Shares of tenfold slips: Lesar 2002, Ann Pharmacother 36:1833 (point misplaced 43.5 %, zero added 31.5 %,
        /// zero lost 25 %); otherwise equal.
        pub(crate) const SLIPS: &[Slip] =
            &[$(Slip { id: $id, says: $says, weight: $weight, tells: $tells, shared: $shared, make: $make }),+];
    };
}

slips! {
    "N1", "a point misplaced or lost", 131, true, true, |made, lot| numbers(made, lot, point);
    "N2", "a zero added", 95, true, true, |made, lot| numbers(made, lot, |text, _| whole(text).then(|| format!("{text}0")));
    "N3", "a zero lost", 75, true, true, |made, lot| numbers(made, lot, zero_lost);
    "N4", "a digit substituted", 100, false, true, |made, lot| numbers(made, lot, substituted);
    "N5", "neighbouring digits transposed", 100, true, true, |made, lot| numbers(made, lot, transposed);
    "N6", "a digit lost", 100, false, true, |made, lot| numbers(made, lot, digit_lost);
    "N7", "a key that bounced", 100, false, true, |made, lot| numbers(made, lot, doubled);
    "N9", "a malformed number", 100, false, false, |made, lot| numbers(made, lot, malformed);
    "N11", "the weight's number in the dose", 100, false, true, |made, _| {
        let weight = number(&made.correct.entry["patient"]["weight"])?.0;
        set_number(made, &["dose"], &weight)
    };
    "N12", "dose and weight swapped", 100, false, true, |made, _| {
        let (weight, dose) = (number(&made.correct.entry["patient"]["weight"])?.0, number(&made.correct.entry["dose"])?.0);
        let mut entry = set_number(made, &["dose"], &weight)?;
        entry["patient"]["weight"] = json!(format!("{dose} kg"));
        Some(entry)
    };
    "N13", "the dose of another order kept", 100, false, true, |made, _| {
        set_number(made, &["dose"], &number(&made.other.entry["dose"])?.0)
    };
    "U1", "mg, mcg and nanogram taken for each other", 100, true, true, |made, lot| {
        if made.both && lot.one_in(2) { label_units(made, lot) } else { dose_unit(made, |unit| masses(unit, lot)) }
    };
    "U2", "per minute and per hour", 100, true, true, |made, _| {
        dose_unit(made, |unit| swapped(unit, "/min", "/h"))
    };
    "U3", "per hour and per day", 100, true, true, |made, _| {
        let (dose, unit) = number(&made.correct.entry["dose"])?;
        let (by, over) = if unit.ends_with("/h") { (1_u64, 24_u64) } else { (1, 1440) };
        let value = value(&dose)?.times(Ratio::whole(by)).ok()?.over(Ratio::whole(over)).ok()?;
        set_number(made, &["dose"], &short(value))
    };
    "U4", "per kg left out or put in", 100, false, true, |made, _| {
        dose_unit(made, |unit| if unit.contains("/kg") { Some(unit.replacen("/kg", "", 1)) } else { unit.split_once('/').map(|(first, rest)| format!("{first}/kg/{rest}")) })
    };
    "U5", "per kg and the time", 100, false, true, |made, _| {
        dose_unit(made, |unit| swapped(&unit.replacen("/kg", "", 1), "/min", "/h").filter(|_| unit.contains("/kg")))
    };
    "U7", "amount in the syringe taken for amount per mL", 100, false, true, |made, _| {
        let (amount, unit) = number(&made.correct.entry["label"]["amount"])?;
        let mut entry = made.correct.entry.clone();
        entry["label"]["strength"] = json!(format!("{amount} {unit}/mL"));
        if made.both {
            let volume = number(&entry["label"]["volume"])?.0;
            let all = value(&amount)?.times(value(&volume)?).ok()?;
            entry["label"]["amount"] = json!(format!("{} {unit}", short(all)));
        }
        Some(entry)
    };
    "W1", "pounds taken for kilograms", 100, true, true, |made, _| weight_times(made, (22046, 10000));
    "W1b", "kilograms converted once too often", 100, true, true, |made, _| weight_times(made, (10000, 22046));
    "W2", "another patient's weight", 100, false, true, |made, _| {
        set_number(made, &["patient", "weight"], &number(&made.other.entry["patient"]["weight"])?.0)
    };
    "W3", "grams taken for kilograms", 100, true, true, |made, _| weight_times(made, (1000, 1));
    "C1", "another stocked strength", 100, false, true, another_strength;
    "D1", "another drug with the same numbers", 100, false, true, another_drug;
    "D3", "another patient", 100, false, false, |made, _| {
        let mut entry = made.correct.entry.clone();
        entry["patient"]["identifiers"] = made.other.entry["patient"]["identifiers"].clone();
        Some(entry)
    };
}

/// How a syringe was made otherwise than its label says, and both say so truly.
pub(crate) const MADE_OTHERWISE: &[Slip] = &[
    Slip {
        id: "C2",
        says: "an ampoule too many or too few",
        weight: 1,
        tells: false,
        shared: true,
        make: |made, lot| {
            let mut entry = made.correct.entry.clone();
            let count = value(entry["made_from"]["ampoules"].as_str()?)?;
            let other = if lot.one_in(2) {
                count.plus(Ratio::ONE).ok()?
            } else {
                count.less(Ratio::ONE).ok().filter(|left| !left.is_zero())?
            };
            entry["made_from"]["ampoules"] = json!(short(other));
            Some(entry)
        },
    },
    Slip {
        id: "C3",
        says: "added to for made up to, and the other way",
        weight: 1,
        tells: false,
        shared: true,
        make: |made, _| {
            let mut entry = made.correct.entry.clone();
            let other = match entry["made_from"]["how"].as_str()? {
                "made up to" => "added to",
                "added to" => "made up to",
                _ => return None,
            };
            entry["made_from"]["how"] = json!(other);
            Some(entry)
        },
    },
    Slip {
        id: "C4",
        says: "not diluted",
        weight: 1,
        tells: false,
        shared: true,
        make: |made, _| {
            let mut entry = made.correct.entry.clone();
            if entry["made_from"]["how"].as_str()? == "undiluted" {
                return None;
            }
            entry["made_from"]["how"] = json!("undiluted");
            entry["made_from"].as_object_mut()?.remove("diluent");
            Some(entry)
        },
    },
    Slip {
        id: "C5",
        says: "ampoules of another strength",
        weight: 1,
        tells: false,
        shared: true,
        make: |made, lot| {
            let mut entry = made.correct.entry.clone();
            let of = entry["made_from"]["of"].as_str()?.to_owned();
            let (digits, rest) = number(&json!(of))?;
            let by = [2_u64, 5, 10][lot.below(3)];
            entry["made_from"]["of"] =
                json!(format!("{} {rest}", short(value(&digits)?.times(Ratio::whole(by)).ok()?)));
            Some(entry)
        },
    },
];

/// Applies a change to one number: dose, weight, or the label; of a label that both read, amount and strength together.
fn numbers(made: &Made<'_>, lot: &mut Lot, change: fn(&str, &mut Lot) -> Option<String>) -> Option<Value> {
    let places: [&[&str]; 8] = [
        &["dose"],
        &["patient", "weight"],
        &["label", "amount"],
        &["titrate", "to"],
        &["bolus", "dose"],
        &["label", "strength"],
        &["label", "volume"],
        &["fill"],
    ];
    // What both read wrong is the order, the weight, or the label as a whole.
    let place = if made.both { places[lot.below(5)] } else { places[lot.below(8)] };
    let (digits, _) = number(at(&made.correct.entry, place)?)?;
    let changed = change(&digits, lot).filter(|changed| *changed != digits)?;
    if !(made.both && place == ["label", "amount"]) {
        return set_number(made, place, &changed);
    }
    let by = value(&changed)?.over(value(&digits)?).ok()?;
    label_times(made, by)
}

/// Amount and strength of the label, as if it had been written so.
fn label_times(made: &Made<'_>, by: Ratio) -> Option<Value> {
    let mut entry = made.correct.entry.clone();
    for part in ["amount", "strength"] {
        let (digits, unit) = number(&entry["label"][part])?;
        entry["label"][part] = json!(format!("{} {unit}", short(value(&digits)?.times(by).ok()?)));
    }
    Some(entry)
}

fn label_units(made: &Made<'_>, lot: &mut Lot) -> Option<Value> {
    let unit = number(&made.correct.entry["label"]["amount"])?.1;
    let by = if unit.starts_with("mcg") || lot.one_in(2) { Ratio::whole(1000) } else { Ratio::new(1, 1000).ok()? };
    label_times(made, by)
}

fn set_number(made: &Made<'_>, place: &[&str], digits: &str) -> Option<Value> {
    let (old, unit) = number(at(&made.correct.entry, place)?)?;
    if old == digits {
        return None;
    }
    let mut entry = made.correct.entry.clone();
    let mut node = &mut entry;
    for key in place {
        node = node.get_mut(*key)?;
    }
    *node = json!(format!("{digits} {unit}"));
    Some(entry)
}

fn weight_times(made: &Made<'_>, by: (u128, u128)) -> Option<Value> {
    let (digits, _) = number(&made.correct.entry["patient"]["weight"])?;
    let weight = value(&digits)?.times(Ratio::new(by.0, by.1).ok()?).ok()?;
    let tenth = Ratio::new(1, if weight < Ratio::whole(10) { 100 } else { 10 }).ok()?;
    set_number(made, &["patient", "weight"], &short(weight.to_nearest(tenth).ok()?))
}

fn dose_unit(made: &Made<'_>, change: impl FnOnce(&str) -> Option<String>) -> Option<Value> {
    let (digits, unit) = number(&made.correct.entry["dose"])?;
    let changed = change(&unit).filter(|changed| *changed != unit)?;
    let mut entry = made.correct.entry.clone();
    entry["dose"] = json!(format!("{digits} {changed}"));
    Some(entry)
}

fn masses(unit: &str, lot: &mut Lot) -> Option<String> {
    let (mass, rest) = unit.split_once('/')?;
    let other = match mass {
        "mcg" | "microgram" => ["mg", "nanogram"][lot.below(2)],
        "mg" => "mcg",
        "nanogram" => "mcg",
        "g" => "mg",
        _ => return None,
    };
    Some(format!("{other}/{rest}"))
}

fn swapped(unit: &str, one: &str, other: &str) -> Option<String> {
    if let Some(before) = unit.strip_suffix(one) {
        return Some(format!("{before}{other}"));
    }
    unit.strip_suffix(other).map(|before| format!("{before}{one}"))
}

/// Both read the label of another stocked strength. What it was made from is told as it was, since both are asked for the ampoules
/// where several strengths are stocked; in one of three nobody saw it made (chosen, no source).
fn another_strength(made: &Made<'_>, lot: &mut Lot) -> Option<Value> {
    let Lookup::Found(drug) = made.formulary.drug(made.correct.entry["drug"].as_str()?) else { return None };
    let stocked = &drug.strengths[lot.below(drug.strengths.len())];
    let Composition::Fixed { amount, volume, .. } = stocked.composition else { return None };
    let unit = stocked.amount_unit();
    let strength = Product::ONE.ratio(amount.value()).over_unit(unit).over_ratio(volume.value()).finish().ok()?;
    let mut entry = made.correct.entry.clone();
    entry["label"] = json!({
        "amount": amount.to_string(),
        "volume": volume.to_string(),
        "strength": format!("{} {}/mL", short(strength), unit.shown()),
    });
    if entry["label"] == made.correct.entry["label"] {
        return None;
    }
    if lot.one_in(3) && entry.get("made_from").is_some() {
        entry["made_from"] = json!("not seen");
    }
    Some(entry)
}

fn another_drug(made: &Made<'_>, lot: &mut Lot) -> Option<Value> {
    let drugs = made.formulary.usable();
    let drug = drugs[lot.below(drugs.len())];
    let area = made.correct.entry["area"].as_str()?;
    let unit = number(&made.correct.entry["dose"])?.1;
    let mut uses = drug.indications.iter().filter(|one| one.area == area && one.dose_unit.to_string() == unit);
    let indication = uses.next()?;
    let mut entry = made.correct.entry.clone();
    if entry["drug"] == json!(drug.name) {
        return None;
    }
    entry["drug"] = json!(drug.name);
    entry["indication"] = json!(indication.name);
    Some(entry)
}

fn point(text: &str, lot: &mut Lot) -> Option<String> {
    let by = if lot.one_in(8) { 100 } else { 10 };
    let exact = value(text)?;
    let moved = if lot.one_in(2) { exact.times(Ratio::whole(by)) } else { exact.over(Ratio::whole(by)) };
    Some(short(moved.ok()?))
}

fn whole(text: &str) -> bool {
    !text.contains('.')
}

fn zero_lost(text: &str, _: &mut Lot) -> Option<String> {
    let at = text.rfind('0')?;
    let lost = format!("{}{}", &text[..at], &text[at + 1..]);
    // 0.5 without its first zero is malformed, and another slip.
    Number::parse(&lost, NumberForm::Dose).ok().map(|_| lost)
}

fn substituted(text: &str, lot: &mut Lot) -> Option<String> {
    digit(text, lot, |digit, lot| {
        Some(char::from(b'0' + u8::try_from((usize::from(digit - b'0') + 1 + lot.below(9)) % 10).ok()?).to_string())
    })
}

fn digit_lost(text: &str, lot: &mut Lot) -> Option<String> {
    digit(text, lot, |_, _| Some(String::new()))
}

fn doubled(text: &str, lot: &mut Lot) -> Option<String> {
    digit(text, lot, |digit, _| Some(char::from(digit).to_string().repeat(2)))
}

fn digit(text: &str, lot: &mut Lot, change: fn(u8, &mut Lot) -> Option<String>) -> Option<String> {
    let places: Vec<usize> =
        text.bytes().enumerate().filter(|(_, byte)| byte.is_ascii_digit()).map(|(at, _)| at).collect();
    let at = places[lot.below(places.len())];
    let changed = format!("{}{}{}", &text[..at], change(text.as_bytes()[at], lot)?, &text[at + 1..]);
    Number::parse(&changed, NumberForm::Dose).ok().map(|_| changed)
}

fn transposed(text: &str, lot: &mut Lot) -> Option<String> {
    let bytes = text.as_bytes();
    let pairs: Vec<usize> = (1..bytes.len())
        .filter(|at| bytes[at - 1].is_ascii_digit() && bytes[*at].is_ascii_digit() && bytes[at - 1] != bytes[*at])
        .collect();
    if pairs.is_empty() {
        return None;
    }
    let at = pairs[lot.below(pairs.len())];
    let mut changed = bytes.to_vec();
    changed.swap(at - 1, at);
    String::from_utf8(changed).ok().filter(|changed| Number::parse(changed, NumberForm::Dose).is_ok())
}

fn malformed(text: &str, lot: &mut Lot) -> Option<String> {
    Some(match lot.below(7) {
        0 => format!("{text}."),
        1 => text.replacen('.', "..", 1),
        2 => text.replacen('.', ",", 1),
        3 => text.strip_prefix('0').map(str::to_owned)?,
        4 => text.replacen('0', "O", 1),
        5 => text.replacen('1', "l", 1),
        _ => format!("{text}e1"),
    })
}

fn at<'v>(entry: &'v Value, place: &[&str]) -> Option<&'v Value> {
    place.iter().try_fold(entry, |node, key| node.get(*key))
}

/// `0.08 mcg/kg/min` as its digits and the rest.
fn number(text: &Value) -> Option<(String, String)> {
    let text = text.as_str()?;
    let (digits, unit) = text.split_once(' ')?;
    digits.starts_with(|c: char| c.is_ascii_digit()).then(|| (digits.to_owned(), unit.to_owned()))
}

fn value(digits: &str) -> Option<Ratio> {
    Number::parse(digits, NumberForm::MeasuredOrZero).ok().map(Number::ratio)
}

/// At most nine digits, as people write them.
fn short(value: Ratio) -> String {
    let text = plain(value);
    if text.bytes().filter(u8::is_ascii_digit).count() > 9 {
        countersign::quantity::significant(value, 6).0
    } else {
        text
    }
}

/// One of the slips of digits.
pub(crate) fn any_number(text: &str, lot: &mut Lot) -> Option<String> {
    let change: fn(&str, &mut Lot) -> Option<String> =
        [point, zero_lost, substituted, transposed, digit_lost, doubled][lot.below(6)];
    change(text, lot)
}

/// A number as typed.
pub(crate) fn exact(digits: &str) -> Option<Ratio> {
    value(digits)
}

/// By how many times a slip changed what is ordered beside the dose: the upper end of the range, or the bolus.
pub(crate) fn beside_the_dose(correct: &Value, slipped: &Value) -> Option<Ratio> {
    let digits = |entry: &Value, place: &[&str]| value(&number(at(entry, place)?)?.0);
    [["titrate", "to"], ["bolus", "dose"]].into_iter().find_map(|place| {
        let (right, wrong) = (digits(correct, &place)?, digits(slipped, &place)?);
        (right != wrong).then(|| wrong.over(right).ok()).flatten()
    })
}
