//! A rig as a flat list of keys and values: the differences of two rigs, and another rig's values put into a file.

use toml_edit::{Array, ArrayOfTables, DocumentMut, InlineTable, Item, Table};

use super::check::{Rig, entries, indexed};
use super::keys::KEYS;
use super::read::read;
use super::starter::commented;

/// A key whose value differs between two rigs.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct KeyDifference {
    /// Dotted path.
    pub key: String,
    /// Its value in the first rig; `None` if it is not set there.
    #[cfg_attr(feature = "schema", schemars(with = "Option<crate::schema::KeyValue>"))]
    pub from: Option<toml::Value>,
    /// Its value in the second rig; `None` if it is not set there.
    #[cfg_attr(feature = "schema", schemars(with = "Option<crate::schema::KeyValue>"))]
    pub to: Option<toml::Value>,
}

impl Rig {
    /// Every key that is set, by its dotted path, in the order of the file.
    #[must_use]
    pub fn key_values(&self) -> Vec<(String, toml::Value)> {
        let mut probe = self.settings().clone();
        let mut all = Vec::new();
        for key in KEYS {
            for index in 0..entries(key, self.settings()) {
                if let Some(value) = key.kind.value(&mut probe, index) {
                    all.push((indexed(key.path, index), value));
                }
            }
        }
        all
    }

    /// The differences to another rig, in the order of the file. Keys that only the other one has come last.
    #[must_use]
    pub fn differences(&self, other: &Self) -> Vec<KeyDifference> {
        differences(&self.key_values(), &other.key_values())
    }
}

/// The differences of two lists of keys.
#[must_use]
pub fn differences(
    from: &[(String, toml::Value)],
    to: &[(String, toml::Value)],
) -> Vec<KeyDifference> {
    let old: std::collections::HashMap<&str, &toml::Value> =
        from.iter().map(|(k, v)| (k.as_str(), v)).collect();
    let new: std::collections::HashMap<&str, &toml::Value> =
        to.iter().map(|(k, v)| (k.as_str(), v)).collect();
    let mut keys: Vec<&str> = from.iter().map(|(k, _)| k.as_str()).collect();
    keys.extend(
        to.iter()
            .map(|(k, _)| k.as_str())
            .filter(|k| !old.contains_key(k)),
    );
    keys.into_iter()
        .filter(|k| old.get(k) != new.get(k))
        .map(|k| KeyDifference {
            key: k.to_owned(),
            from: old.get(k).map(|v| (*v).clone()),
            to: new.get(k).map(|v| (*v).clone()),
        })
        .collect()
}

/// The text of a rig file with the values of `rig` put in. Comments and order stay. If the result would not be the
/// same rig, the file is written anew with a comment on every key.
#[must_use]
pub fn rewrite_keeping_comments(text: &str, rig: &Rig) -> String {
    try_merge(text, rig)
        .filter(|text| read(text, "", &[]).is_ok_and(|back| back.digest() == rig.digest()))
        .unwrap_or_else(|| commented(rig))
}

fn try_merge(text: &str, rig: &Rig) -> Option<String> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let old = read(text, "", &[]).ok()?;
    let mut document: DocumentMut = text.parse().ok()?;
    let changes = old.differences(rig);
    let in_list = |list: &str| changes.iter().any(|c| c.key.starts_with(list));
    if in_list("drive.periodic.") {
        let list: Array = rig.settings().drive.periodic.iter().map(periodic).collect();
        put(
            &mut document,
            "drive.periodic",
            toml_edit::Value::Array(list),
        )?;
    }
    if in_list("keep_out.") {
        let list: ArrayOfTables = rig.settings().keep_out.iter().map(keep_out).collect();
        document.insert("keep_out", Item::ArrayOfTables(list));
    }
    for change in changes {
        if change.key.starts_with("drive.periodic.") || change.key.starts_with("keep_out.") {
            continue;
        }
        match change.to {
            Some(value) => put(&mut document, &change.key, plain(&value)?)?,
            None => return None,
        }
    }
    Some(document.to_string())
}

/// Sets a value and keeps the comment behind the old one.
fn put(document: &mut DocumentMut, path: &str, mut value: toml_edit::Value) -> Option<()> {
    let (section, name) = match path.split_once('.') {
        Some((section, name)) => (Some(section), name),
        None => (None, path),
    };
    let table: &mut dyn toml_edit::TableLike = match section {
        None => document.as_table_mut(),
        Some(section) => document
            .entry(section)
            .or_insert_with(|| Item::Table(Table::new()))
            .as_table_like_mut()?,
    };
    match table.get_mut(name).and_then(Item::as_value_mut) {
        Some(old) => {
            *value.decor_mut() = old.decor().clone();
            *old = value;
        }
        None => {
            table.insert(name, Item::Value(value));
        }
    }
    Some(())
}

