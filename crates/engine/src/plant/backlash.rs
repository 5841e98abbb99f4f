//! The backlash operator, in the literature the play operator.

/// Position of the driven side \[deg\] after the driving side has moved to `drive_deg`, through a backlash with the
/// full width `width_deg`.
///
/// The driven side rests until the backlash is taken up, then follows at half a width. Krasnosel'skii & Pokrovskii
/// (1989), "Systems with Hysteresis"; Nordin & Gutman (2002), Automatica 38, 1633.
#[inline(always)]
#[must_use]
pub fn driven_side_deg(output_deg: f64, drive_deg: f64, width_deg: f64) -> f64 {
    let half = 0.5 * width_deg;
    let (low, high) = (drive_deg - half, drive_deg + half);
    let y = if output_deg > low { output_deg } else { low };
    if y < high { y } else { high }
}
