//! Findings about the rig, in words, each with its evidence. A rig without fault has none.

use super::diagnosis::{Diagnosis, DiagnosisKind};
use super::fitted::Fit;
use super::interval::Estimate;
use super::lattice::commands;
use super::log::Log;
use super::loops;
use super::model::{BASE, Over, Problem, Shift, loses_steps};
use super::refine::Refined;
use super::robust::MOST_BACKLASH_DEG;
use crate::angle::{TURN_DEG, residual_finite};
use crate::rig::{Approach, RigSettings, Sense};
use crate::wording::{degrees, duration, in_a_turn};

/// All findings about a fit.
pub(super) fn diagnose(
    log: &Log,
    rig: &RigSettings,
    problem: &Problem,
    shifts: &[Shift],
    state: &Refined,
    fit: &Fit,
) -> Vec<Diagnosis> {
    if let Some(still) = stands_still(log, rig) {
        return vec![still];
    }
    let mut found = Vec::new();
    let (told, corrects_in) = loops::told(log, rig, problem, fit);
    found.extend(told);
    if !found.iter().any(|d| d.kind == DiagnosisKind::WrongSense) {
        found.extend(wrong_sense(rig, fit, corrects_in));
    }
    found.extend(moved_zero(problem, shifts, state, fit));
    found.extend(unmodelled(shifts, state));
    found.extend(short_of_commands(log, fit));
    found.extend(coarse_step(rig, fit));
    found.extend(large_backlash(rig, fit));
    found.extend(far_off(fit));
    found.extend(not_told(fit));
    found
}

/// The readings go far, and the camera stays where it is.
fn stands_still(log: &Log, rig: &RigSettings) -> Option<Diagnosis> {
    let solved = log
        .rows
        .iter()
        .filter_map(|r| Some((r.reading_deg, r.position_angle_deg?)));
    let (_, first_deg) = solved.clone().next()?;
    let (mut low, mut high, mut off) = (f64::INFINITY, f64::NEG_INFINITY, 0.0_f64);
    for (reading_deg, angle_deg) in solved {
        (low, high) = (low.min(reading_deg), high.max(reading_deg));
        off = off.max(residual_finite(angle_deg - first_deg, TURN_DEG).abs());
    }
    if high - low <= MOST_BACKLASH_DEG || off > rig.loop_.tolerance_deg {
        return None;
    }
    let evidence = format!(
        "the readings go over {}°, but the position angle stays within {}°: the camera does not turn with the drive. Look for a loose coupling, belt or clamp, or a solver that repeats an old frame",
        degrees(high - low),
        degrees(off),
    );
    Some(Diagnosis::new(DiagnosisKind::LostSteps, None, evidence))
}

/// `corrects_in`: the sense that the controller's corrections show.
fn wrong_sense(rig: &RigSettings, fit: &Fit, corrects_in: Option<Sense>) -> Option<Diagnosis> {
    if !fit.sense_identifiable || fit.sense == rig.loop_.believed_sense {
        return None;
    }
    let (goes, believed) = match fit.sense {
        Sense::Same => ("grows", -1),
        Sense::Reversed => ("falls", 1),
    };
    let so = if corrects_in == Some(fit.sense) {
        format!("The controller corrects in this sense, but the rig file says {believed}")
    } else {
        format!(
            "The rig file, or its default, says {believed}. If your control program believes that too, every correction doubles the error"
        )
    };
    let evidence = format!(
        "the position angle {goes} as the reading grows: this sense leaves {1}° on average, the other {0}°. {so}. Set drive.sense and loop.believed_sense to {2}",
        degrees(fit.other_sense_distance_deg),
        degrees(fit.distance_deg),
        -believed,
    );
    Some(Diagnosis::new(DiagnosisKind::WrongSense, None, evidence))
}

