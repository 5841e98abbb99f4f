//! A traced run as JSON: its rows, and the dial on which a page replays them.

use serde::Serialize;
use serde_json::Value;

use super::result::{Format, Version, as_json};
use halfturn_engine::plant::Travel;
use halfturn_engine::rig::{KeepOut, Rig, Rule, TravelKind};
use halfturn_engine::run::{Figures, TraceRow};
use halfturn_engine::scenario::{Policy, Scenario};

/// One run, move by move, which a page can replay.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub(crate) struct TraceResult<'a> {
    /// Version of the format.
    format: Format<1>,
    /// Version of the program.
    version: Version,
    /// Digest of the rig.
    #[cfg_attr(feature = "schema", schemars(regex(pattern = halfturn_engine::schema::DIGEST)))]
    rig_digest: String,
    /// Seed of the random numbers.
    seed: u64,
    /// Number of the run under the seed.
    trial: u64,
    /// Position angle of the target \[deg\].
    target_deg: f64,
    /// The wrap rule.
    rule: Rule,
    /// Number of orientations in a turn that frame the same field.
    #[cfg_attr(feature = "schema", schemars(extend("enum" = [1, 2, 4])))]
    symmetry: u32,
    /// The part of the dial that does not change during the run.
    dial: Dial<'a>,
    /// How the run ended.
    #[cfg_attr(feature = "schema", schemars(extend("properties" = {
        "outcome": { "enum": ["settled", "unsettled", "unsolved", "refused"] }
    })))]
    figures: &'a Figures,
    /// The moves and solves, in the order of time.
    #[cfg_attr(feature = "schema", schemars(length(min = 1)))]
    rows: &'a [TraceRow],
    /// Number of rows left out; only in the player of a report.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schemars(with = "usize"))]
    rows_left_out: Option<usize>,
}

/// The dial behind the rows of a trace.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct Dial<'a> {
    /// What limits the travel.
    travel: TravelKind,
    /// The two stops \[deg\]; `None` with endless travel.
    stops_deg: Option<(f64, f64)>,
    /// Start of the arc \[deg\].
    arc_start_deg: f64,
    /// Width of the arc \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    arc_width_deg: f64,
    /// Band around the arc \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    band_deg: f64,
    /// Whether the arc has a seam.
    seam: bool,
    /// The keep-outs, as in the rig file.
    keep_outs: &'a [KeepOut],
    /// Drive angle of the first command \[deg\].
    target_drive_deg: f64,
    /// Angle between equivalent framings \[deg\].
    #[cfg_attr(feature = "schema", schemars(extend("exclusiveMinimum" = 0)))]
    period_deg: f64,
    /// Largest accepted residual \[deg\].
    #[cfg_attr(feature = "schema", schemars(extend("exclusiveMinimum" = 0)))]
    tolerance_deg: f64,
    /// Good solves after which the run ends.
    #[cfg_attr(feature = "schema", schemars(range(min = 1)))]
    max_solves: u32,
    /// True sense: 1 or -1.
    #[cfg_attr(feature = "schema", schemars(extend("enum" = [1, -1])))]
    sense: f64,
    /// Sense that the controller believes: 1 or -1.
    #[cfg_attr(feature = "schema", schemars(extend("enum" = [1, -1])))]
    believed_sense: f64,
    /// Position angle at drive angle 0, as the controller believes it \[deg\].
    believed_zero_point_deg: f64,
    /// Width and height of the sensor \[mm\]; `None` without `[framing]`.
    frame_mm: Option<(f64, f64)>,
}

impl<'a> Dial<'a> {
    fn of(rig: &'a Rig, scenario: &Scenario) -> Self {
        let (s, brief) = (rig.settings(), scenario.brief());
        let (travel, stops_deg) = match brief.travel {
            Travel::Endless => (TravelKind::Endless, None),
            Travel::Stops { lo_deg, hi_deg } => (TravelKind::Stops, Some((lo_deg, hi_deg))),
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

/// The dial of a scenario, which does not change during a run.
pub fn dial_json(rig: &Rig, scenario: &Scenario) -> Value {
    as_json(&Dial::of(rig, scenario))
}

/// The result of `trace`.
#[must_use]
pub fn trace_json(
    rig: &Rig,
    policy: Policy,
    target_deg: f64,
    luck: (u64, u64),
    figures: &Figures,
    rows: &[TraceRow],
) -> Value {
    as_json(&TraceResult::of(
        rig, policy, target_deg, luck, figures, rows,
    ))
}

impl<'a> TraceResult<'a> {
    pub(crate) fn of(
        rig: &'a Rig,
        policy: Policy,
        target_deg: f64,
        (seed, trial): (u64, u64),
        figures: &'a Figures,
        rows: &'a [TraceRow],
    ) -> Self {
        Self {
            format: Format,
            version: Version,
            rig_digest: rig.digest(),
            seed,
            trial,
            target_deg,
            rule: policy.rule,
            symmetry: policy.symmetry,
            dial: Dial::of(rig, &Scenario::new(rig, policy, target_deg)),
            figures,
            rows,
            rows_left_out: None,
        }
    }

    /// The data for the player of a report, with the first `most` rows only.
    pub(crate) fn first_rows(mut self, most: usize) -> Value {
        let shown = self.rows.len().min(most);
        self.rows_left_out = Some(self.rows.len() - shown);
        self.rows = &self.rows[..shown];
        as_json(&self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use halfturn_engine::rig::read;
    use halfturn_engine::run::{Trace, run};
    use halfturn_engine::sample::stream;
    use serde_json::json;

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

    /// Half circle from 10 deg, with a reversed believed sense: 200 deg is wanted at -200 + 30 = -170 deg, which is
    /// 10 deg.
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
