//! Other inputs: a mosaic, whose panels become targets, and a log, which improves the rig.

use serde::Deserialize;
use serde_json::{Value, json};

use crate::files::check_shown;
use crate::wire::{WireTarget, read_rig, rig_json};
use crate::{Answer, Refusal, asked};
use halfturn_engine::fit::{fit, read_log};
use halfturn_engine::rig::Rig;
use halfturn_engine::sample::Monitor;
use halfturn_engine::scenario::{find_object, read_place, read_targets};
use halfturn_report::panels_csv;
use halfturn_sky::{Mosaic, SkyPlace, lay_out};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Wanted {
    rig: Value,
    /// The beginning of the panels' names.
    name: String,
    /// An object of the catalogue, or right ascension and declination as `--center` takes them.
    centre: String,
    columns: u32,
    rows: u32,
    position_angle_deg: f64,
}

/// `POST /api/panels`: the panels of a mosaic as targets.
pub(crate) fn panels(body: &[u8], _: &dyn Monitor) -> Answer {
    let wanted: Wanted = asked(body)?;
    let rig = read_rig(&wanted.rig)?;
    let framing = rig.settings().framing.ok_or_else(|| {
        Refusal::too_much("the rig has no camera. Give the size of the sensor and the focal length")
    })?;
    let side_deg = |side_mm: f64| (side_mm / framing.focal_length_mm).to_degrees();
    let mosaic = Mosaic {
        name: wanted.name.trim().to_owned(),
        centre: place(&wanted.centre)?,
        columns: wanted.columns,
        rows: wanted.rows,
        width_deg: side_deg(framing.sensor_width_mm),
        height_deg: side_deg(framing.sensor_height_mm),
        overlap: framing.mosaic_overlap,
        position_angle_deg: wanted.position_angle_deg,
    };
    let laid = lay_out(&mosaic).map_err(|e| Refusal::too_much(e.to_string()))?;
    check_shown(laid.len())?;
    let targets = read_targets(&panels_csv(&laid, None), "panels")?;
    let targets: Vec<WireTarget> = targets.iter().map(WireTarget::from).collect();
    Ok(json!({ "targets": targets }))
}

fn place(text: &str) -> Result<SkyPlace, Refusal> {
    if let Some((ra_deg, dec_deg)) = read_place(text) {
        return Ok(SkyPlace { ra_deg, dec_deg });
    }
    let found = find_object(text).map_err(|e| Refusal::too_much(format!("{text:?} {e}")))?;
    Ok(found.into())
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LogText {
    /// The rig as the user believes it.
    rig: Value,
    /// Name of the file in messages.
    name: String,
    text: String,
}

/// `POST /api/fit`: the rig with the errors that a log tells, and the other results of the fit.
pub(crate) fn fit_log(body: &[u8], _: &dyn Monitor) -> Answer {
    let asked: LogText = asked(body)?;
    let rig = read_rig(&asked.rig)?;
    let log = read_log(&asked.text, &asked.name)?;
    let wrong = |why: String| Refusal::too_much(format!("{}: {why}", asked.name));
    let found = fit(&log, rig.settings()).map_err(|e| wrong(e.to_string()))?;
    let fitted = Rig::new(found.applied(rig.settings()))
        .map_err(|e| wrong(format!("the log gives no valid rig: {e}")))?;
    let findings: Vec<&str> = found
        .diagnoses
        .iter()
        .map(|d| d.evidence.as_str())
        .collect();
    Ok(json!({
        "rig": rig_json(&fitted),
        "solved": found.rows.len(),
        "findings": findings,
    }))
}
