//! What a fit leaves over: residuals against the reading, and by the direction of the move.

use super::axes::Panel;
use super::canvas::picture;
use super::legend::{Key, legend};
use super::scale::{Scale, number, padded, plain, range};
use super::sheet::{Align, MARGIN, Shape, Sheet, TextStyle};
use super::style::{BLUE, DASHED, GREEN, MUTED, ORANGE, PALE_GREEN, RULE, SOLID, WARNING, size};
use super::{Picture, PlotError};

/// Side of the play that is taken up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// After a move up.
    Up,
    /// After a move down.
    Down,
    /// Not known yet.
    Unknown,
}

/// The residual of one solve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leftover {
    /// Reading \[deg\].
    pub reading_deg: f64,
    /// Measured less fitted position angle \[deg\].
    pub residual_deg: f64,
    /// How the drive came there.
    pub side: Side,
    /// It is an outlier.
    pub outlier: bool,
}

/// Draws residuals against the reading at the left and by direction at the right, with the band of two standard
/// deviations `sigma_deg`. What is beyond five of them lies at the edge, with its number.
pub fn residuals(points: &[Leftover], sigma_deg: f64, title: &str) -> Result<Picture, PlotError> {
    let mut sheet = Sheet::new(960.0, 500.0, title);
    let remark = plain(sigma_deg).map_or_else(String::new, |sigma| {
        format!("error of one solve: {}°", number(sigma, 4))
    });
    sheet.heading(title, &remark);
    let drawable =
        |p: &&Leftover| plain(p.reading_deg).is_some() && plain(p.residual_deg).is_some();
    let points: Vec<&Leftover> = points.iter().filter(drawable).collect();
    let sigma = plain(sigma_deg).filter(|s| *s > 0.0).unwrap_or(1e-6);
    let reach = 5.5 * sigma;
    let left = Panel {
        left: MARGIN + 56.0,
        top: 122.0,
        right: 690.0,
        bottom: 436.0,
    };
    let right = Panel {
        left: 740.0,
        right: 960.0 - MARGIN,
        ..left
    };
    let readings = range(points.iter().map(|p| p.reading_deg)).unwrap_or((0.0, 360.0));
    let across = Scale::angle(padded(readings, 0.03), left.across());
    let up = Scale::even((-reach, reach), left.up());

    let entries = [
        (Side::Up, "after a move up"),
        (Side::Down, "after a move down"),
    ];
    let mut keys: Vec<(Key, String)> = entries
        .iter()
        .map(|(side, text)| {
            let (shape, colour) = look(*side);
            (
                Key::Mark {
                    shape,
                    colour,
                    filled: true,
                },
                (*text).to_owned(),
            )
        })
        .collect();
    if points.iter().any(|p| p.side == Side::Unknown) {
        let (shape, colour) = look(Side::Unknown);
        let key = Key::Mark {
            shape,
            colour,
            filled: false,
        };
        keys.push((key, "play not known yet".to_owned()));
    }
    let outlier = Key::Mark {
        shape: Shape::Cross,
        colour: WARNING,
        filled: true,
    };
    keys.push((outlier, "outlier, at the edge if farther".to_owned()));
    keys.push((Key::Patch(PALE_GREEN), "two standard deviations".to_owned()));
    legend(&mut sheet, &keys, (MARGIN, 960.0 - MARGIN), 66.0);

    for panel in [&left, &right] {
        let band = (up.at(2.0 * sigma), up.at(-2.0 * sigma));
        sheet.rectangle((panel.left, band.0), (panel.right, band.1), PALE_GREEN);
    }
    left.x_axis(&mut sheet, &across, Some("reading (°)"));
    left.y_axis(
        &mut sheet,
        &up,
        9,
        "measured less fitted position angle (°)",
    );
    for panel in [&left, &right] {
        let line = |y: f64| [(panel.left, up.at(y)), (panel.right, up.at(y))];
        sheet.line(&line(0.0), RULE, 1.0, SOLID);
        for y in [2.0 * sigma, -2.0 * sigma] {
            sheet.line(&line(y), GREEN, 1.0, DASHED);
        }
    }
    for p in &points {
        dot(
            &mut sheet,
            (across.at(p.reading_deg), up.at(p.residual_deg)),
            p,
        );
    }
    by_direction(&mut sheet, &right, &up, &points);
    if points.is_empty() {
        sheet.note(left.centre(), "there is no solve");
    }
    picture(&sheet)
}

