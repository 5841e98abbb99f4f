//! A log and the residuals of its fit: measured angle minus reading with the fitted curves, and residuals row by row.

use super::axes::Panel;
use super::canvas::picture;
use super::legend::{Key, legend};
use super::picture::Picture;
use super::scale::{Scale, number, padded, plain, range};
use super::sheet::{MARGIN, Point, Sheet};
use super::style::{BLUE, DASHED, GREEN, MUTED, PALE_GREEN, RULE, SLATE, SOLID, Shape, WARNING};

/// Side of the backlash after the last move.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// After a move up.
    Up,
    /// After a move down.
    Down,
    /// Not known yet.
    Unknown,
}

/// One solve and its fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leftover {
    /// Row of the log, from 1.
    pub row: usize,
    /// Reading \[deg\].
    pub reading_deg: f64,
    /// What the fit expects at this reading: angle turned minus reading \[deg\].
    pub fitted_deg: f64,
    /// Measured position angle minus the fitted one \[deg\].
    pub residual_deg: f64,
    /// How the drive came there.
    pub side: Side,
    /// The solve is an outlier.
    pub outlier: bool,
}

impl Leftover {
    fn drawable(&self) -> bool {
        [self.reading_deg, self.fitted_deg, self.residual_deg]
            .into_iter()
            .all(|v| plain(v).is_some())
    }
}

/// A fitted curve: reading and angle turned minus reading \[deg\].
pub type FittedCurve = Vec<(f64, f64)>;

/// Draws the solves with the curves after a move up and after a move down. Below them it draws the residuals by row,
/// with a band of two standard deviations `sigma_deg`. Points beyond the axes lie at their edges.
pub fn residuals(
    points: &[Leftover],
    curves: [FittedCurve; 2],
    sigma_deg: f64,
    title: &str,
) -> Picture {
    let mut sheet = Sheet::new(960.0, 640.0, title);
    let remark = plain(sigma_deg).map_or_else(String::new, |sigma| {
        format!("error of one solve: {}°", number(sigma, 4))
    });
    sheet.heading(title, &remark);
    let points: Vec<&Leftover> = points.iter().filter(|p| p.drawable()).collect();
    let sigma = plain(sigma_deg).filter(|s| *s > 0.0).unwrap_or(1e-6);
    legend(&mut sheet, &keys(&points), (MARGIN, 960.0 - MARGIN), 66.0);
    let upper = Panel {
        left: MARGIN + 56.0,
        top: 128.0,
        right: 960.0 - MARGIN,
        bottom: 360.0,
    };
    let lower = Panel {
        top: 440.0,
        bottom: 580.0,
        ..upper
    };

    let readings = range(points.iter().map(|p| p.reading_deg)).unwrap_or((0.0, 360.0));
    let across = Scale::angle(padded(readings, 0.03), upper.across());
    let good = points.iter().filter(|p| !p.outlier);
    let seen = good.map(|p| p.fitted_deg + p.residual_deg);
    let fitted = curves.iter().flatten().map(|(_, deg)| *deg);
    let up = range(seen.chain(fitted)).unwrap_or((-1.0, 1.0));
    let up = Scale::even(padded(up, 0.08), upper.up());
    upper.x_axis(&mut sheet, &across, Some("reading (°)"));
    upper.y_axis(&mut sheet, &up, 7, "angle turned minus reading (°)");
    for (side, curve) in [Side::Up, Side::Down].into_iter().zip(&curves) {
        let drawable = curve
            .iter()
            .filter(|(x, y)| plain(*x).is_some() && plain(*y).is_some());
        let line: Vec<Point> = drawable.map(|(x, y)| (across.at(*x), up.at(*y))).collect();
        sheet.line(&line, look(side).1, 1.8, SOLID);
    }
    for p in &points {
        let at = (
            across.at(p.reading_deg),
            up.at(p.fitted_deg + p.residual_deg),
        );
        dot(&mut sheet, at, p);
    }

    let last = points.iter().map(|p| p.row).max().unwrap_or(1);
    let rows = Scale::whole((0.0, last as f64 + 1.0), lower.across());
    let reach = Scale::even((-5.5 * sigma, 5.5 * sigma), lower.up());
    let band = (reach.at(2.0 * sigma), reach.at(-2.0 * sigma));
    sheet.rectangle((lower.left, band.0), (lower.right, band.1), PALE_GREEN);
    lower.x_axis(&mut sheet, &rows, Some("row of the log"));
    lower.y_axis(&mut sheet, &reach, 5, "residual: measured minus fitted (°)");
    for (y, colour, dash) in [
        (0.0, RULE, SOLID),
        (2.0 * sigma, GREEN, DASHED),
        (-2.0 * sigma, GREEN, DASHED),
    ] {
        let ends = [(lower.left, reach.at(y)), (lower.right, reach.at(y))];
        sheet.line(&ends, colour, 1.0, dash);
    }
    for p in &points {
        dot(
            &mut sheet,
            (rows.at(p.row as f64), reach.at(p.residual_deg)),
            p,
        );
    }
    if points.is_empty() {
        sheet.note(upper.centre(), "no solve");
    }
    picture(sheet)
}

