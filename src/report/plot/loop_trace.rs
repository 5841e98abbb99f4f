//! One loop over time: the reading of the drive above, the measured residual below.

use super::axes::Panel;
use super::canvas::picture;
use super::labels::{capacity, spread};
use super::legend::{Key, legend};
use super::residual_panel::residual_panel;
use super::scale::{Scale, number, padded, plain, range};
use super::sheet::{Align, MARGIN, Point, Shape, Sheet, Type};
use super::style::{
    BLUE, DASHED, DOTTED, GREEN, INK, KEEP_OUT, MUTED, OUTSIDE, PAPER, PURPLE, SOLID, WARNING, size,
};
use super::{Picture, PlotError};
use crate::angle::TURN_DEG;
use crate::run::TraceRow;

/// Rows that are drawn; more than that could not be told apart.
const MOST_ROWS: usize = 1000;

/// Equivalents of the target, or turns of the arc, that are drawn.
const MOST_LINES: usize = 40;

/// What a trace is drawn against.
#[derive(Debug, Clone, PartialEq)]
pub struct TraceSetting {
    /// Title.
    pub title: String,
    /// Where the allowed arc starts \[deg\].
    pub arc_from_deg: f64,
    /// Where it ends \[deg\].
    pub arc_to_deg: f64,
    /// Band around the arc \[deg\]; 0 for none.
    pub band_deg: f64,
    /// The stops \[deg\], where the drive has some.
    pub stops_deg: Option<(f64, f64)>,
    /// With endless travel the arc repeats every turn.
    pub endless: bool,
    /// Period of equivalent framings \[deg\].
    pub period_deg: f64,
    /// The target's drive angle in the arc \[deg\].
    pub drive_deg: f64,
    /// Largest accepted residual \[deg\].
    pub tolerance_deg: f64,
    /// How the run ended, in a few words.
    pub outcome: String,
}

impl TraceSetting {
    /// Seams in view: the ends of the arc, and of its repetitions.
    fn arcs_deg(&self, low: f64, high: f64) -> Vec<(f64, f64)> {
        let (from, to) = (self.arc_from_deg, self.arc_to_deg);
        let turns = if self.endless {
            (low - to) / TURN_DEG..=(high - from) / TURN_DEG
        } else {
            0.0..=0.0
        };
        whole(turns)
            .map(|k| (from + k * TURN_DEG, to + k * TURN_DEG))
            .collect()
    }

    /// An endless full circle has no end.
    fn has_seam(&self) -> bool {
        !self.endless || self.arc_to_deg - self.arc_from_deg < TURN_DEG
    }
}

/// The whole numbers in a range, but not too many.
fn whole(range: std::ops::RangeInclusive<f64>) -> impl Iterator<Item = f64> {
    let (first, last) = (range.start().ceil(), range.end().floor());
    let count = (last - first + 1.0).clamp(0.0, MOST_LINES as f64) as usize;
    (0..count).map(move |i| first + i as f64)
}

/// Draws a trace: the path of the drive with its long swings, the solves, and what the loop measured.
pub fn loop_trace(rows: &[TraceRow], setting: &TraceSetting) -> Result<Picture, PlotError> {
    let title = format!("{}: {}", setting.title, setting.outcome);
    let mut sheet = Sheet::new(1000.0, 640.0, title);
    sheet.heading(&setting.title, &setting.outcome);
    let upper = Panel {
        left: 74.0,
        top: 112.0,
        right: 846.0,
        bottom: 372.0,
    };
    let lower = Panel {
        top: 424.0,
        bottom: 578.0,
        ..upper
    };
    let shown = &rows[..rows.len().min(MOST_ROWS)];
    let end_s = range(shown.iter().map(|r| r.end_s)).map_or(0.0, |(_, end)| end);
    let times = Scale::even((0.0, 1.02 * end_s.max(1.0)), upper.across());

    readings(&mut sheet, upper, &times, shown, setting);
    residual_panel(&mut sheet, lower, &times, shown, setting.tolerance_deg);
    entries(&mut sheet, shown, setting);
    if shown.is_empty() {
        sheet.note(upper.centre(), "the loop made no move");
    } else if shown.len() < rows.len() {
        let text = format!("the first {} of {} rounds", shown.len(), rows.len());
        let look = Type::of(size::SMALL).align(Align::Right).colour(MUTED);
        sheet.text((upper.right, lower.bottom + 42.0), &text, look);
    }
    picture(&sheet)
}

