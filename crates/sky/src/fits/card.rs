//! One card of 80 bytes -> a key and its value.

use std::fmt;

pub(super) const CARD_BYTES: usize = 80;

/// A value as it stands in the card.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Value {
    /// A text in quotes, without the quotes and without blanks at its end.
    Text(String),
    /// A number or a logical value, as written.
    Bare(String),
}

impl fmt::Display for Value {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Text(text) => write!(f, "{text:?}"),
            Self::Bare(text) => f.write_str(text),
        }
    }
}

/// What a card is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Card {
    /// The end of a header.
    End,
    /// A key with a value.
    Keyed(String, Value),
    /// A continuation of the text before.
    Continued(String),
    /// A comment, a key without a value, or nothing.
    Other,
}

impl Card {
    /// Reads a card of [`CARD_BYTES`] bytes.
    pub(super) fn read(bytes: &[u8]) -> Self {
        // Comments and names may hold bytes that the standard does not allow. They are no reason to stop.
        let text: String = bytes.iter().map(|b| char::from(*b)).collect();
        let (key, rest) = text.split_at(text.char_indices().nth(8).map_or(text.len(), |c| c.0));
        let key = key.trim_end();
        if key == "END" && rest.trim().is_empty() {
            return Self::End;
        }
        match (key, rest.strip_prefix('=')) {
            ("COMMENT" | "HISTORY" | "", _) => Self::Other,
            ("CONTINUE", _) => match value(rest) {
                Some(Value::Text(text)) => Self::Continued(text),
                _ => Self::Other,
            },
            // A convention for long keys, such as HIERARCH INST ROTATOR ANGLE = 12.5
            ("HIERARCH", _) => match rest.split_once('=') {
                Some((key, rest)) => keyed(key.trim(), rest),
                None => Self::Other,
            },
            (_, Some(rest)) => keyed(key, rest),
            _ => Self::Other,
        }
    }
}

fn keyed(key: &str, rest: &str) -> Card {
    value(rest).map_or(Card::Other, |v| Card::Keyed(key.to_ascii_uppercase(), v))
}

/// The value before the comment; `None` without a value.
fn value(text: &str) -> Option<Value> {
    let text = text.trim_start();
    let Some(mut rest) = text.strip_prefix('\'') else {
        let bare = text.split('/').next().unwrap_or_default().trim();
        return (!bare.is_empty()).then(|| Value::Bare(bare.to_owned()));
    };
    let mut out = String::new();
    loop {
        let (part, after) = rest.split_once('\'').unwrap_or((rest, ""));
        out.push_str(part);
        match after.strip_prefix('\'') {
            Some(more) => rest = more,
            None => break,
        }
        out.push('\''); // a doubled quote is one
    }
    Some(Value::Text(out.trim_end().to_owned()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Card {
        Card::read(format!("{text:80}").as_bytes())
    }

    /// Forms of the FITS standard 4.0, section 4.2, and appendix A.
    #[test]
    fn the_forms_of_the_standard_are_read() {
        let text =
            |key: &str, value: &str| Card::Keyed(key.to_owned(), Value::Text(value.to_owned()));
        let bare =
            |key: &str, value: &str| Card::Keyed(key.to_owned(), Value::Bare(value.to_owned()));
        let table = [
            (
                "SIMPLE  =                    T / conforms",
                bare("SIMPLE", "T"),
            ),
            ("CRVAL1  =   1.2D+01/ degrees", bare("CRVAL1", "1.2D+01")),
            (
                "OBJECT  = 'O''HARA  ''S / field  '  / text",
                text("OBJECT", "O'HARA  'S / field"),
            ),
            ("NULL    = ''", text("NULL", "")),
            (
                "CONTINUE  'more&' / of it",
                Card::Continued("more&".to_owned()),
            ),
            (
                "HIERARCH Inst Rot Angle = 12.50 / deg",
                bare("INST ROT ANGLE", "12.50"),
            ),
            ("COMMENT = 'not a value'", Card::Other),
            ("HISTORY CRVAL1  = 5", Card::Other),
            ("EMPTY   =            / no value", Card::Other),
            ("WITHOUT   5", Card::Other),
            ("", Card::Other),
            ("END", Card::End),
            ("OPEN    = 'no end", text("OPEN", "no end")),
        ];
        for (card, expected) in table {
            assert_eq!(read(card), expected, "{card}");
        }
        assert_eq!(Card::read(&[0xe9; CARD_BYTES]), Card::Other);
    }
}
