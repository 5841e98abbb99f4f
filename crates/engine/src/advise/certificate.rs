//! The certificate of an advice: what it changes, what it promises, and from what it was found, so that it can
//! be proved again (docs/advice.md, section 7).

use serde::{Deserialize, Serialize};

use super::criteria::Criteria;
use super::found_by::FoundBy;
use super::list::ListJudge;
use super::proof::Proof;
use super::search::present_arc;
use super::setting::Setting;
use super::{Advice, AdviseError};
use crate::rig::{
    InputError, KeyDifference, Rig, check_format, escape_controls, is_printable_line,
};
use crate::sample::{Batch, Monitor};
use crate::scenario::{Target, targets_digest};
use crate::verdict::{Judge, Limits};

/// Version of the file.
const CERTIFICATE_FORMAT: u32 = 1;

/// Keys with their values.
pub(super) type Keys = toml::Table;

/// A certificate as it stands in its file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Certificate {
    /// Version of the file.
    #[cfg_attr(feature = "schema", schemars(extend("const" = CERTIFICATE_FORMAT)))]
    pub format: u32,
    /// Version of the program.
    #[cfg_attr(feature = "schema", schemars(regex(pattern = crate::rig::PLAIN_LINE)))]
    pub version: String,
    /// Name of the rig file.
    #[cfg_attr(feature = "schema", schemars(regex(pattern = crate::rig::PLAIN_LINE)))]
    pub rig_file: String,
    /// Name of the targets file.
    #[cfg_attr(feature = "schema", schemars(regex(pattern = crate::rig::PLAIN_LINE)))]
    pub targets_file: String,
    /// Names of the targets files after the first.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    #[cfg_attr(feature = "schema", schemars(inner(regex(pattern = crate::rig::PLAIN_LINE))))]
    pub more_targets_files: Vec<String>,
    /// Every target also after a meridian flip.
    pub flips: bool,
    /// Digest of the rig as it was.
    #[cfg_attr(feature = "schema", schemars(regex(pattern = crate::schema::DIGEST)))]
    pub rig_digest: String,
    /// Digest of the rig with the changes.
    #[cfg_attr(feature = "schema", schemars(regex(pattern = crate::schema::DIGEST)))]
    pub advised_rig_digest: String,
    /// Digest of the targets.
    #[cfg_attr(feature = "schema", schemars(regex(pattern = crate::schema::DIGEST)))]
    pub targets_digest: String,
    /// How many targets.
    pub targets: usize,
    /// Seed of the proof; as text, since TOML knows no whole numbers of 64 bits without a sign.
    #[serde(with = "as_text")]
    #[cfg_attr(
        feature = "schema",
        schemars(with = "String", regex(pattern = "^[0-9]{1,20}$"))
    )]
    pub seed: u64,
    /// Runs for every target.
    #[cfg_attr(feature = "schema", schemars(range(min = 1)))]
    pub trials: u64,
    /// The settings met every limit.
    pub holds: bool,
    /// The keys to change, as in a rig file.
    #[cfg_attr(feature = "schema", schemars(with = "std::collections::BTreeMap<String, ()>", extend("additionalProperties" = {"type": "object", "additionalProperties": {"type": ["string", "number"]}})))]
    pub change: Keys,
    /// What was asked for.
    pub limits: CertifiedCriteria,
    /// What was found.
    pub proof: Promise,
    /// Every key of the rig as it was, by dotted path.
    #[cfg_attr(feature = "schema", schemars(with = "std::collections::BTreeMap<String, crate::schema::KeyValue>", extend("propertyNames" = { "pattern": "^[a-z_]+(\\.[a-z_0-9]+)*$" })))]
    pub rig: Keys,
}

/// What was asked for.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema), schemars(transform = crate::schema::shares_between))]
#[serde(deny_unknown_fields)]
pub struct CertifiedCriteria {
    /// Largest share of the runs that may have a fault.
    pub max_fault: f64,
    /// Good solves within which every target should settle.
    #[cfg_attr(feature = "schema", schemars(range(min = 1)))]
    pub max_solves: u32,
    /// Share of the runs that should settle within them.
    pub settle_chance: f64,
    /// Probability with which a bound may be exceeded.
    pub tail: f64,
    /// Largest share of the frame that may be lost between two nights.
    pub max_lost_area: f64,
    /// Share of the overlap of a mosaic that must be left.
    pub mosaic_keep: f64,
    /// Largest displacement of the frame's corner \[px\].
    #[serde(skip_serializing_if = "Option::is_none", default)]
    #[cfg_attr(feature = "schema", schemars(with = "f64", extend("exclusiveMinimum" = 0)))]
    pub max_corner_px: Option<f64>,
    /// No longer used: the band goes by the verdict.
    #[serde(skip_serializing, default)]
    #[cfg_attr(feature = "schema", schemars(with = "f64"))]
    pub max_persistence: Option<f64>,
    /// Only an arc that is clear of every keep-out.
    pub clear_of_keep_outs: bool,
}