fn moved_zero(problem: &Problem, shifts: &[Shift], state: &Refined, fit: &Fit) -> Vec<Diagnosis> {
    let sigma = state.components.total.sqrt();
    let sizes = |j: usize| state.coefficients[BASE + j];
    let mut jumps: Vec<(usize, f64)> = shifts
        .iter()
        .enumerate()
        .filter_map(|(j, shift)| match shift {
            Shift::Jump(row) if sizes(j).abs() > sigma => Some((*row, sizes(j))),
            _ => None,
        })
        .collect();
    jumps.sort_by_key(|(row, _)| *row);
    let mut found = Vec::new();
    if loses_steps(problem, shifts, &state.coefficients) {
        let steady = shifts
            .iter()
            .enumerate()
            .find_map(|(j, shift)| match shift {
                Shift::LossUp => Some((sizes(j), "up")),
                Shift::LossDown => Some((sizes(j), "down")),
                Shift::Jump(_) | Shift::Drift | Shift::Wave(_) => None,
            });
        if let Some((size, way)) = steady {
            let moves = problem.moves_deg.iter();
            let first = moves
                .clone()
                .position(|d| (*d > 0.0) == (way == "up") && *d != 0.0);
            let evidence = format!(
                "every move {way} ends {}° short of the reading, and the shortfall adds up. Look for a slipping belt, coupling or motor",
                degrees(size)
            );
            found.push(Diagnosis::new(
                DiagnosisKind::LostSteps,
                first.map(|r| r + 1),
                evidence,
            ));
            return found;
        }
        let list: Vec<String> = jumps
            .iter()
            .take(6)
            .map(|(row, size)| format!("{}° at row {}", signed(*size), row + 1))
            .collect();
        let more = if jumps.len() > 6 { ", and more" } else { "" };
        let evidence = format!(
            "the camera falls behind the reading again and again, against the move each time: {}{more}. Look for a slipping belt, coupling or motor",
            list.join(", ")
        );
        let row = jumps.first().map(|(row, _)| row + 1);
        found.push(Diagnosis::new(DiagnosisKind::LostSteps, row, evidence));
        return found;
    }
    for (row, size) in &jumps {
        let how = match problem.moves_deg[*row] {
            _ if problem.track.begins(*row) => "between two runs".to_owned(),
            0.0 => "without any move".to_owned(),
            d => format!("in a move of {}°", signed(d)),
        };
        let turned = if (size.abs() - 180.0).abs() < 5.0 {
            ". About half a turn: a meridian flip looks like this, or a solver that takes the frame upside down"
        } else if size * problem.moves_deg[*row] < 0.0 {
            ". A single loss of steps looks the same"
        } else {
            ""
        };
        let evidence = format!(
            "the zero point jumps by {}° {how} before row {}, {} times the error of one solve, and stays there{turned}",
            signed(size * fit.sense.factor()),
            row + 1,
            (size.abs() / sigma).round(),
        );
        found.push(Diagnosis::new(
            DiagnosisKind::ZeroPointSlip,
            Some(row + 1),
            evidence,
        ));
    }
    for (j, shift) in shifts.iter().enumerate() {
        if *shift == Shift::Drift {
            let over = if problem.timed {
                duration(problem.span())
            } else {
                "the log".to_owned()
            };
            let evidence = format!(
                "the zero point creeps by {}° over {over}. Look for a camera that turns in its holder",
                signed(sizes(j) * fit.sense.factor())
            );
            found.push(Diagnosis::new(
                DiagnosisKind::ZeroPointSlip,
                Some(1),
                evidence,
            ));
        }
    }
    found
}

