//! Frames of diagrams: axes with ticks, grid and names.

use super::scale::{Scale, tick_label};
use super::sheet::{Align, Sheet, TextStyle};
use super::style::{GRID, MUTED, RULE, SOLID, size};

/// The rectangle of a diagram.
#[derive(Debug, Clone, Copy)]
pub(super) struct Panel {
    pub(super) left: f64,
    pub(super) top: f64,
    pub(super) right: f64,
    pub(super) bottom: f64,
}

impl Panel {
    /// Left and right end.
    pub(super) fn across(&self) -> (f64, f64) {
        (self.left, self.right)
    }

    /// Lower and upper end.
    pub(super) fn up(&self) -> (f64, f64) {
        (self.bottom, self.top)
    }

    pub(super) fn centre(&self) -> (f64, f64) {
        (
            0.5 * (self.left + self.right),
            0.5 * (self.top + self.bottom),
        )
    }

    /// Grid, ticks and name of the horizontal axis. Without a name it has no numbers either.
    pub(super) fn x_axis(&self, sheet: &mut Sheet, scale: &Scale, name: Option<&str>) {
        let look = TextStyle::of(size::TICK).align(Align::Middle).colour(MUTED);
        let ticks = fitting(scale, 12, |ticks| {
            ticks.windows(2).all(|pair| {
                let half = |v: f64| 0.5 * look.width(&tick_label(v));
                (scale.at(pair[1]) - scale.at(pair[0])).abs() > half(pair[0]) + half(pair[1]) + 12.0
            })
        });
        for tick in ticks {
            let x = scale.at(tick);
            sheet.line(&[(x, self.top), (x, self.bottom)], GRID, 1.0, SOLID);
            sheet.line(
                &[(x, self.bottom), (x, self.bottom + 5.0)],
                RULE,
                1.0,
                SOLID,
            );
            if name.is_some() {
                sheet.text((x, self.bottom + 19.0), &tick_label(tick), look);
            }
        }
        sheet.line(
            &[(self.left, self.bottom), (self.right, self.bottom)],
            RULE,
            1.0,
            SOLID,
        );
        if let Some(name) = name {
            let look = TextStyle::of(size::LABEL).align(Align::Middle);
            let fits = look.width(name) <= sheet.width - 16.0;
            // A long name continues below, from its second part on.
            let (first, second) = name
                .split_once("; ")
                .filter(|_| !fits)
                .unwrap_or((name, ""));
            let x = self.centre().0;
            sheet.text((x, self.bottom + 42.0), first, look);
            sheet.text((x, self.bottom + 59.0), second, look);
        }
    }

    /// Grid, ticks and name of the vertical axis. The name stands above it.
    pub(super) fn y_axis(&self, sheet: &mut Sheet, scale: &Scale, most: usize, name: &str) {
        let look = TextStyle::of(size::TICK).align(Align::Right).colour(MUTED);
        let apart = size::TICK + 3.0;
        let ticks = fitting(scale, most, |ticks| {
            ticks
                .windows(2)
                .all(|pair| (scale.at(pair[1]) - scale.at(pair[0])).abs() >= apart)
        });
        for tick in ticks {
            let y = scale.at(tick);
            sheet.line(&[(self.left, y), (self.right, y)], GRID, 1.0, SOLID);
            let label = tick_label(tick);
            sheet.text((self.left - 9.0, y + look.drop()), &label, look);
        }
        sheet.line(
            &[(self.left, self.top), (self.left, self.bottom)],
            RULE,
            1.0,
            SOLID,
        );
        let start = (self.left - 46.0, self.top - 12.0);
        sheet.text(start, name, TextStyle::of(size::LABEL));
    }
}

/// The densest ticks that `passes` accepts.
fn fitting(scale: &Scale, most: usize, passes: impl Fn(&[f64]) -> bool) -> Vec<f64> {
    (1..=most)
        .rev()
        .map(|n| scale.ticks(n))
        .find(|ticks| passes(ticks))
        .unwrap_or_default()
}
