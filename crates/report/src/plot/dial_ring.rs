//! The ring of a dial: allowed arc, band, seam and keep-outs, with their numbers.

use super::dial_shown::Dial;
use super::scale::{number, plain};
use super::sheet::{Align, Point, Sheet, TextStyle};
use super::style::{FAINT_BLUE, GRID, INK, KEEP_OUT, MUTED, PALE_BLUE, PAPER, RULE, SOLID, size};
use halfturn_engine::angle::TURN_DEG;
use halfturn_engine::wording::on_dial;

/// Outer radius of the ring.
pub(super) const RING: f64 = 118.0;
pub(super) const RING_INNER: f64 = 101.0;

/// Radius on which the targets lie.
pub(super) const MARKS: f64 = RING + 11.0;

/// Numbers inside the ring reach outwards to this radius.
const NUMBERS: f64 = RING_INNER - 10.0;

/// A sector to stay out of: from, up to \[deg\], and why.
pub(super) type KeepOut = (f64, f64, String);

/// A point at an angle and a radius from the centre of a dial.
pub(super) fn polar((x, y): Point, angle_deg: f64, radius: f64) -> Point {
    let (sin, cos) = libm::sincos(angle_deg.to_radians());
    (x + radius * sin, y - radius * cos)
}

/// A part of a ring.
fn sector(centre: Point, from_deg: f64, width_deg: f64, inner: f64, outer: f64) -> Vec<Point> {
    let steps = (width_deg.abs() / 2.0).ceil().clamp(1.0, 180.0) as usize;
    let angle = |i: usize| from_deg + width_deg * i as f64 / steps as f64;
    let out = (0..=steps).map(|i| polar(centre, angle(i), outer));
    let back = (0..=steps).rev().map(|i| polar(centre, angle(i), inner));
    out.chain(back).collect()
}

/// Draws the ring of a dial. `keep_outs` are those of all dials, in the order of their letters.
pub(super) fn ring(sheet: &mut Sheet, centre: Point, dial: &Dial, keep_outs: &[&KeepOut]) {
    let part = |from, width| sector(centre, from, width, RING_INNER, RING);
    sheet.area(part(0.0, TURN_DEG), GRID, 1.0);
    let from = plain(dial.arc_from_deg).unwrap_or(0.0);
    let width = plain(dial.arc_width_deg)
        .unwrap_or(0.0)
        .clamp(0.0, TURN_DEG);
    let band = plain(dial.band_deg).unwrap_or(0.0).max(0.0);
    let outside = TURN_DEG - width;
    if band > 0.0 && outside > 0.0 {
        let shown = (width + 2.0 * band).min(TURN_DEG);
        sheet.area(part(from - 0.5 * (shown - width), shown), FAINT_BLUE, 1.0);
    }
    sheet.area(part(from, width), PALE_BLUE, 1.0);
    for (i, area) in keep_outs.iter().enumerate() {
        if dial.keep_outs.contains(area) {
            keep_out(sheet, centre, area, &letter(i));
        }
    }

    let to = from + width;
    // The drive turns past the end of a full circle as if it were not there.
    let ends: &[f64] = if outside > 0.0 { &[from, to] } else { &[] };
    let small = TextStyle::of(size::SMALL)
        .align(Align::Middle)
        .colour(MUTED);
    for quarter in [0.0, 90.0, 180.0, 270.0] {
        let tick = [RING_INNER - 5.0, RING_INNER].map(|r| polar(centre, quarter, r));
        sheet.line(&tick, RULE, 1.0, SOLID);
        if !ends.iter().any(|end| near(*end, quarter)) {
            inner_number(sheet, centre, quarter, small);
        }
    }
    let look = TextStyle::of(size::TICK).bold().align(Align::Middle);
    for (i, end) in ends.iter().enumerate() {
        let tick = [RING_INNER - 6.0, RING + 5.0].map(|r| polar(centre, *end, r));
        sheet.line(&tick, INK, 4.0, SOLID);
        if i == 0 || !near(*end, from) {
            inner_number(sheet, centre, on_dial(*end), look);
        }
    }
    let lines = ["drive angle", "(°),", "clockwise", "from the top"];
    for (i, line) in lines.into_iter().enumerate() {
        let y = centre.1 - 18.0 + 15.0 * i as f64;
        sheet.text((centre.0, y), line, small);
    }
}

/// Whether two numbers would overlap inside the ring.
fn near(a_deg: f64, b_deg: f64) -> bool {
    let apart = (a_deg - b_deg).rem_euclid(TURN_DEG);
    apart.min(TURN_DEG - apart) < 24.0
}

/// A drive angle, written inside the ring.
fn inner_number(sheet: &mut Sheet, centre: Point, angle_deg: f64, look: TextStyle) {
    let text = format!("{}°", number(angle_deg, 2));
    let (sin, cos) = libm::sincos(angle_deg.to_radians());
    let half = 0.5 * (look.width(&text) * sin.abs() + look.em * cos.abs());
    let (x, y) = polar(centre, angle_deg, NUMBERS - half);
    sheet.text((x, y + look.drop()), &text, look);
}

fn keep_out(sheet: &mut Sheet, centre: Point, sector_deg: &KeepOut, letter: &str) {
    let (from, to) = (sector_deg.0, sector_deg.1);
    let width = if to - from >= TURN_DEG {
        TURN_DEG
    } else {
        (to - from).rem_euclid(TURN_DEG)
    };
    let (inner, outer) = (RING_INNER - 3.0, RING + 3.0);
    let strokes = (width / 4.0).ceil().max(3.0) as usize;
    for i in 0..=strokes {
        let at = from + width * i as f64 / strokes as f64;
        let inside = i > 0 && i < strokes;
        let lean = if inside { (0.1 * width).min(3.0) } else { 0.0 };
        let stroke = [
            polar(centre, at - lean, inner),
            polar(centre, at + lean, outer),
        ];
        sheet.line(&stroke, KEEP_OUT, 1.5, SOLID);
    }
    for radius in [inner, outer] {
        let edge = sector(centre, from, width, radius, radius);
        sheet.line(&edge[..edge.len() / 2], KEEP_OUT, 1.5, SOLID);
    }
    // In a narrow sector the letter would hide the hatching, and stands behind it.
    let at = if width < 20.0 {
        to + 10.0
    } else {
        from + 0.5 * width
    };
    let middle = polar(centre, at, 0.5 * (RING + RING_INNER));
    let look = TextStyle::of(size::SMALL).bold().align(Align::Middle);
    sheet.disc(middle, 0.5 * look.width(letter) + 4.0, PAPER);
    sheet.text((middle.0, middle.1 + look.drop()), letter, look);
}

/// A, B, … Z, then numbers.
pub(super) fn letter(index: usize) -> String {
    match u8::try_from(index) {
        Ok(i) if i < 26 => char::from(b'A' + i).to_string(),
        _ => (index + 1).to_string(),
    }
}
