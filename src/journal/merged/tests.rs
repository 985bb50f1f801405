//! Servers that write alone, and meet now and then: all of them come to one history.

use std::collections::HashMap;

use proptest::prelude::*;

use super::*;

/// What one server does.
#[derive(Debug, Clone)]
enum Act {
    /// It writes an event; its clock is off by so many seconds.
    Write { server: usize, off: i64 },
    /// It takes in everything that another knows.
    Meet { server: usize, other: usize },
}

/// What each server knows, in the order in which it learned of it.
struct House {
    servers: Vec<Vec<ChainEvent>>,
    written: u64,
}

impl House {
    fn new(servers: usize) -> Self {
        Self { servers: vec![Vec::new(); servers], written: 0 }
    }

    fn does(&mut self, act: &Act) {
        match *act {
            Act::Write { server, off } => {
                self.written += 1;
                let journal = format!("server-{server}");
                let known = &mut self.servers[server];
                let seq = known.iter().filter(|event| event.journal == journal).count() as u64 + 1;
                let follows = merge_chains(known.clone()).heads;
                let at = at(i64::try_from(self.written).expect("few") * 60 + off);
                let hash = Hash::of(format!("{journal} {seq} {follows:?} {at:?}").as_bytes());
                known.push(ChainEvent { journal, seq, hash, follows, at });
            }
            Act::Meet { server, other } => {
                for event in self.servers[other].clone() {
                    if !self.servers[server].contains(&event) {
                        self.servers[server].push(event);
                    }
                }
            }
        }
    }
}

fn at(seconds: i64) -> Moment {
    let of_the_day = 43_200 + seconds;
    let (hours, minutes, seconds) = (of_the_day / 3_600, of_the_day / 60 % 60, of_the_day % 60);
    Moment::parse(&format!("2026-03-14T{hours:02}:{minutes:02}:{seconds:02}Z")).expect("a moment of the day")
}

fn acts(servers: usize) -> impl Strategy<Value = Vec<Act>> {
    let write = (0..servers, -3_600_i64..3_600).prop_map(|(server, off)| Act::Write { server, off });
    let meet = (0..servers, 0..servers).prop_map(|(server, other)| Act::Meet { server, other });
    prop::collection::vec(prop_oneof![3 => write, 1 => meet], 1..40)
}

fn hashes(history: &CaseHistory) -> Vec<Hash> {
    history.events.iter().map(|event| event.hash).collect()
}

