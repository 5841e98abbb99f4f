//! The table of every key of a rig file: path, unit, range, help, and where its value lives.
//!
//! Reading a file, `--set`, range checks, the commented starter and the list in the documentation all use this table.

use std::str::FromStr;

use strum::VariantNames as _;

use super::format::NEWEST;
use super::input::is_printable_line;
use super::settings::{
    Approach, Framing, KeepOut, Periodic, RigSettings, Rule, Sense, TravelKind, When,
};
use crate::angle::MOST_ANGLE_DEG;

/// One key of the rig file.
#[derive(Debug, Clone, Copy)]
pub struct Key {
    /// Dotted path; `*` stands for an index in a list.
    pub path: &'static str,
    /// Unit of the value; empty if it has none.
    pub unit: &'static str,
    /// One line of help.
    pub help: &'static str,
    /// Type, range, and where the value lives in the settings.
    pub kind: ValueKind,
}

/// Type and range of a key, and the function that finds its value in the settings. The function takes the index in a
/// list, 0 elsewhere.
#[derive(Debug, Clone, Copy)]
pub enum ValueKind {
    /// A finite number.
    Number {
        /// Least value.
        low: Bound,
        /// Greatest value.
        high: f64,
        /// Finds the value.
        slot: fn(&mut RigSettings, usize) -> &mut f64,
    },
    /// A whole number.
    Count {
        /// Least value.
        low: u32,
        /// Greatest value.
        high: u32,
        /// Finds the value.
        slot: fn(&mut RigSettings, usize) -> &mut u32,
    },
    /// `1` or `-1`.
    Sign(fn(&mut RigSettings, usize) -> &mut Sense),
    /// One of some names.
    Choice {
        /// The names.
        names: &'static [&'static str],
        /// Stores the variant of a name; false if no variant has that name.
        set: fn(&mut RigSettings, &str) -> bool,
        /// The name of the current value.
        get: fn(&RigSettings) -> &'static str,
    },
    /// 1, 2 or 4, or not set.
    Symmetry,
    /// One of the stops: a number that exists only for travel between stops.
    Stop(fn(&mut RigSettings) -> &mut Option<f64>),
    /// Free text of one line.
    Text(fn(&mut RigSettings, usize) -> &mut String),
    /// Two numbers, or not set.
    Span {
        /// Least of both.
        low: f64,
        /// Greatest of both.
        high: f64,
        /// Finds the pair.
        slot: fn(&mut RigSettings, usize) -> &mut Option<[f64; 2]>,
    },
}

/// The lower end of a range.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Bound {
    /// This value or more.
    From(f64),
    /// This value or more, or exactly 0. A quotient by a value in between would be meaningless or infinite.
    ZeroOr(f64),
}

/// Longest text of a key, in characters.
pub(super) const TEXT_LENGTH: usize = 200;

/// Most entries of a list of the file.
pub(super) const MOST_ENTRIES: usize = 1000;

/// The message for a list with too many entries; `None` if the list is not too long.
pub(super) fn too_many(entries: usize) -> Option<String> {
    (entries > MOST_ENTRIES)
        .then(|| format!("has {entries} entries, but may have at most {MOST_ENTRIES}"))
}

impl ValueKind {
    /// The allowed values in words, with the unit.
    #[must_use]
    pub fn allowed(&self, unit: &str) -> String {
        let unit = if unit.is_empty() {
            String::new()
        } else {
            format!(" {unit}")
        };
        match self {
            Self::Number { low, high, .. } => match low {
                Bound::From(low) => format!("a number from {low} to {high}{unit}"),
                Bound::ZeroOr(low) => format!("0, or a number from {low} to {high}{unit}"),
            },
            Self::Count { low, high, .. } if low == high => format!("{low}"),
            Self::Count { low, high, .. } => format!("a whole number from {low} to {high}{unit}"),
            Self::Sign(_) => "1 or -1".to_owned(),
            Self::Choice { names, .. } => {
                let quoted: Vec<_> = names.iter().map(|n| format!("\"{n}\"")).collect();
                format!("one of {}", quoted.join(", "))
            }
            Self::Symmetry => "1, 2 or 4".to_owned(),
            Self::Stop(_) => format!("a number from -{MOST_ANGLE_DEG} to {MOST_ANGLE_DEG}{unit}"),
            Self::Text(_) => format!(
                "a text of one line, at most {TEXT_LENGTH} characters, without control characters"
            ),
            Self::Span { low, high, .. } => {
                format!("a list of two numbers from {low} to {high}{unit}")
            }
        }
    }

