//! Names of targets around a dial, without overlap.

use super::dial_ring::{MARKS, RING, polar};
use super::dial_shown::DialTarget;
use super::font::shortened;
use super::labels::{capacity, spread};
use super::sheet::{Align, Point, Sheet, TextStyle};
use super::style::{RULE, SOLID, size};
use halfturn_engine::angle::TURN_DEG;
use halfturn_engine::verdict::TargetState;

/// Up to this number of targets, all are named.
pub(super) const MOST_NAMED: usize = 24;

/// Beyond, this many of the targets that are not safe are named.
pub(super) const MOST_TROUBLED: usize = 12;

/// Distance of the base lines.
pub(super) const GAP: f64 = 14.0;

/// Most room for a name.
const MOST_ROOM: f64 = 240.0;

/// Radius where names start.
pub(super) const START: f64 = RING + 30.0;

/// How far names reach above and below the centre.
const REACH: f64 = RING + 50.0;

/// The targets to name, worst first.
pub(super) fn named<'a>(targets: &[&'a DialTarget]) -> Vec<&'a DialTarget> {
    let mut chosen: Vec<&DialTarget> = targets.to_vec();
    // Worst first: if names do not fit, the least interesting ones are left out.
    chosen.sort_by_key(|t| t.state);
    if chosen.len() > MOST_NAMED {
        chosen.retain(|t| t.state != TargetState::Safe);
        chosen.truncate(MOST_TROUBLED);
    }
    chosen
}

fn look(target: &DialTarget) -> TextStyle {
    let look = TextStyle::of(size::SMALL).colour(super::state::look(target.state).ink);
    if target.state == TargetState::Safe {
        look
    } else {
        look.bold()
    }
}

/// The name, cut to fit.
pub(super) fn label(target: &DialTarget, look: TextStyle, room: f64) -> String {
    shortened(&target.name, look.em, look.weight, room)
}

/// Room that the names of a dial need to the left and right of [`START`].
pub(super) fn wanted_room(targets: &[DialTarget]) -> (f64, f64) {
    let all: Vec<&DialTarget> = targets.iter().collect();
    let widest = |right: bool| {
        named(&all)
            .into_iter()
            .filter(|t| (t.drive_deg.rem_euclid(TURN_DEG) < 180.0) == right)
            .map(|t| look(t).width(&t.name).min(MOST_ROOM) + 6.0)
            .fold(0.0, f64::max)
    };
    (widest(false), widest(true))
}

/// Names of the targets, each with a leader from its mark. `room` is the room to the left and right of [`START`].
pub(super) fn labels(sheet: &mut Sheet, centre: Point, room: (f64, f64), targets: &[&DialTarget]) {
    let chosen = named(targets);
    let angle = |t: &DialTarget| t.drive_deg.rem_euclid(TURN_DEG);
    let (right, left): (Vec<_>, Vec<_>) = chosen.into_iter().partition(|t| angle(t) < 180.0);
    for (side, room, mut named) in [(1.0, room.1, right), (-1.0, room.0, left)] {
        named.truncate(capacity(GAP, -REACH, REACH));
        let height = |t: &DialTarget| polar((0.0, 0.0), angle(t), START).1;
        named.sort_by(|a, b| height(a).total_cmp(&height(b)));
        let wanted: Vec<f64> = named.iter().map(|t| height(t)).collect();
        let placed = spread(&wanted, GAP, -REACH, REACH);
        for (target, dy) in named.into_iter().zip(placed) {
            // Beside the ring a name starts on a circle around it. Above and below, it starts near the middle.
            let dx = (START * START - dy * dy).max(0.0).sqrt().max(9.0);
            let end = (side * dx, dy);
            leader(sheet, centre, angle(target), end);
            let align = if side > 0.0 {
                Align::Left
            } else {
                Align::Right
            };
            let look = look(target).align(align);
            let room = START + room - dx;
            let name = label(target, look, room);
            let at = (centre.0 + end.0 + 3.0 * side, centre.1 + dy + look.drop());
            sheet.text(at, &name, look);
        }
    }
}

/// A leader winds outwards around the ring and never crosses it.
fn leader(sheet: &mut Sheet, centre: Point, from_deg: f64, (dx, dy): Point) {
    let to_deg = libm::atan2(dx, -dy).to_degrees();
    let turn = (to_deg - from_deg + 180.0).rem_euclid(TURN_DEG) - 180.0;
    let radius = libm::hypot(dx, dy);
    let steps = (turn.abs() / 4.0).ceil().max(1.0) as usize;
    let points: Vec<Point> = (0..=steps)
        .map(|i| {
            let share = i as f64 / steps as f64;
            polar(
                centre,
                from_deg + share * turn,
                MARKS + share * (radius - MARKS),
            )
        })
        .collect();
    sheet.line(&points, RULE, 1.0, SOLID);
}
