//! What the control program did during a log: its correction loops, and those that hunt or never end.
//!
//! A correction shows what the loop wanted. It turns the drive by a share of the residual, so the solve before it and
//! its size give the target. Corrections in a row that give one target belong to one run of the loop.

use super::diagnosis::{Diagnosis, DiagnosisKind};
use super::fitted::Fit;
use super::log::{Log, LogRow};
use super::model::Problem;
use crate::angle::{TURN_DEG, fold_finite, residual_finite};
use crate::rig::{RigSettings, Sense, TravelKind};
use crate::wording::{degrees, on_dial};

/// Shortest period of a framing \[deg\]: a fold is a multiple of it.
const PERIOD_DEG: f64 = 90.0;
/// Fewest corrections that make a run. Two moves may agree on a target by chance.
const LEAST: usize = 3;
/// The same where the share of the residual that a correction takes is guessed, too.
const LEAST_GUESSED: usize = 6;
/// From this many corrections a run without long swings should have settled.
const ENDLESS: usize = 6;
/// A loop comes back to its places to within this \[deg\].
const NEAR_DEG: f64 = 15.0;

/// One correction.
struct Correction {
    /// First row (from 0) at the reading from which it goes.
    row: usize,
    from_deg: f64,
    moved_deg: f64,
    /// The residual that it answers, as the drive turns \[deg\].
    residual_deg: f64,
}

/// A run of the loop.
struct Run {
    corrections: Vec<Correction>,
    /// Last row, from 0.
    last: usize,
    /// Position angle that the loop wanted \[deg\].
    target_deg: f64,
}

impl Run {
    /// Takes off the first move if it comes from a place to which the loop does not return.
    fn without_first_move(mut self) -> Self {
        let mut places = self.corrections.iter().map(|c| c.from_deg);
        let from_deg = places.next().unwrap_or(0.0);
        if places.all(|at| (at - from_deg).abs() > NEAR_DEG) {
            self.corrections.remove(0);
        }
        self
    }

    /// Pairs of residuals in a row \[deg\].
    fn pairs(&self) -> impl Iterator<Item = (f64, f64)> {
        let pairs = self.corrections.windows(2);
        pairs.map(|w| (w[0].residual_deg, w[1].residual_deg))
    }
}

/// The findings about the loop, and the sense in which the controller corrects; `None` if the log has no run.
pub(super) fn told(
    log: &Log,
    rig: &RigSettings,
    problem: &Problem,
    fit: &Fit,
) -> (Vec<Diagnosis>, Option<Sense>) {
    let believed = rig.loop_.believed_sense;
    let senses = [believed, believed.other()];
    let shares = [rig.loop_.correction, 1.0, 0.9, 0.8, 0.7, 0.6, 0.5];
    let ways = shares.iter().flat_map(|c| senses.map(|s| (s, *c)));
    let mut best = (0, None, 1.0, Vec::new());
    for (sense, share) in ways {
        let mut found = runs(log, problem, fit, sense.factor(), share);
        let least = if share == shares[0] {
            LEAST
        } else {
            LEAST_GUESSED
        };
        found.retain(|r| r.corrections.len() >= least);
        let count = found.iter().map(|r| r.corrections.len()).sum();
        if count > best.0 {
            best = (count, Some(sense), share, found);
        }
    }
    let (_, sense, share, runs) = best;
    let said = |run| said(run, share, log, rig, problem, fit);
    (runs.into_iter().filter_map(said).collect(), sense)
}

