//! One loop over time: the reading of the drive above, the measured residual below.

use super::axes::Panel;
use super::canvas::in_both_layouts;
use super::form::Layout;
use super::labels::{capacity, spread};
use super::legend::{Key, legend};
use super::loop_path::{moves, solves};
use super::picture::Picture;
use super::residual_panel::residual_panel;
use super::scale::{Scale, number, padded, plain, range};
use super::sheet::{Align, MARGIN, Sheet, TextStyle};
use super::style::{
    BLUE, DASHED, DOTTED, GREEN, INK, KEEP_OUT, MUTED, OUTSIDE, PALE_GREEN, PAPER, PURPLE, SOLID,
    Shape, WARNING, size,
};
use halfturn_engine::angle::TURN_DEG;
use halfturn_engine::run::TraceRow;

/// Most rows to draw. More could not be told apart.
const MOST_ROWS: usize = 1000;

/// If the loop swings between the ends of the arc, the axis is stretched this far to either side of them \[deg\].
const ZOOM_DEG: f64 = 1.0;

/// Most equivalents of the target, or turns of the arc, to draw.
const MOST_LINES: usize = 40;

/// The settings behind a trace.
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
    /// The stops \[deg\]; `None` for endless travel.
    pub stops_deg: Option<(f64, f64)>,
    /// Whether the arc repeats every turn, with endless travel.
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
    /// The arcs in view: the arc and its repetitions \[deg\].
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

    /// Whether the arc has ends. An endless full circle has none.
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
pub fn loop_trace(rows: &[TraceRow], setting: &TraceSetting) -> Picture {
    in_both_layouts(|form| layout(rows, setting, form))
}

fn layout(rows: &[TraceRow], setting: &TraceSetting, form: Layout) -> Sheet {
    let title = format!("{}: {}", setting.title, setting.outcome);
    let mut sheet = Sheet::new(form.width(1000.0), 0.0, title);
    let next = sheet.heading(&setting.title, &setting.outcome);
    let shown = &rows[..rows.len().min(MOST_ROWS)];
    let top = entries(&mut sheet, shown, setting, form, next) + 31.0;
    let upper = Panel {
        left: form.of(74.0, 50.0),
        top,
        right: form.of(846.0, 384.0),
        bottom: top + 260.0,
    };
    let lower = Panel {
        top: upper.bottom + 52.0,
        bottom: upper.bottom + 206.0,
        ..upper
    };
    sheet.height = lower.bottom + 62.0;
    let end_s = range(shown.iter().map(|r| r.end_s)).map_or(0.0, |(_, end)| end);
    let times = Scale::even((0.0, 1.02 * end_s.max(1.0)), upper.across());

    readings(&mut sheet, upper, &times, shown, setting, form);
    let tolerance_deg = setting.tolerance_deg;
    residual_panel(&mut sheet, lower, &times, shown, tolerance_deg, form);
    if shown.is_empty() {
        sheet.note(upper.centre(), "the loop made no move");
    } else if shown.len() < rows.len() {
        let text = format!("the first {} of {} rounds", shown.len(), rows.len());
        let look = TextStyle::of(size::SMALL).align(Align::Right).colour(MUTED);
        sheet.text((upper.right, lower.bottom + 42.0), &text, look);
    }
    sheet
}

fn entries(
    sheet: &mut Sheet,
    rows: &[TraceRow],
    setting: &TraceSetting,
    form: Layout,
    y: f64,
) -> f64 {
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
    let mut list: Vec<_> = list.into_iter().map(|(k, t)| (k, t.to_owned())).collect();
    if form == Layout::Narrow {
        list.extend(levels(setting));
    }
    let ends = (MARGIN + 4.0, sheet.width - form.of(MARGIN, 12.0));
    legend(sheet, &list, ends, y)
}

