//! The straight form of a dial, for a drive between stops. Its readings do not repeat every turn, and a circle would
//! show sectors and targets where the drive never meets them.

use std::cmp::Reverse;

use super::dial_labels::{GAP, label, named};
use super::dial_ring::{KeepOut, MARKS, RING, RING_INNER, letter};
use super::dial_shown::{Dial, DialTarget};
use super::labels::{capacity, spread};
use super::scale::{Scale, number, padded, plain, range};
use super::sheet::{Align, Point, Sheet, TextStyle};
use super::style::{FAINT_BLUE, GRID, INK, KEEP_OUT, MUTED, PALE_BLUE, PAPER, RULE, SOLID, size};
use halfturn_engine::verdict::TargetState;

/// Width of the strip, the same as that of the ring.
const WIDTH: f64 = RING - RING_INNER;

/// Room for the numbers to the left of the strip.
const NUMBERS: f64 = 108.0;

/// Height of the strip.
const HEIGHT: f64 = 326.0;

/// Draws the strip of a dial into a cell at `(left, top)` with the width `wide`. `keep_outs` are those of all dials,
/// in the order of their letters.
pub(super) fn strip(
    sheet: &mut Sheet,
    (left, top): Point,
    wide: f64,
    dial: &Dial,
    (lo_deg, hi_deg): (f64, f64),
    keep_outs: &[&KeepOut],
) {
    let (from, to) = (dial.arc_from_deg, dial.arc_from_deg + dial.arc_width_deg);
    let band = plain(dial.band_deg).unwrap_or(0.0).max(0.0);
    let seen =
        dial.targets
            .iter()
            .map(|t| t.drive_deg)
            .chain([lo_deg, hi_deg, from - band, to + band]);
    let ends = padded(range(seen).unwrap_or((0.0, 1.0)), 0.03);
    let (up, down) = (top + 72.0, top + 72.0 + HEIGHT);
    let scale = Scale::even(ends, (down, up));
    let x = left + NUMBERS;
    let mut part = |from_deg: f64, to_deg: f64, colour| {
        let (low, high) = (from_deg.max(ends.0), to_deg.min(ends.1));
        if low < high {
            sheet.rectangle((x, scale.at(high)), (x + WIDTH, scale.at(low)), colour);
        }
    };
    part(lo_deg, hi_deg, GRID);
    if band > 0.0 {
        part(from - band, to + band, FAINT_BLUE);
    }
    part(from, to, PALE_BLUE);
    for (i, area) in keep_outs.iter().enumerate() {
        let (low, high) = (area.0.max(ends.0), area.1.min(ends.1));
        if dial.keep_outs.contains(area) && low < high {
            hatched(sheet, x, (scale.at(high), scale.at(low)), &letter(i));
        }
    }
    let mut numbers = Vec::new();
    for end in [from, to] {
        numbers.push((end, format!("{}°", number(end, 2)), INK, 4.0, 5.0));
    }
    for stop in [lo_deg, hi_deg] {
        let text = format!("stop {}°", number(stop, 2));
        numbers.push((stop, text, KEEP_OUT, 6.0, 12.0));
    }
    numbers.retain(|n| plain(n.0).is_some());
    numbers.sort_by(|a, b| b.0.total_cmp(&a.0));
    let wanted: Vec<f64> = numbers.iter().map(|n| scale.at(n.0)).collect();
    let placed = spread(&wanted, GAP, up, down);
    for ((at, text, colour, thick, out), y) in numbers.iter().zip(placed) {
        let across = [(x - out, scale.at(*at)), (x + WIDTH + 5.0, scale.at(*at))];
        sheet.line(&across, *colour, *thick, SOLID);
        sheet.line(&[(x - 24.0, y), across[0]], RULE, 1.0, SOLID);
        let look = TextStyle::of(size::TICK)
            .bold()
            .align(Align::Right)
            .colour(*colour);
        sheet.text((x - 28.0, y + look.drop()), text, look);
    }
    let look = TextStyle::of(size::SMALL).colour(MUTED);
    sheet.text((left + 16.0, down + 20.0), "drive angle (°), upwards", look);
    targets(
        sheet,
        x + WIDTH + MARKS - RING,
        left + wide,
        (up, down),
        &scale,
        dial,
    );
}

/// A sector to stay out of.
fn hatched(sheet: &mut Sheet, x: f64, (high, low): (f64, f64), letter: &str) {
    let (left, right) = (x - 3.0, x + WIDTH + 3.0);
    let strokes = ((low - high) / 6.0).ceil().max(2.0) as usize;
    for i in 0..=strokes {
        let y = high + (low - high) * i as f64 / strokes as f64;
        let lean = if i > 0 && i < strokes { 2.5 } else { 0.0 };
        sheet.line(&[(left, y + lean), (right, y - lean)], KEEP_OUT, 1.5, SOLID);
    }
    for side in [left, right] {
        sheet.line(&[(side, high), (side, low)], KEEP_OUT, 1.5, SOLID);
    }
    let look = TextStyle::of(size::SMALL).bold().align(Align::Middle);
    // In a narrow sector the letter would hide the hatching, and stands beside it.
    let beside = if low - high < 26.0 {
        0.5 * WIDTH + 11.0
    } else {
        0.0
    };
    let middle = (x + 0.5 * WIDTH - beside, 0.5 * (high + low));
    sheet.disc(middle, 0.5 * look.width(letter) + 4.0, PAPER);
    sheet.text((middle.0, middle.1 + look.drop()), letter, look);
}

/// Marks and names of the targets to the right of the strip.
fn targets(sheet: &mut Sheet, x: f64, right: f64, (up, down): Point, scale: &Scale, dial: &Dial) {
    let drawable: Vec<&DialTarget> = dial
        .targets
        .iter()
        .filter(|t| plain(t.drive_deg).is_some())
        .collect();
    let mut chosen = named(&drawable);
    chosen.truncate(capacity(GAP, up, down));
    chosen.sort_by(|a, b| b.drive_deg.total_cmp(&a.drive_deg));
    let wanted: Vec<f64> = chosen.iter().map(|t| scale.at(t.drive_deg)).collect();
    for (target, y) in chosen.iter().zip(spread(&wanted, GAP, up, down)) {
        let start = x + 26.0;
        let leader = [(x, scale.at(target.drive_deg)), (start, y)];
        sheet.line(&leader, RULE, 1.0, SOLID);
        let look = TextStyle::of(size::SMALL).colour(super::state::look(target.state).ink);
        let look = if target.state == TargetState::Safe {
            look
        } else {
            look.bold()
        };
        let name = label(target, look, right - start - 12.0);
        sheet.text((start + 4.0, y + look.drop()), &name, look);
    }
    // What matters most is painted last. Marks closer than half a unit cannot be told apart.
    let mut dots: Vec<(Reverse<TargetState>, i64)> = drawable
        .iter()
        .map(|t| {
            (
                Reverse(t.state),
                (2.0 * scale.at(t.drive_deg)).round() as i64,
            )
        })
        .collect();
    dots.sort_unstable();
    dots.dedup();
    for (Reverse(state), halves) in dots {
        let look = super::state::look(state);
        let at = (x, 0.5 * halves as f64);
        sheet.mark(look.shape, at, 5.0, look.colour, look.filled);
    }
}
