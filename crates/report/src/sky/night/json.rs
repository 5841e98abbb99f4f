//! A night as JSON. Its schema describes every key.

use serde::Serialize;
use serde_json::Value;

use super::{NightHead, name};
use crate::result::{Format, Version, as_json};
use halfturn_engine::rig::Rule;
use halfturn_engine::verdict::{Limits, TargetState};
use halfturn_sky::night::{
    Mount, NightPlan, NightSummary, NotUsable, Rotation, RuleNight, Stretch,
};
use halfturn_sky::pointing::{DarkHours, Pointing, Site, Twilight};
use halfturn_sky::time::{LocalTime, Moment};

/// A night, stretch by stretch, under every rule.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub(crate) struct NightResult<'a> {
    /// Version of the format.
    format: Format<2>,
    /// Version of the program.
    version: Version,
    /// Digest of the rig.
    #[cfg_attr(feature = "schema", schemars(regex(pattern = halfturn_engine::schema::DIGEST)))]
    rig_digest: String,
    /// Seed of the random numbers.
    seed: u64,
    /// Number of nights run.
    #[cfg_attr(feature = "schema", schemars(range(min = 1)))]
    trials: u64,
    /// Where the telescope stands.
    site: SitePlace<'a>,
    /// Day on which the night begins.
    #[cfg_attr(
        feature = "schema",
        schemars(regex(pattern = "^-?[0-9]{4,}-[0-9]{2}-[0-9]{2}$"))
    )]
    date: String,
    /// Start of the first target.
    start: Moment,
    /// Dusk and dawn of every kind of twilight.
    twilight: Twilights,
    /// The last twilight that ends; `None` if the Sun does not set.
    darkest: Option<Twilight>,
    /// Altitude below which a target cannot be used \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0, max = 90)))]
    least_altitude_deg: f64,
    /// Local time minus universal time, as `+02:00`; `None` if it was not given.
    local_time: Option<String>,
    /// The Moon.
    moon: MoonOfNight,
    /// Numbers of the targets in the list, from 1, in the order that loses least; `None` if the order was given.
    best_order: Option<&'a [usize]>,
    /// The mount.
    mount: MountKind,
    /// Whether the zero point is kept from target to target.
    learn: bool,
    /// What counts as safe.
    limits: Limits,
    /// The timetable, in the order of time.
    #[cfg_attr(feature = "schema", schemars(length(min = 1)))]
    stretches: Vec<StretchOfNight<'a>>,
    /// The night under every rule.
    #[cfg_attr(feature = "schema", schemars(length(min = 1)))]
    rules: Vec<NightUnderRule<'a>>,
    /// Of the rules under which every stretch is safe, the one that loses least clear sky; `None` if no rule is safe.
    best_rule: Option<Rule>,
    /// Whether every stretch can be used and is safe under the rule of the rig, else under the first of the rules.
    holds: bool,
}

/// Where the telescope stands.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct SitePlace<'a> {
    /// Name of the site.
    name: &'a str,
    /// Geodetic latitude \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = -90, max = 90)))]
    latitude_deg: f64,
    /// Longitude, east positive \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = -180, max = 360)))]
    longitude_deg: f64,
    /// Elevation \[m\].
    elevation_m: f64,
}

impl<'a> SitePlace<'a> {
    fn of(name: &'a str, site: &Site) -> Self {
        Self {
            name,
            latitude_deg: site.latitude_deg(),
            longitude_deg: site.longitude_deg(),
            elevation_m: site.elevation_m(),
        }
    }
}

/// Every kind of twilight.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct Twilights {
    /// The Sun's upper edge at the horizon.
    sunset: TwilightEnds,
    /// The Sun 6 degrees below it.
    civil: TwilightEnds,
    /// The Sun 12 degrees below it.
    nautical: TwilightEnds,
    /// The Sun 18 degrees below it.
    astronomical: TwilightEnds,
}

