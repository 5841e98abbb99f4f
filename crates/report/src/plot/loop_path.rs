//! The path of the drive through a loop: its moves, its long swings and its solves.

use super::scale::Scale;
use super::sheet::{Align, Point, Sheet, TextStyle};
use super::style::{BLUE, GREEN, INK, MUTED, PAPER, SOLID, Shape, WARNING, size};
use halfturn_engine::run::TraceRow;

/// The path of a row: time and reading at its corners.
fn path(row: &TraceRow) -> Vec<Point> {
    let mut corners = vec![(row.start_s, row.from_deg)];
    if let Some(via) = row.via_deg {
        let (first, second) = ((via - row.from_deg).abs(), (row.reading_deg - via).abs());
        let share = if first + second > 0.0 {
            first / (first + second)
        } else {
            0.5
        };
        corners.push((row.start_s + share * (row.moved_s - row.start_s), via));
    }
    corners.push((row.moved_s, row.reading_deg));
    corners
}

pub(super) fn moves(sheet: &mut Sheet, times: &Scale, scale: &Scale, rows: &[TraceRow]) {
    let place = |(t, reading): Point| (times.at(t), scale.at(reading));
    for row in rows {
        let rest = [(row.moved_s, row.reading_deg), (row.end_s, row.reading_deg)];
        sheet.line(&rest.map(place), BLUE, 1.2, SOLID);
    }
    for row in rows.iter().filter(|r| !r.long_swing) {
        let corners: Vec<Point> = path(row).into_iter().map(place).collect();
        sheet.line(&corners, BLUE, 2.0, SOLID);
    }
    let mut numbers: Vec<Point> = Vec::new();
    for (i, row) in rows.iter().filter(|r| r.long_swing).enumerate() {
        let corners: Vec<Point> = path(row).into_iter().map(place).collect();
        sheet.line(&corners, WARNING, 3.5, SOLID);
        let longest = corners
            .windows(2)
            .max_by(|a, b| (a[1].1 - a[0].1).abs().total_cmp(&(b[1].1 - b[0].1).abs()));
        let Some([a, b]) = longest else { continue };
        let middle = (0.5 * (a.0 + b.0), 0.5 * (a.1 + b.1));
        let text = (i + 1).to_string();
        let look = TextStyle::of(size::SMALL)
            .bold()
            .align(Align::Middle)
            .colour(WARNING);
        let radius = (0.5 * look.width(&text) + 3.5).max(9.0);
        let free = numbers
            .last()
            .is_none_or(|(x, y)| libm::hypot(middle.0 - x, middle.1 - y) > 2.0 * radius + 3.0);
        if free {
            sheet.disc(middle, radius, WARNING);
            sheet.disc(middle, radius - 1.5, PAPER);
            sheet.text((middle.0, middle.1 + look.drop()), &text, look);
            numbers.push(middle);
        }
    }
}

pub(super) fn solves(
    sheet: &mut Sheet,
    times: &Scale,
    scale: &Scale,
    rows: &[TraceRow],
    tolerance_deg: f64,
) {
    let radius = dot_radius(rows.len());
    for row in rows {
        let y = scale.at(row.reading_deg);
        if row.failed_attempts > 0 {
            let at = (0.5 * (times.at(row.moved_s) + times.at(row.end_s)), y);
            sheet.mark(Shape::Cross, at, radius, MUTED, true);
        }
        if row.refused {
            let at = (times.at(row.start_s), y);
            sheet.mark(Shape::Square, at, radius + 1.0, WARNING, false);
        }
        if let Some(solved) = row.solved {
            let passed = solved.residual_deg.abs() <= tolerance_deg;
            let colour = if passed { GREEN } else { INK };
            sheet.mark(
                Shape::Disc,
                (times.at(row.end_s), y),
                radius,
                colour,
                passed,
            );
        }
    }
}

/// Radius of dots, smaller if they are many.
pub(super) fn dot_radius(count: usize) -> f64 {
    match count {
        0..=60 => 5.0,
        61..=200 => 3.6,
        _ => 2.6,
    }
}