fn plain(value: &toml::Value) -> Option<toml_edit::Value> {
    Some(match value {
        toml::Value::String(s) => s.into(),
        toml::Value::Integer(i) => (*i).into(),
        toml::Value::Float(x) => (*x).into(),
        toml::Value::Boolean(_)
        | toml::Value::Datetime(_)
        | toml::Value::Array(_)
        | toml::Value::Table(_) => return None,
    })
}

fn periodic(p: &super::Periodic) -> InlineTable {
    let mut table = InlineTable::new();
    table.insert("cycles", p.cycles.into());
    table.insert("amplitude_deg", p.amplitude_deg.into());
    table.insert("phase_deg", p.phase_deg.into());
    table
}

fn keep_out(k: &super::KeepOut) -> Table {
    let mut table = Table::new();
    table.insert("from_deg", toml_edit::value(k.from_deg));
    table.insert("to_deg", toml_edit::value(k.to_deg));
    table.insert("why", toml_edit::value(k.why.as_str()));
    let mut when = InlineTable::new();
    for (key, ends) in [
        ("hour_angle_h", k.when.hour_angle_h),
        ("altitude_deg", k.when.altitude_deg),
    ] {
        if let Some(ends) = ends {
            when.insert(key, Array::from_iter(ends).into());
        }
    }
    if !when.is_empty() {
        table.insert("when", toml_edit::value(when));
    }
    table
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::DEMO_RIG;

    fn demo(changes: &[&str]) -> Rig {
        let changes: Vec<String> = changes.iter().map(|c| (*c).to_owned()).collect();
        read(DEMO_RIG, "demo", &changes).expect("a valid rig")
    }

    #[test]
    fn comments_survive_a_merge() {
        let rig = demo(&["wrap.arc_start_deg=276.5", "loop.tolerance_deg=0.4"]);
        let text = rewrite_keeping_comments(DEMO_RIG, &rig);
        assert_eq!(
            text,
            DEMO_RIG
                .replace("arc_start_deg = 0.0 ", "arc_start_deg = 276.5 ")
                .replace("tolerance_deg = 0.3 ", "tolerance_deg = 0.4 ")
        );
    }

    #[test]
    fn every_kind_of_change_reads_back_as_the_same_rig() {
        for change in [
            "drive.periodic=[{cycles=2,amplitude_deg=0.1},{cycles=1,amplitude_deg=0.3}]",
            "keep_out.0.to_deg=260",
            "keep_out.0.when={hour_angle_h=[-1,1.5]}",
            "wrap.rule=fold-once",
            "wrap.symmetry=4",
            "name=another",
            "framing.pixel_um=2.4",
        ] {
            let rig = demo(&[change]);
            let text = rewrite_keeping_comments(DEMO_RIG, &rig);
            let back = read(&text, "merged", &[]).expect("a valid rig");
            assert_eq!(back, rig, "{change}");
            assert!(text.contains("# A small refractor on a pier"), "{change}");
        }
        // A removed key needs the file anew. New sections and keys are added.
        assert_eq!(
            read(&rewrite_keeping_comments("", &demo(&[])), "new", &[]),
            Ok(demo(&[]))
        );
        let bare = read("", "bare", &[]).expect("a valid rig");
        assert_eq!(
            read(&rewrite_keeping_comments(DEMO_RIG, &bare), "bare", &[]),
            Ok(bare)
        );
        let inline = "wrap = { rule = \"half-circle\" } # mine\n";
        let rig = read(inline, "x", &["wrap.arc_start_deg=7".to_owned()]).expect("a valid rig");
        let text = rewrite_keeping_comments(inline, &rig);
        assert!(
            text.contains("# mine") && text.contains("arc_start_deg = 7"),
            "{text}"
        );
    }

    #[test]
    fn differences_name_keys_and_values() {
        let found = demo(&[]).differences(&demo(&["drive.step_deg=0.1", "wrap.symmetry=2"]));
        let said: Vec<String> = found
            .iter()
            .map(|d| {
                let text = |v: &Option<toml::Value>| v.as_ref().map(ToString::to_string);
                format!("{} {:?} {:?}", d.key, text(&d.from), text(&d.to))
            })
            .collect();
        assert_eq!(
            said,
            [
                "drive.step_deg Some(\"0.02\") Some(\"0.1\")",
                "wrap.symmetry None Some(\"2\")"
            ]
        );
    }
}