impl Twilights {
    fn of(dark: &DarkHours) -> Self {
        let ends = |kind| {
            let mut all = dark.all();
            let crossings = all.find(|(found, _)| *found == kind);
            let (dusk, dawn) = crossings.map_or((None, None), |(_, ends)| ends);
            TwilightEnds { dusk, dawn }
        };
        Self {
            sunset: ends(Twilight::Sunset),
            civil: ends(Twilight::Civil),
            nautical: ends(Twilight::Nautical),
            astronomical: ends(Twilight::Astronomical),
        }
    }
}

/// When the Sun goes below an altitude and comes up again.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct TwilightEnds {
    /// When it goes below; `None` if it does not.
    dusk: Option<Moment>,
    /// When it comes up; `None` if it does not.
    dawn: Option<Moment>,
}

/// The Moon of a night.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct MoonOfNight {
    /// Share of the disc that the Sun lights, in the middle of the night.
    #[cfg_attr(feature = "schema", schemars(range(min = 0, max = 1)))]
    lit: f64,
    /// Whether that share grows.
    waxes: bool,
    /// When its middle comes above the horizon, from noon to noon; `None` if it does not.
    rises: Option<Moment>,
    /// When it goes below; `None` if it does not.
    sets: Option<Moment>,
}

/// A kind of mount.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
enum MountKind {
    /// A mount that flips at the meridian.
    German,
    /// A mount that follows through the meridian.
    Fork,
}

/// One stretch of the timetable.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct StretchOfNight<'a> {
    /// Name of the target.
    target: &'a str,
    /// Its position angle \[deg\].
    position_angle_deg: f64,
    /// When it begins.
    begin: Moment,
    /// When it ends.
    end: Moment,
    /// Whether the telescope is on the other side of the pier.
    flipped: bool,
    /// Whether it begins with a flip.
    after_flip: bool,
    /// Where the telescope points when it begins.
    at_begin: PointingOfStretch,
    /// Where the telescope points when it ends.
    at_end: PointingOfStretch,
    /// Time before it for slew or flip, and focus \[s\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    setup_s: f64,
    /// Altitude of the Moon in its middle \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = -90, max = 90)))]
    moon_altitude_deg: f64,
    /// Distance of the target from the Moon in its middle \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0, max = 180)))]
    moon_distance_deg: f64,
    /// Lowest altitude \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = -90, max = 90)))]
    lowest_deg: f64,
    /// Why it cannot be used; empty if it can.
    not_usable: &'a [NotUsable],
}

impl<'a> StretchOfNight<'a> {
    fn of(plan: &'a NightPlan, (s, moon): (&'a Stretch, &(f64, f64))) -> Self {
        Self {
            setup_s: s.setup_s,
            moon_altitude_deg: moon.0,
            moon_distance_deg: moon.1,
            target: name(plan, s),
            position_angle_deg: plan.targets[s.target].position_angle_deg,
            begin: s.begin,
            end: s.end,
            flipped: s.flipped,
            after_flip: s.after_flip,
            at_begin: PointingOfStretch::of(&s.at_begin),
            at_end: PointingOfStretch::of(&s.at_end),
            lowest_deg: s.lowest_deg(),
            not_usable: &s.not_usable,
        }
    }
}

/// Where the telescope points.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct PointingOfStretch {
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
    /// Position angle of the pole of date from ICRS north \[deg\].
    pole_of_date_deg: f64,
}

impl PointingOfStretch {
    fn of(p: &Pointing) -> Self {
        Self {
            hour_angle_h: p.hour_angle_h,
            azimuth_deg: p.azimuth_deg,
            altitude_deg: p.altitude_deg,
            parallactic_deg: p.parallactic_deg,
            pole_of_date_deg: p.pole_of_date_deg(),
        }
    }
}

