//! The rigs of the scenarios: a graded set, or the user's rig.

use super::super::case::Case;
use super::super::limits::rest_deg;
use super::super::shrink::has_answer;
use crate::rig::{Periodic, Rig, RigSettings};

/// The rigs to make scenarios for.
#[derive(Debug, Clone, PartialEq)]
pub enum Base {
    /// The graded set, with arcs, travel, zero points and senses of every kind.
    Graded,
    /// One rig with its errors, arc, travel, zero point and sense.
    Rig(Box<RigSettings>),
}

/// Why a rig cannot be used for judging.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error(
    "gain and periodic errors change by more than half a degree per degree, so no correction helps. Lower drive.gain_error or the amplitudes in drive.periodic"
)]
pub struct TooSteep;

impl Base {
    /// The user's rig, and in words the changes that make it fit for judging.
    ///
    /// # Errors
    /// [`TooSteep`] if corrections do not shrink its error.
    pub fn rig(rig: &Rig) -> Result<(Self, Vec<String>), TooSteep> {
        let mut s = rig.settings().clone();
        let mut notes = Vec::new();
        let rest = rest_deg(&s).ok_or(TooSteep)?;
        if s.loop_.tolerance_deg < rest {
            let raised = (rest * 100.0).ceil() / 100.0;
            notes.push(format!(
                "loop.tolerance_deg = {} is below the {rest:.3}° that noise, repeatability and step can leave after a perfect correction. The scenarios use {raised}°",
                s.loop_.tolerance_deg
            ));
            s.loop_.tolerance_deg = raised;
        }
        if s.solve.outlier_rate > 0.0 {
            notes.push(
                "the scenarios leave out outliers, because no controller can tell one from a single solve".to_owned(),
            );
        }
        if s.loop_.field_rotation_deg_per_s != 0.0 {
            notes.push("the scenarios leave out field rotation".to_owned());
            s.loop_.field_rotation_deg_per_s = 0.0;
        }
        if s.loop_.max_solves < 12 {
            notes.push(format!(
                "loop.max_solves = {} leaves no room for backlash and bad luck. The scenarios use 12",
                s.loop_.max_solves
            ));
            s.loop_.max_solves = 12;
        }
        s.loop_.believed_sense = s.drive.sense;
        Ok((Self::Rig(Box::new(s)), notes))
    }

    /// Whether a scenario has a right answer: for the user's rig, two correct controllers of different kinds must
    /// find it. Those of the graded set have one by construction, as tests prove.
    pub(super) fn admits(&self, case: &Case) -> bool {
        if *self == Self::Graded {
            return true;
        }
        has_answer(case)
    }
}

/// Number of the rig in the graded set whose only error is an eccentric gear.
pub(super) const ECCENTRIC: usize = 3;

/// The graded set, from perfect to rough.
#[must_use]
pub fn graded() -> Vec<RigSettings> {
    let one = |amplitude_deg, cycles, phase_deg| Periodic {
        cycles,
        amplitude_deg,
        phase_deg,
    };
    type RigEdit = fn(&mut RigSettings);
    let mut rigs: Vec<RigSettings> = Vec::new();
    let mut add = |name: &str, tolerance_deg: f64, change: RigEdit| {
        let mut s = RigSettings {
            name: name.to_owned(),
            ..RigSettings::default()
        };
        s.loop_.tolerance_deg = tolerance_deg;
        change(&mut s);
        rigs.push(s);
    };
    add("perfect", 0.5, perfect);
    add("plain", 0.3, |_| {});
    add("eccentric", 0.5, |s| {
        s.drive.backlash_deg = 0.1;
    });
    add("very eccentric", 0.5, |s| {
        perfect(s);
        s.drive.zero_point_sigma_deg = 0.5;
    });
    add("loose", 0.4, |s| s.drive.backlash_deg = 1.2);
    add("stretched", 0.3, |s| {
        s.drive.gain_error = 0.004;
        s.drive.backlash_deg = 0.05;
    });
    add("noisy", 0.5, |s| {
        s.solve.noise_deg = 0.06;
        s.drive.backlash_deg = 0.05;
    });
    add("coarse", 0.5, |s| s.drive.step_deg = 0.4);
    add("rough", 0.7, |s| {
        s.drive.step_deg = 0.05;
        s.drive.backlash_deg = 0.4;
        s.drive.repeatability_deg = 0.03;
        s.drive.gain_error = -0.003;
        s.solve.noise_deg = 0.03;
    });
    rigs[2].drive.periodic = vec![one(0.4, 1.0, 90.0)];
    rigs[3].drive.periodic = vec![one(0.45, 1.0, 90.0)];
    rigs[8].drive.periodic = vec![one(0.3, 1.0, 40.0), one(0.1, 3.0, -60.0)];
    rigs
}

/// Removes every error.
pub(in crate::judge) fn perfect(s: &mut RigSettings) {
    let d = &mut s.drive;
    d.step_deg = 0.0;
    d.backlash_deg = 0.0;
    d.repeatability_deg = 0.0;
    d.gain_error = 0.0;
    d.periodic.clear();
    d.zero_point_sigma_deg = 0.0;
    s.solve.noise_deg = 0.0;
    s.solve.bias_deg = 0.0;
}
