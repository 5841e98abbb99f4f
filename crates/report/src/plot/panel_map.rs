//! The panels of a mosaic on the sky.

use super::canvas::picture;
use super::legend::{Key, legend};
use super::picture::Picture;
use super::scale::range;
use super::sheet::{Align, MARGIN, Point, Sheet, TextStyle};
use super::state::{keys, look};
use super::style::{BLUE, GRID, MUTED, PALE_BLUE, PAPER, RULE, SOLID, size};
use halfturn_engine::verdict::TargetState;

/// One panel.
#[derive(Debug, Clone, PartialEq)]
pub struct PanelFrame {
    /// A short name.
    pub label: String,
    /// Its corners, to the east and to the north \[deg\].
    pub corners: Vec<(f64, f64)>,
    /// Position angle of its up axis, as text.
    pub angle: String,
    /// The verdict on it; `None` without a rig.
    pub state: Option<TargetState>,
}

/// All panels, with lines of the sky behind them.
#[derive(Debug, Clone, PartialEq)]
pub struct PanelMap {
    /// Title.
    pub title: String,
    /// Remark beside the title.
    pub remark: String,
    /// The panels.
    pub panels: Vec<PanelFrame>,
    /// Lines of the sky: name, and points to the east and to the north \[deg\].
    pub lines: Vec<(String, Vec<(f64, f64)>)>,
}

/// Side of the map.
const SIDE: f64 = 620.0;

/// Smaller frames have no words.
const WORDS_FROM: f64 = 52.0;

/// Half the side of a square that holds all corners, with a margin; in the unit of the corners.
pub fn panel_map_reach(corners: impl Iterator<Item = (f64, f64)>) -> f64 {
    let most = corners
        .map(|(x, y)| x.abs().max(y.abs()))
        .fold(0.0, f64::max);
    1.2 * most.max(1e-6)
}

/// Draws the panels. North is up, east to the left.
pub fn panel_map(map: &PanelMap) -> Picture {
    let mut sheet = Sheet::new(SIDE + 2.0 * MARGIN + 40.0, SIDE + 150.0, map.title.clone());
    sheet.heading(&map.title, &map.remark);
    let line = Key::Line {
        colour: BLUE,
        width: 2.4,
        dash: SOLID,
        shape: None,
    };
    let mut entries = vec![(line, "panel, with its position angle".to_owned())];
    entries.extend(keys(map.panels.iter().filter_map(|p| p.state)));
    legend(&mut sheet, &entries, (MARGIN + 4.0, MARGIN + SIDE), 60.0);
    let centre = (MARGIN + 20.0 + 0.5 * SIDE, 96.0 + 0.5 * SIDE);
    let reach = panel_map_reach(map.panels.iter().flat_map(|p| p.corners.iter().copied()));
    let scale = 0.5 * SIDE / reach;
    // East is to the left.
    let at = |(x, y): (f64, f64)| -> Point { (centre.0 - scale * x, centre.1 - scale * y) };
    let (left, right) = (centre.0 - 0.5 * SIDE, centre.0 + 0.5 * SIDE);
    let (top, bottom) = (centre.1 - 0.5 * SIDE, centre.1 + 0.5 * SIDE);
    for (_, points) in &map.lines {
        pieces(&mut sheet, points, reach, &at);
    }
    for panel in &map.panels {
        let corners = panel.corners.iter().map(|c| at(*c)).collect();
        sheet.area(corners, PALE_BLUE, 0.28);
    }
    // Worst last: no neighbour covers its frame.
    let mut drawn: Vec<&PanelFrame> = map.panels.iter().collect();
    drawn.sort_by_key(|p| std::cmp::Reverse(p.state.unwrap_or(TargetState::Safe)));
    for panel in drawn {
        let mut corners: Vec<Point> = panel.corners.iter().map(|c| at(*c)).collect();
        corners.extend(corners.first().copied());
        let (colour, width) = match panel.state {
            Some(state) if state != TargetState::Safe => (look(state).colour, 3.4),
            _ => (BLUE, 1.8),
        };
        sheet.line(&corners, colour, width, SOLID);
    }
    for panel in &map.panels {
        words(&mut sheet, panel, &at);
    }
    names(&mut sheet, map, (left, right, top, bottom), &at);
    let edge = [
        (left, top),
        (right, top),
        (right, bottom),
        (left, bottom),
        (left, top),
    ];
    sheet.line(&edge, RULE, 1.0, SOLID);
    if map.panels.is_empty() {
        sheet.note(centre, "no panels");
    }
    let note = TextStyle::of(size::SMALL)
        .colour(MUTED)
        .align(Align::Middle);
    sheet.text(
        (centre.0, bottom + 36.0),
        "tangent plane at the centre; north is up, east is to the left",
        note,
    );
    picture(sheet)
}

