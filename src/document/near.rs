//! The nearest known name to a mistyped one.

/// The known name that is at most a third of its letters away, the nearest first.
pub(super) fn nearest<'k>(typed: &str, known: &[&'k str]) -> Option<&'k str> {
    /// No field's name is longer, and comparing takes the square of the length.
    const LONGEST: usize = 40;
    let typed: Vec<char> = typed.chars().flat_map(char::to_lowercase).take(LONGEST + 1).collect();
    if typed.len() > LONGEST {
        return None;
    }
    known
        .iter()
        .map(|name| (distance(&typed, &name.chars().collect::<Vec<_>>()), *name))
        .filter(|(steps, name)| *steps <= (name.len() / 3).max(1))
        .min_by_key(|(steps, _)| *steps)
        .map(|(_, name)| name)
}

/// Letters changed, added, lost, or swapped with their neighbour (optimal string alignment).
fn distance(a: &[char], b: &[char]) -> usize {
    let mut before: Vec<usize> = Vec::new();
    let mut last: Vec<usize> = (0..=b.len()).collect();
    for i in 1..=a.len() {
        let mut row = vec![i; b.len() + 1];
        for j in 1..=b.len() {
            let changed = last[j - 1] + usize::from(a[i - 1] != b[j - 1]);
            row[j] = changed.min(last[j] + 1).min(row[j - 1] + 1);
            if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                row[j] = row[j].min(before[j - 2] + 1);
            }
        }
        before = std::mem::replace(&mut last, row);
    }
    last[b.len()]
}

#[cfg(test)]
mod tests {
    use rstest::rstest;

    use super::nearest;

    const KNOWN: [&str; 6] = ["weight", "weight_from", "height", "sex", "drawn_up_at", "dose"];

    #[rstest]
    #[case("wieght", Some("weight"))]
    #[case("Weight", Some("weight"))]
    #[case("weigth", Some("weight"))]
    #[case("hight", Some("height"))]
    #[case("weight-from", Some("weight_from"))]
    #[case("weightfrom", Some("weight_from"))]
    #[case("drawn up at", Some("drawn_up_at"))]
    #[case("dsoe", Some("dose"))]
    #[case("sec", Some("sex"))]
    #[case("area", None)]
    #[case("", None)]
    #[case("x", None)]
    #[case("döse", Some("dose"))]
    fn a_slip_of_the_fingers_finds_its_field(#[case] typed: &str, #[case] expected: Option<&str>) {
        assert_eq!(nearest(typed, &KNOWN), expected);
    }

    #[test]
    fn a_very_long_name_is_near_to_nothing() {
        assert_eq!(nearest(&"weight".repeat(100_000), &KNOWN), None);
    }
}
