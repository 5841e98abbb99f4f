//! The certificate of an advice: what it changes, what it promises, and from what it was found, so that it can
//! be proved again (docs/advice.md, section 7).

use serde::{Deserialize, Serialize};

use super::list::{RuleOnList, rule_on_list};
use super::settling::FoundBy;
use super::verdict::Limits;
use super::window::tolerance_limits;
use super::wishes::Wishes;
use super::{Advice, AdviseError, Request, arc::keep_present};
use crate::rig::{Difference, InputError, Rig, check_format, is_plain_line, made_plain};
use crate::sample::{Batch, Monitor};
use crate::scenario::{Policy, Target, targets_digest};

/// Version of the file.
const CERTIFICATE_FORMAT: u32 = 1;

/// Keys with their values.
pub(super) type Keys = toml::Table;

/// A certificate as it stands in its file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Certificate {
    /// Version of the file.
    pub format: u32,
    /// Version of the program.
    pub version: String,
    /// Name of the rig file.
    pub rig_file: String,
    /// Name of the targets file.
    pub targets_file: String,
    /// Every target also after a meridian flip.
    pub flips: bool,
    /// Digest of the rig as it was.
    pub rig_digest: String,
    /// Digest of the rig with the changes.
    pub advised_rig_digest: String,
    /// Digest of the targets.
    pub targets_digest: String,
    /// How many targets.
    pub targets: usize,
    /// Seed of the proof; as text, since TOML knows no whole numbers of 64 bits without a sign.
    #[serde(with = "as_text")]
    pub seed: u64,
    /// Runs for every target.
    pub trials: u64,
    /// The settings met every limit.
    pub holds: bool,
    /// The keys to change, as in a rig file.
    pub change: Keys,
    /// What was asked for.
    pub limits: Asked,
    /// What was found.
    pub proof: Proof,
    /// Every key of the rig as it was, by dotted path.
    pub rig: Keys,
}

/// What was asked for.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Asked {
    /// See [`Limits::max_hunting`].
    pub max_ping_pong: f64,
    /// See [`Wishes::max_solves`].
    pub max_solves: u32,
    /// See [`Wishes::settle_chance`].
    pub settle_chance: f64,
    /// See [`Wishes::tail`].
    pub tail: f64,
    /// See [`Wishes::max_lost_area`].
    pub max_lost_area: f64,
    /// See [`Wishes::mosaic_keep`].
    pub mosaic_keep: f64,
    /// See [`Wishes::max_corner_px`].
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub max_corner_px: Option<f64>,
    /// See [`Wishes::max_persistence`].
    pub max_persistence: f64,
    /// See [`Wishes::clear_of_keep_outs`].
    pub clear_of_keep_outs: bool,
}

/// What was found.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Proof {
    /// Targets that are safe.
    pub safe: usize,
    /// Upper end of the ping-pong rate at the worst target.
    pub ping_pong_below: f64,
    /// Lower end of the chance to settle in time at the slowest target.
    pub settled_in_time_above: f64,
    /// The swing residual bound \[deg\].
    pub swing_residual_deg: f64,
    /// Smallest tolerance \[deg\].
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub tolerance_low_deg: Option<f64>,
    /// How that was found.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub tolerance_low_by: Option<FoundBy>,
    /// Largest tolerance \[deg\].
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub tolerance_high_deg: Option<f64>,
    /// Confidence of the two rates.
    pub confidence: f64,
}

impl Asked {
    fn of(limits: &Limits, wishes: &Wishes) -> Self {
        Self {
            max_ping_pong: limits.max_hunting,
            max_solves: wishes.max_solves,
            settle_chance: wishes.settle_chance,
            tail: wishes.tail,
            max_lost_area: wishes.max_lost_area,
            mosaic_keep: wishes.mosaic_keep,
            max_corner_px: wishes.max_corner_px,
            max_persistence: wishes.max_persistence,
            clear_of_keep_outs: wishes.clear_of_keep_outs,
        }
    }

