//! A target through a stretch of time: where it stands, and how fast its field turns.

use super::polar::{PoleError, polar_rotation};
use crate::plane::SkyPlace;
use crate::pointing::{Pointing, Site, rotation_deg_per_h};
use crate::time::Moment;
use halfturn_engine::angle::residual_finite;
use halfturn_engine::rig::Framing;

/// How the telescope follows the sky.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FieldMount {
    /// By azimuth and altitude: the field turns with the parallactic angle.
    AltAz,
    /// About an axis that misses the pole.
    Equatorial(PoleError),
}

/// The target, the site and the time of a session.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FieldSession {
    /// Where the telescope stands.
    pub site: Site,
    /// How it follows.
    pub mount: FieldMount,
    /// The target.
    pub place: SkyPlace,
    /// When it begins.
    pub start: Moment,
    /// Length \[s\].
    pub length_s: f64,
    /// Time between rows \[s\].
    pub step_s: f64,
}

/// One moment of a session.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FieldRow {
    /// When.
    pub at: Moment,
    /// Where the target stands.
    pub pointing: Pointing,
    /// How far the field has turned since the start, in position angle, if nothing counteracts \[deg\].
    pub turned_deg: f64,
    /// How fast it turns \[deg/h\].
    pub rate_deg_per_h: f64,
}

impl FieldSession {
    /// Where the target stands at a moment, the position angle of the field \[deg\], and its rate \[deg/h\].
    pub(super) fn turning(&self, at: Moment) -> (Pointing, f64, f64) {
        let pointing = self.site.sky(at).pointing(self.place);
        let (angle_deg, rate_deg_per_h) = match &self.mount {
            FieldMount::AltAz => (
                pointing.zenith_deg,
                rotation_deg_per_h(
                    self.site.latitude_deg(),
                    pointing.azimuth_deg,
                    pointing.altitude_deg,
                ),
            ),
            FieldMount::Equatorial(error) => polar_rotation(&self.site, error, &pointing),
        };
        (pointing, angle_deg, rate_deg_per_h)
    }
}

/// The session at every step, its end included.
#[must_use]
pub fn session(session: &FieldSession) -> Vec<FieldRow> {
    let steps = (session.length_s / session.step_s).ceil().max(1.0) as u32;
    let mut rows: Vec<FieldRow> = Vec::new();
    let mut before = None;
    let mut turned_deg = 0.0;
    for step in 0..=steps {
        let after_s = (f64::from(step) * session.step_s).min(session.length_s);
        let at = session.start.plus_s(after_s);
        let (pointing, angle_deg, rate_deg_per_h) = session.turning(at);
        if let Some(before) = before {
            turned_deg += residual_finite(angle_deg - before, 360.0);
        }
        before = Some(angle_deg);
        rows.push(FieldRow {
            at,
            pointing,
            turned_deg,
            rate_deg_per_h,
        });
    }
    rows
}

/// The longest exposure in which a corner of the frame moves by at most `smear_px` pixels at this rate \[s\];
/// infinite if it never moves that far.
#[must_use]
pub fn longest_exposure_s(framing: &Framing, smear_px: f64, rate_deg_per_h: f64) -> f64 {
    // The inverse of the chord of half the diagonal.
    let radius_px = 0.5 * framing.corner_shift_px(180.0);
    let half = smear_px / (2.0 * radius_px);
    if half >= 1.0 || rate_deg_per_h == 0.0 {
        return f64::INFINITY;
    }
    2.0 * libm::asin(half).to_degrees() / rate_deg_per_h.abs() * 3600.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Shows (sky): longest exposure: the corner moves by the permitted smear in that time. Source: by hand.
    #[test]
    fn the_smear_is_that_of_the_corner() {
        let framing = Framing {
            sensor_width_mm: 23.5,
            sensor_height_mm: 15.7,
            focal_length_mm: 480.0,
            pixel_um: 3.76,
            mosaic_overlap: 0.15,
        };
        let time_s = longest_exposure_s(&framing, 1.5, -12.0);
        let moved = framing.corner_shift_px(12.0 * time_s / 3600.0);
        assert!((moved - 1.5).abs() < 1e-9, "{moved}");
        // Half the diagonal of 14.13 mm is 3758 pixels. A pixel there is 0.01525 degrees: 4.57 s at 12 degrees an
        // hour.
        let one = longest_exposure_s(&framing, 1.0, 12.0);
        assert!((one - 4.574).abs() < 5e-3, "{one}");
        assert!(longest_exposure_s(&framing, 1.0, 0.0).is_infinite());
        assert!(longest_exposure_s(&framing, 1e6, 1.0).is_infinite());
    }
}
