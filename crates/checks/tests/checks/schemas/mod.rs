//! The published JSON Schemas against what the program writes and reads, by a validator that is none of ours: the crate
//! jsonschema, which passes the official test suite of JSON Schema, draft 2020-12.

mod agreement;
mod lines;
mod outputs;
mod published;
mod rigs;
mod verdicts;
mod written;

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, OnceLock};

use jsonschema::Validator;
use serde_json::{Value, json};

/// A validator of a schema as the program gives it out: whole, and without a network.
pub(crate) fn validator(name: &str) -> Arc<Validator> {
    static MADE: OnceLock<Mutex<BTreeMap<String, Arc<Validator>>>> = OnceLock::new();
    let mut made = MADE
        .get_or_init(Mutex::default)
        .lock()
        .expect("no other test has panicked here");
    let entry = made.entry(name.to_owned()).or_insert_with(|| {
        let schema = halfturn_report::schema(name).expect("a schema of that name");
        let made = jsonschema::draft202012::new(&schema);
        Arc::new(made.unwrap_or_else(|e| panic!("{name}: {e}")))
    });
    Arc::clone(entry)
}

/// What a schema finds wrong, the first few.
pub(crate) fn faults(name: &str, value: &Value) -> Vec<String> {
    let found = validator(name);
    let faults = found.iter_errors(value).take(5);
    faults
        .map(|e| {
            format!("{}: {e}", e.instance_path())
                .chars()
                .take(300)
                .collect()
        })
        .collect()
}

/// A document, the schema that it must keep to, and a label for messages.
#[derive(Debug, Clone)]
pub(crate) struct Document {
    pub(crate) schema: &'static str,
    pub(crate) label: String,
    pub(crate) value: Value,
}

impl Document {
    pub(crate) fn check(&self) {
        let faults = faults(self.schema, &self.value);
        assert!(
            faults.is_empty(),
            "{}, {}: {faults:#?}",
            self.schema,
            self.label
        );
    }

    /// Changes the document in every place by one: a key dropped, an unknown key added, a value of another type. `optional` names the
    /// keys that may be missing. Returns how many changes were refused; all must be.
    pub(crate) fn mutate(&self, optional: &[&str]) -> usize {
        let mut places = Vec::new();
        find(&self.value, &mut Vec::new(), &mut places);
        let validator = validator(self.schema);
        let mut refused = 0;
        let mut must_be_refused = |change: &str, place: &[Step], changed: &Value| {
            assert!(
                !validator.is_valid(changed),
                "{}, {}: {change} at {place:?} is taken",
                self.schema,
                self.label
            );
            refused += 1;
        };
        for place in &places {
            let mut changed = self.value.clone();
            let here = at(&mut changed, place);
            let before = here.clone();
            if !place.is_empty() {
                *here = if before.is_boolean() {
                    json!("true")
                } else {
                    json!(true)
                };
                must_be_refused("another type", place, &changed);
            }
            if let Value::Object(object) = &before {
                let mut more = object.clone();
                more.insert("no_such_key".to_owned(), json!(1));
                *at(&mut changed, place) = more.into();
                must_be_refused("an unknown key", place, &changed);
            }
            if let (Some(Step::Key(key)), Some(parent)) = (place.last(), place.len().checked_sub(1))
                && !optional.contains(&key.as_str())
            {
                let mut changed = self.value.clone();
                let parent = at(&mut changed, &place[..parent]);
                parent.as_object_mut().expect("an object").remove(key);
                must_be_refused("a key less", place, &changed);
            }
        }
        refused
    }
}

#[derive(Debug, Clone)]
enum Step {
    Key(String),
    Entry(usize),
}

/// Every place of a document; of a list the first and the last entry.
fn find(value: &Value, here: &mut Vec<Step>, places: &mut Vec<Vec<Step>>) {
    places.push(here.clone());
    let mut visit = |step, value| {
        here.push(step);
        find(value, here, places);
        here.pop();
    };
    match value {
        Value::Object(object) => {
            for (key, value) in object {
                visit(Step::Key(key.clone()), value);
            }
        }
        Value::Array(list) => {
            let ends = [0, list.len().saturating_sub(1)];
            for i in &ends[..list.len().min(2)] {
                visit(Step::Entry(*i), &list[*i]);
            }
        }
        _ => {}
    }
}

fn at<'v>(value: &'v mut Value, place: &[Step]) -> &'v mut Value {
    place.iter().fold(value, |value, step| match step {
        Step::Key(key) => &mut value[key],
        Step::Entry(i) => &mut value[*i],
    })
}

/// TOML seen as JSON. What JSON has no form for becomes `null`, which no schema here takes for a number.
pub(crate) fn as_json(text: &str) -> Value {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let value: toml::Value = toml::from_str(text).unwrap_or_else(|e| panic!("{e}: {text}"));
    json!(value)
}

/// Says how much a test has done, for `--nocapture`.
#[expect(clippy::print_stderr, reason = "the figures of docs/trust.md")]
pub(crate) fn say(what: &str) {
    eprintln!("{what}");
}
