//! The text of a rig file, and `--set` overrides, to a validated rig.

use std::collections::BTreeMap;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::check::{Rig, indexed};
use super::input::InputError;
use super::keys::{KEYS, Key, Kind, REQUIRED_IN_SECTION, blank_keep_out, blank_periodic, find};
use super::settings::{RigSettings, Sense};

/// Reads the text of a rig file and applies `key=value` overrides in their order.
///
/// `file` is the name for messages. Keys that are not there keep their defaults.
///
/// # Errors
/// [`InputError`] for the first fault: not TOML, an unknown key, a wrong type, a value out of its
/// range, or keys that do not fit together.
pub fn read(text: &str, file: &str, overrides: &[String]) -> Result<Rig, InputError> {
    let mut reader = Reader {
        settings: RigSettings::default(),
        places: BTreeMap::new(),
    };
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let source = Source {
        file,
        text: Some(text),
    };
    let table = DeTable::parse(text).map_err(|e| source.syntax(&e))?;
    reader.table("", table.get_ref(), &source)?;
    for given in overrides {
        reader.set(given)?;
    }
    reader.finish(file)
}

/// Where a value comes from.
struct Source<'a> {
    file: &'a str,
    /// The whole text, to turn offsets into lines; `None` for an option.
    text: Option<&'a str>,
}

impl Source<'_> {
    fn line(&self, offset: usize) -> Option<usize> {
        let before = self.text?.as_bytes().get(..offset)?;
        Some(1 + before.iter().filter(|b| **b == b'\n').count())
    }

    fn syntax(&self, error: &toml::de::Error) -> InputError {
        InputError {
            line: error.span().and_then(|s| self.line(s.start)),
            ..InputError::of_file(self.file, format!("not valid TOML: {}", error.message()))
        }
    }

    fn fault(&self, path: &str, value: &Spanned<DeValue<'_>>, allowed: String) -> InputError {
        InputError {
            file: self.file.to_owned(),
            line: self.line(value.span().start),
            key: path.to_owned(),
            value: shown(value.get_ref()),
            allowed,
        }
    }
}

struct Reader {
    settings: RigSettings,
    /// File and line of every key and section that was given.
    places: BTreeMap<String, (String, Option<usize>)>,
}

impl Reader {
    fn table(
        &mut self,
        prefix: &str,
        table: &DeTable<'_>,
        source: &Source<'_>,
    ) -> Result<(), InputError> {
        for (key, value) in table {
            let path = if prefix.is_empty() {
                key.get_ref().to_string()
            } else {
                format!("{prefix}.{}", key.get_ref())
            };
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
        let place = (source.file.to_owned(), source.line(value.span().start));
        if let Some((key, index)) = find(path) {
            self.index_exists(path, index, value, source)?;
            self.leaf(key, index, path, value, source)?;
        } else if is_list(path) {
            let DeValue::Array(entries) = value.get_ref() else {
                return Err(source.fault(path, value, "must be a list of tables".to_owned()));
            };
            self.clear_list(path);
            for (i, entry) in entries.iter().enumerate() {
                let path = format!("{path}.{i}");
                let DeValue::Table(table) = entry.get_ref() else {
                    return Err(source.fault(&path, entry, "must be a table".to_owned()));
                };
                self.push_blank(&path);
                self.places.insert(
                    path.clone(),
                    (source.file.to_owned(), source.line(entry.span().start)),
                );
                self.table(&path, table, source)?;
            }
        } else if KEYS.iter().any(|k| k.path.starts_with(&format!("{path}."))) {
            let DeValue::Table(table) = value.get_ref() else {
                return Err(source.fault(path, value, "must be a table of keys".to_owned()));
            };
            self.table(path, table, source)?;
        } else {
            return Err(source.fault(path, value, unknown(path)));
        }
        self.places.insert(path.to_owned(), place);
        Ok(())
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
            (Kind::Number { slot, .. }, v) => number(v).map(|n| *slot(settings, index) = n),
            (Kind::Count { slot, .. }, v) => whole(v)
                .and_then(|n| u32::try_from(n).ok())
                .map(|n| *slot(settings, index) = n),
            (Kind::Sign(slot), v) => match whole(v) {
                Some(1) => Some(Sense::Same),
                Some(-1) => Some(Sense::Reversed),
                _ => None,
            }
            .map(|sense| *slot(settings, index) = sense),
            (Kind::Choice { set, .. }, DeValue::String(name)) => set(settings, name).then_some(()),
            (Kind::Symmetry, v) => whole(v)
                .and_then(|n| u32::try_from(n).ok())
                .map(|n| settings.wrap.symmetry = Some(n)),
            (Kind::Stop(slot), v) => number(v).map(|n| *slot(settings) = Some(n)),
            (Kind::Text(slot), DeValue::String(text)) => {
                *slot(settings, index) = text.to_string();
                Some(())
            }
            _ => None,
        };
        let permitted = fits.is_some() && key.kind.accepts(settings, index);
        if permitted {
            return Ok(());
        }
        let mut allowed = format!("must be {}", key.kind.allowed(key.unit));
        if path == "format" && whole(value.get_ref()).is_some_and(|n| n > 1) {
            allowed = "this program reads format 1: the file was made for a newer one".to_owned();
        }
        Err(source.fault(path, value, allowed))
    }

