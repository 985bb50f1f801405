//! The counts alone, for a page: what moved, by use and by rule. No example of an entry is among them.

use super::Replay;

/// What a proposed formulary makes of the past set-ups of one use.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MovedUse {
    /// Drug, area, indication.
    pub names: [String; 3],
    /// Of how many set-ups.
    pub set_ups: u64,
    /// They went on, or needed a reason, and would stop.
    pub newly_stopped: u64,
    /// They went on, and would need a reason.
    pub newly_asked: u64,
    /// They stopped, and would no longer.
    pub no_longer_stopped: u64,
    /// They needed a reason, and would no longer need one.
    pub no_longer_asked: u64,
}

/// What a proposed formulary makes of one rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MovedRule {
    /// Its code.
    pub code: &'static str,
    /// How often it speaks now.
    pub now: u64,
    /// How often it would.
    pub proposed: u64,
    /// Where it would speak and does not now.
    pub newly: u64,
    /// Where it speaks now and would not.
    pub no_longer: u64,
}

impl Replay {
    /// How many entries were held against both.
    #[must_use]
    pub const fn set_ups(&self) -> u64 {
        self.entries
    }

    /// Every use with anything that moved.
    #[must_use]
    pub fn moved_uses(&self) -> Vec<MovedUse> {
        let all = self.uses.iter().map(|(names, used)| {
            let moved = used.moved;
            MovedUse {
                names: names.clone(),
                set_ups: used.entries,
                newly_stopped: moved[1][0] + moved[2][0],
                newly_asked: moved[2][1],
                no_longer_stopped: moved[0][1] + moved[0][2],
                no_longer_asked: moved[1][2],
            }
        });
        all.filter(MovedUse::has_moved).collect()
    }

    /// All uses in one.
    #[must_use]
    pub fn moved_in_all(&self) -> MovedUse {
        let mut all = MovedUse { names: <[String; 3]>::default(), set_ups: self.entries, ..MovedUse::none() };
        for used in self.moved_uses() {
            all.newly_stopped += used.newly_stopped;
            all.newly_asked += used.newly_asked;
            all.no_longer_stopped += used.no_longer_stopped;
            all.no_longer_asked += used.no_longer_asked;
        }
        all
    }

    /// Every rule that speaks otherwise.
    #[must_use]
    pub fn moved_rules(&self) -> Vec<MovedRule> {
        let all = self.rules.iter().map(|(code, rule)| MovedRule {
            code,
            now: rule.now,
            proposed: rule.proposed,
            newly: rule.only_proposed,
            no_longer: rule.only_now,
        });
        all.filter(|rule| rule.newly + rule.no_longer > 0).collect()
    }
}

impl MovedUse {
    fn none() -> Self {
        Self {
            names: <[String; 3]>::default(),
            set_ups: 0,
            newly_stopped: 0,
            newly_asked: 0,
            no_longer_stopped: 0,
            no_longer_asked: 0,
        }
    }

    const fn has_moved(&self) -> bool {
        self.newly_stopped + self.newly_asked + self.no_longer_stopped + self.no_longer_asked > 0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pharmacy::replay::Use;

    #[test]
    fn what_moved_is_told_by_use_and_adds_up() {
        let mut replay = Replay { entries: 30, ..Replay::default() };
        let moved = |moved| Use { entries: 15, moved, ..Use::default() };
        let names = |drug: &str| [drug.to_owned(), "adult theatre".to_owned(), "vasopressor".to_owned()];
        replay.uses.insert(names("noradrenaline"), moved([[1, 2, 0], [3, 4, 0], [0, 1, 4]]));
        replay.uses.insert(names("adrenaline"), moved([[5, 0, 0], [0, 5, 0], [0, 0, 5]]));
        let used = replay.moved_uses();
        assert_eq!(used.len(), 1);
        let of = &used[0];
        assert_eq!((of.newly_stopped, of.newly_asked, of.no_longer_stopped, of.no_longer_asked), (3, 1, 2, 0));
        let all = replay.moved_in_all();
        assert_eq!((all.set_ups, all.newly_stopped, all.newly_asked), (30, 3, 1));
    }
}