/// A line of the sky, split where it leaves the map.
fn pieces(sheet: &mut Sheet, points: &[(f64, f64)], reach: f64, at: &impl Fn((f64, f64)) -> Point) {
    let mut piece: Vec<Point> = Vec::new();
    let mut before: Option<(f64, f64)> = None;
    for point in points {
        let jumps = before.is_some_and(|b| libm::hypot(b.0 - point.0, b.1 - point.1) > 0.3 * reach);
        if jumps {
            sheet.line(&std::mem::take(&mut piece), GRID, 1.2, SOLID);
        }
        piece.push(at(*point));
        before = Some(*point);
    }
    sheet.line(&piece, GRID, 1.2, SOLID);
}

/// Mark, label and angle in the middle of a panel; only the mark if there is no room.
fn words(sheet: &mut Sheet, panel: &PanelFrame, at: &impl Fn((f64, f64)) -> Point) {
    let count = panel.corners.len().max(1) as f64;
    let sum = panel
        .corners
        .iter()
        .fold((0.0, 0.0), |s, c| (s.0 + c.0, s.1 + c.1));
    let middle = at((sum.0 / count, sum.1 / count));
    let corners: Vec<Point> = panel.corners.iter().map(|c| at(*c)).collect();
    let span = |values: &mut dyn Iterator<Item = f64>| range(values).map_or(0.0, |(a, b)| b - a);
    let width = span(&mut corners.iter().map(|c| c.0));
    let height = span(&mut corners.iter().map(|c| c.1));
    let roomy = width.min(height) >= WORDS_FROM;
    if let Some(look) = panel.state.map(look) {
        let radius = (0.2 * width.min(height)).clamp(2.0, 6.0);
        let above = if roomy { 23.0 } else { 0.0 };
        let at = (middle.0, middle.1 - above);
        sheet.mark(look.shape, at, radius, look.colour, look.filled);
    }
    if !roomy {
        return;
    }
    let bold = TextStyle::of(size::TICK).bold().align(Align::Middle);
    let look = TextStyle::of(size::TICK).align(Align::Middle);
    sheet.text((middle.0, middle.1 - 3.0), &panel.label, bold);
    sheet.text((middle.0, middle.1 + 13.0), &panel.angle, look);
}

/// Names of the lines at the left or the lower edge.
fn names(
    sheet: &mut Sheet,
    map: &PanelMap,
    (left, right, top, bottom): (f64, f64, f64, f64),
    at: &impl Fn((f64, f64)) -> Point,
) {
    let look = TextStyle::of(size::SMALL).colour(MUTED);
    let mut taken: Vec<(f64, f64)> = Vec::new();
    for (name, points) in &map.lines {
        let ends = [points.first(), points.last()];
        let spot = ends
            .into_iter()
            .flatten()
            .map(|p| at(*p))
            .find_map(|(x, y)| {
                let width = look.width(name);
                let place = if y > bottom - 12.0 {
                    Some((x.clamp(left, right - width), bottom - 5.0))
                } else if x < left + 12.0 {
                    Some((left + 5.0, y.clamp(top + 14.0, bottom - 20.0) - 4.0))
                } else if x > right - 12.0 {
                    Some((
                        right - width - 5.0,
                        y.clamp(top + 14.0, bottom - 20.0) - 4.0,
                    ))
                } else if y < top + 12.0 {
                    Some((x.clamp(left, right - width), top + 13.0))
                } else {
                    None
                };
                place.filter(|p| {
                    let clear =
                        |t: &(f64, f64)| (t.0 - p.0).abs() > 52.0 || (t.1 - p.1).abs() > 15.0;
                    taken.iter().all(clear)
                })
            });
        if let Some(spot) = spot {
            let width = look.width(name);
            sheet.rectangle(
                (spot.0 - 2.0, spot.1 - 10.0),
                (spot.0 + width + 2.0, spot.1 + 3.0),
                PAPER,
            );
            sheet.text(spot, name, look);
            taken.push(spot);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::canvas::tests::check;
    use super::*;

    #[test]
    fn panels_lines_and_extremes_are_drawn() {
        let square = |x: f64| vec![(x, 0.0), (x + 1.0, 0.0), (x + 1.0, 1.0), (x, 1.0)];
        let panel = |label: &str, x: f64, state| PanelFrame {
            label: label.to_owned(),
            corners: square(x),
            angle: "12.5°".to_owned(),
            state,
        };
        let mut map = PanelMap {
            title: "Panels".to_owned(),
            remark: "two".to_owned(),
            panels: vec![
                panel("r1 c1", 0.0, Some(TargetState::Safe)),
                panel("r1 c2", -1.0, Some(TargetState::Hunts)),
            ],
            lines: vec![(
                "+70°".to_owned(),
                vec![(-1.19, 0.5), (0.0, 0.52), (1.19, 0.5)],
            )],
        };
        let texts = check(&panel_map(&map));
        for wanted in ["r1 c1", "r1 c2", "12.5°", "+70°", "hunts", "safe"] {
            assert!(texts.iter().any(|t| t == wanted), "{wanted}: {texts:?}");
        }
        map.panels = vec![panel("odd", f64::NAN, None)];
        check(&panel_map(&map));
        map.panels.clear();
        assert!(check(&panel_map(&map)).iter().any(|t| t == "no panels"));
    }
}