    /// Whether the current value is allowed.
    pub(super) fn accepts(&self, settings: &mut RigSettings, index: usize) -> bool {
        match self {
            Self::Number { low, high, slot } => {
                let v = *slot(settings, index);
                // False for NaN.
                match low {
                    Bound::From(low) => (*low..=*high).contains(&v),
                    Bound::ZeroOr(low) => v == 0.0 || (*low..=*high).contains(&v),
                }
            }
            Self::Count { low, high, slot } => (*low..=*high).contains(slot(settings, index)),
            Self::Sign(_) | Self::Choice { .. } => true,
            Self::Symmetry => matches!(settings.wrap.symmetry, None | Some(1 | 2 | 4)),
            Self::Stop(slot) => slot(settings).is_none_or(|v| v.abs() <= MOST_ANGLE_DEG),
            Self::Text(slot) => {
                let text = slot(settings, index);
                text.chars().count() <= TEXT_LENGTH && is_printable_line(text)
            }
            Self::Span { low, high, slot } => slot(settings, index)
                .is_none_or(|ends| ends.iter().all(|v| (*low..=*high).contains(v))),
        }
    }

    /// The current value as in a file; `None` if it is not set.
    pub(super) fn value(&self, settings: &mut RigSettings, index: usize) -> Option<toml::Value> {
        Some(match self {
            Self::Number { slot, .. } => toml::Value::Float(*slot(settings, index)),
            Self::Count { slot, .. } => toml::Value::Integer((*slot(settings, index)).into()),
            Self::Sign(slot) => toml::Value::Integer(match slot(settings, index) {
                Sense::Same => 1,
                Sense::Reversed => -1,
            }),
            Self::Choice { get, .. } => toml::Value::String(get(settings).to_owned()),
            Self::Symmetry => toml::Value::Integer(settings.wrap.symmetry?.into()),
            Self::Stop(slot) => toml::Value::Float((*slot(settings))?),
            Self::Text(slot) => toml::Value::String(slot(settings, index).clone()),
            Self::Span { slot, .. } => {
                let ends = (*slot(settings, index))?;
                toml::Value::Array(ends.iter().map(|v| toml::Value::Float(*v)).collect())
            }
        })
    }
}

fn store<T: FromStr>(place: &mut T, name: &str) -> bool {
    name.parse().map(|v| *place = v).is_ok()
}

/// The optional section. The first use creates it.
pub(super) fn framing(settings: &mut RigSettings) -> &mut Framing {
    settings.framing.get_or_insert(Framing {
        sensor_width_mm: 0.0,
        sensor_height_mm: 0.0,
        focal_length_mm: 0.0,
        pixel_um: 0.0,
        mosaic_overlap: 0.15,
    })
}

/// A list entry whose keys are still to be filled in.
pub(super) fn blank_periodic() -> Periodic {
    Periodic {
        cycles: 1.0,
        amplitude_deg: 0.0,
        phase_deg: 0.0,
    }
}

/// A list entry whose keys are still to be filled in.
pub(super) fn blank_keep_out() -> KeepOut {
    KeepOut {
        from_deg: 0.0,
        to_deg: 0.0,
        why: String::new(),
        when: When::default(),
    }
}

macro_rules! key {
    ($path:literal, $unit:literal, $help:literal, $kind:expr) => {
        Key {
            path: $path,
            unit: $unit,
            help: $help,
            kind: $kind,
        }
    };
}

macro_rules! number {
    ($path:literal, $unit:literal, $low:expr, $high:expr, |$s:ident, $i:pat_param| $place:expr, $help:literal) => {
        key!(
            $path,
            $unit,
            $help,
            ValueKind::Number {
                low: $low,
                high: $high,
                slot: |$s, $i| &mut $place
            }
        )
    };
}

macro_rules! count {
    ($path:literal, $low:expr, $high:expr, |$s:ident| $place:expr, $help:literal) => {
        key!(
            $path,
            "",
            $help,
            ValueKind::Count {
                low: $low,
                high: $high,
                slot: |$s, _| &mut $place
            }
        )
    };
}

macro_rules! choice {
    ($path:literal, $type:ty, |$s:ident| $place:expr, $help:literal) => {
        key!(
            $path,
            "",
            $help,
            ValueKind::Choice {
                names: <$type>::VARIANTS,
                set: |$s, name| store(&mut $place, name),
                get: |$s| $place.into(),
            }
        )
    };
}

use Bound::{From, ZeroOr};

/// Keys that a given section or list entry must have.
pub(super) const REQUIRED_IN_SECTION: &[&str] = &[
    "framing.sensor_width_mm",
    "framing.sensor_height_mm",
    "framing.focal_length_mm",
    "framing.pixel_um",
    "drive.periodic.*.cycles",
    "drive.periodic.*.amplitude_deg",
    "keep_out.*.from_deg",
    "keep_out.*.to_deg",
];

