//! Why a target has its verdict, in words.

use halfturn_engine::advise::{
    Behind, Cause, ENOUGH_SOLVES, FaultReason, Reason, Safety, Setting, Source, TargetReport,
};
use halfturn_engine::plant::Travel;
use halfturn_engine::rig::{Rig, RigSettings, Rule};
use halfturn_engine::verdict::{Fault, FaultShare, TargetState};
use halfturn_engine::wording::{angle, capital, counted, degrees, grouped, joined, limit, percent};

/// A larger share counts as every run, because an exact solution leaves out the far tails.
const EVERY_RUN: f64 = 1.0 - 3e-5;

/// The reason for one verdict as sentences without a subject: "Hunts in 28.5 % of the runs, 0.4° from the seam: …".
pub(crate) fn reason(rig: &Rig, setting: &Setting, t: &TargetReport) -> String {
    if t.reason == Reason::NotSought {
        return String::new();
    }
    let (clause, more) = (clause(rig, setting, t), more(t));
    let wrong = wrong_angle(rig, setting, t);
    let sentences = [capital(&clause), more, wrong];
    let full = sentences.iter().filter(|s| !s.is_empty());
    full.map(|s| s.trim_end_matches('.').to_owned() + ".")
        .collect::<Vec<_>>()
        .join(" ")
}

/// The reason as one clause, to stand after the name of the target.
pub(super) fn clause(rig: &Rig, setting: &Setting, t: &TargetReport) -> String {
    let s = Speaker { rig, setting, t };
    match &t.reason {
        Reason::NotSought => t.verdict.state.does().to_owned(),
        Reason::Safe(safety) => s.safe(*safety),
        Reason::TooFewRuns(fault) => too_few(fault, t.summary.trials),
        Reason::Faults(faults) => {
            let parts: Vec<String> = faults.iter().map(|f| s.fault(f)).collect();
            let risk = if t.verdict.state == TargetState::AtRisk {
                "is at risk: "
            } else {
                ""
            };
            format!("{risk}{}", parts.join("; it also "))
        }
    }
}

/// What would help, in sentences; empty if nothing is known.
fn more(t: &TargetReport) -> String {
    let Reason::Faults(faults) = &t.reason else {
        return String::new();
    };
    let helps = faults.iter().filter_map(|f| match &f.behind {
        Behind::Errors(cause) => Some(cure(cause, f.fault.fault)),
        Behind::OutsideStops(Some(to)) => Some(format!(
            "An arc that leads it to {} would reach it.",
            angle(*to)
        )),
        Behind::OutsideStops(None) => Some("No equivalent angle lies between them.".to_owned()),
        _ => None,
    });
    helps.collect::<Vec<_>>().join(" ")
}

/// A target with the rig and settings that its reason speaks of.
struct Speaker<'a> {
    rig: &'a Rig,
    setting: &'a Setting,
    t: &'a TargetReport,
}