    fn limits(&self) -> (Limits, Wishes) {
        let limits = Limits {
            max_hunting: self.max_ping_pong,
        };
        let wishes = Wishes {
            tail: self.tail,
            max_solves: self.max_solves,
            settle_chance: self.settle_chance,
            max_lost_area: self.max_lost_area,
            mosaic_keep: self.mosaic_keep,
            max_corner_px: self.max_corner_px,
            max_persistence: self.max_persistence,
            clear_of_keep_outs: self.clear_of_keep_outs,
            ..Wishes::default()
        };
        (limits, wishes)
    }

    /// What is out of range, if anything is.
    fn fault(&self) -> Option<&'static str> {
        let share = |x: f64| x > 0.0 && x < 1.0;
        let table = [
            (share(self.max_ping_pong), "max_ping_pong"),
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
            (share(self.max_persistence), "max_persistence"),
        ];
        table
            .into_iter()
            .find(|(fine, _)| !fine)
            .map(|(_, key)| key)
    }
}

impl Certificate {
    /// The certificate of an advice.
    #[must_use]
    pub fn of(
        advice: &Advice,
        targets: &[Target],
        (rig_file, targets_file): (&str, &str),
        version: &str,
        flips: bool,
    ) -> Self {
        let plan = &advice.plan;
        let proof = plan.proof();
        let mut change = Keys::new();
        for Difference { key, to, .. } in &plan.changes {
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
            version: version.to_owned(),
            rig_file: rig_file.to_owned(),
            targets_file: targets_file.to_owned(),
            flips,
            rig_digest: advice.rig.digest(),
            advised_rig_digest: plan.rig.digest(),
            targets_digest: targets_digest(targets),
            targets: targets.len(),
            seed: advice.request.batch.seed,
            trials: advice.request.batch.trials,
            holds: plan.holds(),
            change,
            limits: Asked::of(&advice.request.limits, &advice.request.wishes),
            proof: Proof {
                safe: proof.safe,
                ping_pong_below: proof.worst_ping_pong.high,
                settled_in_time_above: proof.worst_in_time.low,
                swing_residual_deg: plan.bound.residual_deg,
                tolerance_low_deg: plan.window.low_deg,
                tolerance_low_by: plan.window.low_deg.map(|_| plan.window.low_by),
                tolerance_high_deg: plan.window.high_deg,
                confidence: crate::summary::CONFIDENCE,
            },
            rig: advice.rig.flat().into_iter().collect(),
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
                format!("not a certificate of halfturn: {}", made_plain(e.message())),
            )
        })?;
        let fault = |key: &str, value: String, allowed: &str| InputError {
            key: key.to_owned(),
            value,
            ..InputError::of_file(file, allowed)
        };
        // They are shown, and opened.
        for (key, text) in [
            ("version", &found.version),
            ("rig_file", &found.rig_file),
            ("targets_file", &found.targets_file),
        ] {
            if !is_plain_line(text) {
                return Err(fault(key, made_plain(text), "must be a text of one line"));
            }
        }
        if let Some(key) = found.rig.keys().find(|key| !is_plain_line(key)) {
            return Err(fault("rig", made_plain(key), "is not a key of a rig"));
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
        let (limits, wishes) = self.limits.limits();
        let request = Request {
            batch: Batch {
                trials: self.trials,
                seed,
            },
            limits,
            wishes,
        };
        let candidate = (Policy::of(rig), keep_present(rig, targets));
        let found = rule_on_list(rig, targets, candidate, request, monitor)?;
        let framing = rig.settings().framing;
        Ok(Proved {
            tolerance_deg: rig.settings().loop_.tolerance_deg,
            tolerance_high_deg: framing.map(|f| tolerance_limits(&f, &wishes).least_deg()),
            targets: targets.len(),
            same_targets: targets_digest(targets) == self.targets_digest,
            found,
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
    /// The rule on the list.
    pub found: RuleOnList,
    /// The tolerance \[deg\].
    pub tolerance_deg: f64,
    /// The largest that the frame bears \[deg\].
    pub tolerance_high_deg: Option<f64>,
    /// How many targets.
    pub targets: usize,
    /// They are those of the certificate.
    pub same_targets: bool,
}

impl Proved {
    /// The tolerance is within what the frame bears.
    #[must_use]
    pub fn keeps_frame(&self) -> bool {
        self.tolerance_high_deg
            .is_none_or(|high| self.tolerance_deg <= high)
    }

    /// Everything that was asked for holds.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.found.meets() && self.keeps_frame()
    }
}
