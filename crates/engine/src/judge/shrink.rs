//! Makes a failing scenario simpler while it still fails for the same property.

use super::case::{Case, Expect};
use super::property::Property;
use super::reference::Reference;
use super::session::{Played, play};
use super::subject::{InProcess, Subject};
use crate::angle::{TURN_DEG, fold_finite};
use crate::rig::{Approach, Rule, Sense, TravelKind};
use crate::sample::Monitor;

/// The simplest scenario found that shows a failure.
#[derive(Debug, Clone)]
pub struct FailingExample {
    /// The property that does not hold.
    pub property: Property,
    /// Index of the original scenario in its session.
    pub number: usize,
    /// The simplest scenario found.
    pub case: Case,
    /// Its run.
    pub played: Played,
    /// Number of scenarios played in the search.
    pub tries: u32,
    /// Whether the failure came again when the scenario was played alone, with a restarted controller. If not, it
    /// depends on the scenarios before, and the scenario is not simplified.
    pub reproduced: bool,
}

/// Makes a failing scenario simpler. `None` if the user stops or the scenario cannot be played.
pub fn shrink<S: Subject + ?Sized>(
    case: &Case,
    number: usize,
    property: Property,
    subject: &mut S,
    monitor: &dyn Monitor,
) -> Option<FailingExample> {
    subject.reset();
    let played = play(case, subject).ok()?;
    if monitor.cancelled() {
        return None;
    }
    let mut example = FailingExample {
        property,
        number,
        case: case.clone(),
        reproduced: played.fails(property),
        played,
        tries: 1,
    };
    if !example.reproduced {
        return Some(example);
    }
    let budget = budget(property);
    loop {
        let before = example.tries;
        let mut simpler = false;
        for change in CHANGES {
            for candidate in change(&example.case) {
                if monitor.cancelled() {
                    return None;
                }
                if candidate == example.case || !has_answer(&candidate) {
                    continue;
                }
                if example.tries >= budget {
                    return Some(example);
                }
                example.tries += 1;
                let Ok(played) = play(&candidate, subject) else {
                    continue;
                };
                if played.fails(property) {
                    (example.case, example.played) = (candidate, played);
                    simpler = true;
                    break;
                }
            }
        }
        if !simpler || example.tries == before {
            return Some(example);
        }
    }
}

/// Most scenarios to try. Each may cost a wait, or a start of the program.
fn budget(property: Property) -> u32 {
    match property {
        Property::AnswersInTime => 1,
        Property::StaysAlive | Property::Protocol | Property::Finite | Property::FailedSolve => 40,
        _ => 600,
    }
}

/// Whether correct controllers of different kinds find the right answer.
pub(super) fn has_answer(case: &Case) -> bool {
    let any = [Rule::HysteresisBand, Rule::FoldOnce];
    let rules = case.rule.as_ref().map_or(&any[..], std::slice::from_ref);
    rules.iter().all(|&rule| {
        play(case, &mut InProcess::new(|| Reference::new(rule))).is_ok_and(|p| p.passed())
    })
}

/// A measure of how complicated a scenario is. Shrinking makes it smaller.
#[must_use]
pub fn size(case: &Case) -> usize {
    let (d, s) = (&case.rig.drive, &case.rig.solve);
    let sources = [
        d.step_deg != 0.0,
        d.backlash_deg != 0.0,
        d.repeatability_deg != 0.0,
        d.gain_error != 0.0,
        d.zero_point_deg != 0.0,
        d.sense != Sense::Same,
        d.travel != TravelKind::Endless,
        s.noise_deg != 0.0,
        s.bias_deg != 0.0,
        case.zero_error_deg != 0.0,
        case.flip_after_solves.is_some(),
        case.rig.wrap.arc_start_deg != 0.0,
        !case.rig.keep_out.is_empty(),
    ];
    let digits = |x: f64| if x.fract() == 0.0 { 0 } else { 1 };
    sources.into_iter().filter(|s| *s).count()
        + d.periodic.len()
        + case.failing_attempts.len()
        + case.solve_errors_deg.len()
        + digits(case.target_deg)
        + digits(d.park_deg)
        + digits(case.zero_error_deg)
        + digits(case.rig.wrap.band_deg)
}

