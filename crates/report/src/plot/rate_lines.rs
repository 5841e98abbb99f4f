//! Rates with their intervals as lines over one axis.

use super::axes::Panel;
use super::form::Layout;
use super::legend::{Key, ROW, legend};
use super::scale::{Scale, padded, plain, range};
use super::sheet::{MARGIN, Point, Sheet};
use super::style::series;

const MOST_LINES: usize = 8;

/// A line with at most this many points has a mark at each.
const MARKED_UP_TO: usize = 60;

/// How often one policy hunts.
#[derive(Debug, Clone, PartialEq)]
pub struct RateLine {
    /// Name of the line.
    pub label: String,
    /// Its points, ascending.
    pub points: Vec<RatePoint>,
}

/// A rate at one place of the axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RatePoint {
    /// Its place on the axis.
    pub at: f64,
    /// Share of the runs that hunt.
    pub rate: f64,
    /// Lower end of its 95 % interval.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// Lines on the same path become one line with all their names.
fn merged(lines: &[RateLine]) -> Vec<RateLine> {
    let mut out: Vec<RateLine> = Vec::new();
    for line in lines {
        match out.iter_mut().find(|o| o.points == line.points) {
            Some(same) => same.label = format!("{}, {}", same.label, line.label),
            None => out.push(line.clone()),
        }
    }
    out
}

impl RatePoint {
    fn drawable(&self) -> bool {
        [self.at, self.rate, self.low, self.high]
            .into_iter()
            .all(|v| plain(v).is_some())
    }
}

/// A picture of rate lines in the making: sheet, legend and frame are there, the lines are not.
pub(super) struct RateSheet {
    pub(super) sheet: Sheet,
    pub(super) panel: Panel,
    /// The scale of the axis.
    pub(super) scale: Scale,
    rates: Scale,
    lines: Vec<Vec<RatePoint>>,
    /// Whether any rate is above 0. If not, words replace the lines.
    seen: bool,
    highest_percent: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum AxisKind {
    /// Round steps.
    Even,
    /// Steps that suit angles, with 0 in view.
    AngleFromZero,
    /// Steps of whole numbers.
    Whole,
}

impl RateSheet {
    /// Draws the legend, the axes and the bands. `remark` stands beside the title.
    pub(super) fn new(
        title: &str,
        remark: &str,
        lines: &[RateLine],
        kind: AxisKind,
        axis_name: &str,
        form: Layout,
    ) -> Self {
        let mut sheet = Sheet::new(form.width(960.0), 540.0, title);
        let lines = merged(lines);
        let shown = &lines[..lines.len().min(MOST_LINES)];
        let remark = match lines.len() - shown.len() {
            0 => remark.to_owned(),
            more => format!("and {more} more policies"),
        };
        let next = sheet.heading(title, &remark);

        let mut entries = Vec::new();
        for (i, line) in shown.iter().enumerate() {
            let look = series(i);
            let key = Key::Line {
                colour: look.colour,
                width: look.width(),
                dash: look.dash,
                shape: Some(look.shape),
            };
            entries.push((key, line.label.clone()));
        }
        if !shown.is_empty() {
            let key = Key::Patch(super::style::RGBColor(214, 218, 224));
            entries.push((key, "95 % interval".to_owned()));
        }
        let width = sheet.width;
        let next = legend(&mut sheet, &entries, (MARGIN, width - MARGIN), next);
        let top = next + 1.6 * ROW;
        let panel = Panel {
            left: form.of(74.0, 50.0),
            top,
            right: form.of(930.0, 384.0),
            bottom: form.of(478.0, top + 260.0),
        };
        sheet.height = panel.bottom + form.of(62.0, 78.0);

        let lines: Vec<Vec<RatePoint>> = shown
            .iter()
            .map(|l| {
                l.points
                    .iter()
                    .copied()
                    .filter(RatePoint::drawable)
                    .collect()
            })
            .collect();
        let all = || lines.iter().flatten();
        let seen = range(all().map(|p| p.at));
        let (low, high) = seen.unwrap_or((-1.0, 1.0));
        let scale = match kind {
            AxisKind::AngleFromZero => {
                let ends = padded((low.min(0.0), high.max(0.0)), 0.02);
                Scale::angle(ends, panel.across())
            }
            AxisKind::Even => Scale::even(padded((low, high), 0.02), panel.across()),
            AxisKind::Whole => Scale::whole(padded((low, high), 0.02), panel.across()),
        };
        let top = all().fold(0.0_f64, |m, p| m.max(100.0 * p.high.max(p.rate)));
        let highest = if top > 0.0 {
            1.12 * top.clamp(1e-4, 100.0)
        } else {
            1.0
        };
        let rates = Scale::even((0.0, highest), panel.up());
        panel.x_axis(&mut sheet, &scale, Some(axis_name));
        panel.y_axis(&mut sheet, &rates, 6, "runs that hunt (%)");

        let mut out = Self {
            sheet,
            panel,
            scale,
            rates,
            lines,
            seen: seen.is_some(),
            highest_percent: top,
        };
        for i in 0..out.lines.len() {
            let upper = out.lines[i].iter().map(|p| out.place(p, p.high));
            let lower = out.lines[i].iter().rev().map(|p| out.place(p, p.low));
            let band = upper.chain(lower).collect();
            out.sheet.area(band, series(i).colour, 0.18);
        }
        out
    }

    fn place(&self, p: &RatePoint, rate: f64) -> Point {
        (self.scale.at(p.at), self.rates.at(100.0 * rate))
    }

    /// Draws the lines. `none` is the text for the case that no run hunts anywhere.
    pub(super) fn finish(mut self, none: &str) -> Sheet {
        for i in 0..self.lines.len() {
            let look = series(i);
            let points = self.lines[i].iter();
            let placed: Vec<Point> = points.map(|p| self.place(p, p.rate)).collect();
            self.sheet
                .line(&placed, look.colour, look.width(), look.dash);
            if placed.len() <= MARKED_UP_TO {
                for at in placed {
                    self.sheet.mark(look.shape, at, 4.0, look.colour, true);
                }
            }
        }
        if !self.seen {
            self.sheet.note(self.panel.centre(), "no rate was found");
        } else if self.highest_percent == 0.0 {
            let at = (self.panel.centre().0, self.panel.bottom - 24.0);
            self.sheet.note(at, none);
        }
        self.sheet
    }
}
