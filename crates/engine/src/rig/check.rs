//! The checks that turn settings into a rig: every key is in its range, and the keys agree with each other.

use std::fmt;

use sha2::{Digest, Sha256};

use crate::angle::TURN_DEG;

use super::error::RigError;
use super::keys::{KEYS, Key, too_many};
use super::settings::{Approach, RigSettings, Rule, TravelKind};

/// A rig whose settings have passed every check. It cannot change; [`Rig::with`] makes a changed copy.
#[derive(Debug, Clone, PartialEq)]
pub struct Rig {
    settings: RigSettings,
}

/// Something that is allowed, but that the user should know about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Warning {
    /// The key that the warning is about.
    pub key: &'static str,
    /// One sentence.
    pub text: String,
}

/// A backlash above this was probably meant in minutes of arc \[deg\].
const LARGE_BACKLASH_DEG: f64 = 5.0;

impl fmt::Display for Warning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.key, self.text)
    }
}

impl Rig {
    /// Checks the settings.
    ///
    /// # Errors
    /// [`RigError`] for the first key, in the order of the file, that is out of its range or contradicts other keys.
    pub fn new(settings: RigSettings) -> Result<Self, RigError> {
        let lists = [
            ("drive.periodic", settings.drive.periodic.len()),
            ("keep_out", settings.keep_out.len()),
        ];
        for (list, length) in lists {
            if let Some(problem) = too_many(length) {
                return Err(refuse(list, "", problem, &[]));
            }
        }
        // A copy, because the keys reach a value through a mutable borrow only.
        let mut probe = settings.clone();
        for key in KEYS {
            for index in 0..entries(key, &settings) {
                if !key.kind.accepts(&mut probe, index) {
                    return Err(refuse(
                        &indexed(key.path, index),
                        key.kind
                            .value(&mut probe, index)
                            .map_or_else(String::new, |v| v.to_string()),
                        format!("must be {}", key.kind.allowed(key.unit)),
                        &[],
                    ));
                }
            }
        }
        fit_together(&settings)?;
        Ok(Self { settings })
    }

    /// The settings.
    #[must_use]
    pub fn settings(&self) -> &RigSettings {
        &self.settings
    }

    /// A copy with some settings changed, checked again.
    ///
    /// # Errors
    /// As [`Rig::new`].
    pub fn with(&self, change: impl FnOnce(&mut RigSettings)) -> Result<Self, RigError> {
        let mut settings = self.settings.clone();
        change(&mut settings);
        Self::new(settings)
    }

    /// SHA-256 over all keys and their values, in hexadecimal. Equal settings give equal digests, whatever the layout
    /// and comments of the file.
    #[must_use]
    pub fn digest(&self) -> String {
        let mut hash = Sha256::new();
        for (key, value) in self.key_values() {
            hash.update(format!("{key} = {value}\n"));
        }
        hash.finalize().iter().map(|b| format!("{b:02x}")).collect()
    }

    /// Settings that are allowed but probably not meant.
    #[must_use]
    pub fn warnings(&self) -> Vec<Warning> {
        let s = &self.settings;
        let mut found = Vec::new();
        let mut warn = |key, text: String| found.push(Warning { key, text });
        if s.drive.backlash_deg > LARGE_BACKLASH_DEG {
            warn(
                "drive.backlash_deg",
                format!(
                    "{0}° is a large backlash. If you meant {0} minutes of arc, write {1:.2}. If not, approach every angle from one side (loop.approach)",
                    s.drive.backlash_deg,
                    s.drive.backlash_deg / 60.0
                ),
            );
        }
        if s.loop_.approach != Approach::Direct && s.loop_.overrun_deg < s.drive.backlash_deg {
            warn(
                "loop.overrun_deg",
                format!(
                    "{}° is less than the backlash of {}°, so a one-sided approach does not take it up. Use a larger overrun",
                    s.loop_.overrun_deg, s.drive.backlash_deg
                ),
            );
        }
        if s.drive.step_deg > 2.0 * s.loop_.tolerance_deg {
            warn(
                "loop.tolerance_deg",
                format!(
                    "{}° is less than half of a step of {}°, so the drive can't come that near to most angles. Use a larger tolerance",
                    s.loop_.tolerance_deg, s.drive.step_deg
                ),
            );
        }
        if s.loop_.confirm > s.loop_.max_solves {
            warn(
                "loop.confirm",
                format!(
                    "{} passes need more than loop.max_solves = {} solves, so no run settles. Lower the one or raise the other",
                    s.loop_.confirm, s.loop_.max_solves
                ),
            );
        }
        if s.loop_.believed_sense != s.drive.sense {
            warn(
                "loop.believed_sense",
                "differs from drive.sense, so every correction goes the wrong way. Make them alike"
                    .to_owned(),
            );
        }
        if s.wrap.rule == Rule::HysteresisBand && s.wrap.band_deg == 0.0 {
            warn(
                "wrap.band_deg",
                "a hysteresis band of 0° is a plain half circle. Use a wider band, or half-circle"
                    .to_owned(),
            );
        }
        match (s.drive.travel, s.drive.stop_from_deg, s.drive.stop_to_deg) {
            (TravelKind::Stops, Some(lo), Some(hi)) => {
                let width = s.wrap.arc_width_deg();
                let start = s.wrap.arc_start_deg;
                let band = match s.wrap.rule {
                    Rule::HysteresisBand => s.wrap.band_deg,
                    Rule::FullCircle | Rule::HalfCircle | Rule::FoldOnce => 0.0,
                };
                if start - band < lo || start + width + band > hi {
                    warn(
                        "wrap.arc_start_deg",
                        format!(
                            "the arc from {}° to {}°, band included, does not fit between the stops at {lo}° and {hi}°, so they refuse some commands. Start the arc elsewhere",
                            start - band,
                            start + width + band
                        ),
                    );
                }
            }
            (TravelKind::Endless, None, None) | (TravelKind::Stops, ..) => {}
            (TravelKind::Endless, ..) => warn(
                "drive.stop_from_deg",
                "drive.travel = \"endless\" has no stops. Set it to \"stops\", or remove the stops"
                    .to_owned(),
            ),
        }
        found
    }
}

