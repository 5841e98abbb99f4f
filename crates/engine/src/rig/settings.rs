//! The rig as the user describes it: one field for every key of the rig file.
//!
//! Names carry the units. `keys.rs` has ranges, help and the mapping to the file. A [`super::Rig`] holds settings
//! that have passed the checks.

use serde::{Deserialize, Serialize};

use crate::angle::TURN_DEG;

/// All keys of a rig file. The default is a typical rig without periodic error.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct RigSettings {
    /// Version of the file format; 1.
    pub format: u32,
    /// What the user calls the rig.
    pub name: String,
    /// Drive and mechanics.
    pub drive: DriveSettings,
    /// Exposure and plate solve.
    pub solve: SolveSettings,
    /// The correction loop.
    #[serde(rename = "loop")]
    pub loop_: LoopSettings,
    /// The wrap rule and its arc.
    pub wrap: WrapSettings,
    /// Sectors of readings that the rotator should stay out of.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub keep_out: Vec<KeepOut>,
    /// Sensor and focal length, to show angles as pixels.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub framing: Option<Framing>,
}

/// `[drive]`: drive and mechanics (docs/model.md, section 2).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct DriveSettings {
    /// Smallest move of the drive \[deg\]; 0 for a drive without steps.
    pub step_deg: f64,
    /// Speed of the output shaft \[deg/s\].
    pub speed_deg_per_s: f64,
    /// Acceleration \[deg/s^2\]; 0 for constant speed.
    pub acceleration_deg_per_s2: f64,
    /// Fixed time per command \[s\].
    pub overhead_s: f64,
    /// Full width of the backlash \[deg\].
    pub backlash_deg: f64,
    /// Error after a move, one standard deviation \[deg\].
    pub repeatability_deg: f64,
    /// Share by which the camera turns too far.
    pub gain_error: f64,
    /// Periodic errors of the shaft.
    pub periodic: Vec<Periodic>,
    /// True direction: whether the position angle grows or falls with the drive angle.
    pub sense: Sense,
    /// Position angle at drive angle 0, as the controller believes it \[deg\].
    pub zero_point_deg: f64,
    /// Uncertainty of the zero point at the first target after set-up, one standard deviation \[deg\].
    pub zero_point_sigma_deg: f64,
    /// Reading where a run starts \[deg\].
    pub park_deg: f64,
    /// Endless, or between stops.
    pub travel: TravelKind,
    /// How far a reading may be from the parking reading, either way, before a cable is taut \[deg\]; 0 for no limit.
    pub winding_limit_deg: f64,
    /// Lower stop \[deg\]; `None` for an endless drive.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stop_from_deg: Option<f64>,
    /// Upper stop \[deg\]; `None` for an endless drive.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stop_to_deg: Option<f64>,
}

/// One periodic error: `amplitude * sin(cycles * y + phase)`, with `y` the output side of the backlash.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Periodic {
    /// Cycles per turn of the shaft.
    pub cycles: f64,
    /// Amplitude \[deg\].
    pub amplitude_deg: f64,
    /// Phase at shaft angle 0 \[deg\].
    pub phase_deg: f64,
}

/// `[solve]`: exposure and plate solve (docs/model.md, section 3).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct SolveSettings {
    /// Error of a solved position angle, one standard deviation \[deg\].
    pub noise_deg: f64,
    /// Constant error of a solved position angle \[deg\].
    pub bias_deg: f64,
    /// Share of solves that are outliers.
    pub outlier_rate: f64,
    /// Error of an outlier, one standard deviation \[deg\].
    pub outlier_deg: f64,
    /// Chance that one attempt fails.
    pub failure_rate: f64,
    /// Exposure of one attempt \[s\].
    pub exposure_s: f64,
    /// Time to solve, after the exposure \[s\].
    pub solve_s: f64,
    /// Time that a failed attempt takes after the exposure \[s\].
    pub failure_s: f64,
    /// Failures in a row that end a run.
    pub max_failures: u32,
}

