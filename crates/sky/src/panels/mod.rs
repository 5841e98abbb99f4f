//! A mosaic -> its panels: where each points, and the position angle that lines up their edges.

mod judge;
mod outline;
mod overlap;

pub use judge::{JudgedPanel, judge_panels};
pub use outline::SkyLine;

use thiserror::Error;

use super::plane::{Plane, SkyPlace, cos_deg};
use halfturn_engine::angle::{MOST_ANGLE_DEG, sin_deg};
use halfturn_engine::rig::is_printable_line;

/// Most columns and most rows.
const MOST_PANELS: u32 = 100;

/// Largest side of a frame \[deg\].
const MOST_SIDE_DEG: f64 = 60.0;

/// Largest distance of any part of a mosaic from its centre \[deg\]. Near 90 degrees the plane is infinite.
const MOST_REACH_DEG: f64 = 80.0;

/// Longest name of a mosaic, in characters. The names of its panels must be names of targets.
const NAME_LENGTH: usize = 80;

/// The area to cover and the frame that covers it.
#[derive(Debug, Clone, PartialEq)]
pub struct Mosaic {
    /// The beginning of the panels' names.
    pub name: String,
    /// Where the middle of the mosaic is.
    pub centre: SkyPlace,
    /// Number of panels side by side.
    pub columns: u32,
    /// Number of panels above each other.
    pub rows: u32,
    /// Width of the frame \[deg\], measured on the tangent plane in its middle.
    pub width_deg: f64,
    /// Height of the frame \[deg\], measured on the tangent plane in its middle.
    pub height_deg: f64,
    /// Share of a side by which neighbours overlap in the plane.
    pub overlap: f64,
    /// Position angle of the up axis in the middle of the mosaic \[deg\].
    pub position_angle_deg: f64,
}

/// Why a mosaic is not possible.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum MosaicError {
    /// A number is not finite or out of its range.
    #[error("{what} = {value}: must be {allowed}")]
    Number {
        /// Name of the number.
        what: &'static str,
        /// The value.
        value: f64,
        /// What is allowed.
        allowed: &'static str,
    },
    /// The name is not a possible beginning of target names.
    #[error(
        "name = {0:?}: must be one line of 1 to {NAME_LENGTH} characters, without control characters, \
        and not begin with #"
    )]
    Name(String),
    /// The mosaic reaches this far from its centre \[deg\], beyond what the plane can show.
    #[error(
        "the mosaic reaches {0:.1}° from its centre (at most {MOST_REACH_DEG}°). Take fewer panels or smaller frames"
    )]
    Reach(f64),
}

/// One panel.
#[derive(Debug, Clone, PartialEq)]
pub struct Panel {
    /// Unique name.
    pub name: String,
    /// Column from the left, from 1.
    pub column: u32,
    /// Row from the top, from 1.
    pub row: u32,
    /// Its middle.
    pub place: SkyPlace,
    /// Position angle of its up axis at its middle, in `[0, 360)` \[deg\].
    pub position_angle_deg: f64,
}

/// Lays out the panels, row by row from the top, each row from the left.
///
/// The step is a side times `1 - overlap`, in the plane that touches the sphere at the centre. With a position angle
/// of 0, up is north and right is west. The position angle of a panel is that of the plane's up direction at the
/// middle of the panel.
///
/// # Errors
/// [`MosaicError`] for a number or name that is not allowed, or a mosaic that is too large.
pub fn lay_out(mosaic: &Mosaic) -> Result<Vec<Panel>, MosaicError> {
    mosaic.check()?;
    let plane = Plane::new(mosaic.centre);
    let (up, right) = mosaic.axes();
    let mut panels = Vec::new();
    for row in 0..mosaic.rows {
        for column in 0..mosaic.columns {
            let (along, above) = mosaic.offset_deg(column, row);
            let x = along * right.0 + above * up.0;
            let y = along * right.1 + above * up.1;
            panels.push(Panel {
                name: format!("{} r{} c{}", mosaic.name, row + 1, column + 1),
                column: column + 1,
                row: row + 1,
                place: plane.place(x, y),
                position_angle_deg: plane.position_angle_deg(x, y, up.0, up.1),
            });
        }
    }
    Ok(panels)
}

impl Mosaic {
    /// Gives every panel the position angle of the middle, so that the camera turns once.
    pub fn turn_alike(&self, panels: &mut [Panel]) {
        let angle_deg = self.position_angle_deg.rem_euclid(360.0);
        for panel in panels {
            panel.position_angle_deg = angle_deg;
        }
    }

    /// The name of a mosaic if the user gives none.
    pub const UNNAMED: &str = "panel";

    /// The up and the right axis, each with its components to the east and to the north.
    fn axes(&self) -> ((f64, f64), (f64, f64)) {
        let (sine, cosine) = (
            sin_deg(self.position_angle_deg),
            cos_deg(self.position_angle_deg),
        );
        ((sine, cosine), (-cosine, sine))
    }

