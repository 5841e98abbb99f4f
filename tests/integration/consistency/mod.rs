//! One verdict and one advice: whatever way the program is asked about a target or a list, it says the same.
//!
//! The rigs are random, of fixed seeds. `HALFTURN_CONSISTENCY_RIGS=300` and `HALFTURN_BRUTE_RIGS=200` set how many of them
//! the two long tests take.
//! Source: common practice, no published source. The faces are held against each other, against [`Judge`] asked at one
//! target at a time, and the search against brute force.

#![expect(
    clippy::print_stdout,
    reason = "a long run tells its figures with --nocapture"
)]

mod faces;
mod program;
mod rigs;
mod search;

use std::collections::BTreeMap;

use halfturn_engine::advise::{AdviceRequest, AllowedChanges, Criteria};
use halfturn_engine::rig::Rig;
use halfturn_engine::sample::{Batch, Unattended};
use halfturn_engine::scenario::{Policy, Scenario};
use halfturn_engine::verdict::{Judge, JudgedTarget};
use serde_json::Value;

use rigs::Case;

/// Numbers of the rigs that a test takes: the first ones, as many as an environment variable says, or the usual ones.
fn wanted(variable: &str, usual: &[u64]) -> Vec<u64> {
    let Ok(text) = std::env::var(variable) else {
        return usual.to_vec();
    };
    let most: u64 = text
        .parse()
        .unwrap_or_else(|e| panic!("{variable}={text}: {e}"));
    (0..most).collect()
}

impl Case {
    fn request(&self, trials: u64, change: AllowedChanges) -> AdviceRequest {
        AdviceRequest {
            batch: Batch { trials, seed: 1 },
            limits: self.limits,
            criteria: Criteria::default(),
            change,
        }
    }

    /// One target of the list under a rig, judged by itself. A flipped target begins where the loop of the target
    /// before it has ended.
    fn judged(&self, rig: &Rig, place: usize, batch: Batch) -> JudgedTarget {
        let policy = Policy::of(rig);
        let at = |place: usize| {
            let target = &self.targets[place];
            Scenario::new(rig, policy, target.position_angle_deg)
        };
        let scenario = if self.flips && place % 2 == 1 {
            at(place).after(at(place - 1))
        } else {
            at(place)
        };
        let judge = Judge {
            limits: self.limits,
            batch,
            monitor: &Unattended,
        };
        judge.judge(&scenario, policy).expect("nobody stops it")
    }
}

/// The same but for rounding.
fn same(one: &Value, other: &Value) -> bool {
    match (one, other) {
        (Value::Number(a), Value::Number(b)) => match (a.as_f64(), b.as_f64()) {
            (Some(a), Some(b)) => (a - b).abs() <= 1e-9 * a.abs().max(1.0),
            _ => a == b,
        },
        (Value::Array(a), Value::Array(b)) => {
            a.len() == b.len() && a.iter().zip(b).all(|(a, b)| same(a, b))
        }
        (Value::Object(a), Value::Object(b)) => {
            let known = |(key, a)| b.get(key).is_some_and(|b| same(a, b));
            a.len() == b.len() && a.iter().all(known)
        }
        _ => one == other,
    }
}

/// Comparisons that were made, by what was compared, and the cases in which the two differed.
#[derive(Debug, Default)]
struct Compared {
    made: BTreeMap<&'static str, u32>,
    differ: Vec<String>,
}

impl Compared {
    /// Numbers may differ by rounding: what was solved for one arc may stand for another.
    fn equal<T: serde::Serialize + std::fmt::Debug>(
        &mut self,
        what: &'static str,
        case: &Case,
        (one, other): (T, T),
    ) {
        *self.made.entry(what).or_default() += 1;
        let json = |value: &T| serde_json::to_value(value).expect("JSON");
        if !same(&json(&one), &json(&other)) {
            let told = case.told();
            self.differ
                .push(format!("{what}:\n  {one:?}\n  {other:?}\n{told}"));
        }
    }

    /// Prints what was compared; fails where something differed.
    fn told(&self, rigs: usize) {
        let all: u32 = self.made.values().sum();
        println!("{all} comparisons at {rigs} rigs: {:#?}", self.made);
        let (number, differ) = (self.differ.len(), self.differ.join("\n\n"));
        assert!(number == 0, "{differ}\n\n{number} of {all} differ");
    }
}
