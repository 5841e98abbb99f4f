//! A header -> how its image lies on the sky.

use super::axes::{Axes, Projection};
use super::matrix::{Matrix, SCALES_DEG, matrix, unit_deg};
use super::{FitsError, Frame, Header};
use crate::plane::{Plane, SkyPlace, cos_deg};
use halfturn_engine::angle::{MOST_ANGLE_DEG, TURN_DEG, residual_finite, sin_deg};

const ARCSECONDS_PER_DEGREE: f64 = 3600.0;

/// How an image lies on the sky at its reference pixel `CRPIX`, in the header's own frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Orientation {
    /// Position angle of the direction in which the second pixel coordinate grows, from north through east, in `[0,
    /// 360)` \[deg\].
    pub position_angle_deg: f64,
    /// Whether the image is mirrored: with the first coordinate to the right and the second up, east is a quarter
    /// turn clockwise from north.
    pub mirrored: bool,
    /// Angle between the directions of the two growing coordinates, minus 90 degrees \[deg\].
    pub skew_deg: f64,
    /// Length of a pixel along the first coordinate \[arcsec\].
    pub scale_x_arcsec: f64,
    /// Length of a pixel along the second coordinate \[arcsec\].
    pub scale_y_arcsec: f64,
    /// The frame of north and east.
    pub frame: Frame,
}

/// Reads the orientation of one header.
///
/// # Errors
/// [`FitsError`] for coordinates that are not equatorial, an unsupported projection, and values that are missing or
/// out of range.
pub fn orientation(header: &Header) -> Result<Orientation, FitsError> {
    let axes = Axes::of(header)?.ok_or(FitsError::NotCelestial)?;
    with_axes(header, axes)
}

pub(super) fn with_axes(header: &Header, axes: Axes) -> Result<Orientation, FitsError> {
    let place = reference(header, axes)?;
    let (lonpole_deg, at, matrix) = linear(header, axes, place)?;
    let plane = Plane::new(place);
    let turned = |(x, y): (f64, f64)| north_up(x, y, lonpole_deg);
    let (x_deg, y_deg) = turned(at);
    let angle_deg = |column: usize| {
        let (east, north) = turned((matrix[0][column], matrix[1][column]));
        plane.position_angle_deg(x_deg, y_deg, east, north)
    };
    // The terms of SIP and TPV may hold anything.
    let size_deg = |column: usize| libm::hypot(matrix[0][column], matrix[1][column]);
    let (first_deg, second_deg) = (angle_deg(0), angle_deg(1));
    let sized = [0, 1].iter().all(|c| SCALES_DEG.contains(&size_deg(*c)));
    if !sized || !first_deg.is_finite() || !second_deg.is_finite() {
        let problem = "the distortion leaves a pixel no size or angle at the reference pixel";
        return Err(FitsError::Unsupported(problem.to_owned()));
    }
    let between_deg = residual_finite(second_deg - first_deg, TURN_DEG);
    let scale = |column: usize| ARCSECONDS_PER_DEGREE * size_deg(column);
    Ok(Orientation {
        position_angle_deg: second_deg,
        mirrored: between_deg < 0.0,
        skew_deg: between_deg.abs() - 90.0,
        scale_x_arcsec: scale(0),
        scale_y_arcsec: scale(1),
        frame: Frame::of(header)?,
    })
}

/// The place of the reference pixel.
fn reference(header: &Header, axes: Axes) -> Result<SkyPlace, FitsError> {
    let number = |axis: u8, most: f64| {
        let key = format!("CRVAL{axis}");
        let missing = || FitsError::key(&key, None, "is missing");
        let value = header.number(&key)?.ok_or_else(missing)?;
        let angle_deg = value * unit_deg(header, axis)?;
        if angle_deg.abs() <= most {
            return Ok(angle_deg);
        }
        let allowed = format!("must be from -{most} to {most} deg");
        Err(FitsError::key(&key, Some(&value.to_string()), allowed))
    };
    Ok(SkyPlace {
        ra_deg: number(axes.longitude, MOST_ANGLE_DEG)?,
        dec_deg: number(axes.latitude, 90.0)?,
    })
}