    /// How far the middle of a panel is to the right of the centre and above it \[deg\].
    fn offset_deg(&self, column: u32, row: u32) -> (f64, f64) {
        let step = 1.0 - self.overlap;
        let from_middle = |n: u32, count: u32| f64::from(n) - 0.5 * f64::from(count - 1);
        (
            from_middle(column, self.columns) * self.width_deg * step,
            -from_middle(row, self.rows) * self.height_deg * step,
        )
    }

    fn check(&self) -> Result<(), MosaicError> {
        let number = |what, value: f64, fits: bool, allowed| {
            let error = MosaicError::Number {
                what,
                value,
                allowed,
            };
            if fits { Ok(()) } else { Err(error) }
        };
        let angle = "a number of degrees from -360000 to 360000";
        let count = "a whole number from 1 to 100";
        let side = "a number of degrees above 0, up to 60";
        let (ra, dec) = (self.centre.ra_deg, self.centre.dec_deg);
        let pa = self.position_angle_deg;
        let is_angle = |x: f64| x.abs() <= MOST_ANGLE_DEG;
        let is_count = |n: u32| (1..=MOST_PANELS).contains(&n);
        let is_side = |s: f64| s > 0.0 && s <= MOST_SIDE_DEG;
        number("right ascension", ra, is_angle(ra), angle)?;
        let dec_allowed = "a number of degrees from -90 to 90";
        number("declination", dec, dec.abs() <= 90.0, dec_allowed)?;
        number("position angle", pa, is_angle(pa), angle)?;
        let (columns, rows) = (self.columns, self.rows);
        number("columns", columns.into(), is_count(columns), count)?;
        number("rows", rows.into(), is_count(rows), count)?;
        let (width, height) = (self.width_deg, self.height_deg);
        number("frame width", width, is_side(width), side)?;
        number("frame height", height, is_side(height), side)?;
        let share = (0.0..1.0).contains(&self.overlap);
        number("overlap", self.overlap, share, "at least 0 and below 1")?;
        let length = self.name.chars().count();
        let comment = self.name.starts_with('#');
        if !(1..=NAME_LENGTH).contains(&length) || !is_printable_line(&self.name) || comment {
            return Err(MosaicError::Name(self.name.clone()));
        }
        let (along, above) = self.offset_deg(0, 0);
        let corner = libm::hypot(0.5 * width - along, 0.5 * height + above);
        let reach_deg = libm::atan(corner.to_radians()).to_degrees();
        if reach_deg > MOST_REACH_DEG {
            return Err(MosaicError::Reach(reach_deg));
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mosaic() -> Mosaic {
        Mosaic {
            name: "field".to_owned(),
            centre: SkyPlace {
                ra_deg: 0.5,
                dec_deg: 0.0,
            },
            columns: 3,
            rows: 1,
            width_deg: 2.0,
            height_deg: 1.0,
            overlap: 0.1,
            position_angle_deg: 0.0,
        }
    }

    /// Shows (sky): right is west at position angle 0, so that right ascension falls along a row, across 0 too;
    /// outlines. With: `crates/sky/src/panels/outline.rs::outlines_are_the_frames`. Source: by hand.
    #[test]
    fn right_is_west() {
        let panels = lay_out(&mosaic()).expect("a mosaic");
        let step_deg = libm::atan(1.8_f64.to_radians()).to_degrees();
        let ra: Vec<f64> = panels.iter().map(|p| p.place.ra_deg).collect();
        for (ra, expected) in ra.iter().zip([0.5 + step_deg, 0.5, 360.5 - step_deg]) {
            assert!((ra - expected).abs() < 1e-12, "{ra} {expected}");
        }
        assert_eq!(panels[2].name, "field r1 c3");
    }

    /// Shows (sky): wrong panels are refused. With: `sky::wrong_input_is_refused`. Source: none: own rule.
    #[test]
    fn what_is_out_of_range_is_refused() {
        type MosaicEdit = fn(&mut Mosaic);
        let changes: [MosaicEdit; 14] = [
            |m| m.centre.ra_deg = f64::NAN,
            |m| m.centre.dec_deg = 90.001,
            |m| m.centre.dec_deg = f64::NAN,
            |m| m.position_angle_deg = f64::INFINITY,
            |m| m.columns = 0,
            |m| m.rows = 101,
            |m| m.width_deg = 0.0,
            |m| m.height_deg = 60.5,
            |m| m.width_deg = f64::NAN,
            |m| m.overlap = 1.0,
            |m| m.overlap = -0.1,
            |m| m.name = "two\nlines".to_owned(),
            |m| m.name = String::new(),
            |m| (m.columns, m.width_deg) = (100, 30.0),
        ];
        for (i, change) in changes.iter().enumerate() {
            let mut mosaic = mosaic();
            change(&mut mosaic);
            assert!(lay_out(&mosaic).is_err(), "change {i}");
        }
    }
}
