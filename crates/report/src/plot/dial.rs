//! The circle of drive angles: allowed arc, seam, keep-outs and targets.

use std::cmp::Reverse;

use super::canvas::in_both_layouts;
use super::dial_labels::{MOST_NAMED, MOST_TROUBLED, START, labels, wanted_room};
use super::dial_ring::{KeepOut, MARKS, letter, polar, ring};
use super::dial_shown::{Dial, DialTarget};
use super::dial_strip::strip;
use super::font::shortened;
use super::form::Layout;
use super::legend::{Key, legend};
use super::picture::Picture;
use super::scale::{number, plain};
use super::sheet::{Align, MARGIN, Point, Sheet, TextStyle};
use super::state::{keys, look};
use super::style::{FAINT_BLUE, INK, KEEP_OUT, MUTED, PALE_BLUE, size};
use halfturn_engine::angle::TURN_DEG;
use halfturn_engine::verdict::TargetState;

/// Least width of one dial with its names.
const CELL: f64 = 500.0;
/// Width of a picture from which names are cut.
const WIDEST: f64 = 1280.0;
/// Blank beside the names.
const BLANK: f64 = 12.0;
const CENTRE_Y: f64 = 246.0;
/// Height of one row of dials, without the legend.
const CELL_HEIGHT: f64 = 424.0;

/// Draws dials side by side, two in a row. On a narrow sheet they stand one below the other, and numbers, the places
/// in the list, replace the names of targets.
pub fn dial(dials: &[Dial]) -> Picture {
    let numbered: Vec<Dial> = dials.iter().map(Dial::numbered).collect();
    in_both_layouts(|form| match form {
        Layout::Wide => layout(dials, form),
        Layout::Narrow => layout(&numbered, form),
    })
}

impl Dial {
    /// The dial with numbers in place of names.
    fn numbered(&self) -> Self {
        let mut dial = self.clone();
        for (i, target) in dial.targets.iter_mut().enumerate() {
            target.name = (i + 1).to_string();
        }
        dial
    }
}

fn layout(dials: &[Dial], form: Layout) -> Sheet {
    let columns = form.of(2, 1);
    let rows = dials.len().div_ceil(columns).max(1);
    let cells = cells(dials, form);
    let width = cells.iter().map(|c| c.wide).fold(0.0, |all, w| all + w);
    let width = width.max(form.width(1.3 * CELL));
    let titles: Vec<&str> = dials.iter().map(|d| d.title.as_str()).collect();
    let title = format!("Drive angles of the targets: {}", titles.join("; "));
    let mut sheet = Sheet::new(width, rows as f64 * CELL_HEIGHT, title);

    // A sector has the same letter on every dial.
    let mut keep_outs: Vec<&KeepOut> = Vec::new();
    for sector in dials.iter().flat_map(|d| &d.keep_outs) {
        let drawable = plain(sector.0).is_some() && plain(sector.1).is_some();
        if drawable && !keep_outs.contains(&sector) {
            keep_outs.push(sector);
        }
    }
    for (i, dial) in dials.iter().enumerate() {
        let column = i % cells.len();
        let cell = &cells[column];
        let all: f64 = cells.iter().map(|c| c.wide).sum();
        let before: f64 = cells[..column].iter().map(|c| c.wide).sum();
        let left = 0.5 * (width - all) + before;
        let top = (i / columns) as f64 * CELL_HEIGHT;
        if let Some(stops_deg) = dial.stops_deg {
            let middle = left + 0.5 * cell.wide;
            headline(&mut sheet, (middle, top + 32.0), cell.wide, dial);
            strip(
                &mut sheet,
                (left, top),
                cell.wide,
                dial,
                stops_deg,
                &keep_outs,
            );
            continue;
        }
        let centre = (left + BLANK + cell.room.0 + START, top + CENTRE_Y);
        let wide = 2.0 * (centre.0 - left).min(left + cell.wide - centre.0);
        headline(&mut sheet, (centre.0, top + 32.0), wide, dial);
        ring(&mut sheet, centre, dial, &keep_outs);
        targets(&mut sheet, centre, cell.room, &dial.targets);
    }
    if dials.is_empty() {
        sheet.note((0.5 * width, CENTRE_Y), "no arc to show");
    }
    let entries = entries(dials, &keep_outs);
    let next = legend(
        &mut sheet,
        &entries,
        (MARGIN, width - MARGIN),
        rows as f64 * CELL_HEIGHT + 12.0,
    );
    sheet.height = next + 6.0;
    sheet
}

/// A column of dials.
struct Cell {
    wide: f64,
    /// Room for names to the left and right.
    room: (f64, f64),
}

