//! What probably happened where two readings differ. For the record; never shown while a field is to be entered again.

use crate::check::cause;
use crate::infusion::Computed;
use crate::quantity::{Ratio, grouped};

/// A field, and the slip that its two values tell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Diagnosis {
    /// The field.
    pub field: &'static str,
    /// The slip, in words.
    pub says: String,
}

/// The value of a field as an exact number, and its digits as typed.
struct Value {
    exact: Ratio,
    digits: String,
}

pub(super) fn of(fields: &[&'static str], first: &Computed<'_>, second: &Computed<'_>) -> Vec<Diagnosis> {
    let diagnose = |field: &&'static str| {
        let both = values(field, first).into_iter().zip(values(field, second));
        let says = both.filter(|(a, b)| a.exact != b.exact).find_map(|(a, b)| says(&a, &b, first))?;
        Some(Diagnosis { field, says })
    };
    fields.iter().filter_map(diagnose).collect()
}

/// The numbers of a field: of a label all three, for one of them alone may have slipped.
fn values(field: &str, computed: &Computed<'_>) -> Vec<Value> {
    let label = computed.entry().label();
    match field {
        "label" => vec![
            Value { exact: label.strength.concentration().per_ml, digits: label.strength.to_string() },
            Value { exact: label.amount.value(), digits: label.amount.number().to_string() },
            Value { exact: label.volume.value(), digits: label.volume.number().to_string() },
        ],
        _ => value(field, computed).into_iter().collect(),
    }
}

fn value(field: &str, computed: &Computed<'_>) -> Option<Value> {
    let entry = computed.entry();
    match field {
        "weight" => {
            let weight = entry.patient().weight;
            Some(Value { exact: weight.value(), digits: weight.number().to_string() })
        }
        "dose" => {
            let dose = entry.dose();
            Some(Value { exact: dose.amount_per_hour(), digits: dose.number().to_string() })
        }
        "bolus" => {
            let dose = entry.bolus()?.dose;
            Some(Value { exact: dose.amount(), digits: dose.number().to_string() })
        }
        "fill" => {
            let fill = entry.fill();
            Some(Value { exact: fill.value(), digits: fill.number().to_string() })
        }
        _ => None,
    }
}

fn says(first: &Value, second: &Value, computed: &Computed<'_>) -> Option<String> {
    if let Some(slip) = cause::of_ratio(first.exact, second.exact) {
        return Some(slip.to_owned());
    }
    let ratio = cause::ratio(first.exact, second.exact)?;
    if ratio == computed.entry().patient().weight.value() {
        return Some("the weight: per kg and per patient taken for each other?".to_owned());
    }
    if let Some(times) = cause::of_strength(first.exact, second.exact) {
        return Some(format!("{} times: a point misplaced, or zeros?", grouped(&times.to_string())));
    }
    transposed(&first.digits, &second.digits).then(|| "two neighbouring digits transposed?".to_owned())
}

/// The same digits, but for one pair of neighbours in each other's place.
fn transposed(first: &str, second: &str) -> bool {
    let (a, b) = (first.as_bytes(), second.as_bytes());
    let unequal: Vec<usize> =
        if a.len() == b.len() { (0..a.len()).filter(|i| a[*i] != b[*i]).collect() } else { Vec::new() };
    matches!(unequal[..], [i, j] if j == i + 1 && a[i] == b[j] && a[j] == b[i])
}

#[cfg(test)]
mod tests {
    use super::transposed;

    #[test]
    fn neighbours_in_each_others_place() {
        assert!(transposed("84.2", "48.2"));
        assert!(!transposed("84.2", "84.3"));
        assert!(!transposed("84.2", "24.8"));
        assert!(!transposed("84.2", "842"));
    }
}