/// The legend of the kinds of points that occur.
fn keys(points: &[&Leftover]) -> Vec<(Key, String)> {
    let there = |side: Side| points.iter().any(|p| p.side == side && !p.outlier);
    let sides = [
        (Side::Up, "after a move up"),
        (Side::Down, "after a move down"),
        (Side::Unknown, "backlash not known yet"),
    ];
    let sides = sides.into_iter().filter(|(side, _)| there(*side));
    let mut keys: Vec<(Key, String)> = sides
        .map(|(side, text)| {
            let (shape, colour) = look(side);
            let filled = side != Side::Unknown;
            (
                Key::Mark {
                    shape,
                    colour,
                    filled,
                },
                text.to_owned(),
            )
        })
        .collect();
    if points.iter().any(|p| p.outlier) {
        let outlier = Key::Mark {
            shape: Shape::Cross,
            colour: WARNING,
            filled: true,
        };
        keys.push((outlier, "outlier, at the edge if farther".to_owned()));
    }
    keys.push((Key::Patch(PALE_GREEN), "two standard deviations".to_owned()));
    keys
}

fn look(side: Side) -> (Shape, super::style::RGBColor) {
    match side {
        Side::Up => (Shape::Triangle, BLUE),
        Side::Down => (Shape::Diamond, SLATE),
        Side::Unknown => (Shape::Square, MUTED),
    }
}

fn dot(sheet: &mut Sheet, at: Point, p: &Leftover) {
    if p.outlier {
        sheet.mark(Shape::Cross, at, 5.0, WARNING, true);
    } else {
        let (shape, colour) = look(p.side);
        sheet.mark(shape, at, 3.6, colour, p.side != Side::Unknown);
    }
}

#[cfg(test)]
mod tests {
    use super::super::canvas::tests::check;
    use super::*;

    fn point(row: usize, residual_deg: f64, side: Side, outlier: bool) -> Leftover {
        Leftover {
            row,
            reading_deg: 20.0 * row as f64,
            fitted_deg: 0.1,
            residual_deg,
            side,
            outlier,
        }
    }

    #[test]
    fn both_panels_are_named_and_the_legend_has_what_is_there() {
        let mut points = vec![
            point(1, 0.01, Side::Up, false),
            point(2, -0.02, Side::Down, false),
        ];
        let curve = || vec![(0.0, 0.1), (60.0, 0.1)];
        let texts = check(&residuals(&points, [curve(), curve()], 0.02, "a log"));
        for wanted in [
            "a log",
            "reading (°)",
            "row of the log",
            "after a move up",
            "after a move down",
            "error of one solve: 0.02°",
        ] {
            assert!(texts.iter().any(|t| t == wanted), "{wanted}: {texts:?}");
        }
        let outlier = |texts: &[String]| texts.iter().any(|t| t.starts_with("outlier"));
        assert!(!outlier(&texts), "{texts:?}");
        points.push(point(3, 2.0, Side::Up, true));
        assert!(outlier(&check(&residuals(
            &points,
            [curve(), curve()],
            0.02,
            "a log"
        ))));
    }

    #[test]
    fn extremes_are_drawn() {
        let none = || [Vec::new(), Vec::new()];
        let empty = check(&residuals(&[], none(), 0.0, "x"));
        assert!(empty.contains(&"no solve".to_owned()));
        let bad = point(1, f64::INFINITY, Side::Up, false);
        let far = point(2, 1e300, Side::Down, true);
        let odd = [vec![(f64::NAN, 1.0)], vec![(1.0, 1e300)]];
        check(&residuals(&[bad, far], odd, f64::NAN, "x"));
    }
}