/// The runs of a controller that corrects in this sense by this share of the residual.
fn runs(log: &Log, problem: &Problem, fit: &Fit, sense: f64, share: f64) -> Vec<Run> {
    let in_tenths = |angle: fn(&LogRow) -> Option<f64>| {
        let mut tenths = log.rows.iter().filter_map(angle).map(|a| 10.0 * a);
        tenths.all(|a| (a - a.round()).abs() < 1e-6)
    };
    let commanded = log.rows.iter().any(|r| r.commanded_deg.is_some());
    let tenths = in_tenths(|r| r.position_angle_deg) || commanded && in_tenths(|r| r.commanded_deg);
    let rounded_deg = log.resolution_deg.max(if tenths { 0.1 } else { 0.0 });
    let step_deg = if commanded {
        0.0
    } else {
        fit.parameters.step_deg.value
    };
    // Step and rounding, at both of two corrections.
    let near_deg = (0.02 + step_deg + 2.0 * rounded_deg).min(1.0);
    // A smaller residual is no reason to move.
    let least_deg = 0.004_f64.max(0.5 * log.resolution_deg);
    let mut found: Vec<Run> = Vec::new();
    let mut open: Option<Run> = None;
    let mut dwell = 0;
    for (i, pair) in log.rows.windows(2).enumerate() {
        let (row, next) = (&pair[0], &pair[1]);
        if stays(row, next) {
            if let Some(run) = open.as_mut().filter(|run| run.last == i) {
                run.last = i + 1;
            }
            continue;
        }
        let first = std::mem::replace(&mut dwell, i + 1);
        let to_deg = next.commanded_deg.unwrap_or(next.reading_deg);
        let residual_deg = residual_finite(to_deg - row.reading_deg, PERIOD_DEG) / share;
        let corrects = row.run == next.run && residual_deg.abs() > least_deg;
        let Some(angle_deg) = row.position_angle_deg.filter(|_| corrects) else {
            found.extend(open.take());
            continue;
        };
        let target_deg = angle_deg + sense * residual_deg;
        let off_deg = |r: &Run| residual_finite(target_deg - r.target_deg, PERIOD_DEG).abs();
        if !open.as_ref().is_some_and(|r| off_deg(r) < near_deg) {
            found.extend(open.take());
        }
        let run = open.get_or_insert_with(|| Run {
            corrections: Vec::new(),
            last: i,
            target_deg,
        });
        run.corrections.push(Correction {
            row: first,
            from_deg: problem.track.readings_deg[i],
            moved_deg: problem.moves_deg[i + 1],
            residual_deg,
        });
        (run.last, run.target_deg) = (i + 1, target_deg);
    }
    found.extend(open);
    found
}

/// Whether the drive did not move between two rows.
fn stays(row: &LogRow, next: &LogRow) -> bool {
    row.run == next.run && row.reading_deg == next.reading_deg
}

