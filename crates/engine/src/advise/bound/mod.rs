//! The swing residual bound R: how large the residual after a long swing can be, from the rig alone
//! (derived in docs/advice.md, section 1).

mod harmonics;
mod random;
#[cfg(test)]
mod tests;

use serde::Serialize;

use crate::angle::TURN_DEG;
use crate::plant::Travel;
use crate::rig::{Approach, Rig, RigSettings};
use crate::scenario::Policy;
use crate::summary::distribution::normal_two_sided;
use harmonics::{difference_anywhere_deg, difference_near_deg, steepest};
use random::Random;

/// One part of a bound.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(transform = crate::schema::not_negative))]
pub struct Term {
    /// Name of the error.
    pub name: &'static str,
    /// What it adds to the bound \[deg\].
    pub size_deg: f64,
}

/// The bound, part by part.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct SwingBound {
    /// At any one solve, a swing leaves more than the bound with at most this probability.
    #[cfg_attr(feature = "schema", schemars(range(min = 0, max = 1)))]
    pub tail: f64,
    /// The parts of R; those of no size are left out. They add up to R unless it is capped.
    pub terms: Vec<Term>,
    /// R for this arc \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    pub residual_deg: f64,
    /// R wherever the arc starts \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    pub anywhere_deg: f64,
    /// No residual is larger than half a period, and R is that: the bound says nothing.
    pub capped: bool,
    /// What the first move adds to the distance that a target needs from the seam.
    pub first_move: Vec<Term>,
    /// Distance from the seam at which a target does not swing, but with twice the tail probability \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    pub seam_distance_deg: f64,
    /// The arc has no seam, so nothing swings.
    pub no_seam: bool,
}

impl SwingBound {
    /// The bound for a rig under a policy. `tail` is above 0 and below 1.
    #[must_use]
    pub fn of(rig: &Rig, policy: Policy, tail: f64) -> Self {
        let s = rig.settings();
        let travel = rig.travel();
        let wrap = policy.wrap(travel);
        let (start_deg, width_deg) = (wrap.start_deg(), wrap.width_deg());
        let half_period_deg = 0.5 * policy.period_deg();
        let random = Random::of(s);
        let zero_deg = normal_two_sided(tail) * s.drive.zero_point_sigma_deg;
        let backlash_deg = backlash_deg(s, travel, start_deg, start_deg + width_deg);
        let gain = s.drive.gain_error;
        let farthest_deg = farthest_deg(travel, start_deg, width_deg, s.drive.park_deg);

        // How large a residual can be before the first swing.
        let amplitudes: f64 = s.drive.periodic.iter().map(|p| p.amplitude_deg).sum();
        let pointing_deg = gain.abs() * farthest_deg
            + amplitudes
            + 0.5 * s.drive.backlash_deg * (1.0 + gain)
            + 0.5 * s.drive.step_deg
            + random.pair_quantile_deg(tail);
        let drift_deg = drift_deg(s, width_deg, tail);
        let first_deg = zero_deg + s.solve.bias_deg.abs() + pointing_deg + drift_deg;
        let before_deg = first_deg.min(half_period_deg);

        let reach_deg = before_deg + s.drive.backlash_deg + s.drive.step_deg;
        let sloped_deg = (before_deg * s.loop_.correction + s.drive.step_deg + backlash_deg)
            * steepest(&s.drive.periodic);
        let most_deg = 2.0 * amplitudes;
        let near_deg = difference_near_deg(
            &s.drive.periodic,
            width_deg,
            start_deg,
            wrap.band_deg() + reach_deg,
        );
        let periodic_deg = (near_deg + sloped_deg).min(most_deg);
        let anywhere_deg =
            (difference_anywhere_deg(&s.drive.periodic, width_deg) + sloped_deg).min(most_deg);

        let (repeatability_error_deg, noise_deg, outlier_deg) = random.parts_deg(tail);
        let fixed = [
            ("backlash", backlash_deg * (1.0 + gain)),
            ("step", 0.5 * s.drive.step_deg * (1.0 + gain)),
            ("repeatability", repeatability_error_deg),
            ("solve noise", noise_deg),
            ("outliers", outlier_deg),
            ("field rotation", drift_deg),
        ];
        let rest: f64 = fixed.iter().map(|(_, size)| size).sum();
        let swing_gain_deg = gain.abs() * width_deg;
        let factor = residual_gain(s);
        let whole = |periodic_deg: f64| {
            let base = rest + swing_gain_deg + periodic_deg;
            // What a correction leaves of the residual that it answers, and that is at most R itself
            // from the second swing on.
            let answered_deg = if factor < 1.0 {
                before_deg.max(base / (1.0 - factor))
            } else {
                f64::INFINITY
            };
            (base, answered_deg.min(half_period_deg))
        };
        let (base, answered_deg) = whole(periodic_deg);
        let (base_anywhere, answered_anywhere) = whole(anywhere_deg);
        let correction_deg = uncorrected_share(s) * answered_deg;
        let gain_deg = swing_gain_deg + gain.abs() * s.loop_.correction * answered_deg;
        let total = base - swing_gain_deg + gain_deg + correction_deg;
        let total_anywhere = base_anywhere + factor * answered_anywhere;

        let mut terms = vec![
            Term {
                name: "periodic error",
                size_deg: periodic_deg,
            },
            Term {
                name: "gain error",
                size_deg: gain_deg,
            },
            Term {
                name: "correction factor",
                size_deg: correction_deg,
            },
        ];
        terms.extend(fixed.map(|(name, size_deg)| Term { name, size_deg }));
        let residual_deg = total.min(half_period_deg);
        let mut first_move = vec![
            Term {
                name: "zero point",
                size_deg: zero_deg,
            },
            Term {
                name: "solver bias",
                size_deg: s.solve.bias_deg.abs(),
            },
            // Far from reading 0 a gain error is larger at the first move than over a swing.
            Term {
                name: "pointing of the first move",
                size_deg: (pointing_deg - total).max(0.0),
            },
        ];
        let by_size = |terms: &mut Vec<Term>| {
            terms.retain(|t| t.size_deg > 0.0);
            terms.sort_by(|a, b| b.size_deg.total_cmp(&a.size_deg));
        };
        by_size(&mut terms);
        by_size(&mut first_move);
        let added: f64 = first_move.iter().map(|t| t.size_deg).sum();
        Self {
            tail,
            terms,
            residual_deg,
            anywhere_deg: total_anywhere.min(half_period_deg),
            capped: total >= half_period_deg,
            seam_distance_deg: residual_deg + added,
            first_move,
            no_seam: width_deg >= TURN_DEG && travel == Travel::Endless,
        }
    }
}

