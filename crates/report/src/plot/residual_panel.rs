//! The measured residual over time, with the tolerance zone always in view.

use super::axes::Panel;
use super::form::Layout;
use super::loop_path::dot_radius;
use super::scale::{Scale, number, plain};
use super::sheet::{Point, Sheet, TextStyle};
use super::style::{DASHED, GREEN, INK, MUTED, PALE_GREEN, RULE, SOLID, Shape, size};
use halfturn_engine::run::TraceRow;

/// Up to this many tolerances, residuals are drawn on an even scale.
const EVEN_UP_TO: f64 = 6.0;

/// Draws the residuals of the rows.
pub(super) fn residual_panel(
    sheet: &mut Sheet,
    panel: Panel,
    times: &Scale,
    rows: &[TraceRow],
    tolerance_deg: f64,
    form: Layout,
) {
    let measured: Vec<Point> = rows
        .iter()
        .filter_map(|r| Some((plain(r.end_s)?, plain(r.solved?.residual_deg)?)))
        .collect();
    let tolerance = plain(tolerance_deg).unwrap_or(0.0).max(0.0);
    let largest = measured.iter().fold(tolerance, |m, (_, r)| m.max(r.abs()));
    let largest = if largest > 0.0 { largest } else { 1.0 };
    let even = largest <= EVEN_UP_TO * tolerance || tolerance == 0.0;
    let scale = if even {
        Scale::even((-1.25 * largest, 1.25 * largest), panel.up())
    } else {
        Scale::centred(tolerance, 1.8 * largest, panel.up())
    };

    let (top, bottom) = (scale.at(tolerance), scale.at(-tolerance));
    sheet.rectangle((panel.left, top), (panel.right, bottom), PALE_GREEN);
    panel.x_axis(sheet, times, Some("time (s)"));
    let name = if even {
        "measured residual (°)"
    } else {
        "measured residual (°), scale compressed away from 0"
    };
    panel.y_axis(sheet, &scale, 7, name);
    let zero = scale.at(0.0);
    sheet.line(&[(panel.left, zero), (panel.right, zero)], RULE, 1.0, SOLID);
    for y in [top, bottom] {
        sheet.line(&[(panel.left, y), (panel.right, y)], GREEN, 1.0, DASHED);
    }
    if form == Layout::Wide {
        let look = TextStyle::of(size::TICK).colour(GREEN);
        let x = panel.right + 16.0;
        sheet.line(&[(panel.right, zero), (x - 4.0, zero)], GREEN, 1.0, SOLID);
        sheet.text((x, zero - 4.0), "within tolerance", look);
        let width = format!("±{}°", number(tolerance, 4));
        sheet.text((x, zero + 12.0), &width, look);
    }

    let placed: Vec<Point> = measured
        .iter()
        .map(|(t, r)| (times.at(*t), scale.at(*r)))
        .collect();
    sheet.line(&placed, MUTED, 1.0, SOLID);
    let radius = dot_radius(placed.len()) - 0.6;
    for (at, (_, residual)) in placed.iter().zip(&measured) {
        let passed = residual.abs() <= tolerance;
        let colour = if passed { GREEN } else { INK };
        sheet.mark(Shape::Disc, *at, radius, colour, passed);
    }
    if measured.is_empty() && !rows.is_empty() {
        sheet.note((panel.centre().0, zero - 10.0), "no solve succeeded");
    }
}
