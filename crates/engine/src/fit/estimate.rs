//! A refined fit -> estimates with intervals.

use nalgebra::DVector;
use serde::Serialize;

use super::interval::{Estimate, length_interval, normal_two_sided, student};
use super::model::{BASE, GAIN, HARMONICS, Problem, Shift, ZERO, harmonics, loses_steps};
use super::refine::{Refined, Refiner};
use super::variance::Variance;
use crate::angle::{TURN_DEG, residual_finite};
use crate::summary::{CONFIDENCE, wilson};
use crate::wording::on_dial;

/// One periodic error, as estimated.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct PeriodicEstimate {
    /// Cycles a turn.
    #[cfg_attr(feature = "schema", schemars(range(min = 1)))]
    pub cycles: u32,
    /// Amplitude \[deg\].
    pub amplitude_deg: Estimate,
    /// Phase at shaft angle 0, in `[0, 360)` \[deg\]. The ends of its interval may lie outside.
    pub phase_deg: Estimate,
}

/// The parameters that a fit estimates.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Parameters {
    /// Position angle at drive angle 0, in `[0, 360)` \[deg\]. The ends of its interval may lie outside.
    pub zero_point_deg: Estimate,
    /// Share by which the camera turns too far.
    pub gain_error: Estimate,
    /// Full width of the backlash \[deg\].
    pub backlash_deg: Estimate,
    /// Random error of a move, one standard deviation \[deg\].
    pub repeatability_deg: Estimate,
    /// Random error of a solve, one standard deviation \[deg\].
    pub noise_deg: Estimate,
    /// Share of solves that are outliers.
    pub outlier_rate: Estimate,
    /// Smallest move of the drive \[deg\].
    pub step_deg: Estimate,
}

impl Parameters {
    /// Widens the intervals by those of another fit that the log does not exclude.
    pub(super) fn allow_for(&mut self, other: &Self, tolerance_deg: f64) {
        let near_deg = self.zero_point_deg.value;
        let zero = |end_deg: f64| nearest_turn(end_deg, near_deg);
        self.zero_point_deg.allow_for(other.zero_point_deg, zero);
        self.gain_error.allow_for(other.gain_error, |end| end);
        self.backlash_deg.allow_for(other.backlash_deg, |end| end);
        self.backlash_deg.identifiable &= self.backlash_deg.half_width() <= tolerance_deg;
    }
}

/// The parameters of the mechanics together. If the log leaves one open, all of them lean on the believed rig as on a
/// weak measurement.
#[derive(Debug, Clone, PartialEq)]
pub struct Joint {
    /// Names as in the table of parameters; harmonics by their cosine and sine.
    pub names: Vec<String>,
    /// Values, in the units of the names.
    pub values: Vec<f64>,
    /// Covariance, row by row.
    pub covariance: Vec<Vec<f64>>,
}

impl Joint {
    /// Correlation of two parameters; `None` if one has no variance.
    #[must_use]
    pub fn correlation(&self, i: usize, j: usize) -> Option<f64> {
        let c = &self.covariance;
        let scale = (c[i][i] * c[j][j]).sqrt();
        (scale > 0.0).then(|| (c[i][j] / scale).clamp(-1.0, 1.0))
    }
}

/// Widest half interval, in tolerances of the loop, of a parameter that the log still tells, taken as an angle.
///
/// It is wide because the parameters depend on each other. Over half a turn each may be uncertain by a degree, while
/// the angles that they give together are good to a hundredth.
const TELLING: f64 = 10.0;

/// Names in the order of the columns, then the backlash; further harmonics follow it.
const NAMES: [&str; BASE + 1] = [
    "zero_point_deg",
    "gain_error",
    "cos_1_deg",
    "sin_1_deg",
    "cos_2_deg",
    "sin_2_deg",
    "backlash_deg",
];

