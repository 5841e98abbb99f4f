//! Field rotation as JSON. Its schema describes every key.

use serde::Serialize;
use serde_json::Value;

use super::field::FieldReport;
use crate::result::{Format, Version, as_json, finite};
use halfturn_engine::rig::Rule;
use halfturn_engine::summary::PolicySummary;
use halfturn_engine::verdict::TargetState;
use halfturn_sky::field::{
    During, FieldMount, FieldRow, Follow, FollowFault, Followed, SettleWhileTurning, Unwind,
    WayEnd, fastest,
};
use halfturn_sky::time::Moment;

/// How the field of a target rotates.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub(crate) struct FieldResult<'a> {
    /// Version of the format.
    format: Format<1>,
    /// Version of the program.
    version: Version,
    /// Digest of the rig.
    #[cfg_attr(feature = "schema", schemars(regex(pattern = halfturn_engine::schema::DIGEST)))]
    rig_digest: String,
    /// Name of the target.
    target: &'a str,
    /// Right ascension of the target \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0, max = 360)))]
    ra_deg: f64,
    /// Declination of the target \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = -90, max = 90)))]
    dec_deg: f64,
    /// Position angle at the start \[deg\].
    position_angle_deg: f64,
    /// The mount.
    mount: MountKind,
    /// Largest smear at the corner that the user allows \[px\].
    #[cfg_attr(feature = "schema", schemars(extend("exclusiveMinimum" = 0)))]
    smear_px: f64,
    /// Fastest rotation in the whole session, between rows too \[deg/h\]; `None` if it has no bound.
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    fastest_deg_per_h: Option<f64>,
    /// When the field turns fastest.
    #[cfg_attr(feature = "schema", schemars(skip_serializing_if = "earlier"))]
    fastest_at: Moment,
    /// Longest exposure at that rate \[s\]; `None` without `[framing]` or without a limit.
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    shortest_exposure_s: Option<f64>,
    /// Within this distance of the zenith the drive cannot follow \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    zenith_zone_deg: f64,
    /// Every step.
    #[cfg_attr(feature = "schema", schemars(length(min = 1)))]
    rows: Vec<FieldStep>,
    /// A rotator that follows; `None` for an equatorial mount.
    follow: Option<Following<'a>>,
    /// The loop at the start; `None` for an equatorial mount.
    settle: Option<SettleLoops<'a>>,
}

/// A kind of mount.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
enum MountKind {
    /// By azimuth and altitude.
    AltAz,
    /// About the pole.
    Equatorial,
}

/// One step of the session.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct FieldStep {
    /// Time of the step.
    time: Moment,
    /// Hour angle \[h\].
    #[cfg_attr(feature = "schema", schemars(range(min = -12, max = 12)))]
    hour_angle_h: f64,
    /// Azimuth \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0, max = 360)))]
    azimuth_deg: f64,
    /// Altitude \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = -90, max = 90)))]
    altitude_deg: f64,
    /// Position angle of the zenith from the pole of date \[deg\].
    parallactic_deg: f64,
    /// Position angle of the zenith from ICRS north \[deg\].
    zenith_deg: f64,
    /// Rotation of the field \[deg/h\]; `None` if it has no bound.
    rate_deg_per_h: Option<f64>,
    /// Angle by which the field has turned since the start \[deg\].
    turned_deg: f64,
    /// Longest exposure at that rate \[s\]; `None` without `[framing]` or without a limit.
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    longest_exposure_s: Option<f64>,
    /// Reading of a rotator that follows \[deg\].
    reading_deg: Option<f64>,
    /// Whether the field turns faster than the drive can.
    too_fast: Option<bool>,
}

impl FieldStep {
    fn of(report: &FieldReport<'_>, row: &FieldRow, followed: Option<&Followed>) -> Self {
        let p = &row.pointing;
        Self {
            time: row.at,
            hour_angle_h: p.hour_angle_h,
            azimuth_deg: p.azimuth_deg,
            altitude_deg: p.altitude_deg,
            parallactic_deg: p.parallactic_deg,
            zenith_deg: p.zenith_deg,
            rate_deg_per_h: finite(row.rate_deg_per_h),
            turned_deg: row.turned_deg,
            longest_exposure_s: report.exposure_s(row.rate_deg_per_h),
            reading_deg: followed.map(|f| f.reading_deg),
            too_fast: followed.map(|f| f.too_fast),
        }
    }
}

