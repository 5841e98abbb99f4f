//! The reason for a verdict, in one sentence.

use super::verdict::{Limits, TargetReport, Verdict};
use crate::angle::sin_deg;
use crate::plant::Travel;
use crate::rig::{Rig, Rule};
use crate::scenario::Scenario;
use crate::wording::{degrees, grouped, percent};

/// How many sigma a correction is taken to reach in the words of a reason.
const REACH_SIGMAS: f64 = 3.0;

pub(super) fn reason(
    report: &TargetReport,
    scenario: &Scenario,
    rig: &Rig,
    limits: &Limits,
) -> String {
    match report.verdict {
        Verdict::OutOfReach => out_of_reach(report, scenario),
        Verdict::Safe => safe(report, scenario, rig),
        Verdict::AtRisk | Verdict::WillHunt => unsafe_because(report, scenario, rig, limits),
    }
}

fn out_of_reach(report: &TargetReport, scenario: &Scenario) -> String {
    let stops = match scenario.brief().travel {
        Travel::Stops { lo_deg, hi_deg } => {
            format!("{} to {} deg", degrees(lo_deg), degrees(hi_deg))
        }
        Travel::Endless => String::new(), // endless travel refuses nothing
    };
    format!(
        "The drive angle {} deg or a correction there lies outside the stops ({stops}): {} of the runs end on a refused command.",
        degrees(report.drive_deg),
        percent(report.refused.rate),
    )
}

fn safe(report: &TargetReport, scenario: &Scenario, rig: &Rig) -> String {
    let tolerance = degrees(scenario.brief().tolerance_deg);
    let Some(distance_deg) = report.seam_distance_deg else {
        return "A full circle of endless travel has no seam.".to_owned();
    };
    let distance = degrees(distance_deg);
    let errors = Errors::of(rig, scenario);
    if distance_deg > errors.reach_deg {
        return format!(
            "It lies {distance} deg from the seam, and corrections reach about {} deg.",
            degrees(errors.reach_deg)
        );
    }
    match rig.settings().wrap.rule {
        Rule::FoldOnce => {
            format!("It lies {distance} deg from the seam, but corrections never fold.")
        }
        Rule::HysteresisBand => format!(
            "It lies {distance} deg from the seam, but the band of {} deg holds its corrections.",
            degrees(scenario.brief().band_deg)
        ),
        Rule::HalfCircle | Rule::FullCircle
            if errors.swing_deg() <= scenario.brief().tolerance_deg =>
        {
            format!(
                "It lies {distance} deg from the seam, but a swing leaves an error of about {} deg, within the tolerance of {tolerance} deg.",
                degrees(errors.swing_deg())
            )
        }
        Rule::HalfCircle | Rule::FullCircle => format!(
            "It lies {distance} deg from the seam, but corrections that would fold are rare."
        ),
    }
}

fn unsafe_because(
    report: &TargetReport,
    scenario: &Scenario,
    rig: &Rig,
    limits: &Limits,
) -> String {
    let s = rig.settings();
    let summary = &report.summary;
    let tolerance = degrees(s.loop_.tolerance_deg);
    if report.hunting.high <= limits.max_hunting {
        // Not the seam: the other two ways to end badly.
        return if summary.unsolved.low > limits.max_hunting {
            format!(
                "{} of the runs end after {} failed solves in a row.",
                percent(summary.unsolved.rate),
                s.solve.max_failures
            )
        } else {
            out_of_reach(report, scenario)
        };
    }
    if report.hunting.rate <= limits.max_hunting {
        return format!(
            "{} of {} runs hunt, but so few runs cannot promise less than {}; use more --trials.",
            grouped((report.hunting.rate * summary.trials as f64).round() as u64),
            grouped(summary.trials),
            percent(limits.max_hunting)
        );
    }
    if s.loop_.believed_sense != s.drive.sense {
        return "The controller believes in the wrong sense of rotation, so every correction doubles the error.".to_owned();
    }
    let share = percent(report.hunting.rate);
    let errors = Errors::of(rig, scenario);
    if summary.ping_pong.rate < 0.5 * report.hunting.rate {
        return format!(
            "{share} of the runs use up {} solves without a swing: noise, seating, play and step scatter by about {} deg against a tolerance of {tolerance} deg.",
            s.loop_.max_solves,
            degrees(errors.scatter_deg)
        );
    }
    let distance = report.seam_distance_deg.map_or_else(String::new, degrees);
    let held = match s.wrap.rule {
        Rule::HysteresisBand => format!(
            " The band of {} deg is too narrow to hold that.",
            degrees(scenario.brief().band_deg)
        ),
        Rule::FullCircle | Rule::HalfCircle | Rule::FoldOnce => String::new(),
    };
    format!(
        "{share} of the runs hunt: it lies {distance} deg from the seam, and each swing to the other end brings back an error of up to {} deg ({}) against a tolerance of {tolerance} deg.{held}",
        degrees(errors.swing_deg()),
        errors.terms()
    )
}

/// Sizes of the rig's errors at one target, for words; the verdict comes from the runs alone.
struct Errors {
    /// Difference of gain and periodic error between two drive angles one period apart \[deg\].
    shape_deg: f64,
    /// Play \[deg\].
    play_deg: f64,
    /// Seating and solve noise, at three sigma \[deg\].
    noise_deg: f64,
    /// How far the first correction reaches \[deg\].
    reach_deg: f64,
    /// What changes from one solve to the next \[deg\].
    scatter_deg: f64,
}

impl Errors {
    fn of(rig: &Rig, scenario: &Scenario) -> Self {
        let s = rig.settings();
        let drive_deg = scenario.drive_angle_deg();
        let shape = |y: f64| {
            let periodic: f64 = s
                .drive
                .periodic
                .iter()
                .map(|p| p.amplitude_deg * sin_deg(p.cycles * y + p.phase_deg))
                .sum();
            s.drive.gain_error * y + periodic
        };
        let period_deg = scenario.period_deg();
        let here = shape(drive_deg);
        let shape_deg = [period_deg, -period_deg]
            .iter()
            .map(|turn| (shape(drive_deg + turn) - here).abs())
            .fold(0.0, f64::max);
        let random = s.solve.noise_deg.hypot(s.drive.repeatability_deg);
        let play_deg = s.drive.backlash_deg;
        let first = s.drive.zero_point_sigma_deg.hypot(random);
        Self {
            shape_deg,
            play_deg,
            noise_deg: REACH_SIGMAS * std::f64::consts::SQRT_2 * random,
            reach_deg: REACH_SIGMAS * first + here.abs() + 0.5 * play_deg + s.solve.bias_deg.abs(),
            scatter_deg: REACH_SIGMAS * std::f64::consts::SQRT_2 * random
                + play_deg
                + 0.5 * s.drive.step_deg,
        }
    }

    /// Error that a long swing can leave \[deg\].
    fn swing_deg(&self) -> f64 {
        self.shape_deg + self.play_deg + self.noise_deg
    }

    fn terms(&self) -> String {
        let terms = [
            ("gain and periodic error", self.shape_deg),
            ("play", self.play_deg),
            ("noise", self.noise_deg),
        ];
        terms
            .iter()
            .filter(|(_, size)| *size > 0.0)
            .map(|(name, size)| format!("{name} {}", degrees(*size)))
            .collect::<Vec<_>>()
            .join(", ")
    }
}
