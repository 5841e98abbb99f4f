//! The residuals of a fit as a picture.

use crate::ReportError;
use crate::plot::{Leftover, Picture, Side, residuals};
use halfturn_engine::fit::Fit;

/// Residuals against the reading and by the side of the play.
///
/// # Errors
/// [`ReportError::Picture`] when it cannot be drawn.
pub fn fit_picture(fit: &Fit, title: &str) -> Result<Picture, ReportError> {
    let points: Vec<Leftover> = fit
        .rows
        .iter()
        .map(|r| Leftover {
            reading_deg: r.reading_deg,
            residual_deg: r.residual_deg,
            side: match r.direction {
                1 => Side::Up,
                -1 => Side::Down,
                _ => Side::Unknown,
            },
            outlier: r.outlier,
        })
        .collect();
    Ok(residuals(&points, fit.total_error_deg, title)?)
}