/// The estimates of the mechanics and of the errors of a row, and how they depend on each other.
pub(super) fn parameters(
    problem: &Problem,
    shifts: &[Shift],
    refiner: &Refiner<'_>,
    state: &Refined,
    step_deg: Estimate,
    tolerance_deg: f64,
) -> (Parameters, Vec<PeriodicEstimate>, Joint) {
    let factor = student(state.full.freedom());
    let combinations = combinations(problem, shifts, state);
    let mut all = state.coefficients.clone();
    all = all.push(state.backlash_deg);
    let fixed = |combination: &DVector<f64>| {
        let parts = combination.iter().zip(&state.full.fixed);
        state.full.freedom() > 0 && parts.into_iter().all(|(c, fixed)| *c == 0.0 || *fixed)
    };
    // Widest half interval of a parameter that the log still tells \[deg\].
    let limit_deg = TELLING * tolerance_deg;
    let (leaning, covariance) = refiner.leaning_on_belief(state);
    let linear = |i: usize, reach_deg: f64, most: f64| {
        let combination = &combinations[i];
        let estimate = Estimate::symmetric(combination.dot(&all), state.se_of(combination), factor);
        if fixed(combination) && estimate.half_width() * reach_deg <= limit_deg {
            return estimate;
        }
        let value = combination.dot(&leaning);
        if !fixed(combination) || estimate.half_width() > most {
            return Estimate::unknown(value);
        }
        Estimate {
            value,
            identifiable: false,
            ..estimate
        }
    };
    let zero = linear(ZERO, 1.0, 0.5 * TURN_DEG);
    let turns = zero.value - on_dial(zero.value);
    let zero_point_deg = Estimate {
        value: on_dial(zero.value),
        low: zero.low.map(|v| v - turns),
        high: zero.high.map(|v| v - turns),
        ..zero
    };
    let gain_error = linear(GAIN, 0.5 * TURN_DEG, 0.5);
    let mut backlash_deg = linear(BASE, 1.0, f64::INFINITY);
    if backlash_deg.se.is_some() {
        let (low, high) = refiner.backlash_interval_deg(state, factor);
        (backlash_deg.low, backlash_deg.high) = (Some(low), Some(high));
        backlash_deg.identifiable = backlash_deg.half_width() <= tolerance_deg;
    }
    let harmonics = harmonics(shifts);
    let periodic: Vec<PeriodicEstimate> = harmonics
        .iter()
        .map(|&(cycles, cos, sin)| {
            let [c, s] = [cos, sin].map(|column| unit(column, all.len()));
            let known = fixed(&c) && fixed(&s);
            let (a, b) = (all[cos], all[sin]);
            let se = |wa: f64, wb: f64| state.se_of(&(&c * wa + &s * wb));
            let found = harmonic(cycles, a, b, se, factor);
            if known && found.amplitude_deg.half_width() <= limit_deg {
                found
            } else {
                unconstrained(cycles, leaning[cos], leaning[sin])
            }
        })
        .collect();

    let components = refiner.components_with_intervals(state);
    let deviation = |v: Variance| Estimate {
        value: v.value.sqrt(),
        se: components
            .separable
            .then(|| (v.high.sqrt() - v.low.sqrt()) / (2.0 * normal_two_sided(1.0 - CONFIDENCE))),
        low: Some(v.low.sqrt()),
        high: Some(v.high.sqrt()).filter(|h| h.is_finite()),
        identifiable: components.separable,
    };
    let trusted = refiner.known.iter().filter(|k| **k).count() as u64;
    let rate = state.outliers.rate;
    let interval = wilson((rate * trusted as f64).round() as u64, trusted);
    let outlier_rate = Estimate {
        value: rate,
        // Without an outlier the interval is a bound.
        se: Some((rate * (1.0 - rate) / trusted.max(1) as f64).sqrt()).filter(|se| *se > 0.0),
        low: Some(interval.low),
        high: Some(interval.high),
        identifiable: state.full.freedom() >= 4,
    };
    let parameters = Parameters {
        zero_point_deg,
        gain_error,
        backlash_deg,
        repeatability_deg: deviation(components.repeatability_error),
        noise_deg: deviation(components.noise),
        outlier_rate,
        step_deg,
    };
    let mechanics = [zero_point_deg, gain_error, backlash_deg];
    let all_told = mechanics.iter().all(|e| e.identifiable)
        && periodic.iter().all(|h| h.amplitude_deg.se.is_some());
    let (values, covariance) = if all_told {
        (&all, &state.full.unscaled_covariance)
    } else {
        (&leaning, &covariance)
    };
    let product = |a: &DVector<f64>| {
        let row = covariance * a;
        combinations.iter().map(|b| b.dot(&row)).collect()
    };
    let more = harmonics.iter().skip(HARMONICS.len());
    let more = more.flat_map(|(k, ..)| ["cos", "sin"].map(|part| format!("{part}_{k}_deg")));
    let joint = Joint {
        names: NAMES.map(str::to_owned).into_iter().chain(more).collect(),
        values: combinations.iter().map(|c| c.dot(values)).collect(),
        covariance: combinations.iter().map(product).collect(),
    };
    (parameters, periodic, joint)
}

