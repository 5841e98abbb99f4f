//! Plans of random rigs, carried out on the simulated drive, stay out of keep-outs and within stops and cable.

use rand::{Rng, RngExt as _};

use super::room::Room;
use super::sweep::{candidates, steps};
use super::{FitPlanError, Goal, Wanted, plan, swept};
use crate::fit::PlanStep;
use crate::plant::{PlannedMove, Plant, Shaft, Travel};
use crate::rig::{Approach, KeepOut, Rig, RigSettings, TravelKind, When};
use crate::run::stream;
use crate::scenario::{Ground, Policy};

/// Rounding of sums of readings \[deg\].
const ROUNDING_DEG: f64 = 1e-9;

/// What happens during a plan.
#[derive(Debug, Default)]
struct Way {
    refused: usize,
    keep_out_deg: f64,
    /// Farthest from the parking reading \[deg\].
    winding_deg: f64,
    /// Farthest beyond a stop \[deg\].
    past_stop_deg: f64,
    /// Stops of the drive, those of a one-sided approach included, that lie less than a degree from a keep-out.
    near_keep_out: usize,
    /// Moves that end more than half a step from the planned reading.
    elsewhere: usize,
}

impl Way {
    /// Carries out the plan on the simulated drive and ground.
    fn of(rig: &Rig, steps: &[PlanStep]) -> Self {
        let s = rig.settings();
        let plant = Plant::new(rig);
        let wrap = Policy::of(rig).wrap(rig.travel());
        let ground = Ground::new(&wrap, rig.travel(), &s.keep_out);
        let mut way = Self::default();
        let mut shaft = Shaft::at(s.drive.park_deg);
        for step in steps {
            let from_deg = shaft.reading_deg;
            let plan = plant.plan(from_deg, step.to_deg);
            plant.carry_out(&mut shaft, &plan, 0.0);
            match plan {
                PlannedMove::Refused => way.refused += 1,
                PlannedMove::Still => {}
                PlannedMove::Move { via_deg, to_deg } => {
                    let via_deg = via_deg.unwrap_or(from_deg);
                    way.leg(rig, &ground, from_deg, via_deg);
                    way.leg(rig, &ground, via_deg, to_deg);
                }
            }
            let beside_deg = (shaft.reading_deg - step.to_deg).abs();
            let allowed_deg = 0.5 * s.drive.step_deg + ROUNDING_DEG;
            way.elsewhere += usize::from(beside_deg > allowed_deg);
        }
        way
    }

    fn leg(&mut self, rig: &Rig, ground: &Ground, from_deg: f64, to_deg: f64) {
        self.keep_out_deg += ground.keep_out_deg(from_deg, to_deg);
        let winding_deg = (to_deg - rig.settings().drive.park_deg).abs();
        self.winding_deg = self.winding_deg.max(winding_deg);
        if let Travel::Stops { lo_deg, hi_deg } = rig.travel() {
            let past_deg = (lo_deg - to_deg).max(to_deg - hi_deg);
            self.past_stop_deg = self.past_stop_deg.max(past_deg);
        }
        if from_deg != to_deg && ground.keep_out_deg(to_deg - 1.0, to_deg + 1.0) > 0.0 {
            self.near_keep_out += 1;
        }
    }

    fn is_safe(&self, rig: &Rig) -> bool {
        let limit_deg = match rig.settings().drive.winding_limit_deg {
            0.0 => f64::INFINITY,
            limit => limit,
        };
        self.refused == 0
            && self.keep_out_deg == 0.0
            && self.winding_deg <= limit_deg + ROUNDING_DEG
            && self.past_stop_deg <= ROUNDING_DEG
            && self.near_keep_out == 0
            && self.elsewhere == 0
    }
}