type Simplification = fn(&Case) -> Vec<Case>;

/// The changes, the largest simplifications first.
const CHANGES: &[Simplification] = &[
    no_luck,
    no_mechanics,
    no_periodic,
    no_script,
    plain_travel,
    plain_zero,
    plain_sense,
    plain_arc,
    plain_target,
    plain_start,
    round_numbers,
    shorter,
];

fn with(case: &Case, change: impl FnOnce(&mut Case)) -> Vec<Case> {
    let mut changed = case.clone();
    change(&mut changed);
    vec![changed]
}

fn no_luck(case: &Case) -> Vec<Case> {
    let mut out = with(case, |c| {
        c.rig.solve.noise_deg = 0.0;
        c.rig.solve.bias_deg = 0.0;
        c.rig.drive.repeatability_deg = 0.0;
        (c.seed, c.index) = (0, 0);
    });
    out.extend(with(case, |c| c.rig.solve.noise_deg = 0.0));
    out.extend(with(case, |c| c.rig.solve.bias_deg = 0.0));
    out.extend(with(case, |c| c.rig.drive.repeatability_deg = 0.0));
    out
}

fn no_mechanics(case: &Case) -> Vec<Case> {
    let mut out = with(case, |c| {
        c.rig.drive.step_deg = 0.0;
        c.rig.drive.backlash_deg = 0.0;
        c.rig.drive.gain_error = 0.0;
        c.rig.loop_.approach = Approach::Direct;
    });
    out.extend(with(case, |c| c.rig.drive.step_deg = 0.0));
    out.extend(with(case, |c| c.rig.drive.backlash_deg = 0.0));
    out.extend(with(case, |c| c.rig.drive.gain_error = 0.0));
    out.extend(with(case, |c| c.rig.loop_.approach = Approach::Direct));
    out
}

fn no_periodic(case: &Case) -> Vec<Case> {
    let mut out = with(case, |c| c.rig.drive.periodic.clear());
    for i in 0..case.rig.drive.periodic.len() {
        out.extend(with(case, |c| {
            c.rig.drive.periodic.remove(i);
        }));
    }
    out
}

fn no_script(case: &Case) -> Vec<Case> {
    let mut out = with(case, |c| c.failing_attempts.clear());
    out.extend(with(case, |c| c.failing_attempts.truncate(1)));
    out.extend(with(case, |c| {
        c.failing_attempts.pop();
    }));
    out.extend(with(case, |c| c.solve_errors_deg.clear()));
    out.extend(with(case, |c| c.flip_after_solves = None));
    out.extend(with(case, |c| c.rig.keep_out.clear()));
    out.extend(with(case, |c| c.zero_error_deg = 0.0));
    out.extend(with(case, |c| {
        c.free_corrections &= c.expect == Expect::Either;
    }));
    out
}

fn plain_travel(case: &Case) -> Vec<Case> {
    with(case, |c| {
        let d = &mut c.rig.drive;
        d.travel = TravelKind::Endless;
        (d.stop_from_deg, d.stop_to_deg) = (None, None);
    })
}

fn plain_zero(case: &Case) -> Vec<Case> {
    with(case, |c| {
        c.target_deg -= c.rig.drive.zero_point_deg;
        c.rig.drive.zero_point_deg = 0.0;
    })
}

/// Both senses reversed, with the same drive angles.
fn plain_sense(case: &Case) -> Vec<Case> {
    if case.rig.loop_.believed_sense == Sense::Same {
        return Vec::new();
    }
    with(case, |c| {
        let zero = c.rig.drive.zero_point_deg;
        c.target_deg = 2.0 * zero - c.target_deg;
        c.zero_error_deg = -c.zero_error_deg;
        c.rig.loop_.believed_sense = Sense::Same;
        c.rig.drive.sense = c.rig.drive.sense.other();
    })
}

