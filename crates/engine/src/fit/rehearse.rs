//! Moves and solves carried out on a simulated rig, and the log that they give.

use rand::{Rng, RngExt as _};
use rand_distr::StandardNormal;

use super::log::{Log, LogRow};
use crate::angle::{TURN_DEG, fold_finite};
use crate::plant::{PlannedMove, Plant, Shaft};
use crate::rig::Rig;

/// One move of a plan, with the solves at its end.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct PlanStep {
    /// Commanded drive angle \[deg\].
    #[serde(rename = "move_to_deg")]
    pub to_deg: f64,
    /// Solves at the end of the move.
    pub solves: u32,
}

/// Unit of the last decimal of a rehearsed log \[deg\].
const RESOLUTION_DEG: f64 = 1e-4;

/// Carries out the steps on the rig from its parking reading and returns the log: plant and solver of docs/model.md,
/// without the controller.
///
/// A refused command leaves no row, and a move without a solve leaves a row without an angle. So does a failed
/// attempt, which is repeated up to the rig's limit.
pub fn rehearse<R: Rng>(rig: &Rig, steps: &[PlanStep], rng: &mut R) -> Log {
    let s = rig.settings();
    let plant = Plant::new(rig);
    let mut shaft = Shaft::at(s.drive.park_deg);
    let zero_deg = s.drive.zero_point_deg + normal(rng, s.drive.zero_point_sigma_deg);
    let mut time_s = 0.0;
    let mut rows = Vec::new();
    let rounded = |x: f64| (x / RESOLUTION_DEG).round() / RESOLUTION_DEG.recip();
    for step in steps {
        let planned = plant.plan(shaft.reading_deg, step.to_deg);
        if planned == PlannedMove::Refused {
            continue;
        }
        time_s += plant.duration_s(shaft.reading_deg, &planned);
        let repeatability_error_deg = normal(rng, s.drive.repeatability_deg);
        plant.carry_out(&mut shaft, &planned, repeatability_error_deg);
        let row = |time_s: f64, angle_deg: Option<f64>| LogRow {
            line: 0,
            run: String::new(),
            time_s: Some((10.0 * time_s).round() / 10.0),
            commanded_deg: Some(step.to_deg),
            reading_deg: rounded(shaft.reading_deg),
            position_angle_deg: angle_deg.map(|a| rounded(fold_finite(a, 0.0, TURN_DEG))),
        };
        if step.solves == 0 {
            rows.push(row(time_s, None));
        }
        let (mut failures, mut solves) = (0, 0);
        while solves < step.solves && failures < s.solve.max_failures {
            let exposed_s = time_s + s.solve.exposure_s;
            let failed = rng.random_bool(s.solve.failure_rate);
            let angle_deg =
                plant.position_angle_deg(&shaft, zero_deg, exposed_s) + s.solve.bias_deg;
            let sigma_deg = if rng.random_bool(s.solve.outlier_rate) {
                s.solve.outlier_deg
            } else {
                s.solve.noise_deg
            };
            let measured_deg = angle_deg + normal(rng, sigma_deg);
            time_s = exposed_s
                + if failed {
                    s.solve.failure_s
                } else {
                    s.solve.solve_s
                };
            rows.push(row(time_s, (!failed).then_some(measured_deg)));
            if failed {
                failures += 1;
            } else {
                failures = 0;
                solves += 1;
            }
        }
    }
    for (i, row) in rows.iter_mut().enumerate() {
        row.line = i + 2; // below a header
    }
    Log {
        rows,
        resolution_deg: RESOLUTION_DEG,
    }
}

/// The tail of these deviates uses the system's logarithm. Rounding to the log's decimals hides its last bit.
fn normal<R: Rng>(rng: &mut R, sigma: f64) -> f64 {
    sigma * rng.sample::<f64, _>(StandardNormal)
}