/// The columns. Names get the room that they need until the picture would be too wide.
fn cells(dials: &[Dial], form: Layout) -> Vec<Cell> {
    let columns = dials.len().clamp(1, form.of(2, 1));
    let cell = form.width(CELL);
    let mut rooms = vec![(0.0_f64, 0.0_f64); columns];
    for (i, dial) in dials.iter().enumerate() {
        let (left, right) = wanted_room(&dial.targets);
        let room = &mut rooms[i % columns];
        *room = (room.0.max(left), room.1.max(right));
    }
    let rings = columns as f64 * 2.0 * (START + BLANK);
    let wanted: f64 = rooms.iter().map(|(l, r)| l + r).sum();
    let share = ((form.width(WIDEST) - rings) / wanted.max(1.0)).min(1.0);
    rooms
        .into_iter()
        .map(|(left, right)| {
            let room = (share * left, share * right);
            let least = room.0 + room.1 + 2.0 * (START + BLANK);
            let spare = 0.5 * (cell - least).max(0.0);
            Cell {
                wide: least.max(cell),
                room: (room.0 + spare, room.1 + spare),
            }
        })
        .collect()
}

fn headline(sheet: &mut Sheet, (x, y): Point, wide: f64, dial: &Dial) {
    let look = TextStyle::of(size::SUBTITLE).bold().align(Align::Middle);
    let title = shortened(&dial.title, look.em, look.weight, wide - 2.0 * MARGIN);
    sheet.text((x, y), &title, look);
    let counts: Vec<String> = TargetState::ALL
        .iter()
        .copied()
        .filter_map(|state| {
            let count = dial.targets.iter().filter(|t| t.state == state).count();
            (count > 0).then(|| format!("{count} {}", state.short(count)))
        })
        .collect();
    let mut text = if counts.is_empty() {
        "no targets".to_owned()
    } else {
        counts.join(", ")
    };
    let troubled = dial
        .targets
        .iter()
        .filter(|t| t.state != TargetState::Safe)
        .count();
    if dial.targets.len() > MOST_NAMED && troubled > MOST_TROUBLED {
        text.push_str(&format!(" ({MOST_TROUBLED} of them named)"));
    }
    let look = TextStyle::of(size::TICK).align(Align::Middle).colour(MUTED);
    sheet.text((x, y + 20.0), &text, look);
}

fn entries(dials: &[Dial], keep_outs: &[&KeepOut]) -> Vec<(Key, String)> {
    let targets = dials.iter().flat_map(|d| &d.targets);
    let mut list = keys(targets.map(|t| t.state));
    if !dials.is_empty() {
        list.push((Key::Patch(PALE_BLUE), "allowed arc".to_owned()));
        list.push((Key::Patch(INK), "seam".to_owned()));
    }
    if dials.iter().any(|d| d.band_deg > 0.0) {
        list.push((Key::Patch(FAINT_BLUE), "band".to_owned()));
    }
    if dials.iter().any(|d| d.stops_deg.is_some()) {
        list.push((Key::Patch(KEEP_OUT), "stop".to_owned()));
    }
    for (i, (from, to, why)) in keep_outs.iter().enumerate() {
        let text = format!(
            "{}: keep out of {}° to {}°, {why}",
            letter(i),
            number(*from, 1),
            number(*to, 1)
        );
        list.push((Key::Hatched(KEEP_OUT), text));
    }
    list
}

fn targets(sheet: &mut Sheet, centre: Point, room: (f64, f64), targets: &[DialTarget]) {
    let drawable: Vec<&DialTarget> = targets
        .iter()
        .filter(|t| plain(t.drive_deg).is_some())
        .collect();
    let few = drawable.len() <= MOST_NAMED;
    labels(sheet, centre, room, &drawable);
    // What matters most is painted last. Marks closer than a third of a degree cannot be told apart.
    let mut dots: Vec<(Reverse<TargetState>, i64)> = drawable
        .iter()
        .map(|t| {
            (
                Reverse(t.state),
                (3.0 * t.drive_deg.rem_euclid(TURN_DEG)).round() as i64,
            )
        })
        .collect();
    dots.sort_unstable();
    dots.dedup();
    let radius = if few { 5.0 } else { 3.6 };
    for (Reverse(state), thirds) in dots {
        let at = polar(centre, thirds as f64 / 3.0, MARKS);
        let look = look(state);
        sheet.mark(look.shape, at, radius, look.colour, look.filled);
    }
}

#[cfg(test)]
#[path = "dial_tests.rs"]
mod tests;