/// The night under one rule.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct NightUnderRule<'a> {
    /// The wrap rule.
    rule: Rule,
    /// Number of orientations in a turn that frame the same field.
    #[cfg_attr(feature = "schema", schemars(extend("enum" = [1, 2, 4])))]
    symmetry: u32,
    /// Start of the arc \[deg\].
    arc_start_deg: f64,
    /// The planned turns, one for every stretch.
    #[cfg_attr(feature = "schema", schemars(length(min = 1)))]
    rotations: Vec<PlannedTurn<'a>>,
    /// Largest distance of a planned reading from the parking reading \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    planned_winding_deg: f64,
    /// The worst state of its stretches.
    verdict: TargetState,
    /// The figures of many nights.
    night: &'a NightSummary,
}

impl<'a> NightUnderRule<'a> {
    fn of(rule: &'a RuleNight) -> Self {
        let course = &rule.course;
        Self {
            rule: course.policy.rule,
            symmetry: course.policy.symmetry,
            arc_start_deg: course.policy.arc_start_deg,
            rotations: course.rotations.iter().map(PlannedTurn::of).collect(),
            planned_winding_deg: course.winding_deg,
            verdict: rule.state(),
            night: &rule.summary,
        }
    }
}

/// The planned turn at the start of a stretch.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct PlannedTurn<'a> {
    /// Reading before the turn \[deg\].
    from_deg: f64,
    /// Commanded drive angle \[deg\].
    drive_deg: f64,
    /// Reading after the turn \[deg\].
    to_deg: f64,
    /// Whether the stops refuse the command.
    refused: bool,
    /// Distance from the nearer end of the arc \[deg\]; `None` without a seam.
    seam_distance_deg: Option<f64>,
    /// Indexes of the keep-outs that count, from 0.
    keep_outs_in_force: &'a [usize],
    /// Degrees turned inside these keep-outs \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    keep_out_deg: f64,
    /// Whether it stands inside one of them for a time.
    rests_in_keep_out: bool,
}

impl<'a> PlannedTurn<'a> {
    fn of(r: &'a Rotation) -> Self {
        Self {
            from_deg: r.from_deg,
            drive_deg: r.drive_deg,
            to_deg: r.to_deg,
            refused: r.refused,
            seam_distance_deg: r.seam_distance_deg,
            keep_outs_in_force: &r.in_force,
            keep_out_deg: r.keep_out_deg,
            rests_in_keep_out: r.rests_in_keep_out,
        }
    }
}

/// The result of `sky night`.
#[must_use]
pub fn night_json(head: &NightHead<'_>, plan: &NightPlan) -> Value {
    let request = head.request;
    let stretches = plan.stretches.iter().zip(&plan.moon.stretches);
    as_json(&NightResult {
        format: Format,
        version: Version,
        rig_digest: head.rig.digest(),
        seed: request.batch.seed,
        trials: request.batch.trials,
        site: SitePlace::of(head.site_name, &request.night.site),
        date: head.date.date(),
        start: request.night.start,
        twilight: Twilights::of(head.dark),
        darkest: request.night.dark.kind,
        least_altitude_deg: request.night.least_altitude_deg,
        local_time: head.local.map(LocalTime::offset),
        moon: MoonOfNight {
            lit: plan.moon.at_midnight.lit,
            waxes: plan.moon.at_midnight.waxes,
            rises: plan.moon.rises,
            sets: plan.moon.sets,
        },
        best_order: plan.best_order.as_ref().map(|b| b.numbers.as_slice()),
        mount: match request.night.mount {
            Mount::German { .. } => MountKind::German,
            Mount::Fork => MountKind::Fork,
        },
        learn: request.knowledge.learn,
        limits: request.limits,
        stretches: stretches.map(|s| StretchOfNight::of(plan, s)).collect(),
        rules: plan.rules.iter().map(NightUnderRule::of).collect(),
        best_rule: plan.best().map(|r| r.course.policy.rule),
        holds: plan.holds(),
    })
}
