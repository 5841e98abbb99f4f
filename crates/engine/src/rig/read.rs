//! The text of a rig file and `--set` overrides -> a validated rig.

use std::collections::BTreeMap;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::check::{Rig, indexed};
use super::error::RigError;
use super::format::{FormatStep, STEPS, bring_forward};
use super::input::{InputError, escape_controls};
use super::keys::{
    KEYS, Key, REQUIRED_IN_SECTION, ValueKind, blank_keep_out, blank_periodic, find, framing,
    pattern, too_many,
};
use super::settings::{RigSettings, Sense};
use super::source::{Source, number, pair, whole, with_zero};
use super::suggest::unknown;

/// Reads the text of a rig file and applies `key=value` overrides in their order.
///
/// `file` is the name that messages show. A missing key has its default.
///
/// # Errors
/// [`InputError`] for the first fault: not TOML, an unknown key, a wrong type, a value out of its range, or keys that
/// contradict each other.
pub fn read(text: &str, file: &str, overrides: &[String]) -> Result<Rig, InputError> {
    read_in_steps(text, file, overrides, STEPS)
}

/// As [`read`], with these steps to bring an older file forward.
pub(super) fn read_in_steps(
    text: &str,
    file: &str,
    overrides: &[String],
    steps: &[FormatStep],
) -> Result<Rig, InputError> {
    let mut reader = Reader {
        settings: RigSettings::default(),
        places: BTreeMap::new(),
        turn: 0,
    };
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let source = Source::of_file(file, text);
    let mut table = DeTable::parse(text).map_err(|e| source.syntax(&e))?;
    // First, because the rest of a file of a newer format may hold anything.
    bring_forward(table.get_mut(), &source, steps)?;
    reader.table("", table.get_ref(), &source)?;
    for given in overrides {
        reader.turn += 1;
        reader.set(given)?;
    }
    reader.finish(file)
}

struct Reader {
    settings: RigSettings,
    /// Where each given key and section stands. The last place wins.
    places: BTreeMap<String, SourcePlace>,
    /// Number of the override being read, from 1; 0 for the file.
    turn: usize,
}

#[derive(Clone)]
struct SourcePlace {
    /// Name of the file, or the option.
    file: String,
    /// `None` for an option.
    line: Option<usize>,
    /// Number of the override, from 1; 0 for the file.
    turn: usize,
}

impl Reader {
    fn table(
        &mut self,
        prefix: &str,
        table: &DeTable<'_>,
        source: &Source<'_>,
    ) -> Result<(), InputError> {
        for (key, value) in table {
            let dot = if prefix.is_empty() { "" } else { "." };
            let name = key.get_ref();
            if name.contains('.') {
                // In quotes, because the file has one name with a dot in it, not a path.
                let path = format!("{prefix}{dot}\"{name}\"");
                return Err(source.fault(&path, value, unknown(&path)));
            }
            let path = format!("{prefix}{dot}{name}");
            self.assign(&path, value, source)?;
        }
        Ok(())
    }

    fn assign(
        &mut self,
        path: &str,
        value: &Spanned<DeValue<'_>>,
        source: &Source<'_>,
    ) -> Result<(), InputError> {
        let place = self.place(value, source);
        if let Some((key, index)) = find(path) {
            self.index_exists(path, index, value, source)?;
            self.leaf(key, index, path, value, source)?;
        } else if is_list(path) {
            let DeValue::Array(entries) = value.get_ref() else {
                return Err(source.fault(path, value, "must be a list of tables".to_owned()));
            };
            if let Some(problem) = too_many(entries.len()) {
                return Err(source.fault(path, value, problem));
            }
            self.clear_list(path);
            for (i, entry) in entries.iter().enumerate() {
                let path = format!("{path}.{i}");
                let DeValue::Table(table) = entry.get_ref() else {
                    return Err(source.fault(&path, entry, "must be a table".to_owned()));
                };
                self.push_blank(&path);
                let place = self.place(entry, source);
                self.places.insert(path.clone(), place);
                self.table(&path, table, source)?;
            }
        } else if is_section(path) {
            if let Some((_, Some(index))) = pattern(path) {
                self.index_exists(path, index, value, source)?;
            }
            let DeValue::Table(table) = value.get_ref() else {
                return Err(source.fault(path, value, "must be a table of keys".to_owned()));
            };
            if path == "framing" {
                framing(&mut self.settings); // there, even if it is empty
            }
            self.table(path, table, source)?;
        } else {
            return Err(source.fault(path, value, unknown(path)));
        }
        self.places.insert(path.to_owned(), place);
        Ok(())
    }

