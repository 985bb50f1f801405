//! Where cases and set-ups stand, as data.

use serde::Serialize;

use crate::case::{Board, BoardDriver, CaseList, Cases, EntryTurn, Owed, ReviewStage, SetUpCode, SetUpRow, Task};

use super::notice;

/// Set-ups with what is owed.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct Stands {
    version: u8,
    notice: Option<&'static str>,
    set_ups: Vec<SetUpStands>,
    /// The patient's board, where one case is asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    board: Option<BoardShown>,
    /// How many cases are over and are left out of the list.
    #[serde(skip_serializing_if = "Option::is_none")]
    over_left_out: Option<u64>,
    /// Where to go on for those that were opened before; nothing where there are none.
    #[serde(skip_serializing_if = "Option::is_none")]
    older: Option<u64>,
    /// In words, where the index of cases was changed: every case was read instead.
    #[serde(skip_serializing_if = "Option::is_none")]
    warning: Option<String>,
}

/// Every driver of a patient as it hangs, by the record.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct BoardShown {
    /// The one thing to do next, in one sentence.
    next: Option<String>,
    drivers: Vec<DriverHangs>,
    /// What all running drivers give together, in mL/h and mL/kg/day.
    fluid: Option<String>,
    /// Drugs that run in more than one driver.
    same_drug: Vec<String>,
}

/// One driver as it hangs.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct DriverHangs {
    set_up: Option<String>,
    named: String,
    /// `RUNNING`, `PAUSED`, `EMPTY`, `NOT STARTED`, `STOPPED` or `CLOSED`.
    state: &'static str,
    /// In mL/h.
    rate: Option<String>,
    /// With its unit.
    dose: Option<String>,
    /// Slot and port, as they were read last.
    hangs: Option<String>,
    /// Of what was drawn up, in whole percent.
    left_percent: Option<u64>,
    /// Volume and time.
    left: Option<String>,
    /// When the syringe is to be changed.
    change: Option<String>,
}

impl BoardShown {
    fn of(board: &Board) -> Self {
        let hangs = |driver: &BoardDriver| DriverHangs {
            set_up: driver.row.set_up.map(|code| code.to_string()),
            named: driver.row.named.clone(),
            state: driver.state.word(),
            rate: driver.rate.clone(),
            dose: driver.dose.clone(),
            hangs: Some(driver.hangs.clone()).filter(|hangs| !hangs.is_empty()),
            left_percent: driver.left.as_ref().map(|left| left.percent),
            left: driver.left.as_ref().map(|left| left.says.clone()),
            change: driver.left.as_ref().and_then(|left| left.change.clone()),
        };
        Self {
            next: board.next.as_ref().map(|next| next.says.clone()),
            drivers: board.drivers.iter().map(hangs).collect(),
            fluid: board.fluid.map(|fluid| fluid.says()),
            same_drug: board.same_drug.iter().map(|same| same.says.clone()).collect(),
        }
    }
}

/// One set-up; or a case without any.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct SetUpStands {
    case: String,
    set_up: Option<String>,
    /// In words.
    stands: String,
    /// Nothing before it was started.
    runs: Option<InDriver>,
    owed: Vec<OwedNow>,
    /// Whether it has come to its end.
    over: bool,
}

/// What runs in a driver, by the record.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct InDriver {
    drug: String,
    strength: String,
    driver: String,
    /// With its unit; nothing while it is paused.
    rate: Option<String>,
}

/// Something that somebody still has to do.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct OwedNow {
    /// Kebab-case, stable.
    code: &'static str,
    /// In words.
    says: String,
}

/// An entry that was sealed: where the set-up stands now, and nothing of what either person typed.
#[derive(Debug, Serialize)]
#[cfg_attr(feature = "web", derive(utoipa::ToSchema))]
pub struct EntrySealed {
    version: u8,
    set_up: String,
    sealed: EntryTurn,
    /// From 1; one more each time fields are read again.
    round: u8,
    /// In words.
    stands: String,
    /// Whether both people say the same, and nothing stops: there is a card.
    agreed: bool,
    /// Whether two people each signed a blind entry; never where one checked an emergency entry afterwards.
    double_checked: bool,
    /// The fields in which the entries differ; no value.
    differ: Vec<&'static str>,
}

impl Stands {
    /// Of set-ups of a journal.
    #[must_use]
    pub fn of(cases: &Cases, rows: &[SetUpRow]) -> Self {
        let set_ups = rows.iter().map(SetUpStands::of).collect();
        let (board, over_left_out, older, warning) = (None, None, None, None);
        Self { version: 1, notice: notice(cases), set_ups, board, over_left_out, older, warning }
    }

    /// With the board of the case.
    #[must_use]
    pub fn with_board(self, board: &Board) -> Self {
        Self { board: Some(BoardShown::of(board)), ..self }
    }

    /// Of a list of cases.
    #[must_use]
    pub fn of_list(cases: &Cases, list: &CaseList) -> Self {
        let (over_left_out, older, warning) = (Some(list.over_left_out), list.older, list.warning());
        Self { over_left_out, older, warning, ..Self::of(cases, &list.rows) }
    }
}

impl SetUpStands {
    fn of(row: &SetUpRow) -> Self {
        let runs = row.runs.as_ref().map(|runs| InDriver {
            drug: runs.drug.clone(),
            strength: runs.strength.clone(),
            driver: runs.driver.clone(),
            rate: runs.rate.clone(),
        });
        let (case, set_up) = (row.case.to_string(), row.set_up.map(|set_up| set_up.to_string()));
        Self { case, set_up, stands: row.stands.clone(), runs, owed: OwedNow::all(&row.owed), over: row.over }
    }
}

impl OwedNow {
    /// Of everything that is owed.
    #[must_use]
    pub fn all(owed: &[Owed]) -> Vec<Self> {
        owed.iter().map(|one| Self { code: one.code, says: one.says.clone() }).collect()
    }
}

impl EntrySealed {
    /// Of an entry, and of how far its reading has come with it.
    #[must_use]
    pub fn of(set_up: SetUpCode, task: &Task, stage: &ReviewStage) -> Self {
        Self {
            version: 1,
            set_up: set_up.to_string(),
            sealed: task.place,
            round: task.round,
            stands: stage.says(),
            agreed: matches!(stage, ReviewStage::Agreed(_) | ReviewStage::CheckedAfterwards(..)),
            double_checked: matches!(stage, ReviewStage::Agreed(_)),
            differ: match stage {
                ReviewStage::AwaitsAgain { fields, .. }
                | ReviewStage::AwaitsThird { fields }
                | ReviewStage::NotAgreed { fields } => fields.clone(),
                _ => Vec::new(),
            },
        }
    }
}
