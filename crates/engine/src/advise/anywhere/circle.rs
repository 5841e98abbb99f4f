//! One rig at every target angle: a grid that is fine near the seam and where the verdict changes.

use std::sync::Arc;

use rayon::prelude::*;

use super::{MOST_HUNTING, Survey};
use crate::advise::AdviseError;
use crate::advise::bound::SwingBound;
use crate::advise::search::present_arc;
use crate::advise::setting::Setting;
use crate::angle::{TURN_DEG, fold_finite};
use crate::rig::Rig;
use crate::sample::Cancelled;
use crate::scenario::{Policy, Scenario, Target};
use crate::summary::Rate;
use crate::verdict::{Fault, JudgedTarget, Standing, TargetState};

/// Distance of the angles where nothing changes \[deg\].
const COARSE_DEG: f64 = 1.0;

/// Between two angles that differ in kind the grid is halved down to this \[deg\].
pub(super) const FINEST_DEG: f64 = 0.005;

/// Angles on each side of the seam, closer to each other the nearer they are to it.
const BESIDE: u32 = 12;

/// Two neighbours whose hunting differs by more than this factor get an angle between them, down to [`LINE_DEG`].
const LEAP: f64 = 3.0;
const LINE_DEG: f64 = 0.05;

/// Hunting below this is not followed.
const LEAST: f64 = 1e-7;

/// Most angles.
const MOST_POINTS: usize = 2_000;

/// How an angle fares.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Part {
    /// The state of a target there.
    pub state: TargetState,
    /// How hunting compares with its limit.
    pub hunting: Standing,
    /// More than [`MOST_HUNTING`] may hunt.
    pub above: bool,
}

impl Part {
    /// Every fault is within its limit.
    #[must_use]
    pub fn is_safe(&self) -> bool {
        self.state == TargetState::Safe
    }
}

/// One target angle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AnglePoint {
    /// Position angle, in `[0, width)` of its circle \[deg\].
    pub position_angle_deg: f64,
    /// Drive angle of the first move \[deg\].
    pub drive_deg: f64,
    /// Share of the runs that hunt.
    pub hunting: Rate,
    /// How the angle fares.
    pub part: Part,
    /// The loop was solved, not run.
    pub solved: bool,
}

/// Neighbouring angles of one state, from one edge to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Zone {
    /// First position angle \[deg\].
    pub from_deg: f64,
    /// Last position angle \[deg\]; less than the first where the zone goes through 0.
    pub to_deg: f64,
    /// The state.
    pub state: TargetState,
}

/// A rig at every target angle.
#[derive(Debug, Clone, PartialEq)]
pub struct Circle {
    /// Its settings.
    pub rig: Rig,
    /// Rule, symmetry, arc and band.
    pub policy: Policy,
    /// Position angles this far apart share a drive angle: the width of the arc \[deg\].
    pub width_deg: f64,
    /// The rule has no seam on this rig.
    pub no_seam: bool,
    /// Farther than this from the seam no run hunts but with [`MOST_HUNTING`], by the closed form \[deg\]; `None` where that
    /// bounds nothing.
    pub beyond_deg: Option<f64>,
    /// The angles, by position angle.
    pub points: Vec<AnglePoint>,
    /// What does not depend on the angle: whether the tolerance keeps the frame and the arc is clear enough. It has no targets.
    pub whole: Setting,
}

impl Circle {
    /// Every angle of the grid is safe, hunting is at most [`MOST_HUNTING`], and the frame and the arc are as they should be.
    #[must_use]
    pub fn serves(&self) -> bool {
        let fine = |p: &AnglePoint| p.part.is_safe() && !p.part.above;
        self.whole.holds() && self.points.iter().all(fine)
    }

    /// The most that hunts at any angle of the grid. Far from the seam, where no more than [`MOST_HUNTING`] can, the share
    /// is on the coarse grid and does not count. `None` where all angles are such.
    #[must_use]
    pub fn worst_hunting(&self) -> Option<Rate> {
        let found = self.points.iter().filter(|p| !self.is_far(p));
        let worst = found.max_by(|a, b| a.hunting.high.total_cmp(&b.hunting.high));
        worst.map(|p| p.hunting)
    }

    /// All angles near the seam were solved.
    #[must_use]
    pub fn near_are_solved(&self) -> bool {
        let mut near = self.points.iter().filter(|p| !self.is_far(p));
        near.all(|p| p.solved)
    }

    /// Lies where the closed form holds hunting down.
    fn is_far(&self, point: &AnglePoint) -> bool {
        let from_start = point.drive_deg - self.policy.arc_start_deg;
        let seam_deg = fold_finite(from_start, -0.5 * self.width_deg, self.width_deg).abs();
        self.no_seam || self.beyond_deg.is_some_and(|beyond| seam_deg > beyond)
    }

