//! What an advice rests on, as JSON. Its schema describes every key.

use serde::Serialize;

use super::advice as words;
use super::setting_json::SettingOfList;
use halfturn_engine::advise::{
    Advice, BandAdvice, FlatSet, FoundBy, FrameLimits, Improvement, Proof, Repair, RuleOnList,
    Setting, SwingBound, short_way_trap,
};
use halfturn_engine::rig::KeyDifference;
use halfturn_engine::summary::Rate;

/// Most sets of flats to list. Beyond, only their number is given.
const MOST_SETS: usize = 1000;

/// The grounds of an advice.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub(crate) struct Plan<'a> {
    /// Whether the advised rig meets every limit.
    holds: bool,
    /// Every key that changes.
    changes: &'a [KeyDifference],
    /// Proof runs of the advised rig.
    proof: ProofRuns<'a>,
    /// The same in words.
    proof_sentence: String,
    /// How large a residual a swing can leave.
    bound: &'a SwingBound,
    /// The same in words.
    bound_sentence: String,
    /// The tolerances that serve.
    window: ToleranceWindow<'a>,
    /// Ways out; `None` if the advice holds.
    repair: Option<&'a Repair>,
    /// The same in words; empty if the advice holds.
    repair_sentence: String,
    /// The band that the hysteresis rule needs.
    band: &'a BandAdvice,
    /// The same in words.
    band_sentence: String,
    /// Every allowed rule, with its best settings.
    #[cfg_attr(feature = "schema", schemars(length(min = 1, max = 4)))]
    rules: Vec<RuleOfPlan<'a>>,
    /// The same in words.
    rule_sentence: String,
    /// Width of the advised arc, if the short way can run outside it \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    short_way_trap_deg: Option<f64>,
    /// The flats of the night.
    flats: FlatsOfPlan<'a>,
}

impl<'a> Plan<'a> {
    pub(crate) fn of(advice: &'a Advice) -> Self {
        Self {
            holds: advice.holds(),
            changes: &advice.changes,
            proof: ProofRuns::of(&advice.proof, &advice.after),
            proof_sentence: words::proof(advice),
            bound: &advice.bound,
            bound_sentence: words::bound(advice),
            window: ToleranceWindow::of(advice),
            repair: advice.repair.as_ref(),
            repair_sentence: words::repair(advice),
            band: &advice.band,
            band_sentence: words::band(advice),
            rules: advice
                .on_list
                .iter()
                .map(|r| RuleOfPlan::of(advice, r))
                .collect(),
            rule_sentence: words::rule_sentence(advice),
            short_way_trap_deg: short_way_trap(&advice.advised_rig, advice.after.policy),
            flats: FlatsOfPlan {
                within_deg: advice.flats.within_deg,
                angles: advice.flats.angles,
                count: advice.flats.sets.len(),
                sets: &advice.flats.sets[..advice.flats.sets.len().min(MOST_SETS)],
            },
        }
    }
}

/// Runs of the advised rig with fresh random numbers.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub(crate) struct ProofRuns<'a> {
    /// Runs for every target.
    #[cfg_attr(feature = "schema", schemars(range(min = 1)))]
    trials: u64,
    /// Share of runs that hunt, at the target with the most.
    hunting: Rate,
    /// Share of runs that settle in time, at the target with the fewest.
    in_time: Rate,
    /// Targets at which the runs contradict the verdict.
    contradicted: Vec<&'a str>,
}

impl<'a> ProofRuns<'a> {
    pub(crate) fn of(proof: &Proof, setting: &'a Setting) -> Self {
        let name = |i: &usize| setting.targets[*i].name.as_str();
        Self {
            trials: proof.trials,
            hunting: proof.hunting,
            in_time: proof.in_time,
            contradicted: proof.contradicted.iter().map(name).collect(),
        }
    }
}

