//! A numeric key of the rig file, for setting it in code by its dotted path.

use super::check::{entries, indexed};
use super::error::RigError;
use super::keys::{Key, ValueKind, find};
use super::read::no_entry;
use super::settings::{RigSettings, Sense};
use super::suggest::unknown;

/// A numeric key that exists in some settings.
#[derive(Debug, Clone, Copy)]
pub struct NumericKey {
    key: &'static Key,
    /// Index in a list; 0 for a key outside lists.
    index: usize,
}

impl NumericKey {
    /// The key of a dotted path, with the index if it is in a list.
    ///
    /// # Errors
    /// [`RigError`] without a value if the key does not exist, is not numeric, or its list entry or section is not in
    /// the settings.
    pub fn find(path: &str, settings: &RigSettings) -> Result<Self, RigError> {
        let refuse = |allowed: String| RigError {
            key: path.to_owned(),
            value: String::new(),
            allowed,
            partners: Vec::new(),
        };
        let (key, index) = find(path).ok_or_else(|| refuse(unknown(path)))?;
        match key.kind {
            ValueKind::Choice { .. } | ValueKind::Text(_) | ValueKind::Span { .. } => {
                return Err(refuse(
                    "its values are words or lists. Vary a number".to_owned(),
                ));
            }
            ValueKind::Number { .. }
            | ValueKind::Count { .. }
            | ValueKind::Sign(_)
            | ValueKind::Symmetry
            | ValueKind::Stop(_) => {}
        }
        let length = entries(key, settings);
        if index < length {
            return Ok(Self { key, index });
        }
        Err(refuse(match key.path.split_once(".*") {
            Some((list, _)) => no_entry(list, length),
            None => "the rig has no such section".to_owned(),
        }))
    }

    /// The unit of a key, and whether it takes whole numbers only; `None` for a path without a numeric key.
    #[must_use]
    pub fn describe(path: &str) -> Option<(&'static str, bool)> {
        let (key, index) = find(path)?;
        let key = Self { key, index };
        Some((key.unit(), key.whole()))
    }

    /// Its dotted path in the usual form.
    #[must_use]
    pub fn path(&self) -> String {
        indexed(self.key.path, self.index)
    }

    /// Unit of its values; empty if they have none.
    #[must_use]
    pub fn unit(&self) -> &'static str {
        self.key.unit
    }

    /// Whether the key takes whole numbers only.
    #[must_use]
    pub fn whole(&self) -> bool {
        matches!(
            self.key.kind,
            ValueKind::Count { .. } | ValueKind::Sign(_) | ValueKind::Symmetry
        )
    }

    /// Sets the value.
    ///
    /// # Errors
    /// [`RigError`] for a value that is not allowed, or settings without its list entry or section.
    pub fn set(&self, settings: &mut RigSettings, value: f64) -> Result<(), RigError> {
        let index = self.index;
        let stored = index < entries(self.key, settings)
            && match self.key.kind {
                ValueKind::Number { slot, .. } => {
                    *slot(settings, index) = value;
                    true
                }
                ValueKind::Count { slot, .. } => {
                    count(value).map(|n| *slot(settings, index) = n).is_some()
                }
                ValueKind::Sign(slot) => sense(value).map(|s| *slot(settings, index) = s).is_some(),
                ValueKind::Symmetry => {
                    settings.wrap.symmetry = count(value);
                    settings.wrap.symmetry.is_some()
                }
                ValueKind::Stop(slot) => {
                    *slot(settings) = Some(value);
                    true
                }
                ValueKind::Choice { .. } | ValueKind::Text(_) | ValueKind::Span { .. } => false,
            };
        if stored && self.key.kind.accepts(settings, index) {
            return Ok(());
        }
        Err(RigError {
            key: self.path(),
            value: value.to_string(),
            allowed: format!("must be {}", self.key.kind.allowed(self.key.unit)),
            partners: Vec::new(),
        })
    }
}

/// The value as a count; `None` if it is negative, has a fraction or is too large.
fn count(value: f64) -> Option<u32> {
    let whole = value.fract() == 0.0 && (0.0..=f64::from(u32::MAX)).contains(&value);
    whole.then_some(value as u32)
}

fn sense(value: f64) -> Option<Sense> {
    if value == 1.0 {
        Some(Sense::Same)
    } else if value == -1.0 {
        Some(Sense::Reversed)
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::super::keys::{KEYS, blank_keep_out, blank_periodic};
    use super::super::{DEMO_RIG, read};
    use super::*;

    #[test]
    fn every_numeric_key_is_found_and_set() {
        let mut settings = read(DEMO_RIG, "demo", &[])
            .map(|rig| rig.settings().clone())
            .unwrap_or_default();
        settings.drive.periodic = vec![blank_periodic(); 3];
        settings.keep_out = vec![blank_keep_out(); 3];
        for key in KEYS {
            let path = indexed(key.path, 2);
            let words = matches!(
                key.kind,
                ValueKind::Choice { .. } | ValueKind::Text(_) | ValueKind::Span { .. }
            );
            match NumericKey::find(&path, &settings) {
                Ok(found) => {
                    assert!(!words, "{path}");
                    assert_eq!(found.path(), path);
                    let one = if path == "framing.mosaic_overlap" || path == "drive.gain_error" {
                        0.5
                    } else {
                        1.0
                    };
                    assert_eq!(found.set(&mut settings, one), Ok(()), "{path}");
                    let index = found.index;
                    let now = key.kind.value(&mut settings, index);
                    let now = now.and_then(|v| v.as_float().or(v.as_integer().map(|i| i as f64)));
                    assert_eq!(now, Some(one), "{path}");
                    for bad in [f64::NAN, f64::INFINITY, -1e300] {
                        assert!(found.set(&mut settings, bad).is_err(), "{path} = {bad}");
                    }
                }
                Err(error) => assert!(words, "{error}"),
            }
        }
    }

    #[test]
    fn what_is_not_there_is_refused() {
        let settings = RigSettings::default();
        let says = |path: &str| {
            NumericKey::find(path, &settings)
                .err()
                .map_or_else(String::new, |e| e.allowed)
        };
        assert_eq!(
            says("drive.periodic.0.cycles"),
            "the rig has no drive.periodic entry"
        );
        assert_eq!(says("framing.pixel_um"), "the rig has no such section");
        assert!(says("loop.tolerance").starts_with("unknown key. Did you mean loop.tolerance_deg"));
        assert!(says("wrap.rule").starts_with("its values are words"));
        assert!(says("drive").starts_with("unknown key"));
    }
}