/// Waves that are no periodic error of whole cycles.
fn unmodelled(shifts: &[Shift], state: &Refined) -> Vec<Diagnosis> {
    let waves = shifts
        .iter()
        .zip(BASE..)
        .filter_map(|(shift, j)| match shift {
            Shift::Wave(w) if !w.sine => {
                let size = libm::hypot(state.coefficients[j], state.coefficients[j + 1]);
                // The width of a backlash is twice what it does to either side.
                let sides = if w.over == Over::Direction { 2.0 } else { 1.0 };
                Some((w, degrees(sides * size)))
            }
            _ => None,
        });
    let honest = "The intervals allow for it, but the rig file does not hold it";
    let found = waves.filter_map(|(w, size)| {
        let (kind, evidence) = match w.over {
            Over::Reading if w.cycles.fract() == 0.0 => return None,
            Over::Reading => (
                DiagnosisKind::UnmodelledError,
                format!("an error of ±{size}° comes back {:.1} times a turn. Look for a gear or belt that turns so often. {honest}", w.cycles),
            ),
            Over::Direction => (
                DiagnosisKind::UnmodelledError,
                format!("the backlash differs round the turn by ±{}°. Look for an eccentric gear or a worm that sits tighter on one side. {honest}", size),
            ),
            Over::Time => (
                DiagnosisKind::ZeroPointSlip,
                format!("the zero point wanders by ±{size}° during the log. Look for a camera or focuser that sags as the mount turns"),
            ),
        };
        let row = (w.over == Over::Time).then_some(1);
        Some(Diagnosis::new(kind, row, evidence))
    });
    found.collect()
}

/// Readings that differ from the commands.
fn short_of_commands(log: &Log, fit: &Fit) -> Option<Diagnosis> {
    let step = fit.parameters.step_deg.value;
    let allowed = (0.75 * step + log.resolution_deg).max(0.01);
    let short: Vec<(usize, f64)> = commands(log)
        .filter(|(_, off)| off.abs() > allowed)
        .collect();
    let (row, _) = short.first()?;
    let most = short.iter().map(|(_, off)| off.abs()).fold(0.0, f64::max);
    let evidence = format!(
        "in {} of {} rows the reading misses the command, by up to {}°. Rounding to a step explains {}°",
        short.len(),
        commands(log).count(),
        degrees(most),
        degrees(0.5 * step),
    );
    Some(Diagnosis::new(
        DiagnosisKind::LostSteps,
        Some(row + 1),
        evidence,
    ))
}

fn coarse_step(rig: &RigSettings, fit: &Fit) -> Option<Diagnosis> {
    let step = fit.parameters.step_deg;
    let tolerance = rig.loop_.tolerance_deg;
    if step.low.unwrap_or(0.0) <= 0.0 || 2.0 * step.value < tolerance {
        return None;
    }
    let evidence = format!(
        "all readings are whole multiples of {}°, so a command can miss its goal by {}°. Set a tolerance well above that (now {}°)",
        degrees(step.value),
        degrees(0.5 * step.value),
        degrees(tolerance),
    );
    Some(Diagnosis::new(DiagnosisKind::CoarseStep, None, evidence))
}

fn large_backlash(rig: &RigSettings, fit: &Fit) -> Option<Diagnosis> {
    let backlash = fit.parameters.backlash_deg;
    let tolerance = rig.loop_.tolerance_deg;
    // An estimate outside its own interval tells nothing.
    let told = |low: &f64| *low > tolerance && *low <= backlash.value;
    let low = backlash.low.filter(told)?;
    let cure = if rig.loop_.approach == Approach::Direct {
        "Approach every angle from one side (loop.approach, with an overrun above the backlash): that lowers the least tolerance. halfturn advise looks for it"
    } else {
        "Make loop.overrun_deg larger than the backlash"
    };
    let ways: Vec<i8> = fit
        .rows
        .iter()
        .map(|r| r.direction)
        .filter(|d| *d != 0)
        .collect();
    let once = if ways.windows(2).filter(|w| w[0] != w[1]).count() == 1 {
        ". The drive turns back only once in this log, where a slip of the zero point would look the same. One more turn back tells them apart"
    } else {
        ""
    };
    let evidence = format!(
        "moves up and moves down to the same reading differ by {}° (95 %: {}° to {}°), so a correction that turns back misses by more than the tolerance of {}°. {cure}{once}",
        degrees(backlash.value),
        degrees(low),
        degrees(backlash.high.unwrap_or(backlash.value)),
        degrees(tolerance),
    );
    Some(Diagnosis::new(DiagnosisKind::LargeBacklash, None, evidence))
}

