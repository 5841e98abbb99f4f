//! Rigs that give every form of a result, as overrides of an empty rig file.

/// A name, the overrides, and a target \[deg\].
pub(super) type Rig = (&'static str, &'static [&'static str], &'static str);

pub(super) const RIGS: [Rig; 12] = [
    ("as it is", &[], "33"),
    (
        "hunts",
        &[
            "drive.periodic=[{cycles=1,amplitude_deg=0.3,phase_deg=90}]",
            "loop.tolerance_deg=0.1",
        ],
        "0",
    ),
    (
        "refused",
        &[
            "drive.travel=stops",
            "drive.stop_from_deg=0",
            "drive.stop_to_deg=100",
            "loop.believed_sense=-1",
        ],
        "135",
    ),
    (
        "between stops",
        &[
            "drive.travel=stops",
            "drive.stop_from_deg=-10",
            "drive.stop_to_deg=370",
            "drive.sense=-1",
            "loop.believed_sense=-1",
        ],
        "350",
    ),
    (
        "no solve at all",
        &["solve.failure_rate=1", "solve.max_failures=2"],
        "33",
    ),
    (
        "never settles",
        &["loop.confirm=20", "loop.max_solves=3"],
        "33",
    ),
    (
        "without an error",
        &[
            "drive.step_deg=0",
            "drive.backlash_deg=0",
            "drive.repeatability_deg=0",
            "drive.zero_point_sigma_deg=0",
            "solve.noise_deg=0",
            "drive.acceleration_deg_per_s2=2",
        ],
        "90",
    ),
    (
        "framed",
        &[
            "framing={sensor_width_mm=23.5,sensor_height_mm=15.7,focal_length_mm=400,pixel_um=3.76}",
            "wrap.symmetry=4",
            "wrap.rule=hysteresis-band",
            "drive.winding_limit_deg=200",
        ],
        "91",
    ),
    (
        "in the way",
        &[
            "keep_out=[{from_deg=10,to_deg=170,why=\"pier\",when={hour_angle_h=[-1,2],altitude_deg=[0,90]}},{from_deg=200,to_deg=210}]",
        ],
        "33",
    ),
    (
        "everywhere in the way",
        &[
            "keep_out=[{from_deg=0,to_deg=360}]",
            "wrap.rule=full-circle",
            "wrap.symmetry=1",
        ],
        "33",
    ),
    (
        "drifts and misses",
        &[
            "loop.field_rotation_deg_per_s=0.01",
            "solve.outlier_rate=0.2",
            "solve.bias_deg=1",
            "loop.approach=from-below",
        ],
        "33",
    ),
    (
        "largest",
        &[
            "loop.tolerance_deg=180",
            "drive.overhead_s=3600",
            "solve.exposure_s=3600",
            "drive.backlash_deg=45",
            "drive.park_deg=-360000",
            "wrap.arc_start_deg=360000",
            "drive.speed_deg_per_s=0.001",
        ],
        "-360000",
    ),
];

/// The overrides of a rig as arguments.
pub(super) fn set(rig: &Rig) -> Vec<&'static str> {
    rig.1.iter().flat_map(|change| ["--set", *change]).collect()
}
