//! One night: the loops of a course one after another, with one camera, one zero point and one weather.

use rand::Rng as _;

use super::course::{Course, Knowledge};
use super::timetable::Stretch;
use super::weather::{Clouds, Cloudy};
use crate::angle::{TURN_DEG, residual_finite};
use crate::plant::{Plan, Shaft};
use crate::rig::Rig;
use crate::run::{
    Figures, MoveEvent, Observer, Outcome, SolveEvent, Standing, Stream, exponential, normal_pair,
    run_on, stream,
};
use crate::scenario::Scenario;

/// What a night is made of, prepared for running many of them.
#[derive(Debug, Clone)]
pub(super) struct Sequence<'a> {
    stretches: &'a [Stretch],
    knowledge: Knowledge,
    clouds: Clouds,
    /// The loop of every stretch, and how the flip turns its zero point \[deg\].
    loops: Vec<(Scenario, f64)>,
    park_deg: f64,
    zero_point_deg: f64,
    zero_sigma_deg: f64,
    sense: f64,
    /// Seeds of the parts of a night: settings, weather, then every stretch.
    seeds: Vec<u64>,
}

/// What one stretch of a night came to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Loop {
    pub(super) figures: Figures,
    /// Of the stretch, spent on the loop \[s\].
    pub(super) lost_s: f64,
    /// The part of it under a clear sky \[s\].
    pub(super) clear_s: f64,
    /// What a given-up loop left of its stretch, under a clear sky \[s\].
    pub(super) idle_s: f64,
}

/// What a night came to.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct NightRun {
    pub(super) loops: Vec<Loop>,
    /// Largest distance of a reading from the parking angle \[deg\].
    pub(super) winding_deg: f64,
    pub(super) slips: u32,
}

impl<'a> Sequence<'a> {
    pub(super) fn new(
        rig: &Rig,
        course: &Course,
        stretches: &'a [Stretch],
        knowledge: Knowledge,
        clouds: Clouds,
        seed: u64,
    ) -> Self {
        let s = rig.settings();
        let loops = course.rotations.iter();
        Self {
            stretches,
            knowledge,
            clouds,
            loops: loops
                .map(|r| {
                    let mut scenario = r.scenario.clone();
                    // The flip is in the zero point here, not in the target.
                    scenario.brief.target_deg += r.turned_deg;
                    (scenario, r.turned_deg)
                })
                .collect(),
            park_deg: s.drive.park_deg,
            zero_point_deg: s.drive.zero_point_deg,
            zero_sigma_deg: s.drive.zero_point_sigma_deg,
            sense: s.loop_.believed_sense.factor(),
            seeds: (0..stretches.len() as u64 + 2)
                .map(|part| stream(seed, part).next_u64())
                .collect(),
        }
    }

    /// Night number `index`.
    ///
    /// Settings, weather and every stretch have a stream of their own, so that nights under different rules meet the same luck.
    pub(super) fn run(&self, index: u64) -> NightRun {
        let mut luck = stream(self.seeds[0], index);
        let length_s = match (self.stretches.first(), self.stretches.last()) {
            (Some(first), Some(last)) => last.end.since_s(first.begin),
            _ => 0.0,
        };
        let cloudy = Cloudy::draw(&self.clouds, length_s, &mut stream(self.seeds[1], index));
        let (error, _) = normal_pair(luck.next_u64(), luck.next_u64());
        let mut zero_deg = self.zero_point_deg + self.zero_sigma_deg * error;
        let mut believed_deg = self.zero_point_deg;
        let mut standing = Standing {
            shaft: Shaft::at(self.park_deg),
            true_zero_deg: zero_deg,
        };
        let mut night = NightRun {
            loops: Vec::with_capacity(self.loops.len()),
            winding_deg: 0.0,
            slips: 0,
        };
        let mut slipped_until_s = 0.0;
        for (number, (stretch, (prepared, turned_deg))) in
            self.stretches.iter().zip(&self.loops).enumerate()
        {
            let begin_s = stretch.begin.since_s(self.stretches[0].begin);
            let slips = self.slips(begin_s - slipped_until_s, &mut luck);
            slipped_until_s = begin_s;
            night.slips += slips;
            for _ in 0..slips {
                let (size, _) = normal_pair(luck.next_u64(), luck.next_u64());
                zero_deg += self.knowledge.slip_deg * size;
            }
            let mut scenario = prepared.clone();
            scenario.brief.zero_point_deg = believed_deg + turned_deg;
            scenario.brief.reading_deg = standing.shaft.reading_deg;
            standing.true_zero_deg = zero_deg + turned_deg + stretch.pole_deg();
            let mut watcher = Watcher::new(standing.shaft.reading_deg);
            let figures = run_on(
                &scenario,
                &mut scenario.controller(),
                &mut stream(self.seeds[number + 2], index),
                &mut watcher,
                &cloudy.since(begin_s),
                &mut standing,
            );
            if self.knowledge.learn
                && figures.outcome == Outcome::Settled
                && let Some((reading_deg, angle_deg)) = watcher.last
            {
                let shown_deg = angle_deg - self.sense * reading_deg - turned_deg;
                believed_deg += residual_finite(shown_deg - believed_deg, TURN_DEG);
            }
            for end_deg in [watcher.low_deg, watcher.high_deg] {
                night.winding_deg = night.winding_deg.max((end_deg - self.park_deg).abs());
            }
            night
                .loops
                .push(self.count(stretch, begin_s, figures, &cloudy));
        }
        night
    }

    fn count(&self, stretch: &Stretch, begin_s: f64, figures: Figures, cloudy: &Cloudy) -> Loop {
        let length_s = stretch.length_s();
        let lost_s = figures.elapsed_s.min(length_s);
        let clear = |from_s: f64, to_s: f64| {
            to_s - from_s - cloudy.between_s(begin_s + from_s, begin_s + to_s)
        };
        Loop {
            lost_s,
            clear_s: clear(0.0, lost_s).max(0.0),
            idle_s: if figures.outcome == Outcome::Settled {
                0.0
            } else {
                clear(lost_s, length_s).max(0.0)
            },
            figures,
        }
    }

    /// Slips in a time, which come one by one and without memory: exponential times between them.
    fn slips(&self, length_s: f64, luck: &mut Stream) -> u32 {
        /// More than any time of a night holds that is worth planning.
        const MOST: u32 = 1000;
        if self.knowledge.slips_per_h <= 0.0 || length_s <= 0.0 {
            return 0;
        }
        let mean_s = 3600.0 / self.knowledge.slips_per_h;
        let mut at_s = 0.0;
        let mut count = 0;
        loop {
            at_s += exponential(mean_s, luck.next_u64());
            if at_s > length_s || count == MOST {
                return count;
            }
            count += 1;
        }
    }
}

/// What is kept of a loop beside its figures.
struct Watcher {
    /// Reading and measured angle of the last solve \[deg\].
    last: Option<(f64, f64)>,
    low_deg: f64,
    high_deg: f64,
}

impl Watcher {
    fn new(reading_deg: f64) -> Self {
        Self {
            last: None,
            low_deg: reading_deg,
            high_deg: reading_deg,
        }
    }
}

impl Observer for Watcher {
    fn moved(&mut self, event: &MoveEvent) {
        if let Plan::Move { via_deg, to_deg } = event.plan {
            for at_deg in via_deg.into_iter().chain([to_deg]) {
                self.low_deg = self.low_deg.min(at_deg);
                self.high_deg = self.high_deg.max(at_deg);
            }
        }
    }

    fn solved(&mut self, event: &SolveEvent) {
        self.last = Some((event.reading_deg, event.position_angle_deg));
    }
}