fn entries(sheet: &mut Sheet, rows: &[TraceRow], setting: &TraceSetting) {
    let line = |colour, width| Key::Line {
        colour,
        width,
        dash: SOLID,
        shape: None,
    };
    let mark = |shape, colour, filled| Key::Mark {
        shape,
        colour,
        filled,
    };
    let any = |passes: fn(&TraceRow) -> bool| rows.iter().any(passes);
    let mut list = vec![(line(BLUE, 2.0), "move")];
    if any(|r| r.long_swing) {
        list.push((line(WARNING, 3.5), "long swing, numbered"));
    }
    list.push((mark(Shape::Disc, GREEN, true), "solve within tolerance"));
    list.push((mark(Shape::Disc, INK, false), "solve outside"));
    if any(|r| r.failed_attempts > 0) {
        list.push((mark(Shape::Cross, MUTED, true), "failed solve"));
    }
    if any(|r| r.refused) {
        list.push((mark(Shape::Square, WARNING, false), "command refused"));
    }
    if setting.has_seam() {
        list.push((Key::Patch(OUTSIDE), "outside the arc"));
        if setting.band_deg > 0.0 {
            let key = Key::Line {
                colour: INK,
                width: 1.0,
                dash: DASHED,
                shape: None,
            };
            list.push((key, "edge of the band"));
        }
    }
    let list: Vec<_> = list.into_iter().map(|(k, t)| (k, t.to_owned())).collect();
    legend(sheet, &list, (MARGIN + 4.0, sheet.width - MARGIN), 61.0);
}

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

fn readings(
    sheet: &mut Sheet,
    panel: Panel,
    times: &Scale,
    rows: &[TraceRow],
    setting: &TraceSetting,
) {
    let band = setting.band_deg.max(0.0);
    let seen = rows
        .iter()
        .flat_map(|r| [r.from_deg, r.reading_deg].into_iter().chain(r.via_deg))
        .chain([setting.arc_from_deg - band, setting.arc_to_deg + band]);
    let (low, high) = padded(range(seen).unwrap_or((0.0, 1.0)), 0.06);
    let scale = Scale::angle((low, high), panel.up());
    let (low, high) = scale.ends();

    let arcs = setting.arcs_deg(low, high);
    if setting.has_seam() {
        sheet.rectangle(
            (panel.left, panel.top),
            (panel.right, panel.bottom),
            OUTSIDE,
        );
        for (from, to) in &arcs {
            let corner = (panel.left, scale.at(*to));
            sheet.rectangle(corner, (panel.right, scale.at(*from)), PAPER);
        }
    }
    panel.x_axis(sheet, times, None);
    panel.y_axis(sheet, &scale, 8, "reading of the drive [deg]");

    let mut level = |at_deg: f64, colour, width, dash| {
        if at_deg >= low && at_deg <= high {
            let y = scale.at(at_deg);
            sheet.line(&[(panel.left, y), (panel.right, y)], colour, width, dash);
        }
    };
    let mut named = Vec::new();
    if setting.has_seam() {
        for (from, to) in &arcs {
            for end in [*from, *to] {
                level(end, INK, 1.6, SOLID);
                named.push((end, format!("seam {}°", number(end, 2)), INK));
            }
            if band > 0.0 {
                level(from - band, INK, 1.0, DASHED);
                level(to + band, INK, 1.0, DASHED);
            }
        }
    }
    if let Some((lo, hi)) = setting.stops_deg {
        for stop in [lo, hi].into_iter().filter(|s| plain(*s).is_some()) {
            level(stop, KEEP_OUT, 2.4, SOLID);
            named.push((stop, format!("stop {}°", number(stop, 2)), KEEP_OUT));
        }
    }
    let (drive, period) = (setting.drive_deg, setting.period_deg);
    if plain(drive).is_some() && period > 0.0 {
        for k in whole((low - drive) / period..=(high - drive) / period) {
            let at = drive + k * period;
            level(at, PURPLE, 1.2, DOTTED);
            named.push((at, format!("target {}°", number(at, 2)), PURPLE));
        }
    }
    named.retain(|(at, ..)| *at >= low && *at <= high);
    named.truncate(capacity(15.0, panel.top, panel.bottom));
    named.sort_by(|a, b| b.0.total_cmp(&a.0));
    let wanted: Vec<f64> = named.iter().map(|n| scale.at(n.0)).collect();
    let placed = spread(&wanted, 15.0, panel.top, panel.bottom);
    for ((at, text, colour), y) in named.iter().zip(placed) {
        let look = Type::of(size::TICK).colour(*colour);
        let leader = [(panel.right, scale.at(*at)), (panel.right + 12.0, y)];
        sheet.line(&leader, *colour, 1.0, SOLID);
        sheet.text((panel.right + 16.0, y + look.drop()), text, look);
    }
    moves(sheet, times, &scale, rows);
    solves(sheet, times, &scale, rows, setting.tolerance_deg);
}