/// A rig with everything that can narrow the range of a plan.
fn random_rig<R: Rng>(rng: &mut R) -> Rig {
    let mut s = RigSettings::default();
    let park = rng.random_range(-800.0..800.0);
    s.drive.park_deg = park;
    s.wrap.arc_start_deg = rng.random_range(-400.0..400.0);
    if rng.random_bool(0.5) {
        s.drive.travel = TravelKind::Stops;
        s.drive.stop_from_deg = Some(park - rng.random_range(0.0..400.0));
        s.drive.stop_to_deg = Some(park + rng.random_range(1.0..400.0));
    }
    if rng.random_bool(0.5) {
        s.drive.winding_limit_deg = rng.random_range(20.0..400.0);
    }
    for _ in 0..rng.random_range(0..4) {
        let from_deg = park + rng.random_range(-400.0..400.0);
        s.keep_out.push(KeepOut {
            from_deg,
            to_deg: from_deg + rng.random_range(0.01..90.0),
            why: String::new(),
            when: When::default(),
        });
    }
    let rare = rng.random_bool(0.1);
    s.loop_.approach =
        [Approach::Direct, Approach::FromBelow, Approach::FromAbove][rng.random_range(0..3)];
    s.loop_.overrun_deg = rng.random_range(0.0..if rare { 180.0 } else { 10.0 });
    if rng.random_bool(0.7) {
        s.drive.step_deg = rng.random_range(0.001..if rare { 45.0 } else { 2.0 });
    }
    s.drive.backlash_deg = rng.random_range(0.0..if rare { 20.0 } else { 2.0 });
    Rig::new(s).expect("a rig")
}

const ALL: Wanted = Wanted {
    accuracy_deg: 1.0,
    from_deg: None,
    to_deg: None,
    goal: Goal::Angles,
};

/// Plans of random rigs (seed 17), to one degree so that they are found quickly. Over the widest arc between stops and
/// keep-outs, without margin, cable and overrun, 349 of 399 such ways are not safe.
/// Shows (fit): the plan's legs keep out of keep-outs, within stops and cable, overrun and step included. With:
/// `every_place_of_a_sweep_is_safe`. Source: the simulated drive and ground, over random rigs.
#[test]
fn plans_keep_out_of_keep_outs_and_within_stops_and_cable() {
    let mut planned = 0;
    for index in 0..400 {
        let rig = random_rig(&mut stream(17, index));
        match plan(&rig, ALL) {
            Ok(plan) => {
                let way = Way::of(&rig, &plan.steps);
                assert!(way.is_safe(&rig), "{index}: {way:?} {rig:?} {plan:?}");
                planned += 1;
            }
            Err(FitPlanError::InKeepOut { park_deg }) => {
                let wrap = Policy::of(&rig).wrap(rig.travel());
                let ground = Ground::new(&wrap, rig.travel(), &rig.settings().keep_out);
                assert!(ground.keep_out_deg(park_deg - 1e-6, park_deg + 1e-6) > 0.0);
            }
            Err(FitPlanError::NoRoom { .. } | FitPlanError::OutOfReach { .. }) => {}
            Err(FitPlanError::Overrun { overrun_deg }) => assert!(overrun_deg > 50.0),
            Err(other) => panic!("{index}: {other} {rig:?}"),
        }
    }
    assert!(planned >= 200, "{planned}");
}

/// Whatever stops a plan chooses, it is safe. The test goes to all possible stops, over the whole range and over
/// random parts of it (seed 18).
#[test]
fn every_place_of_a_sweep_is_safe() {
    let mut gone = 0;
    for index in 0..4000 {
        let mut rng = stream(18, index);
        let rig = random_rig(&mut rng);
        let Ok(Room { range: whole, .. }) = Room::of(&rig, ALL) else {
            continue;
        };
        let mut wanted = ALL;
        let width_deg = whole.to.at_deg - whole.from.at_deg;
        if rng.random_bool(0.3) {
            wanted.from_deg = Some(whole.from.at_deg + width_deg * rng.random_range(0.0..0.5));
        }
        if rng.random_bool(0.3) {
            wanted.to_deg = Some(whole.to.at_deg - width_deg * rng.random_range(0.0..0.5));
        }
        let room = Room::of(&rig, wanted).expect("a part of what is allowed");
        let Ok(span) = swept(rig.settings(), room.range) else {
            continue;
        };
        let way = Way::of(&rig, &steps(&rig, candidates(span), room));
        assert!(way.is_safe(&rig), "{index}: {way:?} {rig:?} {room:?}");
        gone += 1;
    }
    assert!(gone >= 2000, "{gone}");
}