/// What is wrong with a run.
fn said(
    run: Run,
    share: f64,
    log: &Log,
    rig: &RigSettings,
    problem: &Problem,
    fit: &Fit,
) -> Option<Diagnosis> {
    let target_deg = on_dial((100.0 * run.target_deg).round() / 100.0);
    let finding = |run: &Run, kind, evidence| {
        Some(Diagnosis {
            last_row: Some(run.last + 1),
            target_deg: Some(target_deg),
            ..Diagnosis::new(kind, Some(run.corrections[0].row + 1), evidence)
        })
    };
    let grown = |(a, b): &(f64, f64)| {
        residual_finite(b - (1.0 + share) * a, PERIOD_DEG).abs() < 0.25 * a.abs()
    };
    if 3 * run.pairs().filter(grown).count() >= 2 * run.pairs().count() {
        let corrections = run.corrections.iter().take(2);
        let first: Vec<String> = corrections
            .map(|c| format!("{}°", degrees(c.residual_deg.abs())))
            .collect();
        let sense = match fit.sense {
            _ if !fit.sense_identifiable => "the other one",
            Sense::Same => "1",
            Sense::Reversed => "-1",
        };
        let evidence = format!(
            "every correction adds to the residual that it should take back: {}, … The controller believes in the wrong sense. Set {sense} in your control program, and as loop.believed_sense in the rig file",
            first.join(", "),
        );
        return finding(&run, DiagnosisKind::WrongSense, evidence);
    }
    let run = run.without_first_move();
    let swings = run.corrections.iter();
    let swings: Vec<&Correction> = swings
        .filter(|c| c.moved_deg.abs() > 0.5 * PERIOD_DEG)
        .collect();
    let target = format!("one target, position angle {}°", degrees(target_deg));
    let returns = |w: &&[&Correction]| {
        let end_deg = w[1].from_deg + w[1].moved_deg;
        w[0].moved_deg * w[1].moved_deg < 0.0 && (end_deg - w[0].from_deg).abs() < NEAR_DEG
    };
    let back = swings.windows(2).filter(returns).count();
    // An outlier sends the drive elsewhere in between.
    if back > 0 && 3 * back >= 2 * (swings.len() - 1) {
        let mean_deg = |up: bool| {
            let from = swings.iter().filter(|c| (c.moved_deg > 0.0) == up);
            let from: Vec<f64> = from.map(|c| c.from_deg).collect();
            from.iter().sum::<f64>() / from.len().max(1) as f64
        };
        let (low_deg, high_deg) = (mean_deg(true), mean_deg(false));
        let start = clear_start_deg(log, rig, problem, high_deg - low_deg);
        let cure = start.map_or_else(
            || "halfturn advise finds the cure".to_owned(),
            |(start_deg, clear_deg)| {
                format!(
                    "An arc that starts at {start_deg}° would have ended it. Its ends are {}° or more from every reading of this log. halfturn advise checks it against keep-outs and cable",
                    degrees(clear_deg)
                )
            },
        );
        let evidence = format!(
            "the drive swings between {}° and {}°: {} long swings after {target}. The target lies on the seam. {cure}",
            degrees(low_deg),
            degrees(high_deg),
            swings.len(),
        );
        let found = finding(&run, DiagnosisKind::Hunting, evidence);
        return found.map(|d| Diagnosis {
            arc_start_deg: start.map(|(start_deg, _)| start_deg),
            ..d
        });
    }
    let count = run.corrections.len();
    let turns_back = run.pairs().filter(|(a, b)| a * b < 0.0).count();
    if count < ENDLESS || 4 * turns_back < count {
        return None;
    }
    // The first correction answers the zero point, not the errors of a move.
    let squares = run.corrections[1..].iter().map(|c| c.residual_deg.powi(2));
    let sigma_deg = (squares.sum::<f64>() / (count - 1) as f64).sqrt();
    let evidence = format!(
        "{count} corrections after {target}, and the residual stays at {0}° (one sigma). One move and one solve are off by {1}°. The tolerance is too small for that: {2}° would have ended it. If {0}° is much more than {1}°, look at backlash and step first",
        degrees(sigma_deg),
        degrees(fit.total_error_deg),
        degrees(2.5 * sigma_deg),
    );
    finding(&run, DiagnosisKind::NeverSettles, evidence)
}

/// The start of an arc, in whole degrees, that is farthest from all readings of the log, and how far \[deg\]. Its
/// period is the one nearest to a swing. `None` where an arc may not fit between stops.
fn clear_start_deg(
    log: &Log,
    rig: &RigSettings,
    problem: &Problem,
    swing_deg: f64,
) -> Option<(f64, f64)> {
    let period_deg = match swing_deg {
        s if s < 135.0 => 90.0,
        s if s < 270.0 => 180.0,
        _ => return None,
    };
    if rig.drive.travel == TravelKind::Stops {
        return None;
    }
    let rows = log.rows.iter().zip(&problem.track.readings_deg);
    let solved = rows.filter(|(row, _)| row.position_angle_deg.is_some());
    let readings: Vec<f64> = solved.map(|(_, at)| *at).collect();
    let clear = |start: f64| {
        let off = |p: &f64| residual_finite(p - start, period_deg).abs();
        readings.iter().map(off).fold(f64::INFINITY, f64::min)
    };
    let starts = (0..period_deg as u32).map(f64::from);
    let best = starts.max_by(|a, b| clear(*a).total_cmp(&clear(*b)))?;
    // Of all arcs with this seam the one that is nearest to the present arc.
    let present_deg = rig.wrap.arc_start_deg;
    let start_deg = present_deg + residual_finite(best - present_deg, period_deg);
    Some((
        fold_finite(start_deg.round(), 0.0, TURN_DEG),
        clear(start_deg.round()),
    ))
}
