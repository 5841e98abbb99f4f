//! `CTYPEi` -> which axes are right ascension and declination, and their projection.

use super::{FitsError, Header};

/// Axes beyond this number are ignored.
const MOST_AXES: u64 = 99;

/// How the plane of intermediate coordinates shows the sky.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Projection {
    /// A zenithal projection that keeps lengths and directions at the reference point: TAN, SIN, STG, ARC, ZEA.
    Zenithal,
    /// TAN with the SIP polynomials in pixels.
    Sip,
    /// TAN with polynomials after the matrix, in the form of TPV.
    Polynomial,
}

/// The celestial axes of a header.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Axes {
    /// Number of the axis of right ascension: 1 or 2.
    pub(super) longitude: u8,
    /// Number of the axis of declination: 2 or 1.
    pub(super) latitude: u8,
    pub(super) projection: Projection,
}

impl Axes {
    /// The celestial axes; `None` if the header has none.
    pub(super) fn of(header: &Header) -> Result<Option<Self>, FitsError> {
        let count = header.count("WCSAXES")?.unwrap_or(0);
        let count = count
            .max(header.count("NAXIS")?.unwrap_or(0))
            .clamp(2, MOST_AXES);
        let mut celestial = Vec::new();
        for axis in 1..=count {
            let text = header.text(&format!("CTYPE{axis}"))?.unwrap_or_default();
            let ctype = text.to_ascii_uppercase();
            if is_celestial(kind(&ctype)) {
                celestial.push((axis, ctype));
            }
        }
        let find = |name: &str| celestial.iter().find(|(_, ctype)| kind(ctype) == name);
        let (Some((longitude, x)), Some((latitude, y))) = (find("RA"), find("DEC")) else {
            return match celestial.as_slice() {
                [] => Ok(None),
                found => {
                    let names: Vec<&str> = found.iter().map(|(_, ctype)| ctype.as_str()).collect();
                    Err(FitsError::NotEquatorial(names.join(" and ")))
                }
            };
        };
        let (longitude, latitude) = match (longitude, latitude) {
            (1, 2) => (1, 2),
            (2, 1) => (2, 1),
            _ => {
                return Err(FitsError::Unsupported(format!(
                    "CTYPE{longitude} and CTYPE{latitude}: right ascension and declination must be the first two axes"
                )));
            }
        };
        Ok(Some(Self {
            longitude,
            latitude,
            projection: projection(
                header,
                NamedAxis {
                    number: longitude,
                    ctype: x,
                },
                NamedAxis {
                    number: latitude,
                    ctype: y,
                },
            )?,
        }))
    }
}

/// What an axis holds: the part before the dashes.
fn kind(ctype: &str) -> &str {
    ctype.split('-').next().unwrap_or_default().trim()
}

/// Names of paper II, section 2, and of similar coordinates on planets and the Sun.
fn is_celestial(kind: &str) -> bool {
    let ends = |tail: &str| kind.len() == 4 && kind.ends_with(tail);
    matches!(kind, "RA" | "DEC") || ["LON", "LAT", "LN", "LT"].into_iter().any(ends)
}

/// An axis by its number, and what its `CTYPE` says.
#[derive(Clone, Copy)]
struct NamedAxis<'a> {
    number: u8,
    ctype: &'a str,
}

fn projection(
    header: &Header,
    longitude: NamedAxis<'_>,
    latitude: NamedAxis<'_>,
) -> Result<Projection, FitsError> {
    let (x, y) = (longitude.ctype, latitude.ctype);
    let (longitude, latitude) = (longitude.number, latitude.number);
    let code = |ctype: &str| {
        let code = ctype.get(4..).unwrap_or_default();
        code.strip_prefix('-').unwrap_or(code).trim().to_owned()
    };
    let (one, two) = (code(x), code(y));
    let key = format!("CTYPE{longitude}");
    if one != two {
        let problem = format!("names another projection than CTYPE{latitude} = {y:?}");
        return Err(FitsError::key(&key, Some(&format!("{x:?}")), problem));
    }
    let has = |axis: u8, from: u32| (from..=39).any(|m| header.has(&format!("PV{axis}_{m}")));
    match one.as_str() {
        "TPV" => Ok(Projection::Polynomial),
        "TAN-SIP" => Ok(Projection::Sip),
        // The usual form before TPV had its name. TAN itself takes no parameters but those of the native system.
        "TAN" if has(latitude, 0) || has(longitude, 5) => Ok(Projection::Polynomial),
        "TAN" | "SIN" | "STG" | "ARC" | "ZEA" => Ok(Projection::Zenithal),
        _ => Err(FitsError::key(
            &key,
            Some(&format!("{x:?}")),
            "the projection must be TAN, TAN-SIP, TPV, SIN, STG, ARC or ZEA",
        )),
    }
}
