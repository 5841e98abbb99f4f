//! The outlines of the panels on the plane of the mosaic, and lines of right ascension and declination behind them.

use super::overlap::Footprint;
use super::{Mosaic, Panel};
use crate::plane::{Plane, SkyPlace, Vector, cos_deg};
use halfturn_engine::angle::sin_deg;

/// A line of the sky on the plane, with its name.
#[derive(Debug, Clone, PartialEq)]
pub struct SkyLine {
    /// Right ascension or declination, such as `14h 20m` or `+70°`.
    pub name: String,
    /// Points to the east and to the north \[deg\], in pieces if parts are out of sight.
    pub points: Vec<(f64, f64)>,
}

/// Possible steps of declination and of right ascension \[deg\].
const STEPS_DEG: [f64; 8] = [0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 30.0];
const RA_STEPS_DEG: [f64; 8] = [0.25, 0.5, 1.25, 2.5, 5.0, 15.0, 30.0, 60.0];

impl Mosaic {
    /// The corners of every panel on the plane that touches the sphere at the centre, to the east and to the north,
    /// going round \[deg\]. Leaves out corners that this plane cannot show.
    #[must_use]
    pub fn outlines(&self, panels: &[Panel]) -> Vec<Vec<(f64, f64)>> {
        let plane = Plane::new(self.centre);
        panels
            .iter()
            .map(|panel| {
                let frame = Footprint::of(self, panel, 0.0);
                [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)]
                    .into_iter()
                    .filter_map(|(right, up)| plane.project(frame.corner(right, up)))
                    .collect()
            })
            .collect()
    }

    /// Lines of right ascension and declination across a square about the centre, with this half side \[deg\].
    #[must_use]
    pub fn graticule(&self, half_deg: f64) -> Vec<SkyLine> {
        let plane = Plane::new(self.centre);
        let dec_deg = self.centre.dec_deg;
        let step = |steps: &[f64], span: f64| {
            let wanted = steps.iter().find(|s| span / **s <= 6.0);
            *wanted.unwrap_or(&steps[steps.len() - 1])
        };
        // Beyond the corners of the square.
        let reach_deg = 1.5 * half_deg;
        let mut lines = Vec::new();
        let dec_step = step(&STEPS_DEG, 2.0 * half_deg);
        let ra_span = if dec_deg.abs() + reach_deg >= 90.0 {
            360.0
        } else {
            (2.0 * reach_deg / cos_deg(dec_deg.abs() + reach_deg).max(0.01)).min(360.0)
        };
        let ra_step = step(&RA_STEPS_DEG, 2.0 * half_deg / cos_deg(dec_deg).max(0.02));
        let line = |name: String, places: &mut dyn Iterator<Item = SkyPlace>| {
            let points = places
                .filter_map(|p| plane.project(direction(p)))
                .filter(|(x, y)| x.abs() <= half_deg && y.abs() <= half_deg)
                .collect();
            SkyLine { name, points }
        };
        const PARTS: i32 = 240;
        let first = ((dec_deg - reach_deg).max(-90.0) / dec_step).ceil() as i64;
        let last = ((dec_deg + reach_deg).min(90.0) / dec_step).floor() as i64;
        for k in first..=last {
            let at_deg = k as f64 * dec_step;
            let mut places = (0..=PARTS).map(|i| SkyPlace {
                ra_deg: self.centre.ra_deg + ra_span * (f64::from(i) / f64::from(PARTS) - 0.5),
                dec_deg: at_deg,
            });
            lines.push(line(format!("{at_deg:+}°"), &mut places));
        }
        let from = ((self.centre.ra_deg - 0.5 * ra_span) / ra_step).ceil() as i64;
        // A whole turn has its first line only once.
        let most = (360.0 / ra_step) as i64 - 1;
        let to = (((self.centre.ra_deg + 0.5 * ra_span) / ra_step).floor() as i64).min(from + most);
        for k in from..=to {
            let at_deg = (k as f64 * ra_step).rem_euclid(360.0);
            let mut places = (0..=PARTS).map(|i| SkyPlace {
                ra_deg: at_deg,
                dec_deg: (dec_deg + reach_deg * (2.0 * f64::from(i) / f64::from(PARTS) - 1.0))
                    .clamp(-90.0, 90.0),
            });
            let minutes = (4.0 * at_deg).round() as i64;
            let name = format!("{}h {:02}m", minutes / 60, minutes % 60);
            lines.push(line(name, &mut places));
        }
        lines.retain(|l| l.points.len() > 1);
        lines
    }
}

fn direction(place: SkyPlace) -> Vector {
    let (sin_ra, cos_ra) = (sin_deg(place.ra_deg), cos_deg(place.ra_deg));
    let (sin_dec, cos_dec) = (sin_deg(place.dec_deg), cos_deg(place.dec_deg));
    [cos_dec * cos_ra, cos_dec * sin_ra, sin_dec]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lay_out;

    /// The corners of neighbours have the distance that the overlap gives, and the frame of the middle panel is a
    /// rectangle.
    #[test]
    fn outlines_are_the_frames() {
        let mosaic = Mosaic {
            name: "m".to_owned(),
            centre: SkyPlace {
                ra_deg: 210.0,
                dec_deg: 70.0,
            },
            columns: 3,
            rows: 1,
            width_deg: 2.0,
            height_deg: 1.0,
            overlap: 0.1,
            position_angle_deg: 0.0,
        };
        let panels = lay_out(&mosaic).expect("a mosaic");
        let found = mosaic.outlines(&panels);
        let middle: Vec<(f64, f64)> = vec![(1.0, -0.5), (-1.0, -0.5), (-1.0, 0.5), (1.0, 0.5)];
        for (f, e) in found[1].iter().zip(&middle) {
            assert!(
                (f.0 - e.0).abs() < 1e-9 && (f.1 - e.1).abs() < 1e-9,
                "{found:?}"
            );
        }
        // The first panel is to the east. Its west edge runs inside the middle one.
        assert!(found[0].iter().all(|(x, _)| *x > 0.7), "{found:?}");
        let lines = mosaic.graticule(4.0);
        assert!(lines.iter().any(|l| l.name == "+70°"), "{lines:?}");
        assert!(lines.iter().any(|l| l.name == "14h 00m"), "{lines:?}");
    }
}
