//! The order of the targets that loses least time by the plan.

use std::collections::HashMap;
use std::rc::Rc;

use super::course::Pending;
use super::given::{Night, NightTarget};
use super::order::Order;
use super::plan::NightPlanError;
use super::timetable::of_target;
use halfturn_engine::plant::Plant;
use halfturn_engine::rig::{Rig, Rule};
use halfturn_engine::scenario::Policy;

/// Most targets of which all orders are tried: 8! is 40 320.
pub const ALL_ORDERS: usize = 8;

/// How many places a target moves at most in a step of the search of a longer list.
const FARTHEST: usize = 8;

/// An order by the targets' numbers in the list, from 1, and what it loses.
#[derive(Debug, Clone, PartialEq)]
pub struct BestOrder {
    /// The numbers.
    pub numbers: Vec<usize>,
    /// Time that no target is exposed, of all minutes planned \[s\].
    pub lost_s: f64,
    /// Whether every order was compared.
    pub of_all: bool,
}

/// The order that loses least time. A planned turn takes its time, and so do slew, flip and focus. A stretch that cannot
/// be used is lost whole; so is one whose turn the stops refuse, goes through a keep-out or winds the cable too far, or
/// that would stand in a keep-out. Of equal orders it is the first, in the order of the list.
///
/// Up to [`ALL_ORDERS`] targets all orders are compared. Above, the better of list and meridian order is improved: one
/// target moves by up to 8 places, whichever move gains most, until none gains.
///
/// # Errors
/// [`NightPlanError`] if the rig is not valid without the keep-outs that do not count.
pub fn best_order(
    rig: &Rig,
    rule: Rule,
    night: &Night,
    targets: &[NightTarget],
) -> Result<BestOrder, NightPlanError> {
    let mut search = Search {
        rig,
        policy: Policy::with_rule(rig, rule),
        plant: Plant::new(rig),
        park_deg: rig.settings().drive.park_deg,
        night,
        targets,
        slots: HashMap::new(),
    };
    let mut best = Vec::new();
    let mut lost_s = f64::INFINITY;
    for order in [Order::List, Order::Meridian] {
        let order = order.of(night, targets)?;
        let lost = search.lost_s(&order)?;
        if lost < lost_s {
            (best, lost_s) = (order, lost);
        }
    }
    let of_all = targets.len() <= ALL_ORDERS;
    if of_all {
        let mut order = Vec::new();
        search.all(&mut order, 0.0, search.start(), &mut best, &mut lost_s)?;
    } else {
        while let Some((order, lost)) = search.step(&best, lost_s)? {
            (best, lost_s) = (order, lost);
        }
    }
    Ok(BestOrder {
        numbers: best.iter().map(|n| n + 1).collect(),
        lost_s,
        of_all,
    })
}

/// The loops of a target whose time begins at some moment.
struct Slot {
    /// The loop of each stretch, its length, and whether it can be used.
    loops: Vec<(Pending, f64, bool)>,
    length_s: f64,
}

/// Where the night and the drive stand.
#[derive(Clone, Copy)]
struct At {
    minutes: f64,
    reading_deg: f64,
}

struct Search<'a> {
    rig: &'a Rig,
    policy: Policy,
    plant: Plant,
    park_deg: f64,
    night: &'a Night,
    targets: &'a [NightTarget],
    /// By target and the minutes before it, bit by bit.
    slots: HashMap<(usize, u64), Rc<Slot>>,
}

impl Search<'_> {
    fn start(&self) -> At {
        At {
            minutes: 0.0,
            reading_deg: self.park_deg,
        }
    }

    fn slot(&mut self, target: usize, minutes: f64) -> Result<Rc<Slot>, NightPlanError> {
        let key = (target, minutes.to_bits());
        if let Some(slot) = self.slots.get(&key) {
            return Ok(slot.clone());
        }
        let wanted = &self.targets[target];
        let begin = self.night.start.plus_s(60.0 * minutes);
        let stretches = of_target(self.night, target, wanted, begin);
        let loops = stretches.iter().map(|s| {
            let pending = Pending::new(self.rig, self.policy, wanted, s)?;
            Ok((pending, s.length_s(), s.not_usable.is_empty()))
        });
        let slot = Rc::new(Slot {
            loops: loops.collect::<Result<_, NightPlanError>>()?,
            length_s: 60.0 * wanted.minutes,
        });
        self.slots.insert(key, slot.clone());
        Ok(slot)
    }

    /// The time that the next target loses, and where night and drive stand after it.
    fn next(&mut self, target: usize, at: At) -> Result<(f64, At), NightPlanError> {
        let slot = self.slot(target, at.minutes)?;
        let mut reading_deg = at.reading_deg;
        let mut exposed_s = 0.0;
        for (pending, length_s, usable) in &slot.loops {
            let turn = pending.turn(&self.plant, reading_deg);
            if *usable && !turn.fails(pending, self.park_deg) {
                exposed_s += (length_s - turn.time_s).max(0.0);
            }
            reading_deg = turn.to_deg;
        }
        let minutes = at.minutes + self.targets[target].minutes;
        Ok((
            slot.length_s - exposed_s,
            At {
                minutes,
                reading_deg,
            },
        ))
    }

    fn lost_s(&mut self, order: &[usize]) -> Result<f64, NightPlanError> {
        let (mut at, mut lost_s) = (self.start(), 0.0);
        for target in order {
            let (lost, next) = self.next(*target, at)?;
            (at, lost_s) = (next, lost_s + lost);
        }
        Ok(lost_s)
    }

    /// Every order that begins with this one, but for those that lose too much already.
    fn all(
        &mut self,
        order: &mut Vec<usize>,
        so_far_s: f64,
        at: At,
        best: &mut Vec<usize>,
        lost_s: &mut f64,
    ) -> Result<(), NightPlanError> {
        if order.len() == self.targets.len() {
            // Better by more than rounding.
            if so_far_s < *lost_s - 1e-6 {
                (*best, *lost_s) = (order.clone(), so_far_s);
            }
            return Ok(());
        }
        for target in 0..self.targets.len() {
            if order.contains(&target) {
                continue;
            }
            let (lost, next) = self.next(target, at)?;
            if so_far_s + lost < *lost_s {
                order.push(target);
                self.all(order, so_far_s + lost, next, best, lost_s)?;
                order.pop();
            }
        }
        Ok(())
    }

    /// The move of one target that gains most; `None` if none gains a tenth of a second.
    fn step(
        &mut self,
        order: &[usize],
        lost_s: f64,
    ) -> Result<Option<(Vec<usize>, f64)>, NightPlanError> {
        let mut best = None;
        let mut least_s = lost_s - 0.1;
        for from in 0..order.len() {
            let last = order.len().min(from + FARTHEST + 1);
            for to in (from.saturating_sub(FARTHEST)..last).filter(|to| *to != from) {
                let mut moved = order.to_vec();
                let target = moved.remove(from);
                moved.insert(to, target);
                let lost = self.lost_s(&moved)?;
                if lost < least_s {
                    (best, least_s) = (Some((moved, lost)), lost);
                }
            }
        }
        Ok(best)
    }
}
