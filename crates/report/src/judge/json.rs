//! The session as JSON. Its schema describes every key.

use serde::Serialize;
use serde_json::Value;

use super::Verdict;
use super::margin::MarginResult;
use crate::result::{Format, Version, as_json};
use halfturn_engine::judge::{
    Case, FailingExample, Failure, Family, JudgedCase, Pair, Property, Remark,
};
use halfturn_engine::run::{Figures, TraceRow};

/// A judged session.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub(crate) struct JudgeResult<'a> {
    /// Version of the format.
    format: Format<1>,
    /// Version of the program.
    version: Version,
    /// The command under test and its arguments.
    #[cfg_attr(feature = "schema", schemars(length(min = 1)))]
    command: &'a [String],
    /// Name of the rig file or the replayed file, or "graded set".
    rig: &'a str,
    /// Seed of the scenarios.
    seed: u64,
    /// Whether every scenario was played and every property held.
    passed: bool,
    /// Scenarios that were played.
    scenarios: usize,
    /// Scenarios that failed.
    failed: usize,
    /// Scenarios that were not played.
    left_out: usize,
    /// Why some were not played; `None` if all were.
    ended: Option<&'a str>,
    /// Whether the session came to its end.
    complete: bool,
    /// How often the program was restarted.
    restarts: u32,
    /// Scenarios by their family.
    families: Vec<FamilyCount>,
    /// Every property.
    #[cfg_attr(feature = "schema", schemars(length(min = 12, max = 13)))]
    properties: Vec<PropertyCount>,
    /// Every scenario that failed.
    failures: Vec<FailedScenario<'a>>,
    /// For each property that failed, the simplest scenario found.
    examples: Vec<SimplestScenario<'a>>,
    /// What no property forbids, though no wrap rule does it.
    #[cfg_attr(feature = "schema", schemars(skip_serializing_if = "earlier"))]
    remarks: Vec<RemarkCount<'a>>,
    /// Situations of the commands.
    #[cfg_attr(feature = "schema", schemars(skip_serializing_if = "earlier"))]
    coverage: CoverageCount,
    /// How far the controller is from hunting; `None` without `--margin`.
    #[cfg_attr(feature = "schema", schemars(skip_serializing_if = "earlier"))]
    margin: Option<MarginResult<'a>>,
}

/// The scenarios of a family.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct FamilyCount {
    /// The family.
    family: Family,
    /// Scenarios that were played.
    scenarios: usize,
    /// Scenarios that failed.
    failed: usize,
}

/// How often a property failed.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct PropertyCount {
    /// The property.
    property: Property,
    /// Why a controller must have it.
    why: &'static str,
    /// Scenarios in which it failed.
    failed: usize,
    /// Number of the first of them, from 1; `None` without a failure.
    #[cfg_attr(feature = "schema", schemars(range(min = 1)))]
    first: Option<usize>,
}

/// What no property forbids.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct RemarkCount<'a> {
    /// What it is.
    remark: Remark,
    /// What it says of the controller.
    why: &'static str,
    /// Scenarios in which it was seen.
    scenarios: usize,
    /// Number of the first of them, from 1.
    #[cfg_attr(feature = "schema", schemars(range(min = 1)))]
    first: usize,
    /// What happened there.
    detail: &'a str,
}

/// Situations: two circumstances of one command.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct CoverageCount {
    /// Those that a session can meet.
    situations: usize,
    /// Those that this one met.
    met: usize,
    /// The others, in words.
    left_out: Vec<String>,
}

/// A scenario that failed.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct FailedScenario<'a> {
    /// Its number, from 1.
    #[cfg_attr(feature = "schema", schemars(range(min = 1)))]
    number: usize,
    /// Its family.
    family: Family,
    /// Whether it comes from `regressions.json`.
    remembered: bool,
    /// The properties that did not hold, in the order of time.
    failures: &'a [Failure],
}

impl<'a> FailedScenario<'a> {
    fn of((i, judged): (usize, &'a JudgedCase)) -> Self {
        Self {
            number: i + 1,
            family: judged.case.family,
            remembered: judged.remembered,
            failures: &judged.failures,
        }
    }
}

/// The simplest scenario in which a property fails.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct SimplestScenario<'a> {
    /// The property.
    property: Property,
    /// Number of the original scenario, from 1.
    #[cfg_attr(feature = "schema", schemars(range(min = 1)))]
    number: usize,
    /// Whether the failure came again when the scenario was played alone.
    reproduced: bool,
    /// Scenarios played in the search.
    tries: u32,
    /// The properties that did not hold, in the order of time.
    failures: &'a [Failure],
    /// The figures of its run.
    figures: &'a Figures,
    /// Its moves and solves, in the order of time.
    rows: &'a [TraceRow],
    /// The scenario.
    case: &'a Case,
}

impl<'a> SimplestScenario<'a> {
    fn of(e: &'a FailingExample) -> Self {
        Self {
            property: e.property,
            number: e.number + 1,
            reproduced: e.reproduced,
            tries: e.tries,
            failures: &e.played.failures,
            figures: &e.played.figures,
            rows: e.played.trace.rows(),
            case: &e.case,
        }
    }
}

/// The result of `judge`.
#[must_use]
pub fn judge_json(verdict: &Verdict) -> Value {
    let session = &verdict.session;
    let by_property = session.by_property();
    let property = |property: Property| {
        let found = by_property.get(&property);
        PropertyCount {
            property,
            why: property.why(),
            failed: found.map_or(0, |f| f.0),
            first: found.map(|f| f.1 + 1),
        }
    };
    let family = |(family, (scenarios, failed))| FamilyCount {
        family,
        scenarios,
        failed,
    };
    let remark = |(remark, (scenarios, first, detail)): (Remark, _)| RemarkCount {
        remark,
        why: remark.why(),
        scenarios,
        first: first + 1,
        detail,
    };
    let pairs = session.coverage.pairs();
    let judged = session.judged.iter().enumerate();
    let failures = judged.filter(|(_, j)| !j.failures.is_empty());
    as_json(&JudgeResult {
        format: Format,
        version: Version,
        command: &verdict.command,
        rig: &verdict.rig,
        seed: verdict.seed,
        passed: session.passed(),
        scenarios: session.judged.len(),
        failed: session.failed(),
        left_out: session.left_out,
        ended: session.ended.as_deref(),
        complete: !session.stopped,
        restarts: session.restarts,
        families: session.by_family().into_iter().map(family).collect(),
        properties: Property::ALL.iter().copied().map(property).collect(),
        failures: failures.map(FailedScenario::of).collect(),
        examples: verdict.examples.iter().map(SimplestScenario::of).collect(),
        remarks: session.remarks().into_iter().map(remark).collect(),
        coverage: CoverageCount {
            situations: pairs.len(),
            met: pairs.iter().filter(|p| p.met).count(),
            left_out: pairs
                .iter()
                .filter(|p| !p.met)
                .map(Pair::to_string)
                .collect(),
        },
        margin: verdict.margin.as_ref().map(MarginResult::of),
    })
}
