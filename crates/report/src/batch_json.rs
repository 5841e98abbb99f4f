//! The result of `batch` as JSON. Its schema describes every key.

use serde::Serialize;
use serde_json::Value;

use super::result::{Format, Version, as_json};
use halfturn_engine::advise::RuleComparison;
use halfturn_engine::rig::{Rig, Rule};
use halfturn_engine::sample::Batch;
use halfturn_engine::summary::{PairSummary, PolicySummary, Rate};
use halfturn_engine::verdict::{Limits, Verdict};

/// The rules side by side at one target.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub(crate) struct BatchResult<'a> {
    /// Version of the format.
    format: Format<1>,
    /// Version of the program.
    version: Version,
    /// Digest of the rig.
    #[cfg_attr(feature = "schema", schemars(regex(pattern = halfturn_engine::schema::DIGEST)))]
    rig_digest: String,
    /// Seed of the random numbers.
    seed: u64,
    /// Runs made of each rule.
    trials: u64,
    /// Position angle of the target \[deg\].
    target_deg: f64,
    /// Whether the work came to its end.
    complete: bool,
    /// The rules, in the order asked for.
    policies: Vec<JudgedPolicy<'a>>,
    /// Differences of the other rules from the rig's own, else from the first; only with `--method monte-carlo`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schemars(with = "&[PairSummary]"))]
    differences: Option<&'a [PairSummary]>,
    /// Share of runs that hunt, only with `--half-width`. The intervals are valid although sampling stopped when they
    /// were narrow.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "schema", schemars(with = "Vec<UntilRate>"))]
    until_hunting: Option<Vec<UntilRate>>,
}

/// One rule at the target, with its verdict.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct JudgedPolicy<'a> {
    #[serde(flatten)]
    summary: &'a PolicySummary,
    // An earlier version of the format left it out.
    #[serde(flatten)]
    #[cfg_attr(feature = "schema", schemars(with = "Option<Verdict>"))]
    verdict: Verdict,
}

/// How often one rule hunts.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct UntilRate {
    /// The rule.
    rule: Rule,
    /// Share of the runs until its interval was narrow.
    #[serde(flatten)]
    rate: Rate,
}

/// The result of `batch`. `complete` is false if the user stopped it.
#[must_use]
pub fn batch_json(
    rig: &Rig,
    batch: Batch,
    target_deg: f64,
    compared: &RuleComparison,
    complete: bool,
) -> Value {
    let judged = compared.rules.iter();
    let judged = judged.map(|r| (&r.summary, r.verdict.clone()));
    let until = compared.until.as_ref().map(|known| {
        let rules = compared.rules.iter().map(|r| r.summary.rule).zip(known);
        rules
            .map(|(rule, rate)| UntilRate { rule, rate: *rate })
            .collect()
    });
    as_json(&BatchResult {
        differences: Some(&compared.differences),
        until_hunting: until,
        ..result(rig, batch, target_deg, judged, complete)
    })
}

/// The result of `batch` if some figures were solved rather than run.
#[must_use]
pub fn solved_json(
    rig: &Rig,
    batch: Batch,
    target_deg: f64,
    policies: &[PolicySummary],
    complete: bool,
) -> Value {
    let judged = policies
        .iter()
        .map(|p| (p, Verdict::of(p, &Limits::default())));
    as_json(&result(rig, batch, target_deg, judged, complete))
}

fn result<'a>(
    rig: &Rig,
    batch: Batch,
    target_deg: f64,
    judged: impl Iterator<Item = (&'a PolicySummary, Verdict)>,
    complete: bool,
) -> BatchResult<'a> {
    let policies: Vec<_> = judged
        .map(|(summary, verdict)| JudgedPolicy { summary, verdict })
        .collect();
    let trials = policies.iter().map(|p| p.summary.trials).max();
    BatchResult {
        format: Format,
        version: Version,
        rig_digest: rig.digest(),
        seed: batch.seed,
        trials: trials.unwrap_or(0),
        target_deg,
        complete,
        policies,
        differences: None,
        until_hunting: None,
    }
}
