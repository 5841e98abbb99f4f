//! The lower half of a night over time: readings, allowed arc, cable, keep-outs, loops with their verdicts.

use super::axes::Panel;
use super::night_shown::{NightBar, NightCourse, NightSheet};
use super::scale::{Scale, padded, range};
use super::sheet::{Align, Sheet, TextStyle};
use super::state::look as look_of;
use super::style::{
    BLUE, DASHED, DOTTED, FAINT_BLUE, INK, KEEP_OUT, PALE_BLUE, PAPER, SLATE, SOLID, WARNING, size,
};
use halfturn_engine::angle::TURN_DEG;
use halfturn_engine::verdict::TargetState;

/// Draws the readings of a night into a panel.
pub(super) fn readings_of(sheet: &mut Sheet, panel: &Panel, time: &Scale, night: &NightSheet) {
    let readings = night.bars.iter().map(|b| b.reading_deg);
    let (low, high) = range(readings.chain([night.course.park_deg])).unwrap_or((0.0, 180.0));
    // If the drive hardly turns in a night, the axis still spans 30 degrees.
    let (low, high) = padded((low.min(high - 30.0), high.max(low + 30.0)), 0.14);
    let up = Scale::angle((low, high), panel.up());
    behind(sheet, panel, &up, &night.course);
    panel.y_axis(sheet, &up, 7, "reading (°)");
    for bar in &night.bars {
        let across = (time.at(bar.from_h), time.at(bar.to_h));
        for (from, to) in &bar.keep_outs {
            let to = if to < from { to + TURN_DEG } else { *to };
            for (from, to) in every_turn((*from, to), up.ends()) {
                hatch(sheet, across, (up.at(to), up.at(from)));
            }
        }
        flip_line(sheet, panel, time, bar);
    }
    rotations(sheet, panel, time, &up, night);
}

/// The allowed arc, and the readings that the cable allows.
fn behind(sheet: &mut Sheet, panel: &Panel, up: &Scale, course: &NightCourse) {
    let ends = up.ends();
    let inside = |at: f64| at > ends.0 && at < ends.1;
    let across = |sheet: &mut Sheet, at: f64, colour, dash| {
        let y = up.at(at);
        sheet.line(&[(panel.left, y), (panel.right, y)], colour, 2.0, dash);
    };
    for (from, to) in every_turn(course.arc_deg, ends) {
        let corners = ((panel.left, up.at(to)), (panel.right, up.at(from)));
        sheet.rectangle(corners.0, corners.1, FAINT_BLUE);
        for end in [from, to].into_iter().filter(|end| inside(*end)) {
            across(sheet, end, PALE_BLUE, SOLID);
        }
    }
    if course.limit_deg > 0.0 {
        let limits = [-course.limit_deg, course.limit_deg].map(|l| course.park_deg + l);
        for end in limits.into_iter().filter(|end| inside(*end)) {
            across(sheet, end, WARNING, DOTTED);
        }
    }
}

/// A sector at every whole turn in view.
fn every_turn((from, to): (f64, f64), (low, high): (f64, f64)) -> Vec<(f64, f64)> {
    /// More would make no picture.
    const MOST: usize = 50;
    let first = ((low - to) / TURN_DEG).ceil() as i64;
    let last = ((high - from) / TURN_DEG).floor() as i64;
    (first..=last)
        .take(MOST)
        .map(|k| TURN_DEG * k as f64)
        .map(|turn| ((from + turn).max(low), (to + turn).min(high)))
        .filter(|(from, to)| to > from)
        .collect()
}

/// The course of the reading, the time of every loop, and the mark of its verdict.
fn rotations(sheet: &mut Sheet, panel: &Panel, time: &Scale, up: &Scale, night: &NightSheet) {
    let mut way = vec![(panel.left, up.at(night.course.park_deg))];
    for bar in &night.bars {
        let y = up.at(bar.reading_deg);
        let (from, to) = (time.at(bar.from_h), time.at(bar.to_h));
        way.extend([(from, way[way.len() - 1].1), (from, y), (to, y)]);
        let width = (time.at(bar.from_h + bar.loop_h) - from).max(2.0);
        sheet.rectangle((from, y - 7.0), (from + width, y + 7.0), SLATE);
    }
    sheet.line(&way, BLUE, 2.4, SOLID);
    let look = TextStyle::of(size::TICK).bold().align(Align::Middle);
    for (i, bar) in night.bars.iter().enumerate() {
        let y = up.at(bar.reading_deg);
        let middle = 0.5 * (time.at(bar.from_h) + time.at(bar.to_h));
        let label = (i + 1).to_string();
        let half = 0.5 * look.width(&label) + 2.0;
        sheet.rectangle((middle - half, y - 6.0), (middle + half, y + 6.0), PAPER);
        sheet.text((middle, y + look.drop()), &label, look);
        let (mark, at) = (look_of(bar.state), (time.at(bar.from_h), y));
        let radius = if bar.state == TargetState::Safe {
            4.0
        } else {
            7.0
        };
        sheet.mark(mark.shape, at, radius, mark.colour, mark.filled);
    }
}

fn hatch(sheet: &mut Sheet, (left, right): (f64, f64), (top, bottom): (f64, f64)) {
    let mut x = left;
    while x < right {
        let reach = (bottom - top).min(right - x);
        let stroke = [(x, bottom), (x + reach, bottom - reach)];
        sheet.line(&stroke, KEEP_OUT, 1.0, SOLID);
        x += 7.0;
    }
    let corners = [(left, top), (right, top), (right, bottom), (left, bottom)];
    let outline: Vec<_> = corners.into_iter().chain([(left, top)]).collect();
    sheet.line(&outline, KEEP_OUT, 1.0, SOLID);
}

pub(super) fn flip_line(sheet: &mut Sheet, panel: &Panel, time: &Scale, bar: &NightBar) {
    if bar.after_flip {
        let x = time.at(bar.from_h);
        sheet.line(&[(x, panel.top), (x, panel.bottom)], INK, 1.4, DASHED);
    }
}