/// What was found.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Promise {
    /// Targets that are safe.
    pub safe: usize,
    /// Upper end of the share that hunts at the worst target.
    #[cfg_attr(feature = "schema", schemars(range(min = 0, max = 1)))]
    pub hunting_below: f64,
    /// Lower end of the chance to settle in time at the slowest target.
    #[cfg_attr(feature = "schema", schemars(range(min = 0, max = 1)))]
    pub settled_in_time_above: f64,
    /// The swing residual bound \[deg\].
    #[cfg_attr(feature = "schema", schemars(range(min = 0)))]
    pub swing_residual_deg: f64,
    /// Smallest tolerance \[deg\].
    #[serde(skip_serializing_if = "Option::is_none", default)]
    #[cfg_attr(feature = "schema", schemars(with = "f64", range(min = 0)))]
    pub tolerance_low_deg: Option<f64>,
    /// How the smallest tolerance was found.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    #[cfg_attr(feature = "schema", schemars(with = "FoundBy"))]
    pub tolerance_low_by: Option<FoundBy>,
    /// Largest tolerance \[deg\].
    #[serde(skip_serializing_if = "Option::is_none", default)]
    #[cfg_attr(feature = "schema", schemars(with = "f64", range(min = 0)))]
    pub tolerance_high_deg: Option<f64>,
    /// Confidence of the two rates.
    #[cfg_attr(feature = "schema", schemars(extend("exclusiveMinimum" = 0, "exclusiveMaximum" = 1)))]
    pub confidence: f64,
}

impl CertifiedCriteria {
    fn of(limits: &Limits, criteria: &Criteria) -> Self {
        Self {
            max_fault: limits.max_fault,
            max_solves: limits.max_solves,
            settle_chance: limits.settle_chance,
            tail: criteria.tail,
            max_lost_area: criteria.max_lost_area,
            mosaic_keep: criteria.mosaic_keep,
            max_corner_px: criteria.max_corner_px,
            max_persistence: None,
            clear_of_keep_outs: criteria.clear_of_keep_outs,
        }
    }

    fn limits(&self) -> (Limits, Criteria) {
        let limits = Limits {
            max_fault: self.max_fault,
            max_solves: self.max_solves,
            settle_chance: self.settle_chance,
        };
        let criteria = Criteria {
            tail: self.tail,
            max_lost_area: self.max_lost_area,
            mosaic_keep: self.mosaic_keep,
            max_corner_px: self.max_corner_px,
            clear_of_keep_outs: self.clear_of_keep_outs,
            ..Criteria::default()
        };
        (limits, criteria)
    }

    /// What is out of range, if anything is.
    fn fault(&self) -> Option<&'static str> {
        let share = |x: f64| x > 0.0 && x < 1.0;
        let table = [
            (share(self.max_fault), "max_fault"),
            (self.max_solves > 0, "max_solves"),
            (share(self.settle_chance), "settle_chance"),
            (share(self.tail), "tail"),
            (share(self.max_lost_area), "max_lost_area"),
            (share(self.mosaic_keep), "mosaic_keep"),
            (
                self.max_corner_px
                    .is_none_or(|px| px > 0.0 && px.is_finite()),
                "max_corner_px",
            ),
            (self.max_persistence.is_none_or(share), "max_persistence"),
        ];
        table
            .into_iter()
            .find(|(fine, _)| !fine)
            .map(|(_, key)| key)
    }
}

/// What an advice was made from, and by which program.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CertificateOrigin<'a> {
    /// Version of the program.
    pub version: &'a str,
    /// Name of the rig file.
    pub rig_file: &'a str,
    /// Names of the targets files, one at least.
    pub targets_files: &'a [String],
    /// Every target also after a meridian flip.
    pub flips: bool,
}

impl Certificate {
    /// The certificate of an advice.
    #[must_use]
    pub fn of(advice: &Advice, targets: &[Target], origin: &CertificateOrigin<'_>) -> Self {
        let safe = |t: &&super::TargetReport| t.verdict.is_safe();
        let mut change = Keys::new();
        for KeyDifference { key, to, .. } in &advice.changes {
            let (section, name) = key.split_once('.').unwrap_or(("", key));
            let table = change
                .entry(section)
                .or_insert_with(|| toml::Value::Table(Keys::new()));
            if let (toml::Value::Table(table), Some(value)) = (table, to) {
                table.insert(name.to_owned(), value.clone());
            }
        }
        Self {
            format: CERTIFICATE_FORMAT,
            version: origin.version.to_owned(),
            rig_file: origin.rig_file.to_owned(),
            targets_file: origin.targets_files.first().cloned().unwrap_or_default(),
            more_targets_files: origin.targets_files.iter().skip(1).cloned().collect(),
            flips: origin.flips,
            rig_digest: advice.rig.digest(),
            advised_rig_digest: advice.advised_rig.digest(),
            targets_digest: targets_digest(targets),
            targets: targets.len(),
            seed: advice.request.batch.seed,
            trials: advice.request.batch.trials,
            holds: advice.holds(),
            change,
            limits: CertifiedCriteria::of(&advice.request.limits, &advice.request.criteria),
            proof: Promise {
                safe: advice.after.targets.iter().filter(safe).count(),
                hunting_below: advice.proof.hunting.high,
                settled_in_time_above: advice.proof.in_time.low,
                swing_residual_deg: advice.bound.residual_deg,
                tolerance_low_deg: advice.window.low_deg,
                tolerance_low_by: advice.window.low_deg.map(|_| advice.window.low_by),
                tolerance_high_deg: advice.window.high_deg,
                confidence: crate::summary::CONFIDENCE,
            },
            rig: advice.rig.key_values().into_iter().collect(),
        }
    }

