//! The keys of one header and typed access to their values.

use std::collections::HashMap;

use super::FitsError;
use super::card::{Card, Value};

/// The keys and values of one header.
#[derive(Debug, Clone, Default)]
pub struct Header {
    /// Every value of a key, in the order of the cards.
    values: HashMap<String, Vec<Value>>,
    /// The key of the last text, if the text may continue.
    open: Option<String>,
}

impl Header {
    /// Takes in the next card. `END` and comments change nothing.
    pub(super) fn push(&mut self, card: Card) {
        match card {
            Card::Keyed(key, value) => {
                let goes_on = matches!(&value, Value::Text(text) if text.ends_with('&'));
                self.open = goes_on.then(|| key.clone());
                self.values.entry(key).or_default().push(value);
            }
            Card::Continued(more) => self.go_on(&more),
            Card::Other | Card::End => self.open = None,
        }
    }

    fn go_on(&mut self, more: &str) {
        let last = self.open.as_ref().and_then(|key| self.values.get_mut(key));
        if let Some(Value::Text(text)) = last.and_then(|values| values.last_mut()) {
            text.pop(); // the ampersand
            text.push_str(more);
            if !more.ends_with('&') {
                self.open = None;
            }
        }
    }

    /// The only value of a key.
    ///
    /// # Errors
    /// [`FitsError::Key`] if the key occurs with two values.
    pub(super) fn value(&self, key: &str) -> Result<Option<&Value>, FitsError> {
        let Some(values) = self.values.get(key) else {
            return Ok(None);
        };
        match values.iter().find(|v| Some(*v) != values.first()) {
            Some(other) => Err(FitsError::key(
                key,
                values.first().map(ToString::to_string).as_deref(),
                format!("stands here twice, also as {other}. Remove one"),
            )),
            None => Ok(values.first()),
        }
    }

    /// The keys whose values are numbers.
    pub(super) fn number_keys(&self) -> impl Iterator<Item = &str> {
        let numbers = |v: &[Value]| matches!(v, [Value::Bare(text)] if number(text).is_some());
        let keys = self.values.iter().filter(move |(_, v)| numbers(v));
        keys.map(|(key, _)| key.as_str())
    }

    pub(super) fn has(&self, key: &str) -> bool {
        self.values.contains_key(key)
    }

    /// A finite number; `None` if the header lacks the key.
    pub(super) fn number(&self, key: &str) -> Result<Option<f64>, FitsError> {
        let Some(value) = self.value(key)? else {
            return Ok(None);
        };
        let number = match value {
            Value::Bare(text) => number(text),
            Value::Text(_) => None,
        };
        number
            .map(Some)
            .ok_or_else(|| FitsError::key(key, Some(&value.to_string()), "must be a finite number"))
    }

    /// A whole number that is not negative; `None` if the header lacks the key.
    pub(super) fn count(&self, key: &str) -> Result<Option<u64>, FitsError> {
        let Some(value) = self.value(key)? else {
            return Ok(None);
        };
        let count = match value {
            Value::Bare(text) => text.parse().ok(),
            Value::Text(_) => None,
        };
        count.map(Some).ok_or_else(|| {
            let allowed = "must be a whole number, at least 0";
            FitsError::key(key, Some(&value.to_string()), allowed)
        })
    }

    /// A text without blanks around it, or a bare value as written; `None` if the header lacks the key.
    ///
    /// # Errors
    /// [`FitsError::Key`] if the key occurs with two values.
    pub fn text(&self, key: &str) -> Result<Option<&str>, FitsError> {
        Ok(self.value(key)?.map(|value| match value {
            Value::Text(text) | Value::Bare(text) => text.trim(),
        }))
    }

    /// Whether the key has the value true.
    pub(super) fn is_true(&self, key: &str) -> bool {
        matches!(self.value(key), Ok(Some(Value::Bare(text))) if text == "T")
    }
}

/// A number as FITS writes it: the exponent may begin with a D.
pub(super) fn number(text: &str) -> Option<f64> {
    let text = text.trim().replace(['D', 'd'], "E");
    text.parse::<f64>().ok().filter(|x| x.is_finite())
}