impl Speaker<'_> {
    fn fault(&self, reason: &FaultReason) -> String {
        let s = self.rig.settings();
        let share = in_runs(reason.fault.rate.rate);
        match reason.fault.fault {
            Fault::Hunting => {
                // With corrections of more than the residual, a loop can swing half a turn without a seam.
                let place = match self.t.seam_distance_deg {
                    Some(0.0) => "on the seam".to_owned(),
                    Some(d) => format!("{} from the seam", angle(d)),
                    None => "without a seam".to_owned(),
                };
                format!("hunts {share}, {place}{}", self.because(reason))
            }
            Fault::Stuck | Fault::Late => {
                let within = match reason.fault.fault {
                    Fault::Late => self.setting.limits.max_solves.min(s.loop_.max_solves),
                    _ => s.loop_.max_solves,
                };
                format!(
                    "is not settled after {} {share}, with a tolerance of {}{}",
                    counted(within as usize, "solve"),
                    angle(s.loop_.tolerance_deg),
                    self.because(reason)
                )
            }
            Fault::Refused => self.refused(reason, &share),
            Fault::Unsolved => format!(
                "finds no solution {share}: an attempt fails with a chance of {}, and the loop gives up after {} in a row",
                percent(s.solve.failure_rate),
                counted(s.solve.max_failures as usize, "failure")
            ),
            Fault::KeepOut => {
                let which = match &reason.behind {
                    Behind::KeepOut(k) => {
                        let why = if k.why.is_empty() {
                            String::new()
                        } else {
                            format!(" ({})", k.why)
                        };
                        format!(
                            "the keep-out from {} to {}{why}",
                            angle(k.from_deg),
                            angle(k.to_deg)
                        )
                    }
                    _ => "a keep-out".to_owned(),
                };
                let inside_deg = self.t.summary.keep_out_deg.mean.unwrap_or(0.0);
                format!(
                    "turns through {which} {share}, {} a run on average, all passes added",
                    angle(inside_deg)
                )
            }
            Fault::Winding => {
                let most = match self.t.summary.winding_deg.p99 {
                    Some(deg) => format!(", up to {}", angle(deg)),
                    None => String::new(),
                };
                let at = match reason.behind {
                    Behind::FirstReading(deg) => format!(": its drive angle is {}", angle(deg)),
                    _ => String::new(),
                };
                format!(
                    "winds the cable more than {} from the parking reading of {} {share}{most}{at}",
                    angle(s.drive.winding_limit_deg),
                    angle(s.drive.park_deg)
                )
            }
        }
    }

    fn refused(&self, reason: &FaultReason, share: &str) -> String {
        let stops = match self.rig.travel() {
            Travel::Stops { lo_deg, hi_deg } => {
                format!("the stops ({} to {})", angle(lo_deg), angle(hi_deg))
            }
            Travel::Endless => return "is refused".to_owned(), // endless travel refuses nothing
        };
        let drive = angle(self.t.drive_deg);
        match reason.behind {
            Behind::OutsideStops(_) => format!(
                "is out of reach: its drive angle of {drive} lies outside {stops}, so the first command is refused"
            ),
            _ => format!(
                "is refused {share}: a correction from its drive angle of {drive} goes outside {stops}{}",
                self.because(reason)
            ),
        }
    }

    /// The errors that cause a fault, to stand after a colon or a comma.
    fn because(&self, reason: &FaultReason) -> String {
        let Behind::Errors(cause) = &reason.behind else {
            return String::new();
        };
        let s = self.rig.settings();
        let sources: Vec<String> = cause
            .sources
            .iter()
            .map(|source| sized(*source, s))
            .collect();
        let among = if cause.together > cause.sources.len() {
            " among others"
        } else {
            ""
        };
        let sign = if reason.fault.fault == Fault::Refused {
            ", because of"
        } else {
            ":"
        };
        format!("{sign} {}{among}", joined(&sources))
    }

    fn safe(&self, safety: Safety) -> String {
        let at = match self.t.seam_distance_deg {
            Some(distance_deg) => format!("lies {} from the seam", angle(distance_deg)),
            None => return "a full circle of endless travel has no seam".to_owned(),
        };
        let swinging = self.t.summary.swinging.rate;
        match safety {
            Safety::NoSeam | Safety::FarFromSeam => {
                format!("{at}: no correction reaches that far")
            }
            Safety::RuleHolds if self.setting.policy.rule == Rule::HysteresisBand => format!(
                "{at}, but the band of {} holds its corrections",
                angle(self.setting.policy.band_deg)
            ),
            Safety::RuleHolds => format!("{at}, but corrections never fold"),
            Safety::SettlesThere => {
                format!(
                    "{at}: it swings to the other end {} and settles there",
                    in_runs(swinging)
                )
            }
        }
    }
}