    /// Reads the text of a certificate; `file` is the name for messages.
    ///
    /// # Errors
    /// [`InputError`] for the first fault.
    pub fn read(text: &str, file: &str) -> Result<Self, InputError> {
        // First of all: the rest of a newer file may hold anything.
        check_format(text, file, CERTIFICATE_FORMAT)?;
        let found: Self = toml::from_str(text).map_err(|e| InputError {
            line: e
                .span()
                .and_then(|s| text.get(..s.start))
                .map(|before| before.matches('\n').count() + 1),
            ..InputError::of_file(
                file,
                format!(
                    "not a certificate of halfturn: {}",
                    escape_controls(e.message())
                ),
            )
        })?;
        let fault = |key: &str, value: String, allowed: &str| InputError {
            key: key.to_owned(),
            value,
            ..InputError::of_file(file, allowed)
        };
        // They are shown, and opened.
        let more = found.more_targets_files.iter();
        let named = [
            ("version", &found.version),
            ("rig_file", &found.rig_file),
            ("targets_file", &found.targets_file),
        ];
        for (key, text) in named
            .into_iter()
            .chain(more.map(|text| ("more_targets_files", text)))
        {
            if !is_printable_line(text) {
                return Err(fault(
                    key,
                    escape_controls(text),
                    "must be a text of one line",
                ));
            }
        }
        if let Some(key) = found.rig.keys().find(|key| !is_printable_line(key)) {
            return Err(fault("rig", escape_controls(key), "is not a key of a rig"));
        }
        if found.trials == 0 {
            return Err(fault("trials", "0".to_owned(), "must be above 0"));
        }
        match found.limits.fault() {
            Some(key) => Err(fault(
                &format!("limits.{key}"),
                String::new(),
                "is out of its range",
            )),
            None => Ok(found),
        }
    }

    /// The changes, by dotted path.
    pub(super) fn changes(&self) -> impl Iterator<Item = (String, &toml::Value)> {
        let sections = self.change.iter();
        sections
            .filter_map(|(section, value)| Some((section, value.as_table()?)))
            .flat_map(|(section, keys)| {
                keys.iter()
                    .map(move |(name, value)| (format!("{section}.{name}"), value))
            })
    }

    /// The changes as overrides of a rig file.
    #[must_use]
    pub fn overrides(&self) -> Vec<String> {
        self.changes()
            .map(|(key, value)| format!("{key}={value}"))
            .collect()
    }

    /// Proves it again with a rig that has the changes.
    ///
    /// # Errors
    /// [`AdviseError`] without targets, or when cancelled.
    pub fn prove(
        &self,
        rig: &Rig,
        targets: &[Target],
        seed: u64,
        monitor: &dyn Monitor,
    ) -> Result<Proved, AdviseError> {
        if targets.is_empty() {
            return Err(AdviseError::NoTargets);
        }
        let (limits, criteria) = self.limits.limits();
        let batch = Batch {
            trials: self.trials,
            seed,
        };
        let judge = Judge {
            limits,
            batch,
            monitor,
        };
        let list = ListJudge::new(targets, &criteria, judge);
        let setting = list.setting(rig, present_arc(rig, targets))?;
        Ok(Proved {
            proof: Proof::run(rig, targets, &setting, batch, monitor)?,
            same_targets: targets_digest(targets) == self.targets_digest,
            setting,
        })
    }
}

/// A whole number as text.
mod as_text {
    use serde::{Deserialize as _, Deserializer, Serializer, de::Error as _};

    pub(super) fn serialize<S: Serializer>(n: &u64, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(n)
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<u64, D::Error> {
        let text = String::deserialize(from)?;
        text.parse()
            .map_err(|_| D::Error::custom(format!("{text:?} is no whole number")))
    }
}

/// A certificate proved again.
#[derive(Debug, Clone, PartialEq)]
pub struct Proved {
    /// The list under the advised rig.
    pub setting: Setting,
    /// Its runs.
    pub proof: Proof,
    /// The targets are those of the certificate.
    pub same_targets: bool,
}

impl Proved {
    /// Everything that was asked for holds.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.setting.holds() && self.proof.bears_out()
    }
}
