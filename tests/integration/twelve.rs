//! Twelve rigs with their lists, for the tests of the advice.

use halfturn_engine::rig::{Rig, read};
use halfturn_engine::scenario::Target;

/// A rig and its targets.
pub(crate) struct Case {
    pub(crate) name: &'static str,
    pub(crate) rig: Rig,
    pub(crate) targets: Vec<Target>,
}

fn list(angles: impl IntoIterator<Item = f64>) -> Vec<Target> {
    angles
        .into_iter()
        .enumerate()
        .map(|(i, a)| Target {
            name: format!("T{i}"),
            position_angle_deg: a,
            ra_deg: None,
            dec_deg: None,
            minutes: None,
            after_deg: None,
        })
        .collect()
}

/// Beside the defaults every rig has a sensor.
const SENSOR: &str = "[framing]\nsensor_width_mm = 23.5\nsensor_height_mm = 15.7\nfocal_length_mm = 480.0\npixel_um = 3.76\n";

const ECCENTRIC: &str = "drive.periodic=[{cycles=1,amplitude_deg=0.15,phase_deg=90}]";

/// Angles of a night, two of them on the present seam.
const NIGHT: [f64; 6] = [0.0, 22.0, 64.0, 129.0, 157.0, 179.6];

/// Twelve of many kinds: backlash small and big, eccentric, gain error, coarse step, noisy solver, hard stops, keep-outs on
/// both sides, one target and 200, flips, and a one-sided approach with outliers.
pub(crate) fn twelve() -> Vec<Case> {
    let night = || list(NIGHT);
    let two_hundred = || list((0..200).map(|i| 10.0 + 0.8 * f64::from(i)));
    let flipped = || {
        let one: Vec<Target> = list([20.0, 75.0, 140.0]);
        one.into_iter()
            .flat_map(|t| [t.clone(), t.flipped()])
            .collect()
    };
    let table: [(&str, String, Vec<Target>); 12] = [
        ("small backlash", "drive.backlash_deg=0.02".to_owned(), night()),
        (
            "big backlash",
            "drive.backlash_deg=0.8 loop.tolerance_deg=0.3".to_owned(),
            night(),
        ),
        (
            "eccentric",
            format!("{ECCENTRIC} loop.tolerance_deg=0.2"),
            night(),
        ),
        (
            "gain error",
            "drive.gain_error=0.004 loop.tolerance_deg=0.3".to_owned(),
            night(),
        ),
        (
            "coarse step",
            "drive.step_deg=0.3 loop.tolerance_deg=0.2".to_owned(),
            night(),
        ),
        (
            "noisy solver",
            "solve.noise_deg=0.15 loop.tolerance_deg=0.2".to_owned(),
            night(),
        ),
        (
            "hard stops",
            format!(
                "{ECCENTRIC} drive.travel=stops drive.stop_from_deg=-20 drive.stop_to_deg=230 loop.tolerance_deg=0.25"
            ),
            list([4.0, 40.0, 90.0, 150.0, 176.0]),
        ),
        (
            "keep-outs on both sides",
            format!(
                "{ECCENTRIC} keep_out=[{{from_deg=200,to_deg=240}},{{from_deg=320,to_deg=340}}] loop.tolerance_deg=0.25"
            ),
            list([30.0, 80.0, 130.0, 165.0]),
        ),
        (
            "one target",
            format!("{ECCENTRIC} loop.tolerance_deg=0.25"),
            list([0.1]),
        ),
        (
            "200 targets",
            format!("{ECCENTRIC} loop.tolerance_deg=0.25"),
            two_hundred(),
        ),
        (
            "flips",
            format!(
                "{ECCENTRIC} wrap.symmetry=1 wrap.rule=full-circle drive.travel=stops drive.stop_from_deg=-90 drive.stop_to_deg=450 loop.tolerance_deg=0.25"
            ),
            flipped(),
        ),
        (
            "one-sided with outliers",
            format!(
                "{ECCENTRIC} drive.backlash_deg=0.5 loop.approach=from-below solve.outlier_rate=0.01 solve.outlier_deg=0.5 loop.tolerance_deg=0.25"
            ),
            night(),
        ),
    ];
    table
        .into_iter()
        .map(|(name, keys, targets)| {
            let keys: Vec<String> = keys.split(' ').map(str::to_owned).collect();
            let rig = read(SENSOR, name, &keys).unwrap_or_else(|e| panic!("{name}: {e}"));
            Case { name, rig, targets }
        })
        .collect()
}
