//! The built-in catalogue: name of an object -> its place.
//!
//! The table is an extract of OpenNGC (Mattia Verga, CC-BY-SA-4.0). `assets/catalogue/` has it with its licence.

use std::collections::HashMap;
use std::sync::LazyLock;

use crate::wording::joined;

/// What to do where no name is near.
const COORDINATES: &str = "Give its coordinates instead";

/// The table: `ra_deg,dec_deg,names`. Semicolons separate the names, and the designation comes first.
const TABLE: &str = include_str!("../../../../assets/catalogue/openngc.csv");

/// An object of the catalogue.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Object {
    /// Its designation, such as `NGC 7000`.
    pub designation: &'static str,
    /// Right ascension, ICRS \[deg\].
    pub ra_deg: f64,
    /// Declination, ICRS \[deg\].
    pub dec_deg: f64,
}

/// Why a name gives no object.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum NoObject {
    /// No object has this name. Holds what to do about it.
    #[error("is not in the built-in catalogue. {0}")]
    Unknown(String),
    /// Several objects have this name.
    #[error("could be {0}. Give one of these")]
    Several(String),
}

/// Every name in its simple form, with the objects that have it.
static NAMES: LazyLock<HashMap<String, Vec<Object>>> = LazyLock::new(|| {
    let mut names: HashMap<String, Vec<Object>> = HashMap::new();
    for object in lines() {
        let (all, object) = object;
        for name in all.split(';') {
            names.entry(alike(name)).or_default().push(object);
        }
    }
    names
});

/// The rows of the table: all names, and the object.
fn lines() -> impl Iterator<Item = (&'static str, Object)> {
    let rows = TABLE.lines().filter(|line| !line.starts_with('#')).skip(1);
    rows.filter_map(|line| {
        let mut fields = line.splitn(3, ',');
        let (ra_deg, dec_deg) = (fields.next()?.parse().ok()?, fields.next()?.parse().ok()?);
        let names = fields.next()?;
        let object = Object {
            designation: names.split(';').next()?,
            ra_deg,
            dec_deg,
        };
        Some((names, object))
    })
}

/// The simple form of a name: capitals, blanks, zeros before a number, and `Messier` for `M` make no difference.
fn alike(name: &str) -> String {
    let mut out = String::new();
    for c in name.chars().filter(|c| !c.is_whitespace()) {
        let padding = c == '0' && !out.ends_with(|last: char| last.is_ascii_digit());
        if !padding {
            out.extend(c.to_lowercase());
        }
    }
    match out.strip_prefix("messier") {
        Some(number) if !number.is_empty() => format!("m{number}"),
        _ => out,
    }
}

/// Finds an object by a name: `M 31`, `ngc7000`, `IC 1396`, `C 33`, `Pleiades`.
///
/// # Errors
/// [`NoObject`] for a name that no object has, or several.
pub fn find_object(name: &str) -> Result<Object, NoObject> {
    let wanted = alike(name);
    let found = NAMES.get(&wanted).cloned();
    let found = found.unwrap_or_else(|| beginning(name));
    match found.as_slice() {
        [one] => Ok(*one),
        [] => Err(NoObject::Unknown(nearest(&wanted))),
        several => {
            let names: Vec<_> = several.iter().map(|o| o.designation.to_owned()).collect();
            Err(NoObject::Several(joined(&names)))
        }
    }
}

/// The objects of which a name begins with these whole words, such as `Horsehead`; a number is never guessed.
fn beginning(name: &str) -> Vec<Object> {
    let words = name.split_whitespace().collect::<Vec<_>>().join(" ");
    let words = format!("{} ", words.to_lowercase());
    if words.trim().is_empty() || words.contains(|c: char| c.is_ascii_digit()) {
        return Vec::new();
    }
    let begins = |full: &str| full.to_lowercase().starts_with(&words);
    let found: Vec<Object> = lines()
        .filter(|(names, _)| names.split(';').any(begins))
        .map(|(_, object)| object)
        .collect();
    // Too many to name are no help: "NGC" begins hundreds.
    if found.len() > 5 { Vec::new() } else { found }
}

/// A name that was probably meant, in words. Never guesses a number.
fn nearest(wanted: &str) -> String {
    /// How alike two names must be, from 0 to 1, before one is suggested for the other.
    const LIKENESS: f64 = 0.75;
    if wanted.contains(|c: char| c.is_ascii_digit()) {
        return COORDINATES.to_owned();
    }
    lines()
        .flat_map(|(names, _)| names.split(';'))
        .map(|name| {
            let likeness = strsim::normalized_damerau_levenshtein(&alike(name), wanted);
            (likeness, name)
        })
        .filter(|(likeness, _)| *likeness > LIKENESS)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map_or_else(
            || COORDINATES.to_owned(),
            |(_, name)| format!("Did you mean {name}?"),
        )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Shows (sky): 876 objects; places of the catalogue. With: `places_are_those_of_the_sky`,
    /// `what_is_not_one_object_is_refused`. Source: OpenNGC by PyOngc 1.2.2; five places from public lists (from
    /// memory).
    #[test]
    fn every_row_is_read_and_every_designation_finds_it() {
        let rows = TABLE.lines().filter(|l| !l.starts_with('#')).count() - 1;
        assert_eq!(lines().count(), rows);
        assert!(rows > 800, "{rows}");
        for (names, object) in lines() {
            assert_eq!(find_object(object.designation), Ok(object), "{names}");
            assert!((0.0..360.0).contains(&object.ra_deg) && object.dec_deg.abs() <= 90.0);
        }
        for number in 1..=110 {
            assert!(find_object(&format!("M{number}")).is_ok(), "M {number}");
        }
    }

    /// Places of the IAU's and other public lists, to the arcminute, from memory: M 31, M 42, the Pleiades, NGC 7000,
    /// M 101.
    #[test]
    fn places_are_those_of_the_sky() {
        for (name, ra_h, dec_deg) in [
            ("m31", 0.7123, 41.269),
            ("Messier 42", 5.588, -5.39),
            ("Pleiades", 3.79, 24.11),
            ("ngc 7000", 20.98, 44.53),
            ("NGC0224", 0.7123, 41.269),
            ("M 101", 14.0535, 54.349),
        ] {
            let found = find_object(name).expect("an object");
            let off = (found.ra_deg - 15.0 * ra_h)
                .abs()
                .max((found.dec_deg - dec_deg).abs());
            assert!(off < 0.15, "{name}: {found:?}");
        }
    }

    #[test]
    fn what_is_not_one_object_is_refused() {
        assert!(matches!(find_object("NGC 99999"), Err(NoObject::Unknown(t)) if t == COORDINATES));
        let says = |name| {
            find_object(name)
                .map_err(|e| e.to_string())
                .expect_err(name)
        };
        assert!(says("Androméda Galaxi").contains("Did you mean Andromeda Galaxy?"));
        assert_eq!(find_object("horsehead"), find_object("Horsehead Nebula"));
        assert!(find_object("NGC").is_err() && find_object("").is_err());
        assert!(says("Eastern Veil").contains("NGC 6992 and NGC 6995"));
    }
}
