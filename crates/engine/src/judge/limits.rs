//! How far a rig's errors can carry a correct controller: hard bounds, which give the limits of the properties.
//!
//! Every normal deviate of the judge is cut at [`CUT`] sigma. The bounds are therefore sums, not quantiles, and bad
//! luck never fails a correct controller: the false-alarm probability is 0 for any number of scenarios.

use crate::rig::RigSettings;

/// Largest deviate of noise and repeatability error, in sigma. 0.27 % of all deviates are cut.
pub const CUT: f64 = 3.0;

/// By how many sigmas of the noise the true error of a settled run may exceed the tolerance.
const TRUE_ERROR_SIGMAS: f64 = 5.0;

/// Largest error of the shaft at readings up to `reach_deg`, repeatability error and backlash included \[deg\].
#[must_use]
pub fn shaft_error_deg(rig: &RigSettings, reach_deg: f64) -> f64 {
    let drive = &rig.drive;
    let periodic: f64 = drive.periodic.iter().map(|p| p.amplitude_deg).sum();
    drive.gain_error.abs() * reach_deg
        + periodic
        + CUT * drive.repeatability_deg
        + 0.5 * drive.backlash_deg
        + 0.5 * drive.step_deg
}

/// How far beyond the open-loop angle a full correction can lead \[deg\].
///
/// A correction goes to the target's angle minus all errors of the last measurement.
#[must_use]
pub fn excursion_deg(rig: &RigSettings, zero_error_deg: f64, reach_deg: f64) -> f64 {
    zero_error_deg.abs()
        + shaft_error_deg(rig, reach_deg)
        + rig.solve.bias_deg.abs()
        + CUT * rig.solve.noise_deg
        + rig.drive.step_deg
}

/// Largest change of the shaft's error with its angle, in degrees per degree.
#[must_use]
pub fn slope(rig: &RigSettings) -> f64 {
    let radian = std::f64::consts::PI / 180.0;
    let periodic: f64 = rig
        .drive
        .periodic
        .iter()
        .map(|p| p.amplitude_deg * p.cycles * radian)
        .sum();
    rig.drive.gain_error.abs() + periodic
}

/// Largest residual that repeated full corrections leave \[deg\]: the loop always meets a tolerance of at least this.
/// `None` if the slope is too steep for the corrections to shrink the error.
///
/// Noise and repeatability error count twice, in the measurement behind the correction and in the next one. Backlash
/// does not count: what it leaves after a reversal needs a correction in the same direction, where it has no effect.
#[must_use]
pub fn rest_deg(rig: &RigSettings) -> Option<f64> {
    let slope = slope(rig);
    let luck = 2.0 * CUT * (rig.solve.noise_deg + rig.drive.repeatability_deg);
    (slope < 0.5).then(|| (luck + 0.5 * rig.drive.step_deg) / (1.0 - slope))
}

/// Largest true error of a settled run \[deg\]: the tolerance, five sigmas of the noise, and a constant error of the
/// solver, which no controller can know.
#[must_use]
pub fn true_error_limit_deg(rig: &RigSettings) -> f64 {
    rig.loop_.tolerance_deg
        + TRUE_ERROR_SIGMAS * rig.solve.noise_deg
        + rig.solve.bias_deg.abs()
        + 1e-9
}