/// The legend beside the diagram, if it has room.
fn levels(setting: &TraceSetting) -> Vec<(Key, String)> {
    let line = |colour, width, dash| Key::Line {
        colour,
        width,
        dash,
        shape: None,
    };
    let mut list = Vec::new();
    let drawable = |values: &[f64]| values.iter().all(|v| plain(*v).is_some());
    if setting.has_seam() && drawable(&[setting.arc_from_deg, setting.arc_to_deg]) {
        let ends = [setting.arc_from_deg, setting.arc_to_deg].map(|end| number(end, 2));
        let text = format!("seam {}° and {}°", ends[0], ends[1]);
        list.push((line(INK, 1.6, SOLID), text));
    }
    if let Some((lo, hi)) = setting.stops_deg.filter(|(lo, hi)| drawable(&[*lo, *hi])) {
        let text = format!("stops {}° and {}°", number(lo, 2), number(hi, 2));
        list.push((line(KEEP_OUT, 2.4, SOLID), text));
    }
    if drawable(&[setting.drive_deg]) {
        let text = format!("target {}°, equivalents", number(setting.drive_deg, 2));
        list.push((line(PURPLE, 1.2, DOTTED), text));
    }
    if drawable(&[setting.tolerance_deg]) {
        let text = format!("tolerance ±{}°", number(setting.tolerance_deg, 4));
        list.push((Key::Patch(PALE_GREEN), text));
    }
    list
}

fn readings(
    sheet: &mut Sheet,
    panel: Panel,
    times: &Scale,
    rows: &[TraceRow],
    setting: &TraceSetting,
    form: Layout,
) {
    let band = setting.band_deg.max(0.0);
    let seen = rows
        .iter()
        .flat_map(|r| [r.from_deg, r.reading_deg].into_iter().chain(r.via_deg))
        .chain([setting.arc_from_deg - band, setting.arc_to_deg + band]);
    let (low, high) = padded(range(seen).unwrap_or((0.0, 1.0)), 0.06);
    let zoomed = zoom(rows, setting, (low, high), panel);
    let name = match zoomed {
        Some(_) => "reading of the drive (°), the ends of the arc enlarged",
        None => "reading of the drive (°)",
    };
    let scale = zoomed.unwrap_or_else(|| Scale::angle((low, high), panel.up()));
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
    panel.y_axis(sheet, &scale, 8, name);

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
    named.retain(|(at, ..)| form == Layout::Wide && *at >= low && *at <= high);
    named.truncate(capacity(15.0, panel.top, panel.bottom));
    named.sort_by(|a, b| b.0.total_cmp(&a.0));
    let wanted: Vec<f64> = named.iter().map(|n| scale.at(n.0)).collect();
    let placed = spread(&wanted, 15.0, panel.top, panel.bottom);
    for ((at, text, colour), y) in named.iter().zip(placed) {
        let look = TextStyle::of(size::TICK).colour(*colour);
        let leader = [(panel.right, scale.at(*at)), (panel.right + 12.0, y)];
        sheet.line(&leader, *colour, 1.0, SOLID);
        sheet.text((panel.right + 16.0, y + look.drop()), text, look);
    }
    moves(sheet, times, &scale, rows);
    solves(sheet, times, &scale, rows, setting.tolerance_deg);
}

/// A scale that enlarges the two ends of the arc, if the loop swings between them.
fn zoom(
    rows: &[TraceRow],
    setting: &TraceSetting,
    (low, high): (f64, f64),
    panel: Panel,
) -> Option<Scale> {
    let ends = [setting.arc_from_deg, setting.arc_to_deg];
    let wide = ends[1] - ends[0] > 20.0 * ZOOM_DEG && high - low < TURN_DEG;
    let room = low <= ends[0] - ZOOM_DEG && ends[1] + ZOOM_DEG <= high;
    let near = |row: &TraceRow| {
        let off = ends.map(|end| (row.reading_deg - end).abs());
        row.long_swing && off[0].min(off[1]) < ZOOM_DEG
    };
    let swings = setting.has_seam() && rows.iter().any(near);
    (wide && room && swings).then(|| Scale::zoomed((low, high), ends, ZOOM_DEG, panel.up()))
}

#[cfg(test)]
#[path = "loop_trace_tests.rs"]
mod tests;