impl SolveSettings {
    /// Time of an attempt that succeeds \[s\].
    #[inline(always)]
    #[must_use]
    pub fn good_attempt_s(&self) -> f64 {
        self.exposure_s + self.solve_s
    }

    /// Time of an attempt that fails \[s\].
    #[inline(always)]
    #[must_use]
    pub fn failed_attempt_s(&self) -> f64 {
        self.exposure_s + self.failure_s
    }
}

/// `[loop]`: the correction loop (docs/model.md, section 4).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct LoopSettings {
    /// Largest accepted residual \[deg\].
    pub tolerance_deg: f64,
    /// Good solves after which the loop gives up.
    pub max_solves: u32,
    /// Solves in a row that must be within the tolerance before the run settles.
    pub confirm: u32,
    /// Share of the residual that a correction takes away.
    pub correction: f64,
    /// Direction that the controller believes in.
    pub believed_sense: Sense,
    /// How a command comes to its goal.
    pub approach: Approach,
    /// How far a one-sided approach first goes beyond the goal \[deg\].
    pub overrun_deg: f64,
    /// Rotation of the field while the loop runs \[deg/s\].
    pub field_rotation_deg_per_s: f64,
}

/// `[wrap]`: the wrap rule and its arc (docs/model.md, section 5).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct WrapSettings {
    /// The rule.
    pub rule: Rule,
    /// Where the allowed arc starts \[deg\].
    pub arc_start_deg: f64,
    /// How far a correction may leave the arc before it folds \[deg\]; only the hysteresis band uses it.
    pub band_deg: f64,
    /// Number of orientations in a turn that frame the same field: 1, 2 or 4; `None` for the rule's default.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub symmetry: Option<u32>,
}

impl WrapSettings {
    /// Width of the allowed arc \[deg\].
    pub(crate) fn arc_width_deg(&self) -> f64 {
        match self.rule {
            Rule::FullCircle => TURN_DEG,
            rule => TURN_DEG / f64::from(self.symmetry.unwrap_or(rule.default_symmetry())),
        }
    }
}

/// `[[keep_out]]`: a sector of readings from `from_deg` up to `to_deg`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KeepOut {
    /// Where the sector starts \[deg\].
    pub from_deg: f64,
    /// Where the sector ends \[deg\]. With endless travel, an end below the start means that the sector crosses 0.
    pub to_deg: f64,
    /// What is in the way.
    pub why: String,
    /// Where the telescope must point for the sector to count. The default is everywhere.
    #[serde(default, skip_serializing_if = "When::is_everywhere")]
    pub when: When,
}

/// `when` of a keep-out: the pointings at which its sector counts. Both conditions must hold. A missing condition
/// always holds.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct When {
    /// Hour angle from the first value up to the second \[h\]. A second value below the first means across ±12 h.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hour_angle_h: Option<[f64; 2]>,
    /// Altitude, from and to \[deg\].
    #[serde(skip_serializing_if = "Option::is_none")]
    pub altitude_deg: Option<[f64; 2]>,
}

impl When {
    /// Whether no condition is given.
    #[must_use]
    pub fn is_everywhere(&self) -> bool {
        *self == Self::default()
    }

    /// Whether the sector counts at this pointing, ends included.
    #[must_use]
    pub fn holds(&self, hour_angle_h: f64, altitude_deg: f64) -> bool {
        let hour = self.hour_angle_h.is_none_or(|[from, to]| {
            if from <= to {
                (from..=to).contains(&hour_angle_h)
            } else {
                hour_angle_h >= from || hour_angle_h <= to
            }
        });
        let altitude = self
            .altitude_deg
            .is_none_or(|[from, to]| (from..=to).contains(&altitude_deg));
        hour && altitude
    }
}