/// Every key, in the order of the file.
#[rustfmt::skip]
pub static KEYS: &[Key] = &[
    count!("format", NEWEST, NEWEST, |s| s.format, "version of this file format"),
    key!("name", "", "what you call the rig", ValueKind::Text(|s, _| &mut s.name)),

    number!("drive.step_deg", "deg", ZeroOr(1e-6), 45.0, |s, _| s.drive.step_deg, "smallest move of the drive; 0: no steps"),
    number!("drive.speed_deg_per_s", "deg/s", From(0.001), 1e4, |s, _| s.drive.speed_deg_per_s, "speed of the camera"),
    number!("drive.acceleration_deg_per_s2", "deg/s^2", ZeroOr(0.001), 1e6, |s, _| s.drive.acceleration_deg_per_s2, "acceleration; 0: constant speed"),
    number!("drive.overhead_s", "s", From(0.0), 3600.0, |s, _| s.drive.overhead_s, "fixed time per command"),
    number!("drive.backlash_deg", "deg", From(0.0), 45.0, |s, _| s.drive.backlash_deg, "full width"),
    number!("drive.repeatability_deg", "deg", From(0.0), 45.0, |s, _| s.drive.repeatability_deg, "error after a move, 1 sigma"),
    number!("drive.gain_error", "", From(-0.5), 0.5, |s, _| s.drive.gain_error, "share by which the camera turns too far"),
    number!("drive.periodic.*.cycles", "1/turn", From(0.001), 1000.0, |s, i| s.drive.periodic[i].cycles, "cycles per turn; 1 is an eccentric gear"),
    number!("drive.periodic.*.amplitude_deg", "deg", From(0.0), 45.0, |s, i| s.drive.periodic[i].amplitude_deg, "amplitude"),
    number!("drive.periodic.*.phase_deg", "deg", From(-MOST_ANGLE_DEG), MOST_ANGLE_DEG, |s, i| s.drive.periodic[i].phase_deg, "phase at drive angle 0"),
    key!("drive.sense", "", "1: position angle grows with the reading; -1: it falls", ValueKind::Sign(|s, _| &mut s.drive.sense)),
    number!("drive.zero_point_deg", "deg", From(-MOST_ANGLE_DEG), MOST_ANGLE_DEG, |s, _| s.drive.zero_point_deg, "position angle at drive angle 0"),
    number!("drive.zero_point_sigma_deg", "deg", From(0.0), 180.0, |s, _| s.drive.zero_point_sigma_deg, "error of the zero point before the first solve, 1 sigma"),
    number!("drive.park_deg", "deg", From(-MOST_ANGLE_DEG), MOST_ANGLE_DEG, |s, _| s.drive.park_deg, "reading where a run starts"),
    choice!("drive.travel", TravelKind, |s| s.drive.travel, "\"endless\", or \"stops\" with the two keys below"),
    number!("drive.winding_limit_deg", "deg", ZeroOr(1.0), MOST_ANGLE_DEG, |s, _| s.drive.winding_limit_deg, "how far the cable lets a reading go from the parking reading, either way; 0: no limit"),
    key!("drive.stop_from_deg", "deg", "lower stop", ValueKind::Stop(|s| &mut s.drive.stop_from_deg)),
    key!("drive.stop_to_deg", "deg", "upper stop", ValueKind::Stop(|s| &mut s.drive.stop_to_deg)),

    number!("solve.noise_deg", "deg", From(0.0), 90.0, |s, _| s.solve.noise_deg, "error of a solved position angle, 1 sigma"),
    number!("solve.bias_deg", "deg", From(-180.0), 180.0, |s, _| s.solve.bias_deg, "constant error of a solved position angle"),
    number!("solve.outlier_rate", "", From(0.0), 1.0, |s, _| s.solve.outlier_rate, "share of solves that are outliers"),
    number!("solve.outlier_deg", "deg", From(0.0), 180.0, |s, _| s.solve.outlier_deg, "error of an outlier, 1 sigma"),
    number!("solve.failure_rate", "", From(0.0), 1.0, |s, _| s.solve.failure_rate, "chance that one attempt fails"),
    number!("solve.exposure_s", "s", From(0.0), 3600.0, |s, _| s.solve.exposure_s, "exposure of one attempt"),
    number!("solve.solve_s", "s", From(0.0), 3600.0, |s, _| s.solve.solve_s, "time to solve after the exposure"),
    number!("solve.failure_s", "s", From(0.0), 3600.0, |s, _| s.solve.failure_s, "time lost after the exposure of a failed attempt"),
    count!("solve.max_failures", 1, 1000, |s| s.solve.max_failures, "failures in a row that end a run"),

    number!("loop.tolerance_deg", "deg", From(1e-6), 180.0, |s, _| s.loop_.tolerance_deg, "largest accepted residual"),
    count!("loop.max_solves", 1, 10_000, |s| s.loop_.max_solves, "good solves after which the loop gives up"),
    count!("loop.confirm", 1, 1000, |s| s.loop_.confirm, "passes in a row that settle a run"),
    number!("loop.correction", "", From(0.001), 2.0, |s, _| s.loop_.correction, "share of the residual that a correction turns"),
    key!("loop.believed_sense", "", "sense that the controller believes in", ValueKind::Sign(|s, _| &mut s.loop_.believed_sense)),
    choice!("loop.approach", Approach, |s| s.loop_.approach, "\"direct\", \"from-below\" or \"from-above\""),
    number!("loop.overrun_deg", "deg", From(0.0), 180.0, |s, _| s.loop_.overrun_deg, "how far a one-sided approach starts from its goal"),
    number!("loop.field_rotation_deg_per_s", "deg/s", From(-1.0), 1.0, |s, _| s.loop_.field_rotation_deg_per_s, "rotation of the field while the loop runs"),

    choice!("wrap.rule", Rule, |s| s.wrap.rule, "\"half-circle\", \"full-circle\", \"hysteresis-band\" or \"fold-once\""),
    number!("wrap.arc_start_deg", "deg", From(-MOST_ANGLE_DEG), MOST_ANGLE_DEG, |s, _| s.wrap.arc_start_deg, "drive angle where the arc starts"),
    number!("wrap.band_deg", "deg", From(0.0), 360.0, |s, _| s.wrap.band_deg, "how far a correction may leave the arc (hysteresis-band)"),
    key!("wrap.symmetry", "", "camera angles in a turn that frame the same field; unset: full-circle 1, the others 2", ValueKind::Symmetry),

    number!("keep_out.*.from_deg", "deg", From(-MOST_ANGLE_DEG), MOST_ANGLE_DEG, |s, i| s.keep_out[i].from_deg, "reading where the sector starts"),
    number!("keep_out.*.to_deg", "deg", From(-MOST_ANGLE_DEG), MOST_ANGLE_DEG, |s, i| s.keep_out[i].to_deg, "reading where it ends, going upwards"),
    key!("keep_out.*.why", "", "what is in the way", ValueKind::Text(|s, i| &mut s.keep_out[i].why)),
    key!("keep_out.*.when.hour_angle_h", "h", "hour angles, from and to, at which it is in the way; unset: all", ValueKind::Span { low: -12.0, high: 12.0, slot: |s, i| &mut s.keep_out[i].when.hour_angle_h }),
    key!("keep_out.*.when.altitude_deg", "deg", "altitudes, from and to, at which it is in the way; unset: all", ValueKind::Span { low: -90.0, high: 90.0, slot: |s, i| &mut s.keep_out[i].when.altitude_deg }),

    number!("framing.sensor_width_mm", "mm", From(0.1), 1000.0, |s, _| framing(s).sensor_width_mm, "width of the sensor"),
    number!("framing.sensor_height_mm", "mm", From(0.1), 1000.0, |s, _| framing(s).sensor_height_mm, "height of the sensor"),
    number!("framing.focal_length_mm", "mm", From(1.0), 1e5, |s, _| framing(s).focal_length_mm, "focal length"),
    number!("framing.pixel_um", "um", From(0.01), 1000.0, |s, _| framing(s).pixel_um, "side of a pixel"),
    number!("framing.mosaic_overlap", "", From(0.0), 0.9, |s, _| framing(s).mosaic_overlap, "share of a side that neighbouring panels overlap"),
];

/// The key of a dotted path that may hold an index, and the index; 0 without one.
#[must_use]
pub(super) fn find(path: &str) -> Option<(&'static Key, usize)> {
    let (pattern, index) = pattern(path)?;
    KEYS.iter()
        .find(|k| k.path == pattern)
        .map(|key| (key, index.unwrap_or(0)))
}

/// A path with `*` in place of its index, and the index; `None` if the path holds a `*` already.
///
/// An index has one form only: `0`, not `00` or `+0`.
pub(super) fn pattern(path: &str) -> Option<(String, Option<usize>)> {
    let mut index = None;
    let mut parts = Vec::new();
    for part in path.split('.') {
        match part.parse::<usize>() {
            Ok(i) if i.to_string() == part => {
                index = Some(i);
                parts.push("*");
            }
            _ if part == "*" => return None,
            _ => parts.push(part),
        }
    }
    Some((parts.join("."), index))
}