proptest! {
    // hazard: H-RECORD
    #[test]
    fn servers_that_were_cut_off_come_to_one_history(acts in acts(3), order in any::<u64>()) {
        let mut house = House::new(3);
        acts.iter().for_each(|act| house.does(act));
        let before: Vec<CaseHistory> = house.servers.iter().map(|known| merge_chains(known.clone())).collect();
        let mut all: Vec<ChainEvent> = house.servers.concat();
        let whole = merge_chains(all.clone());
        prop_assert_eq!(whole.events.len() as u64, house.written, "nothing is lost, and nothing is there twice");
        prop_assert!(whole.missing.is_empty() && whole.second_hashes.is_empty());
        // In whatever order it arrives.
        all.sort_by_key(|event| Hash::of(&[event.hash.as_bytes().as_slice(), &order.to_be_bytes()].concat()));
        prop_assert_eq!(&merge_chains(all), &whole);
        for (server, other) in [(0, 1), (1, 2), (2, 0), (0, 1), (1, 2)] {
            house.does(&Act::Meet { server, other });
            house.does(&Act::Meet { server: other, other: server });
        }
        for known in &house.servers {
            prop_assert_eq!(&merge_chains(known.clone()), &whole);
        }
        // What a server knew before is in the same order after.
        for known in before {
            let mut after = hashes(&whole);
            after.retain(|hash| hashes(&known).contains(hash));
            prop_assert_eq!(after, hashes(&known));
        }
    }

    // hazard: H-RECORD
    #[test]
    fn nothing_stands_before_what_its_author_saw(acts in acts(3)) {
        let mut house = House::new(3);
        acts.iter().for_each(|act| house.does(act));
        let whole = merge_chains(house.servers.concat());
        let places: HashMap<Hash, usize> = hashes(&whole).into_iter().zip(0..).collect();
        for event in &whole.events {
            for before in &event.follows {
                prop_assert!(places[before] < places[&event.hash]);
            }
            let own = whole.events.iter().filter(|other| other.journal == event.journal && other.seq < event.seq);
            for before in own {
                prop_assert!(places[&before.hash] < places[&event.hash]);
            }
        }
        // The next event joins every branch.
        let next = Act::Write { server: 0, off: 0 };
        house.servers[0] = whole.events.clone();
        house.does(&next);
        prop_assert_eq!(merge_chains(house.servers[0].clone()).heads.len(), 1);
    }

    // hazard: H-RECORD
    #[test]
    fn what_has_not_arrived_is_named(acts in acts(3), lost in any::<prop::sample::Index>()) {
        let mut house = House::new(3);
        acts.iter().for_each(|act| house.does(act));
        let whole = merge_chains(house.servers.concat());
        prop_assume!(!whole.events.is_empty());
        let gone = whole.events[lost.index(whole.events.len())].hash;
        let rest = merge_chains(whole.events.iter().filter(|event| event.hash != gone).cloned());
        let is_followed = whole.events.iter().any(|event| event.follows.contains(&gone));
        prop_assert_eq!(rest.missing.contains(&gone), is_followed);
        prop_assert_eq!(rest.events.len() + 1, whole.events.len());
    }

    // hazard: H-RECORD
    #[test]
    fn a_second_hash_under_one_number_is_named_and_hides_neither(acts in acts(2), forged in any::<prop::sample::Index>()) {
        let mut house = House::new(2);
        acts.iter().for_each(|act| house.does(act));
        let honest = merge_chains(house.servers.concat());
        prop_assume!(!honest.events.is_empty());
        let mut second = honest.events[forged.index(honest.events.len())].clone();
        let first = second.hash;
        second.hash = Hash::of(b"another history");
        let (journal, seq, hash) = (second.journal.clone(), second.seq, second.hash);
        for forged_first in [true, false] {
            let mut all = honest.events.clone();
            if forged_first { all.insert(0, second.clone()) } else { all.push(second.clone()) }
            let merged = merge_chains(all);
            let hashes_there = BTreeSet::from([first, hash]);
            prop_assert_eq!(&merged.second_hashes, &vec![SecondHash { journal: journal.clone(), seq, hashes: hashes_there }]);
            prop_assert_eq!(merged.events.len(), honest.events.len() + 1);
        }
    }
}

// Two people at two servers that do not see each other give a bolus each: both are in the record, by their own times.
// hazard: H-RECORD
#[test]
fn what_happened_at_two_servers_is_told_by_its_own_times() {
    let event = |journal: &str, seq, follows: &[Hash], seconds| ChainEvent {
        journal: journal.to_owned(),
        seq,
        hash: Hash::of(format!("{journal} {seq}").as_bytes()),
        follows: follows.to_vec(),
        at: at(seconds),
    };
    let started = event("a", 1, &[], 0);
    let bolus_a = event("a", 7, &[started.hash], 120);
    let bolus_b = event("b", 4, &[started.hash], 60);
    let history = merge_chains([bolus_a.clone(), started.clone(), bolus_b.clone(), started.clone()]);
    assert_eq!(history.events, [started.clone(), bolus_b.clone(), bolus_a.clone()]);
    assert_eq!(history.heads, [bolus_b.hash, bolus_a.hash]);
    // A clock that is an hour behind puts nothing before what its author saw.
    let stopped = event("b", 5, &[bolus_a.hash, bolus_b.hash], -3_600);
    let history = merge_chains([stopped.clone(), bolus_a.clone(), bolus_b.clone(), started.clone()]);
    assert_eq!(history.events, [started, bolus_b, bolus_a, stopped.clone()]);
    assert_eq!(history.heads, [stopped.hash]);
}
