//! `CD`, `PC` with `CDELT`, or `CROTA` -> the matrix from pixels to the plane.

use super::axes::Axes;
use super::{FitsError, Header};

/// Degrees in the plane for one pixel: `[[x by 1, x by 2], [y by 1, y by 2]]`. x belongs to right ascension and y to
/// declination; 1 and 2 are the pixel coordinates.
pub(super) type Matrix = [[f64; 2]; 2];

/// Relative difference up to which two matrices of one header count as the same.
const SAME: f64 = 1e-6;

/// Pixel sizes that can be computed with \[deg\].
pub(super) const SCALES_DEG: std::ops::RangeInclusive<f64> = 1e-30..=1e30;

/// The matrix of a header (paper I, section 2.1; paper II, section 6).
///
/// `CD` wins over `CDELT` and `CROTA`, and `PC` over `CROTA`. `PC` and `CD` must not occur together (paper I, section
/// 2.1.2). If they do and differ, it is an error.
pub(super) fn matrix(header: &Header, axes: Axes) -> Result<Matrix, FitsError> {
    let rows = [axes.longitude, axes.latitude];
    let units = [unit_deg(header, rows[0])?, unit_deg(header, rows[1])?];
    let cd = elements(header, "CD", rows, |_, _| 0.0)?;
    let pc = elements(header, "PC", rows, |i, j| if i == j { 1.0 } else { 0.0 })?;
    let mut matrix = match (cd, pc) {
        (Some(cd), None) => cd,
        (None, Some(pc)) => by_rows(pc, steps(header, rows)?),
        (Some(cd), Some(pc)) => {
            let steps = steps(header, rows)?;
            // A `PC` matrix with its steps left at 1 is a `CD` matrix under another name.
            if !same(cd, by_rows(pc, steps)) {
                return Err(FitsError::Unsupported(
                    "CDi_j and PCi_j differ, and the standard permits only one of them. Solve the image again"
                        .to_owned(),
                ));
            }
            cd
        }
        (None, None) => rotated(header, axes)?,
    };
    for (row, unit) in matrix.iter_mut().zip(units) {
        *row = row.map(|x| x * unit);
    }
    let [[a, b], [c, d]] = matrix;
    let sizes = [libm::hypot(a, c), libm::hypot(b, d)];
    let size = sizes[0] * sizes[1];
    let singular = size.is_nan() || (a * d - b * c).abs() <= 1e-9 * size;
    // No camera has a scale beyond these, and a product would overflow.
    let absurd = sizes.iter().any(|s| !SCALES_DEG.contains(s));
    if singular || absurd {
        return Err(FitsError::Unsupported(
            "the matrix of CD, PC, CDELT and CROTA is singular, so a pixel has no area on the sky. Solve the image again"
                .to_owned(),
        ));
    }
    Ok(matrix)
}

/// Degrees in one unit of an axis.
pub(super) fn unit_deg(header: &Header, axis: u8) -> Result<f64, FitsError> {
    let key = format!("CUNIT{axis}");
    let text = header.text(&key)?.unwrap_or_default();
    match text.to_ascii_lowercase().as_str() {
        "" | "deg" | "degree" | "degrees" => Ok(1.0),
        "arcmin" => Ok(1.0 / 60.0),
        "arcsec" => Ok(1.0 / 3600.0),
        "mas" => Ok(1.0 / 3_600_000.0),
        "rad" => Ok(180.0 / std::f64::consts::PI),
        _ => Err(FitsError::key(
            &key,
            Some(&format!("{text:?}")),
            "must be deg, arcmin, arcsec, mas or rad",
        )),
    }
}

/// The elements of a matrix, also under their names before the standard, such as `PC001002` (paper I, section 2.1.2);
/// `None` if the header has none of them.
fn elements(
    header: &Header,
    name: &str,
    rows: [u8; 2],
    default: impl Fn(u8, u8) -> f64,
) -> Result<Option<Matrix>, FitsError> {
    let mut found = false;
    let mut matrix = [[0.0; 2]; 2];
    for (row, i) in matrix.iter_mut().zip(rows) {
        for (element, j) in row.iter_mut().zip([1, 2]) {
            let key = format!("{name}{i}_{j}");
            let (now, old) = (header.number(&key)?, format!("{name}{i:03}{j:03}"));
            let before = header.number(&old)?;
            if let (Some(now), Some(before)) = (now, before)
                && now != before
            {
                let problem = format!("differs from its older name, {old} = {before}. Remove one");
                return Err(FitsError::key(&key, Some(&now.to_string()), problem));
            }
            let value = now.or(before);
            found |= value.is_some();
            *element = value.unwrap_or_else(|| default(i, j));
        }
    }
    Ok(found.then_some(matrix))
}

/// The steps of the rows; 1 is the default of the standard.
fn steps(header: &Header, rows: [u8; 2]) -> Result<[f64; 2], FitsError> {
    let step = |i: u8| header.number(&format!("CDELT{i}"));
    Ok([step(rows[0])?.unwrap_or(1.0), step(rows[1])?.unwrap_or(1.0)])
}

fn by_rows(matrix: Matrix, steps: [f64; 2]) -> Matrix {
    let [one, two] = matrix;
    [one.map(|x| x * steps[0]), two.map(|x| x * steps[1])]
}

fn same(one: Matrix, two: Matrix) -> bool {
    let largest = one.iter().flatten().fold(0.0_f64, |m, x| m.max(x.abs()));
    let pairs = one.iter().flatten().zip(two.iter().flatten());
    pairs
        .into_iter()
        .all(|(a, b)| (a - b).abs() <= SAME * largest)
}

/// Steps and the angle of the old form. The angle belongs to the axis of declination (paper II, section 6.1).
fn rotated(header: &Header, axes: Axes) -> Result<Matrix, FitsError> {
    let (longitude, latitude) = (axes.longitude, axes.latitude);
    let step = |axis: u8| {
        let key = format!("CDELT{axis}");
        let missing =
            "is missing, and so are CD and PC, so the header has no scale. Solve the image again";
        let step = header.number(&key)?;
        step.ok_or_else(|| FitsError::key(&key, None, missing))
    };
    let (dx, dy) = (step(longitude)?, step(latitude)?);
    let (key, other) = (format!("CROTA{latitude}"), format!("CROTA{longitude}"));
    let angle_deg = header.number(&key)?;
    let stray_deg = header.number(&other)?.unwrap_or(0.0);
    if angle_deg.is_none() && stray_deg != 0.0 {
        let value = stray_deg.to_string();
        let problem =
            format!("stands alone, but the angle belongs in {key}, the axis of declination");
        return Err(FitsError::key(&other, Some(&value), problem));
    }
    let angle_deg = angle_deg.unwrap_or(0.0);
    if angle_deg.abs() > halfturn_engine::angle::MOST_ANGLE_DEG {
        let value = angle_deg.to_string();
        return Err(FitsError::key(
            &key,
            Some(&value),
            "must be an angle in degrees",
        ));
    }
    let (sine, cosine) = (
        halfturn_engine::angle::sin_deg(angle_deg),
        halfturn_engine::angle::sin_deg(angle_deg + 90.0),
    );
    // In the axes' own pixels. Those of right ascension come first only if it is the first axis.
    let (x, y) = ([dx * cosine, -dy * sine], [dx * sine, dy * cosine]);
    Ok(if longitude == 1 {
        [x, y]
    } else {
        [[x[1], x[0]], [y[1], y[0]]]
    })
}
