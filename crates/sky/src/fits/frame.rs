//! `RADESYS` and `EQUINOX` -> the frame that right ascension and declination refer to.

use super::header::number;
use super::{FitsError, Header};

/// An equatorial frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// `ICRS`, `FK5`, `FK4`, `FK4-NO-E` or `GAPPT`.
    pub name: &'static str,
    /// Epoch of the mean equator and equinox \[years\]: Besselian for FK4, Julian for FK5; `None` for the others.
    pub equinox: Option<f64>,
}

/// A header without `RADESYS` means FK4 before this equinox (FITS standard 4.0, section 8.3).
const FK5_FROM: f64 = 1984.0;

impl Frame {
    /// The frame of a header, with the defaults of the standard; `RADECSYS` and `EPOCH` are the old names.
    pub(super) fn of(header: &Header) -> Result<Self, FitsError> {
        let equinox = equinox(header)?;
        let key = if header.has("RADESYS") {
            "RADESYS"
        } else {
            "RADECSYS"
        };
        let given = header.text(key)?.unwrap_or_default().to_ascii_uppercase();
        let (name, equinox) = match (given.as_str(), equinox) {
            ("ICRS", _) | ("", None) => ("ICRS", None),
            ("GAPPT", _) => ("GAPPT", None),
            ("FK5", year) => ("FK5", Some(year.unwrap_or(2000.0))),
            ("FK4", year) => ("FK4", Some(year.unwrap_or(1950.0))),
            ("FK4-NO-E", year) => ("FK4-NO-E", Some(year.unwrap_or(1950.0))),
            ("", Some(year)) if year < FK5_FROM => ("FK4", Some(year)),
            ("", Some(year)) => ("FK5", Some(year)),
            _ => {
                let allowed = "must be ICRS, FK5, FK4, FK4-NO-E or GAPPT";
                return Err(FitsError::key(key, Some(&format!("{given:?}")), allowed));
            }
        };
        Ok(Self { name, equinox })
    }
}

/// The equinox \[years\]. A letter before it, and quotes, are common.
fn equinox(header: &Header) -> Result<Option<f64>, FitsError> {
    let key = if header.has("EQUINOX") {
        "EQUINOX"
    } else {
        "EPOCH"
    };
    let Some(text) = header.text(key)?.filter(|t| !t.is_empty()) else {
        return Ok(None);
    };
    let year = number(text.trim_start_matches(['J', 'B', 'j', 'b']));
    year.filter(|y| (1000.0..=3000.0).contains(y))
        .map(Some)
        .ok_or_else(|| FitsError::key(key, Some(text), "must be a year from 1000 to 3000"))
}