fn far_off(fit: &Fit) -> Option<Diagnosis> {
    let off: Vec<_> = fit.rows.iter().filter(|r| r.outlier).collect();
    let first = off.first()?;
    let turned = off
        .iter()
        .filter(|r| (r.residual_deg.abs() - 180.0).abs() < 5.0);
    let turned = match turned.count() {
        0 => String::new(),
        n => format!(". Half a turn off: {n}, as from a solver that takes the frame upside down"),
    };
    let most_deg = off.iter().map(|r| r.residual_deg.abs()).fold(0.0, f64::max);
    let which: Vec<String> = off.iter().take(8).map(|r| r.row.to_string()).collect();
    let more = if off.len() > 8 { ", …" } else { "" };
    let (are, rows, by) = match off.len() {
        1 => ("is an outlier", "row", ""),
        _ => ("are outliers", "rows", "up to "),
    };
    let evidence = format!(
        "{} of {} solves {are} ({rows} {}{more}, {by}{most_deg:.1}° off){turned}",
        off.len(),
        fit.rows.len(),
        which.join(", "),
    );
    Some(Diagnosis::new(
        DiagnosisKind::Outliers,
        Some(first.row),
        evidence,
    ))
}

/// Parameters that the log does not tell, or not well enough to be useful, and what to add to it.
fn not_told(fit: &Fit) -> Vec<Diagnosis> {
    let p = &fit.parameters;
    let wide = |e: &Estimate, unit: &str| match e.half_width() {
        w if w.is_finite() => format!("is known only to ±{}{unit}", degrees(w)),
        _ => "does not show in this log".to_owned(),
    };
    let turning = "Add moves that turn back by more than the backlash, in both directions";
    let arc = "Add readings over a wider arc, best over the whole turn";
    let mut found = Vec::new();
    let mut say = |name: &'static str, evidence: String| {
        found.push(Diagnosis {
            parameter: Some(name),
            ..Diagnosis::new(DiagnosisKind::NotIdentifiable, None, evidence)
        });
    };
    if !fit.sense_identifiable {
        say("sense", format!("both senses fit equally well. {arc}"));
    }
    if !p.backlash_deg.identifiable {
        say(
            "backlash_deg",
            format!("the backlash {}. {turning}", wide(&p.backlash_deg, "°")),
        );
    }
    if !p.zero_point_deg.identifiable {
        let (more, with) = if p.backlash_deg.identifiable {
            (arc, "")
        } else {
            (turning, ", because half of the backlash hides in it")
        };
        let said = wide(&p.zero_point_deg, "°");
        say(
            "zero_point_deg",
            format!("the zero point {said}{with}. {more}"),
        );
    }
    if !p.gain_error.identifiable {
        say(
            "gain_error",
            format!("the gain error {}. {arc}", wide(&p.gain_error, "")),
        );
    }
    let names = [
        "periodic.0.amplitude_deg",
        "periodic.1.amplitude_deg",
        "periodic.2.amplitude_deg",
        "periodic.3.amplitude_deg",
        "periodic.4.amplitude_deg",
        "periodic.5.amplitude_deg",
    ];
    for (h, name) in fit.periodic.iter().zip(names) {
        if !h.amplitude_deg.identifiable {
            let said = wide(&h.amplitude_deg, "°");
            say(
                name,
                format!("the periodic error {} {said}. {arc}", in_a_turn(h.cycles)),
            );
        }
    }
    if !p.noise_deg.identifiable {
        let both = "repeatability and solve noise look alike without repeated solves. Add a second solve, without a move, at five readings or more";
        say("repeatability_deg", both.to_owned());
        say("noise_deg", both.to_owned());
    }
    if !p.outlier_rate.identifiable {
        let few = "the log has too few solves to tell an outlier from a bad fit. Add more";
        say("outlier_rate", few.to_owned());
    }
    if !p.step_deg.identifiable {
        let bound = p.step_deg.high.map_or_else(String::new, |high| {
            format!(" It is at most {}°.", degrees(high))
        });
        say(
            "step_deg",
            format!(
                "the readings are round numbers, so they don't show the step.{bound} Add moves to angles with odd decimals"
            ),
        );
    }
    found
}

fn signed(angle_deg: f64) -> String {
    let sign = if angle_deg < 0.0 { "-" } else { "+" };
    format!("{sign}{}", degrees(angle_deg.abs()))
}
