//! One night: the loops of a course one after another, with one zero point and one weather.

use rand::Rng as _;

use super::course::{Course, Knowledge};
use super::timetable::Stretch;
use super::weather::{Clouds, Cloudy};
use halfturn_engine::angle::{TURN_DEG, residual_finite};
use halfturn_engine::plant::Shaft;
use halfturn_engine::rig::Rig;
use halfturn_engine::run::{
    Figures, Observer, Outcome, RigState, SolveEvent, Stream, exponential, normal_pair, resume,
    stream,
};
use halfturn_engine::scenario::Scenario;
use halfturn_engine::tally::TOUCH_DEG;

/// A night, prepared for running many times.
#[derive(Debug, Clone)]
pub(super) struct Sequence<'a> {
    stretches: &'a [Stretch],
    knowledge: Knowledge,
    clouds: Clouds,
    /// The loop of every stretch, and the angle by which the flip turns its zero point \[deg\].
    loops: Vec<(Scenario, f64)>,
    park_deg: f64,
    /// Position angle of the pole of date at the first target \[deg\].
    first_pole_deg: f64,
    zero_point_deg: f64,
    zero_sigma_deg: f64,
    sense: f64,
    /// Seeds of the parts of a night: settings, weather, then every stretch.
    seeds: Vec<u64>,
}

/// The result of one stretch of a night.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Loop {
    pub(super) figures: Figures,
    /// Whether the loop turned through a keep-out, or the camera stands in one after it.
    pub(super) keep_out: bool,
    /// Time of the stretch that the loop takes \[s\].
    pub(super) lost_s: f64,
    /// The part of `lost_s` under a clear sky \[s\].
    pub(super) clear_s: f64,
    /// Time under a clear sky that the stretch has left after its loop gave up \[s\].
    pub(super) idle_s: f64,
}

/// The result of a night.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct NightRun {
    pub(super) loops: Vec<Loop>,
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
                    // Here the zero point holds the flip, not the target.
                    scenario.brief.target_deg += r.turned_deg;
                    (scenario, r.turned_deg)
                })
                .collect(),
            park_deg: s.drive.park_deg,
            first_pole_deg: stretches.first().map_or(0.0, Stretch::pole_deg),
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
    /// The rig's zero point with the slips, the weather, and every stretch have a random stream each: nights under
    /// different rules meet the same luck. The zero point of the rig file, with its uncertainty, is the one at the
    /// first target.
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
        let mut rig_state = RigState {
            shaft: Shaft::at(self.park_deg),
            true_zero_deg: zero_deg,
        };
        let mut night = NightRun {
            loops: Vec::with_capacity(self.loops.len()),
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
            rig_state.true_zero_deg =
                zero_deg + turned_deg + stretch.pole_deg() - self.first_pole_deg;
            let mut watcher = LastSolve::default();
            let mut rng = stream(self.seeds[number + 2], index);
            let mut begun_at = |after_s: f64| {
                resume(
                    &scenario,
                    &mut scenario.controller(),
                    &mut rng,
                    &mut watcher,
                    &cloudy.since(begin_s + after_s),
                    &mut rig_state,
                )
            };
            let mut figures = begun_at(0.0);
            if let Some(retry_s) = self.knowledge.retry_s {
                while matches!(figures.outcome, Outcome::Unsettled | Outcome::Unsolved)
                    && figures.elapsed_s + retry_s < stretch.length_s()
                {
                    let after_s = figures.elapsed_s + retry_s;
                    figures = joined(&figures, &begun_at(after_s), after_s);
                }
            }
            if self.knowledge.learn
                && figures.outcome == Outcome::Settled
                && let Some((reading_deg, angle_deg)) = watcher.0
            {
                let shown_deg = angle_deg - self.sense * reading_deg - turned_deg;
                believed_deg += residual_finite(shown_deg - believed_deg, TURN_DEG);
            }
            // The camera may still stand where an earlier loop left it.
            let wound_deg = (rig_state.shaft.reading_deg - self.park_deg).abs();
            figures.overwound |= scenario.overwinds(wound_deg);
            let keep_out = figures.keep_out_deg > TOUCH_DEG
                || scenario.ground.in_keep_out(rig_state.shaft.reading_deg);
            let (lost_s, clear_s, idle_s) = times(stretch, begin_s, &figures, &cloudy);
            night.loops.push(Loop {
                figures,
                keep_out,
                lost_s,
                clear_s,
                idle_s,
            });
        }
        night
    }

    /// Number of slips in a length of time. They come one by one and without memory, with exponential times between
    /// them.
    fn slips(&self, length_s: f64, luck: &mut Stream) -> u32 {
        /// More slips than any night has that is worth planning.
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

/// The figures of a loop and of the one that was begun `after_s` after it.
fn joined(first: &Figures, again: &Figures, after_s: f64) -> Figures {
    Figures {
        outcome: again.outcome,
        solves: first.solves + again.solves,
        failed_attempts: first.failed_attempts + again.failed_attempts,
        moves: first.moves + again.moves,
        long_swings: first.long_swings + again.long_swings,
        travel_deg: first.travel_deg + again.travel_deg,
        winding_deg: first.winding_deg.max(again.winding_deg),
        overwound: first.overwound | again.overwound,
        outside_arc_deg: first.outside_arc_deg + again.outside_arc_deg,
        keep_out_deg: first.keep_out_deg + again.keep_out_deg,
        elapsed_s: after_s + again.elapsed_s,
        true_error_deg: again.true_error_deg.or(first.true_error_deg),
    }
}

/// For a loop that begins at `begin_s` of the night: its time within the stretch, the part of it under a clear sky,
/// and the clear time left if it gave up \[s\].
fn times(stretch: &Stretch, begin_s: f64, figures: &Figures, cloudy: &Cloudy) -> (f64, f64, f64) {
    let length_s = stretch.length_s();
    let lost_s = figures.elapsed_s.min(length_s);
    let clear = |from_s: f64, to_s: f64| {
        (to_s - from_s - cloudy.between_s(begin_s + from_s, begin_s + to_s)).max(0.0)
    };
    let idle_s = match figures.outcome {
        Outcome::Settled => 0.0,
        _ => clear(lost_s, length_s),
    };
    (lost_s, clear(0.0, lost_s), idle_s)
}

/// Reading and measured position angle of the last solve \[deg\]; `None` before the first.
#[derive(Default)]
struct LastSolve(Option<(f64, f64)>);

impl Observer for LastSolve {
    fn solved(&mut self, event: &SolveEvent) {
        self.0 = Some((event.reading_deg, event.position_angle_deg));
    }
}
