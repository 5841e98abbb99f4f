//! A sheet of shapes: what a picture shows, for SVG and PNG alike.

use super::style::RGBColor;

use super::font::{Weight, shortened, text_width};
use super::style::{Dash, INK, MUTED, PAPER, Shape, size};

/// A point of the sheet, from its upper left corner to the right and down.
pub(super) type Point = (f64, f64);

/// Where a text stands relative to its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Align {
    Left,
    Middle,
    Right,
}

/// One thing to paint.
#[derive(Debug, Clone)]
pub(super) enum Item {
    Line {
        points: Vec<Point>,
        colour: RGBColor,
        width: f64,
    },
    Area {
        points: Vec<Point>,
        colour: RGBColor,
        opacity: f64,
    },
    Disc {
        at: Point,
        radius: f64,
        colour: RGBColor,
    },
    /// `at` lies on the base line.
    Text {
        at: Point,
        text: String,
        em: f64,
        weight: Weight,
        align: Align,
        colour: RGBColor,
    },
}

/// Look of a text.
#[derive(Debug, Clone, Copy)]
pub(super) struct TextStyle {
    pub(super) em: f64,
    pub(super) weight: Weight,
    pub(super) align: Align,
    pub(super) colour: RGBColor,
}

impl TextStyle {
    /// Regular ink from the left.
    pub(super) fn of(em: f64) -> Self {
        Self {
            em,
            weight: Weight::Regular,
            align: Align::Left,
            colour: INK,
        }
    }

    pub(super) fn bold(self) -> Self {
        Self {
            weight: Weight::Bold,
            ..self
        }
    }

    pub(super) fn align(self, align: Align) -> Self {
        Self { align, ..self }
    }

    pub(super) fn colour(self, colour: RGBColor) -> Self {
        Self { colour, ..self }
    }

    pub(super) fn width(self, text: &str) -> f64 {
        text_width(text, self.em, self.weight)
    }

    /// How far the base line lies under the middle of the small letters.
    pub(super) fn drop(self) -> f64 {
        0.36 * self.em
    }
}

/// Left and right end of titles.
pub(super) const MARGIN: f64 = 24.0;

/// On narrower sheets the remark stands below the title.
const TWO_LINES: f64 = 600.0;

/// Shapes in the order of painting.
#[derive(Debug, Clone)]
pub(super) struct Sheet {
    pub(super) width: f64,
    pub(super) height: f64,
    /// The title of the picture for those who cannot see it.
    pub(super) title: String,
    pub(super) items: Vec<Item>,
}

impl Sheet {
    pub(super) fn new(width: f64, height: f64, title: impl Into<String>) -> Self {
        Self {
            width,
            height,
            title: title.into(),
            items: Vec::new(),
        }
    }

    /// A line through at least two points.
    pub(super) fn line(&mut self, points: &[Point], colour: RGBColor, width: f64, dash: Dash) {
        if points.len() < 2 || !finite(points) {
            return;
        }
        if dash.is_empty() {
            self.items.push(Item::Line {
                points: points.to_vec(),
                colour,
                width,
            });
        } else {
            for points in strokes(points, dash) {
                self.items.push(Item::Line {
                    points,
                    colour,
                    width,
                });
            }
        }
    }

    pub(super) fn area(&mut self, points: Vec<Point>, colour: RGBColor, opacity: f64) {
        if points.len() > 2 && finite(&points) {
            self.items.push(Item::Area {
                points,
                colour,
                opacity,
            });
        }
    }

    /// A filled rectangle from corner to corner.
    pub(super) fn rectangle(
        &mut self,
        (left, top): Point,
        (right, bottom): Point,
        colour: RGBColor,
    ) {
        if right > left && bottom > top {
            let corners = vec![(left, top), (right, top), (right, bottom), (left, bottom)];
            self.area(corners, colour, 1.0);
        }
    }

    pub(super) fn disc(&mut self, at: Point, radius: f64, colour: RGBColor) {
        if finite(&[at]) {
            self.items.push(Item::Disc { at, radius, colour });
        }
    }

    /// A text on its base line. Characters that XML forbids become blanks.
    pub(super) fn text(&mut self, at: Point, text: &str, look: TextStyle) {
        if !finite(&[at]) || text.trim().is_empty() {
            return;
        }
        self.items.push(Item::Text {
            at,
            text: printable(text),
            em: look.em,
            weight: look.weight,
            align: look.align,
            colour: look.colour,
        });
    }