/// A rotator that follows the field.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct Following<'a> {
    /// The wrap rule.
    rule: Rule,
    /// Turns to an equivalent framing, because the rotator met a limit.
    unwinds: &'a [Unwind],
    /// Where the rotator gets stuck, with no equivalent framing in reach; `None` if it does not.
    stuck: Option<Stuck>,
    /// Faults, in the order of their beginning.
    #[cfg_attr(feature = "schema", schemars(skip_serializing_if = "earlier"))]
    faults: Vec<FaultOfFollowing>,
    /// If the start has a fault: an equivalent framing that the drive could reach from the parking reading without
    /// one \[deg\].
    #[cfg_attr(feature = "schema", schemars(skip_serializing_if = "earlier"))]
    clear_first_deg: Option<f64>,
}

impl<'a> Following<'a> {
    fn of(rule: Rule, follow: &'a Follow) -> Self {
        Self {
            rule,
            unwinds: &follow.unwinds,
            stuck: follow.stuck.map(|(time, end)| Stuck { time, end }),
            faults: follow.faults.iter().map(FaultOfFollowing::of).collect(),
            clear_first_deg: follow.clear_first_deg,
        }
    }
}

/// Where the rotator gets stuck, with no equivalent framing in reach.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct Stuck {
    /// Time when it gets stuck.
    time: Moment,
    /// The limit that it met.
    end: WayEnd,
}

/// A fault of a rotator that follows.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct FaultOfFollowing {
    /// The state that this fault means.
    #[cfg_attr(feature = "schema", schemars(extend("enum" = ["turns-through-keep-out", "winds-too-far", "out-of-reach"])))]
    fault: TargetState,
    /// What the rotator does meanwhile.
    during: During,
    /// When it begins; for a turn, when the turn begins.
    at: Moment,
    /// Reading where it begins \[deg\]; for a refusal, the command that the stops refuse.
    reading_deg: f64,
    /// Reading where it ends \[deg\]; for a turn past the cable, the farthest.
    to_deg: f64,
    /// How long it lasts \[s\]; for a turn, the time of the turn.
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    lasts_s: f64,
}

impl FaultOfFollowing {
    fn of(f: &FollowFault) -> Self {
        Self {
            fault: f.fault.state(),
            during: f.during,
            at: f.at,
            reading_deg: f.reading_deg,
            to_deg: f.to_deg,
            lasts_s: f.lasts_s,
        }
    }
}

/// The settle loop at the start of the session.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct SettleLoops<'a> {
    /// Rotation of the field \[deg/s\].
    field_rotation_deg_per_s: f64,
    /// The loop with the field at rest.
    at_rest: &'a PolicySummary,
    /// The loop with the field turning.
    turning: &'a PolicySummary,
}

impl<'a> SettleLoops<'a> {
    fn of(settle: &'a SettleWhileTurning) -> Self {
        Self {
            field_rotation_deg_per_s: settle.rate_deg_per_s,
            at_rest: &settle.at_rest,
            turning: &settle.turning,
        }
    }
}

/// The result of `sky field-rotation`.
#[must_use]
pub fn field_json(report: &FieldReport<'_>) -> Value {
    let step = |(i, row)| FieldStep::of(report, row, report.follow.and_then(|f| f.rows.get(i)));
    let (fastest_at, fastest) = fastest(report.session);
    as_json(&FieldResult {
        format: Format,
        version: Version,
        rig_digest: report.rig.digest(),
        target: report.name,
        ra_deg: report.session.place.ra_deg,
        dec_deg: report.session.place.dec_deg,
        position_angle_deg: report.position_angle_deg,
        mount: match report.session.mount {
            FieldMount::AltAz => MountKind::AltAz,
            FieldMount::Equatorial(_) => MountKind::Equatorial,
        },
        smear_px: report.smear_px,
        fastest_deg_per_h: finite(fastest),
        fastest_at,
        shortest_exposure_s: report.exposure_s(fastest),
        zenith_zone_deg: report.zone_deg(),
        rows: report.rows.iter().enumerate().map(step).collect(),
        follow: report.follow.map(|f| Following::of(report.policy.rule, f)),
        settle: report.settle.map(SettleLoops::of),
    })
}
