//! The result of `fit` as JSON.

use serde_json::{Value, json};

use crate::json::{FORMAT, VERSION};
use halfturn_engine::fit::{Fit, FitPlan, Wanted};

/// The result of `fit`.
#[must_use]
pub fn fit_json(fit: &Fit) -> Value {
    let p = &fit.parameters;
    let periodic: Vec<Value> = fit
        .periodic
        .iter()
        .map(|h| {
            json!({
                "cycles": h.cycles,
                "amplitude_deg": h.amplitude_deg,
                "phase_deg": h.phase_deg,
            })
        })
        .collect();
    let count = fit.joint.names.len();
    let correlations: Vec<Vec<Option<f64>>> = (0..count)
        .map(|i| (0..count).map(|j| fit.joint.correlation(i, j)).collect())
        .collect();
    json!({
        "format": FORMAT,
        "version": VERSION,
        "rows": fit.row_count,
        "solved": fit.rows.len(),
        "used": fit.rows.iter().filter(|r| r.used).count(),
        "degrees_of_freedom": fit.freedom,
        "parameters": {
            "zero_point_deg": p.zero_point_deg,
            "gain_error": p.gain_error,
            "backlash_deg": p.backlash_deg,
            "repeatability_deg": p.repeatability_deg,
            "noise_deg": p.noise_deg,
            "outlier_rate": p.outlier_rate,
            "step_deg": p.step_deg,
        },
        "sense": fit.sense,
        "sense_identifiable": fit.sense_identifiable,
        "periodic": periodic,
        "total_error_deg": fit.total_error_deg,
        "outlier_deg": fit.outlier_deg,
        "correlations": { "names": fit.joint.names, "matrix": correlations },
        "diagnoses": fit.diagnoses,
    })
}

/// The result of `fit --plan`.
#[must_use]
pub fn fit_plan_json(plan: &FitPlan, naive: Option<&FitPlan>, wanted: Wanted) -> Value {
    let short = |p: &FitPlan| {
        json!({
            "moves": p.steps.len(),
            "solves": p.solves(),
            "time_s": p.time_s,
            "accuracy_deg": p.accuracy_deg,
        })
    };
    let steps: Vec<Value> = plan
        .steps
        .iter()
        .map(|s| json!({ "move_to_deg": s.to_deg, "solves": s.solves }))
        .collect();
    json!({
        "format": FORMAT,
        "version": VERSION,
        "wanted_accuracy_deg": wanted.accuracy_deg,
        "from_deg": plan.range.from.at_deg,
        "from_limit": plan.range.from.limit,
        "to_deg": plan.range.to.at_deg,
        "to_limit": plan.range.to.limit,
        "plan": short(plan),
        "naive_sweep": naive.map(short),
        "steps": steps,
    })
}
