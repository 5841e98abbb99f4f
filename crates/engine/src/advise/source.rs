//! The sources of trouble in a rig: each with its size in words, and how to take it away.

use crate::rig::{Rig, RigSettings};
use crate::wording::{degrees, percent};

/// Solves after which giving up is not the cause.
const ENOUGH_SOLVES: u32 = 20;

/// One source of trouble.
pub(super) struct Source {
    /// What it is, with its size: "periodic error (0.15 deg)".
    pub(super) what: String,
    /// What taking it away is called: "without periodic error".
    pub(super) without: &'static str,
    /// It is several things.
    pub(super) plural: bool,
    take_away: fn(&mut RigSettings),
}

impl Source {
    /// The rig without these sources.
    pub(super) fn taken_from(sources: &[&Self], rig: &Rig) -> Option<Rig> {
        rig.with(|s| {
            for source in sources {
                (source.take_away)(s);
            }
        })
        .ok()
    }
}

/// The sources that this rig has.
pub(super) fn sources(rig: &Rig) -> Vec<Source> {
    let s = rig.settings();
    let deg = |angle_deg: f64| format!("{} deg", degrees(angle_deg));
    let periodic_deg: f64 = s.drive.periodic.iter().map(|p| p.amplitude_deg).sum();
    let mut found = Vec::new();
    let mut add = |there: bool, what: String, without, take_away: fn(&mut RigSettings)| {
        if there {
            found.push(Source {
                what,
                without,
                plural: false,
                take_away,
            });
        }
    };
    add(
        s.loop_.believed_sense != s.drive.sense,
        "the wrong sense of rotation that the controller believes in".to_owned(),
        "with the right one",
        |s| s.loop_.believed_sense = s.drive.sense,
    );
    add(
        periodic_deg > 0.0,
        format!("periodic error ({})", deg(periodic_deg)),
        "without periodic error",
        |s| s.drive.periodic.clear(),
    );
    add(
        s.drive.gain_error != 0.0,
        format!("gain error ({} %)", degrees(100.0 * s.drive.gain_error)),
        "without gain error",
        |s| s.drive.gain_error = 0.0,
    );
    add(
        s.drive.backlash_deg > 0.0,
        format!("play ({})", deg(s.drive.backlash_deg)),
        "without play",
        |s| s.drive.backlash_deg = 0.0,
    );
    add(
        s.drive.zero_point_sigma_deg > 0.0,
        format!(
            "the zero point's uncertainty ({})",
            deg(s.drive.zero_point_sigma_deg)
        ),
        "with an exact zero point",
        |s| s.drive.zero_point_sigma_deg = 0.0,
    );
    add(
        s.solve.noise_deg > 0.0,
        format!("solve noise ({})", deg(s.solve.noise_deg)),
        "without solve noise",
        |s| s.solve.noise_deg = 0.0,
    );
    add(
        s.drive.repeatability_deg > 0.0,
        format!("seating error ({})", deg(s.drive.repeatability_deg)),
        "without seating error",
        |s| s.drive.repeatability_deg = 0.0,
    );
    add(
        s.drive.step_deg > 0.0,
        format!("the step of the drive ({})", deg(s.drive.step_deg)),
        "without steps",
        |s| s.drive.step_deg = 0.0,
    );
    add(
        s.solve.bias_deg != 0.0,
        format!("the bias of the solver ({})", deg(s.solve.bias_deg)),
        "without the bias",
        |s| s.solve.bias_deg = 0.0,
    );
    add(
        s.loop_.field_rotation_deg_per_s != 0.0,
        format!(
            "field rotation ({} deg/s)",
            degrees(s.loop_.field_rotation_deg_per_s)
        ),
        "without field rotation",
        |s| s.loop_.field_rotation_deg_per_s = 0.0,
    );
    add(
        s.loop_.correction != 1.0,
        format!("the correction factor ({})", degrees(s.loop_.correction)),
        "with a factor of 1",
        |s| s.loop_.correction = 1.0,
    );
    add(
        s.loop_.confirm > 1,
        format!("the call for {} passes in a row", s.loop_.confirm),
        "with one pass",
        |s| s.loop_.confirm = 1,
    );
    add(
        s.loop_.max_solves < ENOUGH_SOLVES,
        format!("the limit on good solves ({})", s.loop_.max_solves),
        "with 20 of them",
        |s| s.loop_.max_solves = ENOUGH_SOLVES,
    );
    let mut add_many = |there: bool, what: String, without, take_away: fn(&mut RigSettings)| {
        if there {
            found.push(Source {
                what,
                without,
                plural: true,
                take_away,
            });
        }
    };
    add_many(
        s.solve.outlier_rate > 0.0 && s.solve.outlier_deg > 0.0,
        format!(
            "outliers ({} of the solves, {})",
            percent(s.solve.outlier_rate),
            deg(s.solve.outlier_deg)
        ),
        "without outliers",
        |s| s.solve.outlier_rate = 0.0,
    );
    add_many(
        s.solve.failure_rate > 0.0,
        format!(
            "failed solves ({} of the attempts)",
            percent(s.solve.failure_rate)
        ),
        "without failed solves",
        |s| s.solve.failure_rate = 0.0,
    );
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::read;

    #[test]
    fn every_source_is_gone_when_it_is_taken_away() {
        let all = "[drive]\ngain_error = 0.01\nperiodic = [{ cycles = 1, amplitude_deg = 0.1 }]\nsense = -1\n\
            [solve]\nbias_deg = 0.1\noutlier_rate = 0.1\nfailure_rate = 0.1\n\
            [loop]\nmax_solves = 5\nconfirm = 2\ncorrection = 0.5\nfield_rotation_deg_per_s = 0.001\n";
        let rig = read(all, "test", &[]).expect("a valid rig");
        let found = sources(&rig);
        assert_eq!(found.len(), 15);
        for source in &found {
            let without = Source::taken_from(&[source], &rig).expect("a valid rig");
            let left = sources(&without);
            assert_eq!(left.len(), 14, "{}", source.what);
            assert!(left.iter().all(|other| other.what != source.what));
        }
        let everything: Vec<&Source> = found.iter().collect();
        let bare = Source::taken_from(&everything, &rig).expect("a valid rig");
        assert!(sources(&bare).is_empty());
    }
}
