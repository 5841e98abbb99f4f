//! The result of `advise --check` as JSON. Its schema describes every key.

use serde::Serialize;
use serde_json::Value;

use super::advice_json::ListUnderRig;
use super::plan_json::ProofRuns;
use super::result::{Format, Version, as_json};
use halfturn_engine::advise::{Certificate, Proved, RigStatus};
use halfturn_engine::rig::{KeyDifference, Rig};

/// A certificate, proved again.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub(crate) struct CheckResult<'a> {
    /// Version of the format.
    format: Format<2>,
    /// Version of the program.
    version: Version,
    /// Whether every limit holds.
    holds: bool,
    /// Whether every limit held when the certificate was made.
    held: bool,
    /// The rig compared with that of the certificate.
    rig: RigNow,
    /// The keys that have changed since the certificate.
    changed_keys: &'a [KeyDifference],
    /// Whether the targets are those of the certificate.
    same_targets: bool,
    /// Seed of the random numbers.
    seed: u64,
    /// Runs for every target.
    #[cfg_attr(feature = "schema", schemars(range(min = 1)))]
    trials: u64,
    /// The list under the advised rig.
    setting: ListUnderRig<'a>,
    /// Proof runs of the advised rig.
    proof: ProofRuns<'a>,
}

/// The rig compared with that of a certificate.
#[derive(Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
enum RigNow {
    /// The rig before the advice.
    AsItWas,
    /// The advised rig.
    Advised,
    /// Neither.
    Changed,
}

/// The result of `advise --check`.
#[must_use]
pub fn check_json(
    certificate: &Certificate,
    now: &RigStatus,
    proved: &Proved,
    rig: &Rig,
    seed: u64,
) -> Value {
    let (rig_now, changed_keys) = match now {
        RigStatus::AsItWas => (RigNow::AsItWas, &[][..]),
        RigStatus::Advised => (RigNow::Advised, &[][..]),
        RigStatus::Changed(keys) => (RigNow::Changed, &keys[..]),
    };
    as_json(&CheckResult {
        format: Format,
        version: Version,
        holds: proved.holds(),
        held: certificate.holds,
        rig: rig_now,
        changed_keys,
        same_targets: proved.same_targets,
        seed,
        trials: certificate.trials,
        setting: ListUnderRig::of(rig, &proved.setting),
        proof: ProofRuns::of(&proved.proof, &proved.setting),
    })
}
