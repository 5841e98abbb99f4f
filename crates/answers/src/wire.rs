//! Rigs and targets as the page sends and receives them.
//!
//! A rig is the rig file as JSON: sections are objects, lists are arrays, and a key that is not set is left out.

use serde::{Deserialize, Serialize};
use serde_json::Value;

use halfturn_engine::angle::MOST_ANGLE_DEG;
use halfturn_engine::rig::{InputError, Rig, read};
use halfturn_engine::scenario::{Target, read_targets};

pub(crate) fn rig_json(rig: &Rig) -> Value {
    serde_json::to_value(rig.settings()).expect("settings, an object of numbers and texts")
}

/// Reads the rig that a page sent.
///
/// # Errors
/// [`InputError`] as for a rig file.
pub(crate) fn read_rig(value: &Value) -> Result<Rig, InputError> {
    // It goes through the file format, because one reader knows what is allowed.
    let text = toml::to_string(value)
        .map_err(|e| InputError::of_file("rig", format!("is not a rig: {e}")))?;
    read(&text, "rig", &[]).map_err(|e| InputError { line: None, ..e })
}

/// A target as the page sends and receives it.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct WireTarget {
    /// Unique name.
    pub(crate) name: String,
    /// Planned position angle \[deg\].
    pub(crate) position_angle_deg: f64,
    /// Right ascension, ICRS \[deg\]; `None` if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    ra_deg: Option<f64>,
    /// Declination, ICRS \[deg\]; `None` if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    dec_deg: Option<f64>,
    /// Planned time \[min\]; `None` if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    minutes: Option<f64>,
}

impl From<&Target> for WireTarget {
    fn from(t: &Target) -> Self {
        Self {
            name: t.name.clone(),
            position_angle_deg: t.position_angle_deg,
            ra_deg: t.ra_deg,
            dec_deg: t.dec_deg,
            minutes: t.minutes,
        }
    }
}

/// Checks the targets that a page sent.
///
/// # Errors
/// [`InputError`] as for a targets file.
pub(crate) fn check_targets(targets: &[WireTarget]) -> Result<Vec<Target>, InputError> {
    read_targets(&targets_csv(targets), "targets").map_err(|e| InputError { line: None, ..e })
}

/// The text of a targets file.
pub(crate) fn targets_csv(targets: &[WireTarget]) -> String {
    let mut out = csv::Writer::from_writer(Vec::new());
    let given = |value: Option<f64>| value.map_or_else(String::new, |v| v.to_string());
    // Writing to memory does not fail.
    let _ = out.write_record(["name", "position_angle_deg", "ra_deg", "dec_deg", "minutes"]);
    for t in targets {
        let _ = out.write_record([
            t.name.clone(),
            t.position_angle_deg.to_string(),
            given(t.ra_deg),
            given(t.dec_deg),
            given(t.minutes),
        ]);
    }
    let bytes = out.into_inner().expect("memory takes all that is written");
    String::from_utf8(bytes).expect("only text was written")
}

/// Checks that a targets file may hold this angle.
pub(crate) fn check_target_deg(target_deg: f64) -> Result<f64, InputError> {
    if target_deg.abs() <= MOST_ANGLE_DEG {
        return Ok(target_deg + 0.0); // -0 is 0
    }
    Err(InputError {
        key: "target_deg".to_owned(),
        value: target_deg.to_string(),
        ..InputError::of_file(
            "request",
            format!("must be a number from -{MOST_ANGLE_DEG} to {MOST_ANGLE_DEG} deg"),
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use halfturn_engine::rig::DEMO_RIG;
    use serde_json::json;

    fn demo() -> Rig {
        read(DEMO_RIG, "demo", &[]).expect("a valid rig")
    }

    #[test]
    fn a_rig_comes_back_as_it_went() {
        for changes in [
            vec![],
            vec!["wrap.symmetry=4", "framing.pixel_um=2.4"],
            vec![
                "drive.travel=stops",
                "drive.stop_from_deg=-400",
                "drive.stop_to_deg=400",
            ],
            vec!["keep_out=[]", "drive.periodic=[]", "drive.sense=-1"],
        ] {
            let changes: Vec<String> = changes.into_iter().map(str::to_owned).collect();
            let rig = read(DEMO_RIG, "demo", &changes).expect("a valid rig");
            assert_eq!(read_rig(&rig_json(&rig)), Ok(rig), "{changes:?}");
        }
    }

    #[test]
    fn a_fault_names_key_value_and_what_is_allowed() {
        let with = |pointer: &str, value: Value| {
            let mut rig = rig_json(&demo());
            *rig.pointer_mut(pointer).expect("a key") = value;
            read_rig(&rig).expect_err("a fault")
        };
        let error = with("/loop/tolerance_deg", json!(-1));
        assert_eq!(
            (error.key.as_str(), error.value.as_str()),
            ("loop.tolerance_deg", "-1")
        );
        assert!(error.allowed.contains("180 deg"), "{}", error.allowed);
        assert_eq!(
            with("/keep_out/0/from_deg", json!("x")).key,
            "keep_out.0.from_deg"
        );
        assert!(with("/name", Value::Null).allowed.contains("not a rig"));
        for bad in [
            json!(3),
            json!([]),
            json!({ "drive": 1 }),
            json!({ "no": {} }),
            json!(u64::MAX),
        ] {
            assert!(read_rig(&bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn targets_come_back_as_they_went() {
        let text = "name,position_angle_deg,ra,dec,minutes\n\"a, \"\"b\"\"\",0.1,1:2:3,-4:5:6,7\nc,-1e-7,,,\n";
        let read = read_targets(text, "t").expect("targets");
        let wire: Vec<WireTarget> = read.iter().map(WireTarget::from).collect();
        let sent: Vec<WireTarget> = serde_json::from_value(json!(wire)).expect("what was written");
        assert_eq!(check_targets(&sent), Ok(read));
        assert!(check_targets(&[]).is_err());
        assert!(check_target_deg(1e9).is_err() && check_target_deg(f64::NAN).is_err());
    }
}