    fn place(&self, value: &Spanned<DeValue<'_>>, source: &Source<'_>) -> SourcePlace {
        SourcePlace {
            file: source.file.to_owned(),
            line: source.line(value.span().start),
            turn: self.turn,
        }
    }

    fn leaf(
        &mut self,
        key: &Key,
        index: usize,
        path: &str,
        value: &Spanned<DeValue<'_>>,
        source: &Source<'_>,
    ) -> Result<(), InputError> {
        let settings = &mut self.settings;
        let fits = match (key.kind, value.get_ref()) {
            (ValueKind::Number { slot, .. }, v) => number(v).map(|n| *slot(settings, index) = n),
            (ValueKind::Count { slot, .. }, v) => whole(v)
                .and_then(|n| u32::try_from(n).ok())
                .map(|n| *slot(settings, index) = n),
            (ValueKind::Sign(slot), v) => match whole(v) {
                Some(1) => Some(Sense::Same),
                Some(-1) => Some(Sense::Reversed),
                _ => None,
            }
            .map(|sense| *slot(settings, index) = sense),
            (ValueKind::Choice { set, .. }, DeValue::String(name)) => {
                set(settings, name).then_some(())
            }
            (ValueKind::Symmetry, v) => whole(v)
                .and_then(|n| u32::try_from(n).ok())
                .map(|n| settings.wrap.symmetry = Some(n)),
            (ValueKind::Stop(slot), v) => number(v).map(|n| *slot(settings) = Some(n)),
            (ValueKind::Text(slot), DeValue::String(text)) => {
                *slot(settings, index) = text.to_string();
                Some(())
            }
            (ValueKind::Span { slot, .. }, v) => {
                pair(v).map(|ends| *slot(settings, index) = Some(ends))
            }
            _ => None,
        };
        let permitted = fits.is_some() && key.kind.accepts(settings, index);
        if permitted {
            return Ok(());
        }
        let allowed = format!("must be {}", key.kind.allowed(key.unit));
        Err(source.fault(path, value, allowed))
    }

    /// One `key=value` of the command line.
    fn set(&mut self, given: &str) -> Result<(), InputError> {
        let option = format!("--set {}", escape_controls(given));
        let source = Source::of_option(&option);
        let Some((path, raw)) = given.split_once('=') else {
            return Err(InputError::of_file(
                &option,
                "must be KEY=VALUE, such as loop.tolerance_deg=0.3",
            ));
        };
        let (path, raw) = (path.trim(), raw.trim());
        let wants_number = matches!(
            find(path),
            Some((key, _)) if matches!(key.kind, ValueKind::Number { .. } | ValueKind::Stop(_))
        );
        let repaired = with_zero(raw).filter(|_| wants_number);
        let raw = repaired.as_deref().unwrap_or(raw);
        // A bare word counts as text, and the user needs no second pair of quotes in the shell.
        let quoted = toml::Value::String(raw.to_owned()).to_string();
        let value = DeValue::parse(raw)
            .or_else(|_| DeValue::parse(&quoted))
            .map_err(|e| source.syntax(&e))?;
        self.assign(path, &value, &source)
    }

    /// Refuses an index beyond the end of its list.
    fn index_exists(
        &self,
        path: &str,
        index: usize,
        value: &Spanned<DeValue<'_>>,
        source: &Source<'_>,
    ) -> Result<(), InputError> {
        let (list, length) = if path.starts_with("drive.periodic.") {
            ("drive.periodic", self.settings.drive.periodic.len())
        } else if path.starts_with("keep_out.") {
            ("keep_out", self.settings.keep_out.len())
        } else {
            return Ok(());
        };
        if index < length {
            return Ok(());
        }
        Err(source.fault(path, value, no_entry(list, length)))
    }

