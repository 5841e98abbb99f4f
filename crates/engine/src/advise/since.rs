//! A rig beside the one that a certificate was made for, also when a later version of the program compares them.

use super::certificate::{Certificate, Keys};
use crate::rig::{KeyDifference, Rig, RigSettings, differences};

/// How a rig stands to the one of a certificate.
#[derive(Debug, Clone, PartialEq)]
pub enum RigStatus {
    /// The rig is that of the certificate.
    AsItWas,
    /// The rig is that of the certificate with the advised changes.
    Advised,
    /// Other keys differ.
    Changed(Vec<KeyDifference>),
}

impl Certificate {
    /// How a rig stands to the one that the certificate was made for.
    #[must_use]
    pub fn compare(&self, rig: &Rig) -> RigStatus {
        let digest = rig.digest();
        if digest == self.rig_digest {
            return RigStatus::AsItWas;
        }
        if digest == self.advised_rig_digest {
            return RigStatus::Advised;
        }
        // A later version has more keys, and so other digests: then the values tell.
        let mut then = self.rig.clone();
        let changed = self.changed_since(&then, rig);
        if changed.is_empty() {
            return RigStatus::AsItWas;
        }
        for (key, value) in self.changes() {
            then.insert(key, value.clone());
        }
        if self.changed_since(&then, rig).is_empty() {
            return RigStatus::Advised;
        }
        RigStatus::Changed(changed)
    }

    /// What differs in a rig from the keys of a certificate. A key that these lack is no difference while it has
    /// its default, which is what the rig did before there was such a key.
    fn changed_since(&self, then: &Keys, rig: &Rig) -> Vec<KeyDifference> {
        let then: Vec<(String, toml::Value)> =
            then.iter().map(|(k, v)| (k.clone(), v.clone())).collect();
        let defaults =
            Rig::new(RigSettings::default()).map_or_else(|_| Vec::new(), |r| r.key_values());
        let mut changed = differences(&then, &rig.key_values());
        changed.retain(|d| {
            let new = d.from.is_none()
                && defaults
                    .iter()
                    .any(|(key, value)| *key == d.key && d.to.as_ref() == Some(value));
            !new
        });
        changed
    }
}