/// The parameters of the model as combinations of its columns. The zero point is turned to the sky and moved to where
/// it holds: after slips but before lost steps.
fn combinations(problem: &Problem, shifts: &[Shift], state: &Refined) -> Vec<DVector<f64>> {
    let count = state.coefficients.len() + 1;
    let unit = |j: usize| unit(j, count);
    let mut zero = unit(ZERO);
    if !loses_steps(problem, shifts, &state.coefficients) {
        for (j, shift) in shifts.iter().enumerate() {
            if matches!(shift, Shift::Jump(_)) {
                zero[BASE + j] = 1.0;
            }
        }
    }
    zero *= problem.sense.factor();
    let mut all = vec![zero];
    all.extend((GAIN..BASE).map(unit));
    all.push(unit(count - 1));
    let more = harmonics(shifts).into_iter().skip(HARMONICS.len());
    all.extend(more.flat_map(|(_, cos, sin)| [unit(cos), unit(sin)]));
    all
}

/// The combination that is one column alone.
fn unit(column: usize, count: usize) -> DVector<f64> {
    DVector::from_fn(count, |i, _| f64::from(u8::from(i == column)))
}

/// Amplitude and phase from cosine `a` and sine `b`: `A sin(k y + phase) = A sin(phase) cos(k y) + A cos(phase) sin(k y)`.
///
/// The interval of an amplitude near 0 holds only where cosine and sine are known equally well. Else the log does not
/// tell it.
fn harmonic(
    cycles: u32,
    a: f64,
    b: f64,
    se: impl Fn(f64, f64) -> f64,
    factor: f64,
) -> PeriodicEstimate {
    /// An amplitude of so many standard errors is not near 0.
    const CLEAR: f64 = 4.0;
    /// From so many standard errors on a phase is worth its name.
    const PHASE: f64 = 6.0;
    /// How many times worse the worst direction may be known than the best one.
    const ROUND: f64 = 2.0;
    let amplitude = libm::hypot(a, b);
    let phase = on_dial(libm::atan2(a, b).to_degrees());
    let (ca, cb) = if amplitude > 0.0 {
        (a / amplitude, b / amplitude)
    } else {
        (0.0, 1.0)
    };
    let along = se(ca, cb);
    let (low, high) = length_interval(amplitude, along, factor);
    let (va, vb) = (se(1.0, 0.0).powi(2), se(0.0, 1.0).powi(2));
    let both = 0.5 * (se(1.0, 1.0).powi(2) - va - vb);
    let (middle, spread) = (0.5 * (va + vb), libm::hypot(0.5 * (va - vb), both));
    let worst = (middle + spread).sqrt();
    let sound = amplitude > CLEAR * worst || middle + spread < ROUND * ROUND * (middle - spread);
    let amplitude_deg = Estimate {
        value: amplitude,
        se: Some(along),
        low: Some(low),
        high: Some(high),
        identifiable: sound,
    };
    let phases = phases(a, b, [va, both, vb], factor).filter(|_| amplitude > PHASE * worst);
    let phase_deg = match phases {
        Some((below, above)) => Estimate {
            value: phase,
            se: Some((se(cb, -ca) / amplitude).to_degrees()),
            low: Some(phase - below),
            high: Some(phase + above),
            identifiable: true,
        },
        None => Estimate {
            value: phase,
            se: None,
            low: Some(phase - 0.5 * TURN_DEG),
            high: Some(phase + 0.5 * TURN_DEG),
            identifiable: false,
        },
    };
    PeriodicEstimate {
        cycles,
        amplitude_deg,
        phase_deg,
    }
}

