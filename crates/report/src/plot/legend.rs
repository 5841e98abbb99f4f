//! Legends: a row of samples with their meanings.

use super::style::RGBColor;

use super::font::shortened;
use super::sheet::{Point, Sheet, TextStyle};
use super::style::{Dash, SOLID, Shape, size};

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

/// Distance between the lines of one entry.
const LINE: f64 = 15.0;

/// Most lines of an entry.
const MOST_LINES: usize = 3;

/// Draws the entries in rows from `left` to `right`, the first on the middle line `y`. Returns the middle line of the
/// row after the last. An entry longer than a row continues below.
pub(super) fn legend(
    sheet: &mut Sheet,
    entries: &[(Key, String)],
    (left, right): (f64, f64),
    y: f64,
) -> f64 {
    let look = TextStyle::of(size::TICK);
    let (mut x, mut y) = (left, y);
    for (key, text) in entries {
        let room = right - left - key.width() - 7.0;
        let lines = broken(text, look, room);
        let widest = lines
            .iter()
            .fold(0.0, |w: f64, line| w.max(look.width(line)));
        let width = key.width() + 7.0 + widest;
        if x > left && x + width > right {
            (x, y) = (left, y + ROW);
        }
        key.draw(sheet, (x, y));
        for (i, line) in lines.iter().enumerate() {
            let base = y + LINE * i as f64 + look.drop();
            sheet.text((x + key.width() + 7.0, base), line, look);
        }
        y += LINE * lines.len().saturating_sub(1) as f64;
        x += width + 22.0;
    }
    if entries.is_empty() { y } else { y + ROW }
}

/// A text in lines that fit the room, broken at blanks. A text that is still too long ends in an ellipsis.
fn broken(text: &str, look: TextStyle, room: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    // More letters than this fit nowhere.
    let start: String = text.chars().take(400).collect();
    let mut words = start.split_whitespace().peekable();
    while words.peek().is_some() && lines.len() + 1 < MOST_LINES {
        let mut line = String::new();
        while let Some(word) = words.peek() {
            let longer = format!("{line}{}{word}", if line.is_empty() { "" } else { " " });
            if !line.is_empty() && look.width(&longer) > room {
                break;
            }
            line = longer;
            words.next();
        }
        lines.push(shortened(&line, look.em, look.weight, room));
    }
    let rest: Vec<&str> = words.collect();
    if !rest.is_empty() {
        lines.push(shortened(&rest.join(" "), look.em, look.weight, room));
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_entries_go_on_below_and_stay_in_their_room() {
        let look = TextStyle::of(size::TICK);
        let text = "A: keep out of 200° to 250°, filter drawer meets the pier";
        assert_eq!(broken(text, look, 900.0), [text]);
        let lines = broken(text, look, 200.0);
        assert_eq!(lines.join(" "), text);
        assert!(lines.len() == 2 || lines.len() == 3, "{lines:?}");
        for text in ["", "x", &"word ".repeat(500), &"letters".repeat(200)] {
            let lines = broken(text, look, 120.0);
            assert!(lines.len() <= MOST_LINES);
            assert!(lines.iter().all(|line| look.width(line) <= 120.0));
        }
    }
}