    /// Share of the angles of a kind. Each angle stands for half of the way to its neighbours.
    #[must_use]
    pub fn share(&self, is: impl Fn(&Part) -> bool) -> f64 {
        let gaps = self.gaps_deg();
        let before = gaps.iter().cycle().skip(gaps.len() - 1);
        let mine = self.points.iter().zip(gaps.iter().zip(before));
        let deg: f64 = mine
            .filter(|(p, _)| is(&p.part))
            .map(|(_, (after, before))| 0.5 * (after + before))
            .sum();
        // No angle at all has a sum of -0.
        deg.abs() / self.width_deg
    }

    /// What the share of a kind may be off by, from the width of the gaps at its edges.
    #[must_use]
    pub fn share_error(&self, is: impl Fn(&Part) -> bool) -> f64 {
        let edges = self.pairs().zip(self.gaps_deg());
        let deg: f64 = edges
            .filter(|((a, b), _)| is(&a.part) != is(&b.part))
            .map(|(_, gap)| 0.5 * gap)
            .sum();
        deg.abs() / self.width_deg
    }

    /// Each angle with the next, the last with the first.
    fn pairs(&self) -> impl Iterator<Item = (&AnglePoint, &AnglePoint)> {
        self.points.iter().zip(self.points.iter().cycle().skip(1))
    }

    fn gaps_deg(&self) -> Vec<f64> {
        let gap = |(a, b): (&AnglePoint, &AnglePoint)| {
            let gap = b.position_angle_deg - a.position_angle_deg;
            if gap > 0.0 { gap } else { gap + self.width_deg }
        };
        self.pairs().map(gap).collect()
    }

    /// The circle in zones of one state. A single zone goes from 0 to the width.
    #[must_use]
    pub fn zones(&self) -> Vec<Zone> {
        let differs = |(_, ((a, b), _)): &(usize, ((&AnglePoint, &AnglePoint), f64))| {
            a.part.state != b.part.state
        };
        let edges: Vec<(f64, TargetState)> = self
            .pairs()
            .zip(self.gaps_deg())
            .enumerate()
            .filter(differs)
            .map(|(_, ((a, b), gap))| (a.position_angle_deg + 0.5 * gap, b.part.state))
            .map(|(at, state)| (fold_finite(at, 0.0, self.width_deg), state))
            .collect();
        if edges.is_empty() {
            let all = |p: &AnglePoint| Zone {
                from_deg: 0.0,
                to_deg: self.width_deg,
                state: p.part.state,
            };
            return self.points.first().map(all).into_iter().collect();
        }
        let next = edges.iter().cycle().skip(1);
        let mut zones: Vec<Zone> = edges
            .iter()
            .zip(next)
            .map(|((from_deg, state), (to_deg, _))| Zone {
                from_deg: *from_deg,
                to_deg: *to_deg,
                state: *state,
            })
            .collect();
        zones.sort_by(|a, b| a.from_deg.total_cmp(&b.from_deg));
        zones
    }
}