/// The arc from 0, with the rest turned along with it.
fn plain_arc(case: &Case) -> Vec<Case> {
    with(case, |c| {
        let by = c.rig.wrap.arc_start_deg;
        let d = &mut c.rig.drive;
        c.rig.wrap.arc_start_deg = 0.0;
        d.park_deg -= by;
        d.stop_from_deg = d.stop_from_deg.map(|s| s - by);
        d.stop_to_deg = d.stop_to_deg.map(|s| s - by);
        for p in &mut d.periodic {
            p.phase_deg += p.cycles * by;
        }
        for k in &mut c.rig.keep_out {
            k.from_deg -= by;
            k.to_deg -= by;
        }
        c.target_deg -= c.rig.loop_.believed_sense.factor() * by;
    })
}

fn plain_target(case: &Case) -> Vec<Case> {
    let period_deg = TURN_DEG / f64::from(case.rig.wrap.symmetry.unwrap_or(2));
    let to = |c: &mut Case, x: f64| c.target_deg = x + 0.0;
    let mut out = with(case, |c| to(c, fold_finite(case.target_deg, 0.0, TURN_DEG)));
    for x in [0.0, 90.0, case.target_deg.round(), tenth(case.target_deg)] {
        out.extend(with(case, |c| to(c, x)));
    }
    out.extend(with(case, |c| {
        to(c, fold_finite(case.target_deg, 0.0, period_deg));
    }));
    // Only simpler values than the present ones: no change undoes another.
    let rank = |c: &Case| (plainness(c.target_deg), c.target_deg.abs() >= TURN_DEG);
    out.retain(|c| rank(c) < rank(case));
    out
}

fn plain_start(case: &Case) -> Vec<Case> {
    let park = case.rig.drive.park_deg;
    let mut out = Vec::new();
    for x in [90.0, 0.0, park.round(), tenth(park)] {
        out.extend(with(case, |c| c.rig.drive.park_deg = x + 0.0));
    }
    out.retain(|c| plainness(c.rig.drive.park_deg) < plainness(park));
    out
}

fn round_numbers(case: &Case) -> Vec<Case> {
    let mut out = with(case, |c| c.zero_error_deg = c.zero_error_deg.round());
    out.extend(with(case, |c| c.zero_error_deg = tenth(c.zero_error_deg)));
    out.extend(with(case, |c| {
        c.rig.wrap.band_deg = c.rig.wrap.band_deg.ceil()
    }));
    out.extend(with(case, |c| {
        for p in &mut c.rig.drive.periodic {
            p.amplitude_deg = tenth(p.amplitude_deg);
            p.phase_deg = fold_finite((p.phase_deg / 10.0).round() * 10.0, 0.0, TURN_DEG);
        }
    }));
    out.extend(with(case, |c| {
        let d = &mut c.rig.drive;
        d.stop_from_deg = d.stop_from_deg.map(f64::floor);
        d.stop_to_deg = d.stop_to_deg.map(f64::ceil);
    }));
    out
}

fn shorter(case: &Case) -> Vec<Case> {
    let most = case.rig.loop_.max_solves;
    [4, 6, 10]
        .into_iter()
        .filter(|n| *n < most)
        .flat_map(|n| with(case, |c| c.rig.loop_.max_solves = n))
        .collect()
}

fn tenth(x: f64) -> f64 {
    (x * 10.0).round() / 10.0
}

/// 0 for the plainest angles, more for others.
fn plainness(x: f64) -> u8 {
    match x {
        x if x == 0.0 && x.is_sign_positive() => 0,
        90.0 => 1,
        x if x.fract() == 0.0 && (0.0..TURN_DEG).contains(&x) && x.is_sign_positive() => 2,
        x if x.fract() == 0.0 => 3,
        x if tenth(x) == x => 4,
        _ => 5,
    }
}