/// Share of a residual that is left when it was answered, gain error aside.
fn uncorrected_share(s: &RigSettings) -> f64 {
    let correction = s.loop_.correction;
    if s.loop_.believed_sense == s.drive.sense {
        (1.0 - correction).abs()
    } else {
        1.0 + correction
    }
}

/// Share of a residual that is left when it was answered, gain error included.
fn residual_gain(s: &RigSettings) -> f64 {
    uncorrected_share(s) + s.drive.gain_error.abs() * s.loop_.correction
}

/// How much of the backlash a swing can meet \[deg\]: all of it, or what a one-sided approach does not take up.
fn backlash_deg(s: &RigSettings, travel: Travel, from_deg: f64, to_deg: f64) -> f64 {
    let backlash_deg = s.drive.backlash_deg;
    let room_deg = match (s.loop_.approach, travel) {
        (Approach::Direct, _) => return backlash_deg,
        // The overrun is cut at a stop.
        (Approach::FromBelow, Travel::Stops { lo_deg, .. }) => from_deg - lo_deg,
        (Approach::FromAbove, Travel::Stops { hi_deg, .. }) => hi_deg - to_deg,
        (_, Travel::Endless) => f64::INFINITY,
    };
    let overrun_deg = s.loop_.overrun_deg.min(room_deg.max(0.0)) - s.drive.step_deg;
    (backlash_deg - overrun_deg.max(0.0)).max(0.0)
}

/// Largest reading that a first move can go to, either sign \[deg\].
fn farthest_deg(travel: Travel, start_deg: f64, width_deg: f64, park_deg: f64) -> f64 {
    match travel {
        // The short way from the parking reading.
        Travel::Endless => park_deg.abs() + 0.5 * TURN_DEG,
        Travel::Stops { .. } => start_deg.abs().max((start_deg + width_deg).abs()),
    }
}

/// Turn of the field between the exposures before and after a swing \[deg\].
fn drift_deg(s: &RigSettings, width_deg: f64, tail: f64) -> f64 {
    let (drive, solve) = (&s.drive, &s.solve);
    let legs = if s.loop_.approach == Approach::Direct {
        width_deg
    } else {
        width_deg + 2.0 * s.loop_.overrun_deg
    };
    let ramp_s = if drive.acceleration_deg_per_s2 > 0.0 {
        2.0 * drive.speed_deg_per_s / drive.acceleration_deg_per_s2
    } else {
        0.0
    };
    let mut failures = 0;
    let mut chance = 1.0;
    while failures + 1 < solve.max_failures && chance * solve.failure_rate > tail {
        chance *= solve.failure_rate;
        failures += 1;
    }
    let lost_s = f64::from(failures) * solve.failed_attempt_s();
    let time_s = solve.solve_s
        + drive.overhead_s
        + legs / drive.speed_deg_per_s
        + 2.0 * ramp_s
        + lost_s
        + solve.exposure_s;
    s.loop_.field_rotation_deg_per_s.abs() * time_s
}