/// The tolerances that serve the advised rig.
#[derive(Serialize)]
#[cfg_attr(
    feature = "schema",
    derive(schemars::JsonSchema),
    schemars(transform = halfturn_engine::schema::not_negative)
)]
struct ToleranceWindow<'a> {
    /// Smallest tolerance that serves \[deg\]; `None` if it is not known.
    low_deg: Option<f64>,
    /// How it was found.
    low_by: FoundBy,
    /// Largest tolerance that keeps the frame \[deg\]; `None` without `[framing]`.
    high_deg: Option<f64>,
    /// Shift of the frame's corner at the smallest tolerance \[px\].
    low_corner_px: Option<f64>,
    /// Shift of the frame's corner at the largest tolerance \[px\].
    high_corner_px: Option<f64>,
    /// The present tolerance \[deg\].
    #[cfg_attr(feature = "schema", schemars(extend("exclusiveMinimum" = 0)))]
    present_deg: f64,
    /// Shift of the frame's corner at the present tolerance \[px\]; `None` without `[framing]`.
    present_corner_px: Option<f64>,
    /// The advised tolerance \[deg\].
    #[cfg_attr(feature = "schema", schemars(extend("exclusiveMinimum" = 0)))]
    advised_deg: f64,
    /// Shift of the frame's corner at the advised tolerance \[px\].
    advised_corner_px: Option<f64>,
    /// Whether no tolerance serves.
    empty: bool,
    /// The target that needs the largest tolerance.
    #[cfg_attr(feature = "schema", schemars(with = "&str"))]
    hardest: Option<&'a str>,
    /// Number of targets tried.
    tried: usize,
    /// Largest tolerance by each measure; `None` without `[framing]`.
    frame_limits: Option<FrameLimits>,
    /// What halving each error would do to the smallest tolerance, best first.
    improvements: &'a [Improvement],
    /// The same in words.
    sentence: String,
}

impl<'a> ToleranceWindow<'a> {
    fn of(advice: &'a Advice) -> Self {
        let framing = advice.rig.settings().framing;
        let corner = |angle_deg: f64| framing.map(|f| f.corner_shift_px(angle_deg));
        let window = &advice.window;
        let hardest = advice.before.targets.get(window.hardest);
        Self {
            low_deg: window.low_deg,
            low_by: window.low_by,
            high_deg: window.high_deg,
            low_corner_px: window.low_deg.and_then(corner),
            high_corner_px: window.high_deg.and_then(corner),
            present_deg: window.present_deg,
            present_corner_px: corner(window.present_deg),
            advised_deg: window.advised_deg,
            advised_corner_px: corner(window.advised_deg),
            empty: window.empty(),
            hardest: hardest.map(|t| t.name.as_str()),
            tried: window.tried,
            frame_limits: window.limits,
            improvements: &window.improvements,
            sentence: words::window(advice),
        }
    }
}

/// A rule with its best settings.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct RuleOfPlan<'a> {
    #[serde(flatten)]
    setting: SettingOfList,
    /// Every key that changes.
    changes: &'a [KeyDifference],
    /// Whether it is the advised rule.
    advised: bool,
    /// Why it is not the advised rule; `None` if it is.
    why_not: Option<String>,
}

impl<'a> RuleOfPlan<'a> {
    fn of(advice: &Advice, r: &'a RuleOnList) -> Self {
        Self {
            setting: SettingOfList::of(&r.setting),
            changes: &r.changes,
            advised: r.advised,
            why_not: (!r.advised).then(|| words::why_not(advice, r)),
        }
    }
}

/// The flats of the night.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct FlatsOfPlan<'a> {
    /// How far a flat may be from a light frame \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    within_deg: f64,
    /// Number of distinct drive angles.
    angles: usize,
    /// Number of sets.
    count: usize,
    /// The first 1000 sets, by growing drive angle.
    #[cfg_attr(feature = "schema", schemars(length(max = MOST_SETS)))]
    sets: &'a [FlatSet],
}