/// The message for a fault in no run or a few, of too few runs.
fn too_few(fault: &FaultShare, trials: u64) -> String {
    let do_ = match fault.fault {
        Fault::Late => "are late",
        fault => fault.state().do_(),
    };
    if trials == 0 {
        // Solved: more runs would not help.
        return format!(
            "is at risk: {} of the runs {do_}, at the limit of {}",
            percent(fault.rate.rate),
            limit(fault.limit)
        );
    }
    let found = (fault.rate.rate * trials as f64).round() as u64;
    let found = match found {
        0 => "none".to_owned(),
        n => grouped(n),
    };
    format!(
        "is at risk: {found} of {} runs {do_}, too few runs to be sure of less than {}. Use more --trials",
        grouped(trials),
        limit(fault.limit)
    )
}

/// A loop can settle on a wrong angle.
fn wrong_angle(rig: &Rig, setting: &Setting, t: &TargetReport) -> String {
    let Some(error_deg) = t.summary.true_error_deg.mean.filter(|_| t.settles_wrong) else {
        return String::new();
    };
    let bias_deg = rig.settings().solve.bias_deg;
    let why = if bias_deg.abs() >= 0.5 * error_deg {
        format!(", because the solver is off by {}", angle(bias_deg))
    } else {
        String::new()
    };
    format!(
        "It settles on a wrong angle: the mean true error of {} is above the tolerance of {}{why}.",
        angle(error_deg),
        angle(setting.tolerance_deg)
    )
}

/// "in 28.3 % of the runs".
fn in_runs(share: f64) -> String {
    if share > EVERY_RUN {
        "in every run".to_owned()
    } else {
        format!("in {} of the runs", percent(share))
    }
}

/// An error with its size in the rig.
pub(super) fn sized(source: Source, s: &RigSettings) -> String {
    let size = match source {
        Source::WrongSense => return source.to_string(),
        Source::PeriodicError => angle(s.drive.periodic.iter().map(|p| p.amplitude_deg).sum()),
        Source::GainError => limit(s.drive.gain_error),
        Source::Backlash => angle(s.drive.backlash_deg),
        Source::ZeroPoint => angle(s.drive.zero_point_sigma_deg),
        Source::SolveNoise => angle(s.solve.noise_deg),
        Source::Repeatability => angle(s.drive.repeatability_deg),
        Source::Step => angle(s.drive.step_deg),
        Source::Bias => angle(s.solve.bias_deg),
        Source::FieldRotation => format!("{}/s", angle(s.loop_.field_rotation_deg_per_s)),
        Source::CorrectionFactor => degrees(s.loop_.correction),
        Source::Confirmation => s.loop_.confirm.to_string(),
        Source::SolveLimit => s.loop_.max_solves.to_string(),
        Source::Outliers => format!(
            "{} of the solves, {}",
            percent(s.solve.outlier_rate),
            angle(s.solve.outlier_deg)
        ),
        Source::Failures => format!("{} of the attempts", percent(s.solve.failure_rate)),
    };
    format!("{source} ({size})")
}

/// The effect of removing the causes: "Without backlash it would not hunt."
fn cure(cause: &Cause, fault: Fault) -> String {
    let without = match (cause.together, cause.sources.first()) {
        (1, Some(first)) => match first {
            Source::WrongSense => "With the right sense".to_owned(),
            Source::ZeroPoint => "With an exact zero point".to_owned(),
            Source::CorrectionFactor => "With a correction factor of 1".to_owned(),
            Source::Confirmation => "With a single pass".to_owned(),
            Source::SolveLimit => format!("With {ENOUGH_SOLVES} good solves"),
            other => format!("Without {other}"),
        },
        (2, _) => "No single one is to blame, but without both".to_owned(),
        (3, _) => "No single one is to blame, but without all three".to_owned(),
        _ => "No single one is to blame, but without all of them".to_owned(),
    };
    let (never, at_times) = match fault {
        Fault::Hunting => ("not hunt", "hunt"),
        Fault::Refused => ("not be refused", "be refused"),
        _ => ("settle in time", "be late"),
    };
    if cause.left == 0.0 {
        format!("{without} it would {never}.")
    } else {
        format!("{without} it would {at_times} {}.", in_runs(cause.left))
    }
}
