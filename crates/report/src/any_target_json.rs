//! The result of `advise` for any target as JSON. Its schema describes every key.

use serde::Serialize;
use serde_json::Value;

use super::advice::{any_target_headline, rule_anywhere};
use super::result::{Format, Version, as_json};
use halfturn_engine::advise::{AnyTarget, Circle, MOST_HUNTING, Part, RuleAnywhere};
use halfturn_engine::rig::{Approach, KeyDifference, Rule};
use halfturn_engine::summary::Rate;
use halfturn_engine::verdict::{Limits, Standing, TargetState};

/// A rig at every target angle.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub(crate) struct AnyTargetResult<'a> {
    /// Version of the format.
    format: Format<1>,
    /// Version of the program.
    version: Version,
    /// Digest of the rig as given.
    #[cfg_attr(feature = "schema", schemars(regex(pattern = halfturn_engine::schema::DIGEST)))]
    rig_digest: String,
    /// Seed of the random numbers.
    seed: u64,
    /// Runs at every angle that is run.
    #[cfg_attr(feature = "schema", schemars(range(min = 1)))]
    trials: u64,
    /// What counts as safe.
    limits: Limits,
    /// Share of the runs that may hunt at any angle.
    most_hunting: f64,
    /// Whether settings were found that serve every angle; the exit code is then 0.
    serves: bool,
    /// The answer in a sentence or two.
    headline: String,
    /// The keys to change; `None` where no settings serve.
    changes: Option<&'a [KeyDifference]>,
    /// Every rule.
    #[cfg_attr(feature = "schema", schemars(length(equal = 4)))]
    rules: Vec<RuleAtAnyAngle>,
}

/// A rule at every target angle.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct RuleAtAnyAngle {
    /// The rule.
    rule: Rule,
    /// What it can do, in words.
    sentence: String,
    /// With the rig's arc, band and tolerance.
    now: AllAngles,
    /// With the best settings that were found for it.
    best: AllAngles,
}

/// All target angles under one setting.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct AllAngles {
    /// Start of the arc \[deg\].
    arc_start_deg: f64,
    /// Position angles this far apart share a drive angle \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    width_deg: f64,
    /// How far a correction may leave the arc before it folds \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    band_deg: f64,
    /// Largest accepted residual \[deg\].
    #[cfg_attr(feature = "schema", schemars(extend("exclusiveMinimum" = 0)))]
    tolerance_deg: f64,
    /// How the drive approaches its goal.
    approach: Approach,
    /// Whether the arc has no seam.
    no_seam: bool,
    /// Farther than this from the seam a closed form holds hunting below `most_hunting` \[deg\]; `None` where it holds nothing.
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    beyond_deg: Option<f64>,
    /// Whether every angle is safe and none hunts in more than `most_hunting`.
    serves: bool,
    /// Share of the angles that are safe.
    safe: AngleShare,
    /// Share of the angles that hunt.
    hunting: AngleShare,
    /// Share of the angles that may hunt in more than `most_hunting`.
    above: AngleShare,
    /// Hunting at the worst angle; `None` where no angle lies near a seam.
    worst_hunting: Option<Rate>,
    /// Neighbouring angles of one state.
    #[cfg_attr(feature = "schema", schemars(length(min = 1)))]
    zones: Vec<AngleZone>,
    /// The judged angles.
    #[cfg_attr(feature = "schema", schemars(length(min = 1)))]
    points: Vec<AtAngle>,
}

/// A share of all angles.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(transform = halfturn_engine::schema::shares))]
struct AngleShare {
    /// The share.
    share: f64,
    /// What it may be off by, from the distance of the angles at its edges.
    error: f64,
}

/// Neighbouring angles of one state.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct AngleZone {
    /// First position angle \[deg\].
    from_deg: f64,
    /// Last position angle \[deg\]; less than the first where the zone goes through 0.
    to_deg: f64,
    /// The state of a target there.
    state: TargetState,
}

/// One judged angle.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct AtAngle {
    /// Position angle \[deg\].
    position_angle_deg: f64,
    /// Drive angle of the first move \[deg\].
    drive_deg: f64,
    /// The state of a target there.
    state: TargetState,
    /// Share of the runs that hunt.
    hunting: Rate,
    /// Whether the loop was solved. If not, it was run.
    solved: bool,
}

/// The result of `advise` for any target.
#[must_use]
pub fn any_target_json(found: &AnyTarget) -> Value {
    as_json(&AnyTargetResult {
        format: Format,
        version: Version,
        rig_digest: found.rig.digest(),
        seed: found.request.batch.seed,
        trials: found.request.batch.trials,
        limits: found.request.limits,
        most_hunting: MOST_HUNTING,
        serves: found.advised.is_some(),
        headline: any_target_headline(found),
        changes: found.advised.as_ref().map(|_| found.changes.as_slice()),
        rules: found.rules.iter().map(RuleAtAnyAngle::of).collect(),
    })
}

impl RuleAtAnyAngle {
    fn of(rule: &RuleAnywhere) -> Self {
        Self {
            rule: rule.now.policy.rule,
            sentence: rule_anywhere(rule),
            now: AllAngles::of(&rule.now),
            best: AllAngles::of(&rule.best),
        }
    }
}

impl AllAngles {
    fn of(circle: &Circle) -> Self {
        let loop_ = &circle.rig.settings().loop_;
        let share = |is: fn(&Part) -> bool| AngleShare {
            share: circle.share(is),
            error: circle.share_error(is),
        };
        Self {
            arc_start_deg: circle.policy.arc_start_deg,
            width_deg: circle.width_deg,
            band_deg: circle.policy.band_deg,
            tolerance_deg: loop_.tolerance_deg,
            approach: loop_.approach,
            no_seam: circle.no_seam,
            beyond_deg: circle.beyond_deg,
            serves: circle.serves(),
            safe: share(Part::is_safe),
            hunting: share(|p| p.hunting == Standing::Exceeds),
            above: share(|p| p.above),
            worst_hunting: circle.worst_hunting(),
            zones: circle
                .zones()
                .into_iter()
                .map(|z| AngleZone {
                    from_deg: z.from_deg,
                    to_deg: z.to_deg,
                    state: z.state,
                })
                .collect(),
            points: circle
                .points
                .iter()
                .map(|p| AtAngle {
                    position_angle_deg: p.position_angle_deg,
                    drive_deg: p.drive_deg,
                    state: p.part.state,
                    hunting: p.hunting,
                    solved: p.solved,
                })
                .collect(),
        }
    }
}
