//! Estimates -> a rig: the best one, or one of the many that fit the log as well.

use nalgebra::{DMatrix, DVector, SymmetricEigen};
use rand::{Rng, RngExt as _};

use super::interval::Estimate;
use super::{Diagnosis, DiagnosisKind, Fit, Joint};
use crate::decimal::power_of_ten;
use crate::rig::{Periodic, RigSettings};
use crate::run::normal_pair;
use crate::wording::on_dial;

/// Largest gain error of a rig file.
const MOST_GAIN: f64 = 0.5;
const MOST_DEG: f64 = 45.0;

impl Fit {
    /// The rig with these estimates in place of the believed values.
    ///
    /// If the log does not tell the zero point, the gain error or a harmonic, they take the values that fit the rest.
    /// Backlash, step and repeatability then stay as they were. Harmonics of other cycles, the controller and all
    /// times never change.
    #[must_use]
    pub fn apply(&self, believed: &RigSettings) -> RigSettings {
        let mut rig = self.with_mechanics(believed, &self.joint.values);
        let drive = &mut rig.drive;
        for value in [
            &mut drive.zero_point_deg,
            &mut drive.backlash_deg,
            &mut drive.repeatability_deg,
            &mut rig.solve.noise_deg,
            &mut rig.solve.outlier_rate,
            &mut rig.solve.outlier_deg,
        ] {
            *value = rounded(*value, 6);
        }
        drive.gain_error = rounded(drive.gain_error, 8);
        for h in &mut drive.periodic {
            h.amplitude_deg = rounded(h.amplitude_deg, 6);
            h.phase_deg = rounded(h.phase_deg, 4);
        }
        rig
    }

    /// The rig of a control program that has the fitted zero point: [`Self::apply`], with that zero point's own sigma.
    #[must_use]
    pub fn applied(&self, believed: &RigSettings) -> RigSettings {
        let mut rig = self.apply(believed);
        if let Some(sigma_deg) = self.zero_point_sigma_deg() {
            rig.drive.zero_point_sigma_deg = sigma_deg;
        }
        rig
    }

    /// How well the fitted zero point is known, for `drive.zero_point_sigma_deg` \[deg\]: its standard error. `None` where the log
    /// does not show the zero point, or shows that it moves.
    #[must_use]
    pub fn zero_point_sigma_deg(&self) -> Option<f64> {
        let moves = |d: &Diagnosis| d.kind == DiagnosisKind::ZeroPointSlip;
        let zero = self.parameters.zero_point_deg;
        let known = zero.identifiable && !self.diagnoses.iter().any(moves);
        let se = zero.se.filter(|_| known)?;
        Some(rounded(se, 6).min(180.0))
    }

    /// A rig drawn from whatever the log leaves open: the mechanics from their joint normal distribution, the errors
    /// of a row each separately.
    ///
    /// Draw many and advise each, for advice that holds whatever the true rig is.
    pub fn draw<R: Rng>(&self, believed: &RigSettings, rng: &mut R) -> RigSettings {
        let mut rig = self.with_mechanics(believed, &self.joint.draw(rng));
        let p = &self.parameters;
        if p.noise_deg.identifiable {
            rig.drive.repeatability_deg = drawn(&p.repeatability_deg, rng).min(MOST_DEG);
            rig.solve.noise_deg = drawn(&p.noise_deg, rng).min(MOST_DEG);
        } else {
            // The log tells only the sum of the squares: any part of it may be repeatability error.
            let share: f64 = rng.random();
            let total_deg = self.total_error_deg.min(MOST_DEG);
            rig.drive.repeatability_deg = total_deg * share.sqrt();
            rig.solve.noise_deg = total_deg * (1.0 - share).sqrt();
        }
        if p.outlier_rate.value > 0.0 {
            rig.solve.outlier_rate = drawn(&p.outlier_rate, rng).min(1.0);
        }
        rig
    }

    /// Puts in `mechanics`, values in the order of [`Joint::names`].
    fn with_mechanics(&self, believed: &RigSettings, mechanics: &[f64]) -> RigSettings {
        let p = &self.parameters;
        let mut rig = believed.clone();
        let [zero, gain, c1, s1, c2, s2, backlash] = [0, 1, 2, 3, 4, 5, 6].map(|i| mechanics[i]);
        rig.drive.sense = self.sense;
        rig.drive.zero_point_deg = on_dial(zero);
        rig.drive.gain_error = gain.clamp(-MOST_GAIN, MOST_GAIN);
        rig.drive.backlash_deg = backlash.clamp(0.0, MOST_DEG);
        let parts = [(c1, s1), (c2, s2)];
        let more = mechanics[7..].chunks(2).map(|pair| (pair[0], pair[1]));
        let cycles: Vec<f64> = self.periodic.iter().map(|h| f64::from(h.cycles)).collect();
        let fitted = cycles.iter().zip(parts.into_iter().chain(more));
        rig.drive.periodic.retain(|h| !cycles.contains(&h.cycles));
        let fitted = fitted.map(|(cycles, (cos, sin))| Periodic {
            cycles: *cycles,
            amplitude_deg: libm::hypot(cos, sin).min(MOST_DEG),
            phase_deg: on_dial(libm::atan2(cos, sin).to_degrees()),
        });
        rig.drive.periodic.splice(0..0, fitted);
        if p.step_deg.identifiable && p.step_deg.value >= 1e-6 {
            rig.drive.step_deg = p.step_deg.value.min(MOST_DEG);
        }
        rig.drive.repeatability_deg = p.repeatability_deg.value.min(MOST_DEG);
        rig.solve.noise_deg = p.noise_deg.value.min(MOST_DEG);
        rig.solve.outlier_rate = p.outlier_rate.value;
        if let Some(sigma_deg) = self.outlier_deg {
            rig.solve.outlier_deg = sigma_deg.min(180.0);
        }
        rig
    }
}

impl Joint {
    /// Values drawn from the joint normal distribution, by the eigenvectors of the covariance.
    fn draw<R: Rng>(&self, rng: &mut R) -> Vec<f64> {
        let count = self.values.len();
        let covariance = DMatrix::from_fn(count, count, |i, j| self.covariance[i][j]);
        // Scaled, because the gain error has a much smaller variance than the others.
        let scale = covariance.diagonal().map(|v| v.max(1e-30).sqrt());
        let scaled = DMatrix::from_fn(count, count, |i, j| {
            covariance[(i, j)] / (scale[i] * scale[j])
        });
        let eigen = SymmetricEigen::new(scaled);
        let unit = DVector::from_fn(count, |i, _| {
            let size = eigen.eigenvalues[i].max(0.0).sqrt();
            size * normal(rng)
        });
        let drawn = eigen.eigenvectors * unit;
        (0..count)
            .map(|i| self.values[i] + scale[i] * drawn[i])
            .collect()
    }
}

/// No log tells more decimals than these.
fn rounded(value: f64, decimals: i32) -> f64 {
    let power = power_of_ten(decimals);
    (value * power).round() / power
}

/// A standard normal deviate.
fn normal<R: Rng>(rng: &mut R) -> f64 {
    normal_pair(rng.next_u64(), rng.next_u64()).0
}

/// A value drawn from its estimate, at least 0.
fn drawn<R: Rng>(estimate: &Estimate, rng: &mut R) -> f64 {
    let se = estimate.se.unwrap_or(0.0);
    (estimate.value + se * normal(rng)).max(0.0)
}