/// `LONPOLE`, the point of the plane at the reference pixel, and the matrix with everything that is linear there.
fn linear(
    header: &Header,
    axes: Axes,
    place: SkyPlace,
) -> Result<(f64, (f64, f64), Matrix), FitsError> {
    let matrix = matrix(header, axes)?;
    // Paper II, section 2.4: the native pole of a zenithal projection is the reference point, and LATPOLE plays no
    // part.
    let default_deg = if place.dec_deg >= 90.0 { 0.0 } else { 180.0 };
    let lonpole = |key: &str| match header.number(key)? {
        Some(angle_deg) if angle_deg.abs() > MOST_ANGLE_DEG => {
            let value = angle_deg.to_string();
            Err(FitsError::key(
                key,
                Some(&value),
                "must be an angle in degrees",
            ))
        }
        other => Ok(other),
    };
    let lonpole_deg = lonpole("LONPOLE")?;
    if axes.projection == Projection::Polynomial {
        let (at, behind) = polynomial(header, axes)?;
        let pole_deg = lonpole_deg.unwrap_or(default_deg);
        return Ok((pole_deg, at, product(behind, matrix)));
    }
    let native = native_pole(header, axes)?;
    let lonpole_deg = lonpole(&native)?.or(lonpole_deg).unwrap_or(default_deg);
    let matrix = match axes.projection {
        Projection::Sip => product(matrix, sip(header)?),
        _ => matrix,
    };
    Ok((lonpole_deg, (0.0, 0.0), matrix))
}

/// From the plane to east and north: `LONPOLE` is the native longitude of the celestial pole (paper II, section 2.2).
fn north_up(x: f64, y: f64, lonpole_deg: f64) -> (f64, f64) {
    let (sine, cosine) = (sin_deg(lonpole_deg), cos_deg(lonpole_deg));
    (-x * cosine - y * sine, x * sine - y * cosine)
}

/// The key that may stand for `LONPOLE`. Parameters that would move the native reference are an error.
fn native_pole(header: &Header, axes: Axes) -> Result<String, FitsError> {
    let axis = axes.longitude;
    for (m, usual) in [(1, 0.0), (2, 90.0)] {
        let key = format!("PV{axis}_{m}");
        if let Some(value) = header.number(&key)?.filter(|v| *v != usual) {
            let allowed =
                format!("must be {usual}, because this program follows no other reference point");
            return Err(FitsError::key(&key, Some(&value.to_string()), allowed));
        }
    }
    Ok(format!("PV{axis}_3"))
}

/// The effect of the SIP distortion (Shupe et al. 2005) at the reference pixel, usually none.
fn sip(header: &Header) -> Result<Matrix, FitsError> {
    let term = |key: &str| Ok::<f64, FitsError>(header.number(key)?.unwrap_or(0.0));
    for key in ["A_0_0", "B_0_0"] {
        let value = term(key)?;
        if value != 0.0 {
            let problem = "must be 0, because this program follows no shift of the reference pixel";
            return Err(FitsError::key(key, Some(&value.to_string()), problem));
        }
    }
    Ok([
        [1.0 + term("A_1_0")?, term("A_0_1")?],
        [term("B_1_0")?, 1.0 + term("B_0_1")?],
    ])
}

/// The point to which the TPV polynomials take the reference pixel, and their slopes there.
fn polynomial(header: &Header, axes: Axes) -> Result<((f64, f64), Matrix), FitsError> {
    let term = |axis: u8, m: u32, default: f64| {
        Ok::<f64, FitsError>(header.number(&format!("PV{axis}_{m}"))?.unwrap_or(default))
    };
    let (x, y) = (axes.longitude, axes.latitude);
    for axis in [x, y] {
        let value = term(axis, 3, 0.0)?;
        if value != 0.0 {
            let key = format!("PV{axis}_3");
            let problem = "must be 0, because the polynomial has no slope at the reference pixel";
            return Err(FitsError::key(&key, Some(&value.to_string()), problem));
        }
    }
    let at = (term(x, 0, 0.0)?, term(y, 0, 0.0)?);
    // At 45 degrees from the reference, nothing is a small correction any more.
    if !(at.0.abs() <= 45.0 && at.1.abs() <= 45.0) {
        let problem = format!("PV{x}_0 and PV{y}_0: must be from -45 to 45 deg");
        return Err(FitsError::Unsupported(problem));
    }
    let slopes = [
        [term(x, 1, 1.0)?, term(x, 2, 0.0)?],
        [term(y, 2, 0.0)?, term(y, 1, 1.0)?],
    ];
    Ok((at, slopes))
}

fn product(one: Matrix, two: Matrix) -> Matrix {
    let element = |i: usize, j: usize| one[i][0] * two[0][j] + one[i][1] * two[1][j];
    [
        [element(0, 0), element(0, 1)],
        [element(1, 0), element(1, 1)],
    ]
}
