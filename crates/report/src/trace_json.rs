//! A traced run as JSON: its rows, and the dial on which a page replays them.

use serde::Serialize;
use serde_json::{Value, json};

use super::json::{FORMAT, VERSION};
use halfturn_engine::plant::Travel;
use halfturn_engine::rig::{KeepOut, Rig};
use halfturn_engine::run::{Figures, TraceRow};
use halfturn_engine::scenario::{Policy, Scenario};

/// What a dial shows beside the rows of a trace.
#[derive(Serialize)]
struct DialJson<'a> {
    travel: &'static str,
    stops_deg: Option<(f64, f64)>,
    arc_start_deg: f64,
    arc_width_deg: f64,
    band_deg: f64,
    seam: bool,
    keep_outs: &'a [KeepOut],
    target_drive_deg: f64,
    period_deg: f64,
    tolerance_deg: f64,
    max_solves: u32,
    sense: f64,
    believed_sense: f64,
    believed_zero_point_deg: f64,
    frame_mm: Option<(f64, f64)>,
}

impl<'a> DialJson<'a> {
    fn of(rig: &'a Rig, scenario: &Scenario) -> Self {
        let (s, brief) = (rig.settings(), scenario.brief());
        let (travel, stops_deg) = match brief.travel {
            Travel::Endless => ("endless", None),
            Travel::Stops { lo_deg, hi_deg } => ("stops", Some((lo_deg, hi_deg))),
        };
        Self {
            travel,
            stops_deg,
            arc_start_deg: brief.arc_start_deg,
            arc_width_deg: brief.arc_width_deg,
            band_deg: brief.band_deg,
            seam: scenario.seam_distance_deg().is_some(),
            keep_outs: &s.keep_out,
            target_drive_deg: scenario.drive_angle_deg(),
            period_deg: scenario.period_deg(),
            tolerance_deg: brief.tolerance_deg,
            max_solves: brief.max_solves,
            sense: s.drive.sense.factor(),
            believed_sense: brief.sense,
            believed_zero_point_deg: brief.zero_point_deg,
            frame_mm: s.framing.map(|f| (f.sensor_width_mm, f.sensor_height_mm)),
        }
    }
}

/// The dial of a scenario: what does not change from move to move.
pub fn dial_json(rig: &Rig, scenario: &Scenario) -> Value {
    json!(DialJson::of(rig, scenario))
}

/// The result of `trace`, which a page can replay.
#[must_use]
pub fn trace_json(
    rig: &Rig,
    policy: Policy,
    target_deg: f64,
    (seed, trial): (u64, u64),
    figures: &Figures,
    rows: &[TraceRow],
) -> Value {
    let scenario = Scenario::new(rig, policy, target_deg);
    json!({
        "format": FORMAT,
        "version": VERSION,
        "rig_digest": rig.digest(),
        "seed": seed,
        "trial": trial,
        "target_deg": target_deg,
        "rule": policy.rule,
        "symmetry": policy.symmetry,
        "dial": dial_json(rig, &scenario),
        "figures": figures,
        "rows": rows,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use halfturn_engine::rig::read;
    use halfturn_engine::run::{Trace, run};
    use halfturn_engine::sample::stream;

    fn traced(toml: &str) -> Value {
        let rig = read(toml, "test", &[]).expect("a valid rig");
        let policy = Policy::of(&rig);
        let scenario = Scenario::new(&rig, policy, 200.0);
        let mut trace = Trace::default();
        let figures = run(
            &scenario,
            &mut scenario.controller(),
            &mut stream(1, 0),
            &mut trace,
        );
        trace_json(&rig, policy, 200.0, (1, 0), &figures, trace.rows())
    }

    /// Half circle from 10 deg, believed to turn backwards: 200 deg is wanted at -200 + 30 = -170 deg, which is 10 deg.
    #[test]
    fn the_dial_is_that_of_the_rig() {
        let json = traced(
            "[drive]\nzero_point_deg = 30.0\nstop_from_deg = -20.0\nstop_to_deg = 300.0\ntravel = \"stops\"\n\
             [loop]\nbelieved_sense = -1\n[wrap]\nrule = \"hysteresis-band\"\narc_start_deg = 10.0\nband_deg = 4.0\n\
             [[keep_out]]\nfrom_deg = 200.0\nto_deg = 210.0\nwhy = \"pier\"\n",
        );
        let dial = &json["dial"];
        assert_eq!(dial["travel"], "stops");
        assert_eq!(dial["stops_deg"], json!([-20.0, 300.0]));
        assert_eq!(
            (
                &dial["arc_start_deg"],
                &dial["arc_width_deg"],
                &dial["band_deg"]
            ),
            (&json!(10.0), &json!(180.0), &json!(4.0))
        );
        assert_eq!(dial["target_drive_deg"], 10.0);
        assert_eq!(
            (&dial["sense"], &dial["believed_sense"]),
            (&json!(1.0), &json!(-1.0))
        );
        assert_eq!(
            dial["keep_outs"],
            json!([{ "from_deg": 200.0, "to_deg": 210.0, "why": "pier" }])
        );
        assert_eq!(
            (&dial["seam"], &dial["frame_mm"]),
            (&json!(true), &Value::Null)
        );
    }

    #[test]
    fn an_endless_full_circle_has_no_seam() {
        let json = traced("[wrap]\nrule = \"full-circle\"\n");
        assert_eq!(json["dial"]["seam"], false);
        assert_eq!(json["dial"]["stops_deg"], Value::Null);
    }
}