impl Survey<'_> {
    /// A rig at every target angle.
    pub(super) fn circle(&self, rig: &Rig) -> Result<Circle, AdviseError> {
        let policy = Policy::of(rig);
        let wrap = policy.wrap(rig.travel());
        let solves = f64::from(rig.settings().loop_.max_solves);
        // A swing by the zero point or by the noise, at any of the solves.
        let bound = SwingBound::of(rig, policy, MOST_HUNTING / (2.0 * solves));
        let mut circle = Circle {
            rig: rig.clone(),
            policy,
            width_deg: wrap.width_deg(),
            no_seam: bound.no_seam,
            beyond_deg: (!bound.capped && !bound.no_seam).then_some(bound.seam_distance_deg),
            points: Vec::new(),
            whole: Setting::new(
                rig,
                present_arc(rig, self.coarse.targets),
                self.request.limits,
                &self.request.criteria,
                Vec::new(),
            ),
        };
        let mut wanted = offsets_deg(rig, &circle);
        while !wanted.is_empty() && circle.points.len() < MOST_POINTS {
            let more = wanted
                .par_iter()
                .map(|offset| self.point(&circle, wrap.start_deg() + offset))
                .collect::<Result<Vec<_>, AdviseError>>()?;
            circle.points.extend(more);
            // In the order of the arc, which has an end.
            circle
                .points
                .sort_by(|a, b| a.drive_deg.total_cmp(&b.drive_deg));
            circle.points.dedup_by(|a, b| a.drive_deg == b.drive_deg);
            let most = circle.worst_hunting().map_or(1.0, |rate| rate.high);
            let middle = |ends: &[AnglePoint]| {
                let gap = ends[1].drive_deg - ends[0].drive_deg;
                let peak = ends.iter().any(|p| p.hunting.high >= most) && most > LEAST;
                let split = wants_more(&ends[0], &ends[1], gap) || (peak && gap > FINEST_DEG);
                split.then(|| ends[0].drive_deg + 0.5 * gap - wrap.start_deg())
            };
            wanted = circle.points.windows(2).filter_map(middle).collect();
        }
        let by_angle = |p: &AnglePoint| p.position_angle_deg;
        circle
            .points
            .sort_by(|a, b| by_angle(a).total_cmp(&by_angle(b)));
        circle.points.dedup_by(|a, b| by_angle(a) == by_angle(b));
        Ok(circle)
    }

    /// The target with this drive angle.
    fn point(&self, circle: &Circle, drive_deg: f64) -> Result<AnglePoint, AdviseError> {
        let s = circle.rig.settings();
        let angle_deg = s.drive.zero_point_deg + s.loop_.believed_sense.factor() * drive_deg;
        let target = Target::at(angle_deg);
        let judged = self.coarse.one(&circle.rig, &target)?;
        let mut point = AnglePoint {
            position_angle_deg: fold_finite(angle_deg, 0.0, circle.width_deg),
            drive_deg: Scenario::new(&circle.rig, circle.policy, angle_deg).drive_angle_deg(),
            hunting: judged.summary.hunting,
            part: part(&judged),
            solved: judged.summary.method == "exact",
        };
        let decided = point.solved
            && (point.hunting.low > MOST_HUNTING || point.hunting.high <= MOST_HUNTING);
        if !circle.is_far(&point) {
            if !decided {
                let fine = self.hunting(&circle.rig, &target)?;
                if let Some(fine) = fine {
                    (point.hunting, point.solved) = (fine, true);
                }
            }
            point.part.above = point.hunting.high > MOST_HUNTING;
        }
        Ok(point)
    }

    /// The share that hunts, solved on the fine grid; `None` where that cannot be solved.
    pub(super) fn hunting(&self, rig: &Rig, target: &Target) -> Result<Option<Rate>, Cancelled> {
        let judged: Arc<JudgedTarget> = self.fine.one(rig, target)?;
        let solved = judged.summary.method == "exact";
        Ok(solved.then_some(judged.summary.hunting))
    }
}

fn part(judged: &JudgedTarget) -> Part {
    let hunting = judged.verdict.fault(Fault::Hunting);
    Part {
        state: judged.verdict.state,
        hunting: hunting.map_or(Standing::MayExceed, |f| f.standing),
        above: false,
    }
}

/// An angle between two is worth judging.
fn wants_more(a: &AnglePoint, b: &AnglePoint, gap_deg: f64) -> bool {
    let (low, high) = (
        a.hunting.rate.min(b.hunting.rate),
        a.hunting.rate.max(b.hunting.rate),
    );
    (a.part != b.part && gap_deg > FINEST_DEG)
        || (high > LEAST && high > LEAP * low.max(LEAST) && gap_deg > LINE_DEG)
}

/// The first angles of a grid, from the start of the arc \[deg\].
fn offsets_deg(rig: &Rig, circle: &Circle) -> Vec<f64> {
    /// Just inside the far end of the arc \[deg\].
    const INSIDE_DEG: f64 = 1e-6;
    let (s, width_deg) = (rig.settings(), circle.width_deg);
    let even = (width_deg / COARSE_DEG).ceil();
    let mut offsets: Vec<f64> = (0..even as u32)
        .map(|k| f64::from(k) * width_deg / even)
        .collect();
    offsets.push(width_deg - INSIDE_DEG);
    if !circle.no_seam {
        let near_deg = circle.beyond_deg.unwrap_or(width_deg).min(0.5 * width_deg);
        for k in 1..=BESIDE {
            let off = near_deg * (f64::from(k) / f64::from(BESIDE)).powi(2);
            offsets.extend([off, width_deg - off]);
        }
    }
    // Where the way to a target may change: keep-outs, stops, the far side of the parking reading.
    let mut ends = vec![s.drive.park_deg, s.drive.park_deg + 0.5 * TURN_DEG];
    ends.extend(
        [s.drive.stop_from_deg, s.drive.stop_to_deg]
            .into_iter()
            .flatten(),
    );
    for k in &s.keep_out {
        ends.extend([k.from_deg, 0.5 * (k.from_deg + k.to_deg), k.to_deg]);
    }
    let fold = |end: f64| fold_finite(end - circle.policy.arc_start_deg, 0.0, width_deg);
    offsets.extend(ends.into_iter().map(fold));
    offsets.retain(|o| (0.0..width_deg).contains(o));
    offsets.sort_by(f64::total_cmp);
    offsets.dedup();
    offsets
}