/// How many values a key has in these settings.
pub(super) fn entries(key: &Key, settings: &RigSettings) -> usize {
    match key.path.split('.').next() {
        Some("keep_out") => settings.keep_out.len(),
        Some("framing") => usize::from(settings.framing.is_some()),
        _ if key.path.starts_with("drive.periodic.") => settings.drive.periodic.len(),
        _ => 1,
    }
}

pub(super) fn indexed(path: &str, index: usize) -> String {
    path.replace('*', &index.to_string())
}

fn refuse(
    key: &str,
    value: impl fmt::Display,
    allowed: impl Into<String>,
    partners: &[&str],
) -> RigError {
    RigError {
        key: key.to_owned(),
        value: value.to_string(),
        allowed: allowed.into(),
        partners: partners.iter().map(|p| (*p).to_owned()).collect(),
    }
}

fn fit_together(s: &RigSettings) -> Result<(), RigError> {
    if s.drive.travel == TravelKind::Stops {
        between_stops(s)?;
    }
    for (i, sector) in s.keep_out.iter().enumerate() {
        if let Some([from, to]) = sector.when.altitude_deg.filter(|[from, to]| to < from) {
            let key = format!("keep_out.{i}.when.altitude_deg");
            let problem = "the second must not be below the first";
            return Err(refuse(&key, format!("[{from}, {to}]"), problem, &[]));
        }
        let (from, to) = (sector.from_deg, sector.to_deg);
        let problem = match s.drive.travel {
            TravelKind::Stops if to <= from => {
                format!("must be above from_deg ({from}) between stops")
            }
            // This could mean nothing or everything. Only a whole turn upwards is clear.
            TravelKind::Endless if to <= from && same_reading(from, to) => format!(
                "must be above from_deg ({from}), or below it to cross 0. To keep out everywhere use from_deg + 360"
            ),
            TravelKind::Stops | TravelKind::Endless => continue,
        };
        return Err(refuse(
            &format!("keep_out.{i}.to_deg"),
            to,
            problem,
            &[&format!("keep_out.{i}.from_deg"), "drive.travel"],
        ));
    }
    Ok(())
}

/// Whether two readings are whole turns apart, rounding aside.
fn same_reading(a_deg: f64, b_deg: f64) -> bool {
    /// Far below the width of any sector, far above the rounding of the largest angle of a key \[deg\].
    const ROUNDING_DEG: f64 = 1e-9;
    let rest_deg = (a_deg - b_deg).rem_euclid(TURN_DEG);
    rest_deg.min(TURN_DEG - rest_deg) < ROUNDING_DEG
}

fn between_stops(s: &RigSettings) -> Result<(), RigError> {
    let stop = |value: Option<f64>, key| {
        value.ok_or_else(|| {
            refuse(
                key,
                "",
                "is missing: drive.travel = \"stops\" needs it",
                &["drive.travel"],
            )
        })
    };
    let (from, to) = ("drive.stop_from_deg", "drive.stop_to_deg");
    let lo = stop(s.drive.stop_from_deg, from)?;
    let hi = stop(s.drive.stop_to_deg, to)?;
    if lo >= hi {
        let problem = format!("must be above {from} ({lo})");
        return Err(refuse(to, hi, problem, &[from, "drive.travel"]));
    }
    if !(lo..=hi).contains(&s.drive.park_deg) {
        return Err(refuse(
            "drive.park_deg",
            s.drive.park_deg,
            format!("must be between the stops, from {lo} to {hi} deg"),
            &["drive.travel", from, to],
        ));
    }
    Ok(())
}