/// `[framing]`: sensor, focal length and overlap, which say what an angle does to the image.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Framing {
    /// Width of the sensor \[mm\].
    pub sensor_width_mm: f64,
    /// Height of the sensor \[mm\].
    pub sensor_height_mm: f64,
    /// Focal length \[mm\].
    pub focal_length_mm: f64,
    /// Side of a pixel \[µm\].
    pub pixel_um: f64,
    /// Share of a side by which neighbouring panels of a mosaic overlap.
    pub mosaic_overlap: f64,
}

impl Framing {
    /// How far the corner of the frame moves on the sensor when the camera turns by `angle_deg` \[px\].
    ///
    /// This is the chord of half the diagonal `r`: `2 r sin(angle / 2)`.
    #[must_use]
    pub fn corner_shift_px(&self, angle_deg: f64) -> f64 {
        let half_diagonal_mm = 0.5 * libm::hypot(self.sensor_width_mm, self.sensor_height_mm);
        let chord_mm = 2.0 * half_diagonal_mm * crate::angle::sin_deg(0.5 * angle_deg).abs();
        chord_mm * 1000.0 / self.pixel_um
    }
}

/// A direction of turning.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sense {
    /// The position angle grows with the drive angle: `1`.
    Same,
    /// The position angle falls as the drive angle grows: `-1`.
    Reversed,
}

impl Sense {
    /// `+1.0` or `-1.0`.
    #[inline]
    #[must_use]
    pub fn factor(self) -> f64 {
        match self {
            Self::Same => 1.0,
            Self::Reversed => -1.0,
        }
    }

    /// The other sense.
    pub(crate) fn other(self) -> Self {
        match self {
            Self::Same => Self::Reversed,
            Self::Reversed => Self::Same,
        }
    }
}

impl Serialize for Sense {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_i8(match self {
            Self::Same => 1,
            Self::Reversed => -1,
        })
    }
}

#[cfg(feature = "schema")]
impl schemars::JsonSchema for Sense {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Sense".into()
    }
    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({ "enum": [1, -1] })
    }
}

impl<'de> Deserialize<'de> for Sense {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        match i8::deserialize(deserializer)? {
            1 => Ok(Self::Same),
            -1 => Ok(Self::Reversed),
            other => Err(serde::de::Error::custom(format!(
                "{other} is neither 1 nor -1"
            ))),
        }
    }
}

/// What limits the travel of the drive.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[derive(strum::Display, strum::EnumString, strum::IntoStaticStr, strum::VariantNames)]
#[strum(serialize_all = "kebab-case")]
pub enum TravelKind {
    /// Nothing: the drive takes the short way, without end.
    Endless,
    /// Two stops.
    Stops,
}

/// How a command comes to its goal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[derive(strum::Display, strum::EnumString, strum::IntoStaticStr, strum::VariantNames)]
#[strum(serialize_all = "kebab-case")]
pub enum Approach {
    /// Straight to the goal.
    Direct,
    /// The move ends upwards: the drive first goes below the goal.
    FromBelow,
    /// The move ends downwards: the drive first goes above the goal.
    FromAbove,
}

/// The four wrap rules.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[derive(
    strum::Display,
    strum::EnumString,
    strum::IntoStaticStr,
    strum::VariantArray,
    strum::VariantNames,
)]
#[strum(serialize_all = "kebab-case")]
pub enum Rule {
    /// Every orientation has one drive angle. Nothing folds by half a turn.
    FullCircle,
    /// Every command folds into an arc that is one period wide.
    HalfCircle,
    /// As the half circle, but a correction may leave the arc by a band.
    HysteresisBand,
    /// Only the first move of a run folds.
    FoldOnce,
}

impl Rule {
    /// All rules, in the order of every table.
    pub const ALL: &[Self] = <Self as strum::VariantArray>::VARIANTS;

    /// The symmetry of the rule if the rig sets none.
    #[must_use]
    pub fn default_symmetry(self) -> u32 {
        match self {
            Self::FullCircle => 1,
            Self::HalfCircle | Self::HysteresisBand | Self::FoldOnce => 2,
        }
    }
}