    /// One `key=value` of the command line.
    fn set(&mut self, given: &str) -> Result<(), InputError> {
        let option = format!("--set {given}");
        let source = Source {
            file: &option,
            text: None,
        };
        let Some((path, raw)) = given.split_once('=') else {
            return Err(InputError::of_file(
                &option,
                "must be KEY=VALUE, such as loop.tolerance_deg=0.3",
            ));
        };
        let (path, raw) = (path.trim(), raw.trim());
        // A bare word is taken as text, so that the shell's quotes are enough.
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
            let (file, line) = self
                .places
                .get(&error.key)
                .cloned()
                .unwrap_or((file.to_owned(), None));
            InputError::of_rig(error, &file, line)
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
                    let section = path.rsplit_once('.').map_or("", |(s, _)| s);
                    let (file, line) = self
                        .places
                        .get(section)
                        .cloned()
                        .unwrap_or((file.to_owned(), None));
                    return Err(InputError {
                        line,
                        key: path,
                        ..InputError::of_file(&file, "is missing: it has no default")
                    });
                }
            }
        }
        Ok(())
    }
}

/// What is said of an entry that a list does not have.
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

fn number(value: &DeValue<'_>) -> Option<f64> {
    let number = match value {
        // Only a decimal integer is within range of its text as a float.
        DeValue::Integer(i) if i.radix() == 10 => i.as_str().parse::<f64>().ok()?,
        DeValue::Integer(_) => return None,
        DeValue::Float(x) => x.as_str().parse::<f64>().ok()?,
        _ => return None,
    };
    // -0.0 is taken as 0.0: no result may depend on the sign of a zero.
    number.is_finite().then_some(number + 0.0)
}

fn whole(value: &DeValue<'_>) -> Option<i64> {
    match value {
        DeValue::Integer(i) => i64::from_str_radix(i.as_str(), i.radix()).ok(),
        _ => None,
    }
}

/// A value as it would be written, cut short where it is long.
fn shown(value: &DeValue<'_>) -> String {
    let text = match value {
        DeValue::String(s) => toml::Value::String(s.to_string()).to_string(),
        DeValue::Integer(i) => i.as_str().to_owned(),
        DeValue::Float(x) => x.as_str().to_owned(),
        DeValue::Boolean(b) => b.to_string(),
        DeValue::Datetime(d) => d.to_string(),
        DeValue::Array(_) => "[…]".to_owned(),
        DeValue::Table(_) => "{…}".to_owned(),
    };
    if text.chars().count() > 60 {
        let start: String = text.chars().take(57).collect();
        format!("{start}…")
    } else {
        text
    }
}

/// What is said of a key that is not in the table.
pub(super) fn unknown(path: &str) -> String {
    let last = |p: &str| p.rsplit('.').next().unwrap_or_default().to_owned();
    let names = KEYS.iter().map(|k| k.path).chain([
        "drive.periodic",
        "keep_out",
        "drive",
        "solve",
        "loop",
        "wrap",
        "framing",
    ]);
    let nearest = names
        .map(|name| {
            let whole = strsim::normalized_damerau_levenshtein(name, path);
            let end = strsim::normalized_damerau_levenshtein(&last(name), &last(path));
            (whole.max(end - 0.05), name)
        })
        .max_by(|a, b| a.0.total_cmp(&b.0));
    match nearest {
        Some((likeness, name)) if likeness > 0.6 => {
            format!("unknown key; did you mean {name}?")
        }
        _ => "unknown key; `halfturn init` writes a file with all keys".to_owned(),
    }
}
