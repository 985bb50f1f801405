//! One rate of a table: exact, rounded to the driver's step once, and marked in words where it may not be set.

use crate::formulary::{DoseLimits, Driver, Indication, Policy, Side};
use crate::infusion::rate::{Body, RateError, rate_for};
use crate::infusion::{Settable, beyond_flow};
use crate::quantity::{DoseRate, FlowRate, Ratio, Strength};

use super::{DoseRow, NoTable};

/// A rate in mL/h, or why there is none.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cell {
    /// The rate to the driver's step; none where it may not be set.
    pub set: Option<Ratio>,
    /// What is to be said of it.
    pub mark: Option<CellMark>,
}

/// What is to be said of a rate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum CellMark {
    /// The weight is beyond a hard limit: not shown.
    NotThisWeight,
    /// Beyond a hard limit on the rate: not shown.
    Stopped,
    /// Below what the driver can do: not shown.
    TooSlow,
    /// Above what the driver can do: not shown.
    TooFast,
    /// Above the soft limit on the rate.
    High,
    /// Below the soft limit on the rate.
    Low,
    /// The driver's step changes the dose by more than the house allows without a reason.
    Coarse,
}

impl CellMark {
    /// The word in a cell.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::NotThisWeight => "no rate",
            Self::Stopped => "stopped",
            Self::TooSlow => "too slow",
            Self::TooFast => "too fast",
            Self::High => "high",
            Self::Low => "low",
            Self::Coarse => "coarse",
        }
    }
}

pub(super) struct Judge<'f> {
    pub(super) policy: &'f Policy,
    pub(super) indication: &'f Indication,
    pub(super) limits: &'f DoseLimits,
    pub(super) driver: &'f Driver,
}

impl Judge<'_> {
    /// The rate of a dose.
    pub(super) fn cell(&self, dose: DoseRate, body: Body, strength: Strength) -> Result<Cell, NoTable> {
        let exact = rate_for(dose, body, Some(strength)).map_err(|no_rate| refused(&no_rate))?;
        let flow = &self.indication.flow;
        let settable = Settable::with(self.driver, Some(self.limits), Some(flow), body, strength);
        let settable = settable.map_err(|no_rate| refused(&no_rate))?;
        let (set, _) = settable.rate(exact).map_err(|_| super::too_large())?;
        let without = |mark| Ok(Cell { set: None, mark: Some(mark) });
        if flow.hard.as_ref().is_some_and(|band| beyond_flow(set, band, true, self.driver).is_some()) {
            return without(CellMark::Stopped);
        }
        if set < self.driver.smallest.value() {
            return without(CellMark::TooSlow);
        }
        if set > self.driver.largest.value() {
            return without(CellMark::TooFast);
        }
        let soft = flow.soft.as_ref().and_then(|band| beyond_flow(set, band, false, self.driver));
        let soft = soft.map(|outside| outside.side);
        let mark = match soft {
            Some(Side::Above) => Some(CellMark::High),
            Some(Side::Below) => Some(CellMark::Low),
            None => self.is_coarse(exact, set)?.then_some(CellMark::Coarse),
        };
        Ok(Cell { set: Some(set), mark })
    }

    fn is_coarse(&self, exact: Ratio, set: Ratio) -> Result<bool, NoTable> {
        let apart = exact.apart(set).and_then(|apart| apart.over(exact)?.times(Ratio::whole(100)));
        Ok(apart.map_err(|_| super::too_large())? > self.policy.rounding_justify.value())
    }

    /// What the marks of these rows mean, each once.
    pub(super) fn legend(&self, rows: &[DoseRow]) -> Vec<String> {
        let mut marks: Vec<CellMark> = rows.iter().flat_map(|row| &row.cells).filter_map(|cell| cell.mark).collect();
        marks.sort_unstable();
        marks.dedup();
        let mut legend: Vec<String> =
            marks.into_iter().map(|mark| format!("{}: {}", mark.word(), self.means(mark))).collect();
        if rows.iter().any(|row| !row.usual) {
            legend.push("outside usual: within the soft limits, outside the usual range".to_owned());
        }
        legend
    }

    fn means(&self, mark: CellMark) -> String {
        let flow = &self.indication.flow;
        let limit = |end: Option<FlowRate>| end.map(|end| end.to_string()).unwrap_or_default();
        match mark {
            CellMark::NotThisWeight => "the weight is beyond a hard limit".to_owned(),
            CellMark::Stopped => "the rate is beyond a hard limit, and is not shown".to_owned(),
            CellMark::TooSlow => {
                format!("below {}, the driver's smallest rate: a weaker solution", self.driver.smallest)
            }
            CellMark::TooFast => format!("above {}, the driver's largest rate", self.driver.largest),
            CellMark::High => {
                let to = limit(flow.soft.as_ref().and_then(|band| band.to));
                format!("above {to}, the soft limit on the rate: a written reason")
            }
            CellMark::Low => {
                let from = limit(flow.soft.as_ref().and_then(|band| band.from));
                format!("below {from}, the soft limit on the rate: a written reason")
            }
            CellMark::Coarse => {
                // Where a dose is titrated to its effect, the check notes it and asks for nothing.
                let asks = if self.indication.titrated_to_effect { "to be known" } else { "a written reason" };
                format!("the driver's step changes the dose by more than {}: {asks}", self.policy.rounding_justify)
            }
        }
    }
}

fn refused(no_rate: &RateError) -> NoTable {
    NoTable { code: "no-rate", message: no_rate.to_string(), help: no_rate.help() }
}
