//! How ping-pong depends on the distance of the target from the seam.

use super::axes::Panel;
use super::canvas::picture;
use super::legend::{Key, ROW, legend};
use super::scale::{Scale, padded, plain, range};
use super::sheet::{Align, MARGIN, Point, Sheet, Type};
use super::style::{INK, SOLID, series, size};
use super::{Picture, PlotError};

/// Lines that are drawn.
const MOST_LINES: usize = 8;

/// A line with at most this many points carries a mark at each.
const MARKED_UP_TO: usize = 60;

/// The ping-pong rates of one policy.
#[derive(Debug, Clone, PartialEq)]
pub struct SeamLine {
    /// What the line is called.
    pub label: String,
    /// Its points, ascending in distance.
    pub points: Vec<SeamPoint>,
}

/// The ping-pong rate at one distance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeamPoint {
    /// Drive angle of the target minus the start of the arc \[deg\]; negative below the start.
    pub distance_deg: f64,
    /// Share of the runs with ping-pong.
    pub rate: f64,
    /// Lower end of its 95 % interval.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl SeamPoint {
    fn drawable(&self) -> bool {
        [self.distance_deg, self.rate, self.low, self.high]
            .into_iter()
            .all(|v| plain(v).is_some())
    }
}

/// Draws the ping-pong rate against the distance of the target from the seam.
pub fn seam_distance(lines: &[SeamLine]) -> Result<Picture, PlotError> {
    let title = "Ping-pong near the seam";
    let mut sheet = Sheet::new(960.0, 540.0, title);
    let shown = &lines[..lines.len().min(MOST_LINES)];
    let remark = match lines.len() - shown.len() {
        0 => String::new(),
        more => format!("and {more} more policies"),
    };
    sheet.heading(title, &remark);

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
        let key = Key::Patch(plotters::style::RGBColor(214, 218, 224));
        entries.push((key, "95 % interval".to_owned()));
    }
    let width = sheet.width;
    let next = legend(&mut sheet, &entries, (MARGIN + 4.0, width - MARGIN), 61.0);
    let panel = Panel {
        left: 74.0,
        top: next + 1.6 * ROW,
        right: 930.0,
        bottom: 478.0,
    };

    let points: Vec<Vec<SeamPoint>> = shown
        .iter()
        .map(|l| {
            l.points
                .iter()
                .copied()
                .filter(SeamPoint::drawable)
                .collect()
        })
        .collect();
    let all = || points.iter().flatten();
    let seen = range(all().map(|p| p.distance_deg));
    let (low, high) = seen.unwrap_or((-1.0, 1.0));
    let distances = Scale::angle(padded((low.min(0.0), high.max(0.0)), 0.02), panel.across());
    let top = all().fold(0.0_f64, |m, p| m.max(100.0 * p.high.max(p.rate)));
    let highest = if top > 0.0 {
        1.12 * top.clamp(1e-4, 100.0)
    } else {
        1.0
    };
    let rates = Scale::even((0.0, highest), panel.up());
    let name = "distance of the target from the seam [deg]; negative: below the start of the arc";
    panel.x_axis(&mut sheet, &distances, Some(name));
    panel.y_axis(&mut sheet, &rates, 6, "runs with ping-pong [%]");

    let place = |p: &SeamPoint, rate: f64| (distances.at(p.distance_deg), rates.at(100.0 * rate));
    for (i, points) in points.iter().enumerate() {
        let upper = points.iter().map(|p| place(p, p.high));
        let lower = points.iter().rev().map(|p| place(p, p.low));
        sheet.area(upper.chain(lower).collect(), series(i).colour, 0.18);
    }
    let seam = distances.at(0.0);
    sheet.line(&[(seam, panel.top), (seam, panel.bottom)], INK, 2.0, SOLID);
    let look = Type::of(size::TICK).bold();
    let (look, x) = if seam + 60.0 < panel.right {
        (look, seam + 7.0)
    } else {
        (look.align(Align::Right), seam - 7.0)
    };
    sheet.text((x, panel.top + 14.0), "seam", look);

    for (i, points) in points.iter().enumerate() {
        let look = series(i);
        let placed: Vec<Point> = points.iter().map(|p| place(p, p.rate)).collect();
        sheet.line(&placed, look.colour, look.width(), look.dash);
        if placed.len() <= MARKED_UP_TO {
            for at in placed {
                sheet.mark(look.shape, at, 4.0, look.colour, true);
            }
        }
    }
    if seen.is_none() {
        sheet.note(panel.centre(), "no rate was found");
    } else if top == 0.0 {
        let at = (panel.centre().0, panel.bottom - 24.0);
        sheet.note(at, "no ping-pong at any distance");
    }
    picture(&sheet)
}

#[cfg(test)]
mod tests {
    use super::super::canvas::tests::check;
    use super::*;

    fn line(label: &str, points: &[(f64, f64)]) -> SeamLine {
        let point = |&(distance_deg, rate): &(f64, f64)| SeamPoint {
            distance_deg,
            rate,
            low: 0.9 * rate,
            high: 1.1 * rate,
        };
        SeamLine {
            label: label.to_owned(),
            points: points.iter().map(point).collect(),
        }
    }

    #[test]
    fn lines_are_named_and_the_seam_is_marked() -> Result<(), PlotError> {
        let one = line("half-circle", &[(-2.0, 0.0), (0.0, 0.3), (2.0, 0.0)]);
        let other = line("fold-once", &[(-2.0, 0.0), (0.0, 0.0), (2.0, 0.0)]);
        let texts = check(&seam_distance(&[one, other])?);
        for wanted in [
            "half-circle",
            "fold-once",
            "seam",
            "95 % interval",
            "runs with ping-pong [%]",
        ] {
            assert!(texts.iter().any(|t| t == wanted), "{wanted}: {texts:?}");
        }
        Ok(())
    }

    #[test]
    fn extremes_are_drawn() -> Result<(), PlotError> {
        assert!(check(&seam_distance(&[])?).contains(&"no rate was found".to_owned()));
        check(&seam_distance(&[line("empty", &[])])?);
        check(&seam_distance(&[line("one", &[(5.0, 0.0)])])?);
        check(&seam_distance(&[line("same", &[(5.0, 1.0); 3])])?);
        let bad = line(
            &"<long> ".repeat(99),
            &[(f64::NAN, 0.1), (1e300, 0.2), (1.0, f64::INFINITY)],
        );
        check(&seam_distance(&vec![bad; 30])?);
        let many: Vec<_> = (0..10_000).map(|i| (f64::from(i), 1e-9)).collect();
        check(&seam_distance(&[line("many", &many)])?);
        Ok(())
    }
}