    /// A mark, filled or hollow.
    pub(super) fn mark(
        &mut self,
        shape: Shape,
        at: Point,
        radius: f64,
        colour: RGBColor,
        filled: bool,
    ) {
        let (x, y) = at;
        let stroke = (0.34 * radius).max(1.4);
        let mut corners = |shares: &[Point], radius: f64, colour| {
            let points = shares
                .iter()
                .map(|(dx, dy)| (x + radius * dx, y + radius * dy));
            self.area(points.collect(), colour, 1.0);
        };
        let shares: &[Point] = match shape {
            Shape::Disc => {
                self.disc(at, radius, colour);
                if !filled {
                    self.disc(at, radius - stroke, PAPER);
                }
                return;
            }
            Shape::Cross => {
                let r = 0.8 * radius;
                self.line(&[(x - r, y - r), (x + r, y + r)], colour, stroke, &[]);
                self.line(&[(x - r, y + r), (x + r, y - r)], colour, stroke, &[]);
                return;
            }
            Shape::Square => &[(-0.88, -0.88), (0.88, -0.88), (0.88, 0.88), (-0.88, 0.88)],
            Shape::Triangle => &[(0.0, -1.2), (1.1, 0.8), (-1.1, 0.8)],
            Shape::Diamond => &[(0.0, -1.25), (1.25, 0.0), (0.0, 1.25), (-1.25, 0.0)],
        };
        corners(shares, radius, colour);
        if !filled {
            corners(shares, radius - 1.3 * stroke, PAPER);
        }
    }

    /// The title at the left, and a remark at the right on the same line, or below it on a narrow sheet. Returns the
    /// middle line of a legend below.
    pub(super) fn heading(&mut self, title: &str, remark: &str) -> f64 {
        let look = TextStyle::of(size::TITLE).bold();
        let side = TextStyle::of(size::LABEL).colour(MUTED);
        let room = self.width - 2.0 * MARGIN;
        if self.width < TWO_LINES {
            let look = TextStyle {
                em: size::SUBTITLE,
                ..look
            };
            let title = shortened(title, look.em, look.weight, room);
            self.text((MARGIN, 34.0), &title, look);
            let remark = shortened(remark, side.em, side.weight, room);
            self.text((MARGIN, 55.0), &remark, side);
            return if remark.is_empty() { 61.0 } else { 80.0 };
        }
        let remark = shortened(remark, side.em, side.weight, 0.5 * room);
        let taken = side.width(&remark) + if remark.is_empty() { 0.0 } else { 24.0 };
        let title = shortened(title, look.em, look.weight, room - taken);
        self.text((MARGIN, 34.0), &title, look);
        let end = (self.width - MARGIN, 34.0);
        self.text(end, &remark, side.align(Align::Right));
        61.0
    }

    /// Words in place of missing data.
    pub(super) fn note(&mut self, at: Point, text: &str) {
        let look = TextStyle::of(size::LABEL)
            .align(Align::Middle)
            .colour(MUTED);
        let half = 0.5 * look.width(text) + 8.0;
        // No grid behind the words.
        let (upper, lower) = (at.1 - 17.0, at.1 + 8.0);
        self.rectangle((at.0 - half, upper), (at.0 + half, lower), PAPER);
        self.text(at, text, look);
    }
}

fn finite(points: &[Point]) -> bool {
    points.iter().all(|(x, y)| x.is_finite() && y.is_finite())
}

/// The text without control characters and others that XML forbids.
pub(super) fn printable(text: &str) -> String {
    let forbidden = |c: char| c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}');
    text.replace(forbidden, " ")
}

/// Cuts a line into strokes, measured along it.
fn strokes(points: &[Point], dash: Dash) -> Vec<Vec<Point>> {
    let mut out = Vec::new();
    let mut current = vec![points[0]];
    let (mut part, mut left) = (0, dash[0]);
    for pair in points.windows(2) {
        let (mut from, to) = (pair[0], pair[1]);
        loop {
            let length = libm::hypot(to.0 - from.0, to.1 - from.1);
            let drawn = part % 2 == 0;
            if length <= left {
                left -= length;
                if drawn {
                    current.push(to);
                }
                break;
            }
            let share = left / length;
            from = (
                from.0 + share * (to.0 - from.0),
                from.1 + share * (to.1 - from.1),
            );
            if drawn {
                current.push(from);
                out.push(std::mem::take(&mut current));
            } else {
                current = vec![from];
            }
            part += 1;
            left = dash[part % dash.len()];
        }
    }
    if current.len() > 1 {
        out.push(current);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dashes_follow_the_line_round_its_corners() {
        let found = strokes(&[(0.0, 0.0), (8.0, 0.0), (8.0, 8.0)], &[10.0, 2.0]);
        let expected = vec![
            vec![(0.0, 0.0), (8.0, 0.0), (8.0, 2.0)],
            vec![(8.0, 4.0), (8.0, 8.0)],
        ];
        assert_eq!(found, expected);
    }

    #[test]
    fn what_is_not_finite_is_left_out() {
        let mut sheet = Sheet::new(10.0, 10.0, "");
        sheet.line(&[(0.0, 0.0), (f64::NAN, 1.0)], INK, 1.0, &[]);
        sheet.disc((f64::INFINITY, 0.0), 2.0, INK);
        sheet.text((0.0, f64::NAN), "text", TextStyle::of(10.0));
        sheet.mark(Shape::Triangle, (f64::NAN, 0.0), 3.0, INK, true);
        assert!(sheet.items.is_empty(), "{:?}", sheet.items);
    }
}