fn moves(sheet: &mut Sheet, times: &Scale, scale: &Scale, rows: &[TraceRow]) {
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
        let look = Type::of(size::SMALL)
            .bold()
            .align(Align::Middle)
            .colour(WARNING);
        let radius = (0.5 * look.width(&text) + 3.5).max(9.0);
        let free = numbers
            .last()
            .is_none_or(|(x, y)| (middle.0 - x).hypot(middle.1 - y) > 2.0 * radius + 3.0);
        if free {
            sheet.disc(middle, radius, WARNING);
            sheet.disc(middle, radius - 1.5, PAPER);
            sheet.text((middle.0, middle.1 + look.drop()), &text, look);
            numbers.push(middle);
        }
    }
}

fn solves(sheet: &mut Sheet, times: &Scale, scale: &Scale, rows: &[TraceRow], tolerance_deg: f64) {
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

/// Dots that shrink as they get many.
pub(super) fn dot_radius(count: usize) -> f64 {
    match count {
        0..=60 => 5.0,
        61..=200 => 3.6,
        _ => 2.6,
    }
}

#[cfg(test)]
mod tests {
    use super::super::canvas::tests::check;
    use super::*;
    use crate::rig::{DEMO_RIG, read};
    use crate::run::{Trace, run};
    use crate::sample::stream;
    use crate::scenario::{Policy, Scenario};

    fn setting() -> TraceSetting {
        TraceSetting {
            title: "demo rig, target 0°".to_owned(),
            arc_from_deg: 0.0,
            arc_to_deg: 180.0,
            band_deg: 0.0,
            endless: true,
            stops_deg: None,
            period_deg: 180.0,
            drive_deg: 0.0,
            tolerance_deg: 0.3,
            outcome: "settled".to_owned(),
        }
    }

    #[test]
    fn a_simulated_run_shows_seam_target_and_swings() -> Result<(), Box<dyn std::error::Error>> {
        let set = ["loop.tolerance_deg=0.1", "drive.backlash_deg=0.0"].map(String::from);
        let rig = read(DEMO_RIG, "demo", &set)?;
        let scenario = Scenario::new(&rig, Policy::of(&rig), 0.0);
        let simulated = |index| {
            let mut trace = Trace::default();
            let mut controller = scenario.controller();
            let figures = run(
                &scenario,
                &mut controller,
                &mut stream(1, index),
                &mut trace,
            );
            figures.ping_pong().then_some(trace)
        };
        let trace = (0..100).find_map(simulated).ok_or("no ping-pong")?;
        let texts = check(&loop_trace(trace.rows(), &setting())?);
        for wanted in [
            "seam 0°",
            "seam 180°",
            "target 0°",
            "target 180°",
            "1",
            "time [s]",
        ] {
            assert!(texts.iter().any(|t| t == wanted), "{wanted}: {texts:?}");
        }
        Ok(())
    }

    #[test]
    fn extremes_are_drawn() -> Result<(), PlotError> {
        let texts = check(&loop_trace(&[], &setting())?);
        assert!(texts.contains(&"the loop made no move".to_owned()));
        let bad = TraceSetting {
            title: "&<".repeat(300),
            arc_from_deg: f64::NAN,
            arc_to_deg: f64::INFINITY,
            band_deg: f64::NAN,
            period_deg: 1e-300,
            drive_deg: 1e300,
            tolerance_deg: 0.0,
            outcome: String::new(),
            stops_deg: Some((f64::NAN, 1e300)),
            endless: true,
        };
        let row = TraceRow {
            end_s: f64::NAN,
            via_deg: Some(f64::INFINITY),
            long_swing: true,
            refused: true,
            failed_attempts: 3,
            ..TraceRow::default()
        };
        check(&loop_trace(std::slice::from_ref(&row), &bad)?);
        check(&loop_trace(&vec![row; 2000], &setting())?);
        check(&loop_trace(&vec![TraceRow::default(); 2000], &bad)?);
        Ok(())
    }
}