    fn clear_list(&mut self, path: &str) {
        if path == "keep_out" {
            self.settings.keep_out.clear();
        } else {
            self.settings.drive.periodic.clear();
        }
        let entries = format!("{path}.");
        self.places.retain(|p, _| !p.starts_with(&entries));
    }

    fn push_blank(&mut self, path: &str) {
        if path.starts_with("keep_out") {
            self.settings.keep_out.push(blank_keep_out());
        } else {
            self.settings.drive.periodic.push(blank_periodic());
        }
    }

    fn finish(self, file: &str) -> Result<Rig, InputError> {
        self.nothing_missing(file)?;
        Rig::new(self.settings).map_err(|error| {
            let (file, line) = match origin(&self.places, &error) {
                Some(place) => (place.file.as_str(), place.line),
                None => (file, None),
            };
            InputError::of_rig(error, file, line)
        })
    }

    fn nothing_missing(&self, file: &str) -> Result<(), InputError> {
        for required in REQUIRED_IN_SECTION {
            let count = if required.starts_with("framing") {
                usize::from(self.settings.framing.is_some())
            } else if required.starts_with("keep_out") {
                self.settings.keep_out.len()
            } else {
                self.settings.drive.periodic.len()
            };
            for i in 0..count {
                let path = indexed(required, i);
                if !self.places.contains_key(&path) {
                    return Err(self.missing(&path, i, file));
                }
            }
        }
        Ok(())
    }

    /// The error for a section or entry that lacks a required key. `path` is its first missing one.
    fn missing(&self, path: &str, index: usize, file: &str) -> InputError {
        let section = path.rsplit_once('.').map_or("", |(s, _)| s);
        let others: Vec<String> = REQUIRED_IN_SECTION
            .iter()
            .map(|required| indexed(required, index))
            .filter(|p| p != path && !self.places.contains_key(p))
            .filter_map(|p| {
                let (s, name) = p.rsplit_once('.')?;
                (s == section).then(|| name.to_owned())
            })
            .collect();
        let problem = if others.is_empty() {
            "is missing: it has no default".to_owned()
        } else {
            format!(
                "is missing, and so is {}: they have no default",
                others.join(", ")
            )
        };
        // If an override of a key began the section, the section itself has no place.
        let inside = |p: &str| p.rsplit_once('.').is_some_and(|(s, _)| s == section);
        let place = self.places.get(section).or_else(|| {
            let keys = self.places.iter().filter(|(p, _)| inside(p));
            keys.map(|(_, place)| place).max_by_key(|place| place.turn)
        });
        InputError {
            line: place.and_then(|p| p.line),
            key: path.to_owned(),
            ..InputError::of_file(place.map_or(file, |p| &p.file), problem)
        }
    }
}

/// Where a fault comes from: the last override of a key that takes part in it, else the key itself, else another key
/// that takes part.
fn origin<'a>(
    places: &'a BTreeMap<String, SourcePlace>,
    error: &RigError,
) -> Option<&'a SourcePlace> {
    let partners = || error.partners.iter().filter_map(|key| places.get(key));
    let own = places.get(&error.key);
    own.into_iter()
        .chain(partners())
        .filter(|place| place.turn > 0)
        .max_by_key(|place| place.turn)
        .or(own)
        .or_else(|| partners().next_back())
}

fn is_section(path: &str) -> bool {
    let Some((path, _)) = pattern(path) else {
        return false;
    };
    let inside = |key: &str| {
        key.strip_prefix(path.as_str())
            .is_some_and(|rest| rest.starts_with('.'))
    };
    !path.ends_with('*') && KEYS.iter().any(|k| inside(k.path))
}

/// The message for an entry that a list does not have.
pub(super) fn no_entry(list: &str, length: usize) -> String {
    match length {
        0 => format!("the rig has no {list} entry"),
        n => format!(
            "the rig has {n} {list} entries, numbered from 0 to {}",
            n - 1
        ),
    }
}

fn is_list(path: &str) -> bool {
    path == "drive.periodic" || path == "keep_out"
}