fn look(side: Side) -> (Shape, plotters::style::RGBColor) {
    match side {
        Side::Up => (Shape::Triangle, BLUE),
        Side::Down => (Shape::Diamond, ORANGE),
        Side::Unknown => (Shape::Square, MUTED),
    }
}

fn dot(sheet: &mut Sheet, at: (f64, f64), p: &Leftover) {
    if p.outlier {
        sheet.mark(Shape::Cross, at, 5.0, WARNING, true);
    } else {
        let (shape, colour) = look(p.side);
        sheet.mark(shape, at, 3.6, colour, p.side != Side::Unknown);
    }
}

/// The same residuals in two columns, with their means.
fn by_direction(sheet: &mut Sheet, panel: &Panel, up: &Scale, points: &[&Leftover]) {
    let width = panel.right - panel.left;
    let name = TextStyle::of(size::TICK).align(Align::Middle);
    for (side, share, text) in [
        (Side::Up, 0.27, "after up"),
        (Side::Down, 0.73, "after down"),
    ] {
        let middle = panel.left + share * width;
        let of_side: Vec<&&Leftover> = points.iter().filter(|p| p.side == side).collect();
        for (i, p) in of_side.iter().enumerate() {
            // Spread evenly over the column, so that equal residuals do not hide each other.
            let shift = ((i as f64 * 0.618_033_988_75).fract() - 0.5) * 0.34 * width;
            dot(sheet, (middle + shift, up.at(p.residual_deg)), p);
        }
        let good: Vec<f64> = of_side
            .iter()
            .filter(|p| !p.outlier)
            .map(|p| p.residual_deg)
            .collect();
        sheet.text((middle, panel.bottom + 19.0), text, name);
        if !good.is_empty() {
            let mean = good.iter().sum::<f64>() / good.len() as f64;
            let (_, colour) = look(side);
            let half = 0.2 * width;
            let line = [(middle - half, up.at(mean)), (middle + half, up.at(mean))];
            sheet.line(&line, colour, 2.6, SOLID);
        }
    }
    let look = TextStyle::of(size::LABEL).align(Align::Middle);
    sheet.text(
        (panel.centre().0, panel.bottom + 42.0),
        "by direction, with means",
        look,
    );
}

#[cfg(test)]
mod tests {
    use super::super::canvas::tests::check;
    use super::*;

    fn point(reading_deg: f64, residual_deg: f64, side: Side, outlier: bool) -> Leftover {
        Leftover {
            reading_deg,
            residual_deg,
            side,
            outlier,
        }
    }

    #[test]
    fn both_panels_are_named() -> Result<(), PlotError> {
        let points = [
            point(10.0, 0.01, Side::Up, false),
            point(170.0, -0.02, Side::Down, false),
            point(90.0, 2.0, Side::Up, true),
            point(90.0, 0.0, Side::Unknown, false),
        ];
        let texts = check(&residuals(&points, 0.02, "a log")?);
        for wanted in [
            "a log",
            "reading (°)",
            "after up",
            "after down",
            "error of one solve: 0.02°",
        ] {
            assert!(texts.iter().any(|t| t == wanted), "{wanted}: {texts:?}");
        }
        Ok(())
    }

    #[test]
    fn extremes_are_drawn() -> Result<(), PlotError> {
        assert!(check(&residuals(&[], 0.0, "x")?).contains(&"there is no solve".to_owned()));
        let bad = point(f64::NAN, f64::INFINITY, Side::Up, false);
        check(&residuals(
            &[bad, point(1.0, 1e300, Side::Down, true)],
            f64::NAN,
            "x",
        )?);
        Ok(())
    }
}
