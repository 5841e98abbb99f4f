//! The errors of a rig by name, and how to make one smaller or take it away.

use serde::Serialize;
use strum::VariantArray as _;

use crate::rig::{Rig, RigSettings};

/// Solves after which giving up is not the cause.
pub const ENOUGH_SOLVES: u32 = 20;

/// What can keep a loop from settling.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[derive(strum::Display, strum::VariantArray)]
#[strum(serialize_all = "lowercase")]
pub enum Source {
    /// The controller believes in the wrong sense of rotation.
    #[strum(to_string = "the wrong sense of rotation in the controller")]
    WrongSense,
    /// Periodic error of the drive.
    #[strum(to_string = "periodic error")]
    PeriodicError,
    /// Gain error of the drive.
    #[strum(to_string = "gain error")]
    GainError,
    /// Backlash of the drive.
    Backlash,
    /// Uncertainty of the zero point.
    #[strum(to_string = "zero point")]
    ZeroPoint,
    /// Noise of a plate solve.
    #[strum(to_string = "solve noise")]
    SolveNoise,
    /// Repeatability of the drive.
    Repeatability,
    /// Step of the drive.
    Step,
    /// Bias of the solver.
    #[strum(to_string = "solver bias")]
    Bias,
    /// Field rotation.
    #[strum(to_string = "field rotation")]
    FieldRotation,
    /// A correction factor other than 1.
    #[strum(to_string = "correction factor")]
    CorrectionFactor,
    /// The call for several passes in a row.
    #[strum(to_string = "passes in a row")]
    Confirmation,
    /// A small limit on good solves.
    #[strum(to_string = "limit on good solves")]
    SolveLimit,
    /// Outliers among the solves.
    Outliers,
    /// Failed solves.
    #[strum(to_string = "failed solves")]
    Failures,
}

impl Source {
    /// Those that can be made smaller bit by bit.
    pub(super) const SIZED: [Self; 9] = [
        Self::Backlash,
        Self::Step,
        Self::SolveNoise,
        Self::Repeatability,
        Self::PeriodicError,
        Self::GainError,
        Self::ZeroPoint,
        Self::Outliers,
        Self::Failures,
    ];

    /// A rig has it.
    #[must_use]
    pub fn is_in(self, s: &RigSettings) -> bool {
        match self {
            Self::WrongSense => s.loop_.believed_sense != s.drive.sense,
            Self::PeriodicError => s.drive.periodic.iter().any(|p| p.amplitude_deg > 0.0),
            Self::GainError => s.drive.gain_error != 0.0,
            Self::Backlash => s.drive.backlash_deg > 0.0,
            Self::ZeroPoint => s.drive.zero_point_sigma_deg > 0.0,
            Self::SolveNoise => s.solve.noise_deg > 0.0,
            Self::Repeatability => s.drive.repeatability_deg > 0.0,
            Self::Step => s.drive.step_deg > 0.0,
            Self::Bias => s.solve.bias_deg != 0.0,
            Self::FieldRotation => s.loop_.field_rotation_deg_per_s != 0.0,
            Self::CorrectionFactor => s.loop_.correction != 1.0,
            Self::Confirmation => s.loop_.confirm > 1,
            Self::SolveLimit => s.loop_.max_solves < ENOUGH_SOLVES,
            Self::Outliers => s.solve.outlier_rate > 0.0 && s.solve.outlier_deg > 0.0,
            Self::Failures => s.solve.failure_rate > 0.0,
        }
    }

    /// Makes it so many times as large, where it has a size.
    fn scale(self, s: &mut RigSettings, factor: f64) {
        let size = match self {
            Self::PeriodicError => {
                for p in &mut s.drive.periodic {
                    p.amplitude_deg *= factor;
                }
                return;
            }
            Self::GainError => &mut s.drive.gain_error,
            Self::Backlash => &mut s.drive.backlash_deg,
            Self::ZeroPoint => &mut s.drive.zero_point_sigma_deg,
            Self::SolveNoise => &mut s.solve.noise_deg,
            Self::Repeatability => &mut s.drive.repeatability_deg,
            Self::Step => &mut s.drive.step_deg,
            Self::Bias => &mut s.solve.bias_deg,
            Self::FieldRotation => &mut s.loop_.field_rotation_deg_per_s,
            Self::Outliers => &mut s.solve.outlier_rate,
            Self::Failures => &mut s.solve.failure_rate,
            Self::WrongSense | Self::CorrectionFactor | Self::Confirmation | Self::SolveLimit => {
                return;
            }
        };
        *size *= factor;
    }

    fn take_away(self, s: &mut RigSettings) {
        match self {
            Self::WrongSense => s.loop_.believed_sense = s.drive.sense,
            Self::PeriodicError => s.drive.periodic.clear(),
            Self::CorrectionFactor => s.loop_.correction = 1.0,
            Self::Confirmation => s.loop_.confirm = 1,
            Self::SolveLimit => s.loop_.max_solves = ENOUGH_SOLVES,
            sized => sized.scale(s, 0.0),
        }
    }

    /// The rig with half of it.
    pub(super) fn halved_in(self, rig: &Rig) -> Option<Rig> {
        rig.with(|s| self.scale(s, 0.5)).ok()
    }

    /// The rig without these.
    pub(super) fn taken_from(sources: &[Self], rig: &Rig) -> Option<Rig> {
        rig.with(|s| sources.iter().for_each(|source| source.take_away(s)))
            .ok()
    }

    /// Those that a rig has.
    pub(super) fn all_in(rig: &Rig) -> Vec<Self> {
        let there = |source: &Self| source.is_in(rig.settings());
        Self::VARIANTS.iter().copied().filter(there).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::read;

    fn with_all() -> Rig {
        let all = "[drive]\ngain_error = 0.01\nperiodic = [{ cycles = 1, amplitude_deg = 0.1 }]\nsense = -1\n\
            [solve]\nbias_deg = 0.1\noutlier_rate = 0.1\nfailure_rate = 0.1\n\
            [loop]\nmax_solves = 5\nconfirm = 2\ncorrection = 0.5\nfield_rotation_deg_per_s = 0.001\n";
        read(all, "test", &[]).expect("a valid rig")
    }

    #[test]
    fn every_source_is_gone_when_it_is_taken_away() {
        let rig = with_all();
        assert_eq!(Source::all_in(&rig), Source::VARIANTS);
        for &source in Source::VARIANTS {
            let without = Source::taken_from(&[source], &rig).expect("a valid rig");
            let left = Source::all_in(&without);
            assert!(left.len() == 14 && !left.contains(&source), "{source:?}");
        }
        let bare = Source::taken_from(Source::VARIANTS, &rig).expect("a valid rig");
        assert!(Source::all_in(&bare).is_empty());
    }

    #[test]
    fn a_sized_source_is_there_twice_when_it_is_halved_twice() {
        let rig = with_all();
        for source in Source::SIZED {
            let half = source.halved_in(&rig).expect("a valid rig");
            assert!(source.is_in(half.settings()), "{source:?}");
            let differences = rig.differences(&half).len();
            assert_eq!(differences, 1, "{source:?}");
        }
    }
}
