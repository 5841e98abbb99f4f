//! Legends: a row of samples with their meaning.

use plotters::style::RGBColor;

use super::font::shortened;
use super::sheet::{Point, Shape, Sheet, Type};
use super::style::{Dash, SOLID, size};

/// A sample in a legend.
#[derive(Debug, Clone, Copy)]
pub(super) enum Key {
    Line {
        colour: RGBColor,
        width: f64,
        dash: Dash,
        /// A mark on the line.
        shape: Option<Shape>,
    },
    Mark {
        shape: Shape,
        colour: RGBColor,
        filled: bool,
    },
    Patch(RGBColor),
    Hatched(RGBColor),
}

impl Key {
    fn width(&self) -> f64 {
        match self {
            Self::Line { shape: None, .. } => 34.0,
            Self::Line { .. } => 46.0,
            Self::Mark { .. } => 12.0,
            Self::Patch(_) | Self::Hatched(_) => 22.0,
        }
    }

    fn draw(&self, sheet: &mut Sheet, (x, y): Point) {
        let end = x + self.width();
        match *self {
            Self::Line {
                colour,
                width,
                dash,
                shape,
            } => {
                sheet.line(&[(x, y), (end, y)], colour, width, dash);
                if let Some(shape) = shape {
                    sheet.mark(shape, (0.5 * (x + end), y), 4.0, colour, true);
                }
            }
            Self::Mark {
                shape,
                colour,
                filled,
            } => sheet.mark(shape, (x + 6.0, y), 4.6, colour, filled),
            Self::Patch(colour) => sheet.rectangle((x, y - 5.0), (end, y + 5.0), colour),
            Self::Hatched(colour) => {
                for i in 0..5 {
                    let at = x + 2.0 + 4.0 * f64::from(i);
                    sheet.line(&[(at, y + 5.0), (at + 2.0, y - 5.0)], colour, 1.5, SOLID);
                }
            }
        }
    }
}

/// Distance between rows.
pub(super) const ROW: f64 = 20.0;

/// Draws the entries in rows from `left` to `right`, the first on the middle line `y`, and returns the
/// middle line of the row after the last.
pub(super) fn legend(
    sheet: &mut Sheet,
    entries: &[(Key, String)],
    (left, right): (f64, f64),
    y: f64,
) -> f64 {
    let look = Type::of(size::TICK);
    let (mut x, mut y) = (left, y);
    for (key, text) in entries {
        let room = right - left - key.width() - 7.0;
        let text = shortened(text, look.em, look.weight, room);
        let width = key.width() + 7.0 + look.width(&text);
        if x > left && x + width > right {
            (x, y) = (left, y + ROW);
        }
        key.draw(sheet, (x, y));
        sheet.text((x + key.width() + 7.0, y + look.drop()), &text, look);
        x += width + 22.0;
    }
    if entries.is_empty() { y } else { y + ROW }
}
