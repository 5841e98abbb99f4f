//! The message for a key that does not exist.

use super::keys::{KEYS, pattern};

/// Names of sections and lists, beside the keys.
const SECTIONS: [&str; 7] = [
    "drive.periodic",
    "keep_out",
    "drive",
    "solve",
    "loop",
    "wrap",
    "framing",
];

/// How alike two names must be, from 0 to 1, before one is suggested for the other.
const LIKENESS: f64 = 0.6;

/// A longer name is no slip of the pen, and comparing it takes long.
const LONGEST: usize = 200;

/// The message for an unknown key: the name that was probably meant, or where to find all names.
pub(super) fn unknown(path: &str) -> String {
    let nowhere = "unknown key. `halfturn init` writes a file with all keys";
    if path.len() > LONGEST {
        return nowhere.to_owned();
    }
    let last = |p: &str| p.rsplit('.').next().unwrap_or_default().to_owned();
    // With the user's own index: the suggestion can be copied.
    let index = pattern(path).and_then(|(_, index)| index).unwrap_or(0);
    let nearest = KEYS
        .iter()
        .map(|k| k.path)
        .chain(SECTIONS)
        .map(|name| name.replace('*', &index.to_string()))
        .map(|name| {
            let whole = strsim::normalized_damerau_levenshtein(&name, path);
            let end = strsim::normalized_damerau_levenshtein(&last(&name), &last(path));
            (whole.max(end - 0.05), name)
        })
        .max_by(|a, b| a.0.total_cmp(&b.0));
    match nearest {
        Some((likeness, name)) if likeness > LIKENESS => {
            format!("unknown key. Did you mean {name}?")
        }
        _ => nowhere.to_owned(),
    }
}