/// How far the phase may be below and above its estimate \[deg\]; `None` if it may be anything. These are the
/// directions in which some true vector, of any length, fits the measured one to within `factor` deviations.
///
/// `covariance` holds the variances of cosine and sine, and their covariance. The method is the profile of a
/// quadratic form, as in Fieller (1954), J. R. Stat. Soc. B 16, 175, for half lines.
fn phases(a: f64, b: f64, covariance: [f64; 3], factor: f64) -> Option<(f64, f64)> {
    let [va, both, vb] = covariance;
    let determinant = va * vb - both * both;
    if determinant <= 0.0 {
        return (libm::hypot(a, b) > 0.0 && va + vb == 0.0).then_some((0.0, 0.0));
    }
    let form = |(a1, b1): (f64, f64), (a2, b2): (f64, f64)| {
        (vb * a1 * a2 - both * (a1 * b2 + a2 * b1) + va * b1 * b2) / determinant
    };
    let whole = form((a, b), (a, b));
    let limit = factor * factor;
    if whole <= limit {
        return None; // no amplitude at all fits as well
    }
    let centre = libm::atan2(a, b);
    let fits = |turn: f64| {
        let (sin, cos) = libm::sincos(centre + turn);
        let direction = (sin, cos);
        let length = form(direction, (a, b)).max(0.0) / form(direction, direction);
        let left = (a - length * sin, b - length * cos);
        form(left, left) <= limit
    };
    let end = |sign: f64| {
        /// Number of parts of half a turn to try.
        const PARTS: u32 = 720;
        let part = std::f64::consts::PI / f64::from(PARTS);
        let first = (1..=PARTS).find(|k| !fits(sign * part * f64::from(*k)));
        let (mut low, mut high) = match first {
            Some(k) => (part * f64::from(k - 1), part * f64::from(k)),
            None => return std::f64::consts::PI,
        };
        for _ in 0..30 {
            let middle = 0.5 * (low + high);
            if fits(sign * middle) {
                low = middle;
            } else {
                high = middle;
            }
        }
        high
    };
    Some((end(-1.0).to_degrees(), end(1.0).to_degrees()))
}

/// A harmonic that the log does not tell, with the value that stands in for it.
fn unconstrained(cycles: u32, a: f64, b: f64) -> PeriodicEstimate {
    PeriodicEstimate {
        cycles,
        amplitude_deg: Estimate::unknown(libm::hypot(a, b)),
        phase_deg: Estimate::unknown(on_dial(libm::atan2(a, b).to_degrees())),
    }
}

/// The angle, moved by whole turns to be nearest to `near_deg` \[deg\].
#[must_use]
pub fn nearest_turn(angle_deg: f64, near_deg: f64) -> f64 {
    near_deg + residual_finite(angle_deg - near_deg, TURN_DEG)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// With equal variances the half width is `asin(factor * sigma / amplitude)`.
    /// Shows (fit): phase: Fieller's interval for half lines. With: `a_long_cloud_leaves_one_side_open`. Source: by
    /// hand.
    #[test]
    fn phases_of_a_round_cloud_are_fiellers() {
        let (below, above) = phases(0.3, 0.4, [0.01, 0.0, 0.01], 2.0).unwrap_or((0.0, 0.0));
        let expected = (2.0 * 0.1_f64 / 0.5).asin().to_degrees();
        assert!((below - expected).abs() < 1e-6 && (above - expected).abs() < 1e-6);
        assert_eq!(phases(0.1, 0.1, [0.01, 0.0, 0.01], 2.0), None);
    }

    /// A long thin cloud away from the origin. A shift along the cloud does not exclude a direction that it reaches.
    #[test]
    fn a_long_cloud_leaves_one_side_open() {
        // Cosine known to 0.3, sine to 0.01; measured (0.5, 0.1). A cosine of 0 fits, and so does a phase of 0.
        let (below, above) = phases(0.5, 0.1, [0.09, 0.0, 0.0001], 2.0).unwrap_or((0.0, 0.0));
        let phase = 0.5_f64.atan2(0.1).to_degrees();
        assert!(
            phase - below < 0.0 && phase + above > 80.0,
            "{phase} {below} {above}"
        );
    }
}
