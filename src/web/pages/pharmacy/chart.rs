//! Findings per 100 set-ups, month by month, as bars. Drawn in whole numbers; the exact ones stand in the table beneath.

use maud::{Markup, html};

use crate::pharmacy::alerts::{Alerts, FEW, Tally};

const HEIGHT: u64 = 220;
const TOP: u64 = 30;
const GROUP: u64 = 96;
const BAR: u64 = 22;
const LEFT: u64 = 44;
/// So many months are drawn; the table has every one.
const MOST: usize = 24;

/// Each kind of finding is filled otherwise, and has its letter: no colour is needed to tell them apart.
const KINDS: [(&str, &str); 3] =
    [("S", "S: stops, filled"), ("R", "R: reasons asked for, hatched"), ("N", "N: notes, open")];

/// The picture, where at least one month has enough set-ups for a share.
pub(super) fn drawn(counted: &Alerts) -> Markup {
    let skipped = counted.months.len().saturating_sub(MOST);
    let months: Vec<(&String, &Tally)> = counted.months.iter().skip(skipped).collect();
    let enough = |tally: &Tally| tally.set_ups >= FEW;
    if !months.iter().any(|(_, tally)| enough(tally)) {
        return html! {
            p { "No month has " (FEW) " set-ups yet: a picture of shares would mislead. The counts are in the table." }
        };
    }
    let shares = |tally: &Tally| [tally.stops, tally.asked, tally.notes].map(|count| per_hundred(count, tally.set_ups));
    let shown = months.iter().filter(|(_, tally)| enough(tally));
    let most = shown.flat_map(|(_, tally)| shares(tally)).max().unwrap_or(0).max(1);
    let width = LEFT + GROUP * u64::try_from(months.len()).unwrap_or(1);
    let (bottom, all) = (TOP + HEIGHT, TOP + HEIGHT + 48);
    html! {
        div.wide role="region" aria-label="Picture of findings by month" tabindex="0" {
            svg.chart role="img" aria-labelledby="chart-title chart-says" viewBox={ "0 0 " (width) " " (all) } width=(width) height=(all) xmlns="http://www.w3.org/2000/svg" {
                title id="chart-title" { "Findings per 100 set-ups, by month" }
                desc id="chart-says" { "The same numbers stand in the table beneath. The tallest bar is " (most) " per 100 set-ups." }
                defs {
                    pattern id="hatched" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)" {
                        rect width="2" height="6" class="ink" {}
                    }
                }
                text x="0" y=(TOP) { (most) }
                text x="0" y=(bottom) { "0" }
                line x1=(LEFT) y1=(bottom) x2=(width) y2=(bottom) class="axis" {}
                @for (at, (month, tally)) in (0_u64..).zip(&months) {
                    @let left = LEFT + GROUP * at + 8;
                    @if enough(tally) {
                        @for (bar, share) in (0_u64..).zip(shares(tally)) {
                            (bar_at(left + bar * (BAR + 4), bottom, HEIGHT * share / most, bar))
                        }
                        text x=(left) y=(bottom + 34) { "of " (tally.set_ups) }
                    } @else {
                        text x=(left) y=(bottom + 34) { "few: " (tally.set_ups) }
                    }
                    text x=(left) y=(bottom + 16) { (month) }
                }
            }
        }
        p.hint { "Bars: " (KINDS.map(|(_, says)| says).join("; ")) ". Under each month, of how many set-ups; of fewer than " (FEW) " none is drawn." }
        @if skipped > 0 { p.hint { "Drawn are the last " (MOST) " months." } }
    }
}

fn bar_at(x: u64, bottom: u64, height: u64, kind: u64) -> Markup {
    let (letter, _) = KINDS[usize::try_from(kind).unwrap_or(0).min(2)];
    let class = ["bar filled", "bar hatched", "bar open"][usize::try_from(kind).unwrap_or(0).min(2)];
    let fill = if class == "bar hatched" { Some("url(#hatched)") } else { None };
    html! {
        rect x=(x) y=(bottom - height) width=(BAR) height=(height) class=(class) fill=[fill] {}
        text x=(x + 6) y=(bottom - height - 4) { (letter) }
    }
}

/// Whole, halves up: a bar is no finer.
const fn per_hundred(count: u64, of: u64) -> u64 {
    if of == 0 { 0 } else { (count * 200 + of) / (of * 2) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn counted(set_ups: u64) -> Alerts {
        let mut alerts = Alerts::default();
        alerts.months.insert("2026-02".to_owned(), Tally { set_ups, stops: 3, asked: 7, notes: 30 });
        alerts.months.insert("2026-03".to_owned(), Tally { set_ups: 2, stops: 2, asked: 0, notes: 0 });
        alerts
    }

    #[test]
    fn a_month_with_few_set_ups_has_no_bar_and_says_how_many() {
        let drawn = drawn(&counted(60)).into_string();
        assert_eq!(drawn.matches("class=\"bar ").count(), 3, "{drawn}");
        assert!(drawn.contains("of 60") && drawn.contains("few: 2"), "{drawn}");
        assert!(drawn.contains("<title id=\"chart-title\">") && drawn.contains("<desc id=\"chart-says\">"));
        assert!(!drawn.contains("style="), "the policy of the pages forbids it");
        // 30 in 60 is the tallest, 3 in 60 a tenth of it.
        assert!(drawn.contains(&format!("height=\"{HEIGHT}\"")) && drawn.contains("height=\"22\""), "{drawn}");
    }

    #[test]
    fn of_few_set_ups_no_picture_is_drawn() {
        let drawn = drawn(&counted(19)).into_string();
        assert!(!drawn.contains("<svg") && drawn.contains("would mislead"), "{drawn}");
    }
}
