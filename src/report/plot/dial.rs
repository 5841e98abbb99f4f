//! The circle of drive angles: allowed arc, seam, keep-outs and targets.

use plotters::style::RGBColor;

use super::canvas::picture;
use super::dial_labels::{MOST_NAMED, MOST_TROUBLED, labels};
use super::dial_ring::{KeepOut, RING, letter, ring};
use super::font::shortened;
use super::legend::{Key, legend};
use super::scale::{number, plain};
use super::sheet::{Align, MARGIN, Point, Shape, Sheet, Type};
use super::style::{
    FAINT_BLUE, GREEN, INK, KEEP_OUT, MUTED, ORANGE, PALE_BLUE, PURPLE, WARNING, size,
};
use super::{Picture, PlotError};
use crate::angle::TURN_DEG;

/// A circle of drive angles.
#[derive(Debug, Clone, PartialEq)]
pub struct Dial {
    /// Title.
    pub title: String,
    /// Travel is endless: angles are shown in `[0, 360)`, and a full circle has no seam.
    pub endless: bool,
    /// Where the allowed arc starts \[deg\].
    pub arc_from_deg: f64,
    /// How wide it is \[deg\].
    pub arc_width_deg: f64,
    /// Band around the arc \[deg\]; 0 for none.
    pub band_deg: f64,
    /// Sectors to stay out of: from, upwards to \[deg\], and why.
    pub keep_outs: Vec<(f64, f64, String)>,
    /// The targets.
    pub targets: Vec<DialTarget>,
}

/// A target on a dial.
#[derive(Debug, Clone, PartialEq)]
pub struct DialTarget {
    /// Its name.
    pub name: String,
    /// Its drive angle \[deg\].
    pub drive_deg: f64,
    /// How it fares.
    pub mark: Mark,
}

/// How a target fares, from good to bad.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Mark {
    /// It settles.
    Safe,
    /// It may hunt.
    AtRisk,
    /// Its drive angle lies outside the stops.
    OutOfReach,
    /// It hunts.
    Hunts,
}

impl Mark {
    const ALL: [Self; 4] = [Self::Safe, Self::AtRisk, Self::OutOfReach, Self::Hunts];

    fn words(self) -> &'static str {
        match self {
            Self::Safe => "safe",
            Self::AtRisk => "at risk",
            Self::Hunts => "hunting",
            Self::OutOfReach => "out of reach",
        }
    }

    pub(super) fn colour(self) -> RGBColor {
        match self {
            Self::Safe => GREEN,
            Self::AtRisk => ORANGE,
            Self::Hunts => WARNING,
            Self::OutOfReach => PURPLE,
        }
    }

    fn shape(self) -> Shape {
        match self {
            Self::Safe => Shape::Disc,
            Self::AtRisk => Shape::Triangle,
            Self::Hunts => Shape::Diamond,
            Self::OutOfReach => Shape::Cross,
        }
    }
}

/// Radius on which the targets lie.
pub(super) const MARKS: f64 = RING + 11.0;
/// Width of one dial with its names.
pub(super) const CELL: f64 = 500.0;
const CENTRE_Y: f64 = 246.0;
/// Height of one row of dials, without the legend.
const CELL_HEIGHT: f64 = 424.0;

/// A point at an angle and a radius from the centre of a dial.
pub(super) fn polar((x, y): Point, angle_deg: f64, radius: f64) -> Point {
    let (sin, cos) = angle_deg.to_radians().sin_cos();
    (x + radius * sin, y - radius * cos)
}

/// Draws dials side by side, two to a row.
pub fn dial(dials: &[Dial]) -> Result<Picture, PlotError> {
    let rows = dials.len().div_ceil(2).max(1);
    let width = if dials.len() > 1 {
        2.0 * CELL
    } else {
        1.3 * CELL
    };
    let titles: Vec<&str> = dials.iter().map(|d| d.title.as_str()).collect();
    let title = format!("Drive angles of the targets: {}", titles.join("; "));
    let mut sheet = Sheet::new(width, rows as f64 * CELL_HEIGHT, title);

    // One sector has one letter, on whatever dial.
    let mut keep_outs: Vec<&KeepOut> = Vec::new();
    for sector in dials.iter().flat_map(|d| &d.keep_outs) {
        let drawable = plain(sector.0).is_some() && plain(sector.1).is_some();
        if drawable && !keep_outs.contains(&sector) {
            keep_outs.push(sector);
        }
    }
    for (i, dial) in dials.iter().enumerate() {
        let column = if dials.len() > 1 {
            (i % 2) as f64
        } else {
            0.15
        };
        let left = column * CELL;
        let top = (i / 2) as f64 * CELL_HEIGHT;
        let centre = (left + 0.5 * CELL, top + CENTRE_Y);
        headline(&mut sheet, (centre.0, top + 32.0), dial);
        ring(&mut sheet, centre, dial, &keep_outs);
        targets(&mut sheet, centre, &dial.targets);
    }
    if dials.is_empty() {
        sheet.note((0.5 * width, CENTRE_Y), "no arc to show");
    }
    let entries = entries(dials, &keep_outs);
    let next = legend(
        &mut sheet,
        &entries,
        (MARGIN, width - MARGIN),
        rows as f64 * CELL_HEIGHT + 12.0,
    );
    sheet.height = next + 6.0;
    picture(&sheet)
}

fn headline(sheet: &mut Sheet, (x, y): Point, dial: &Dial) {
    let look = Type::of(size::SUBTITLE).bold().align(Align::Middle);
    let title = shortened(&dial.title, look.em, look.weight, CELL - 2.0 * MARGIN);
    sheet.text((x, y), &title, look);
    let counts: Vec<String> = Mark::ALL
        .into_iter()
        .filter_map(|mark| {
            let count = dial.targets.iter().filter(|t| t.mark == mark).count();
            (count > 0).then(|| format!("{count} {}", mark.words()))
        })
        .collect();
    let mut text = if counts.is_empty() {
        "no targets".to_owned()
    } else {
        counts.join(", ")
    };
    let troubled = dial.targets.iter().filter(|t| t.mark != Mark::Safe).count();
    if dial.targets.len() > MOST_NAMED && troubled > MOST_TROUBLED {
        text.push_str(&format!(" ({MOST_TROUBLED} of them named)"));
    }
    let look = Type::of(size::TICK).align(Align::Middle).colour(MUTED);
    sheet.text((x, y + 20.0), &text, look);
}

fn entries(dials: &[Dial], keep_outs: &[&KeepOut]) -> Vec<(Key, String)> {
    let mut list = Vec::new();
    for mark in Mark::ALL {
        if dials
            .iter()
            .flat_map(|d| &d.targets)
            .any(|t| t.mark == mark)
        {
            let key = Key::Mark {
                shape: mark.shape(),
                colour: mark.colour(),
                filled: true,
            };
            list.push((key, mark.words().to_owned()));
        }
    }
    if !dials.is_empty() {
        list.push((Key::Patch(PALE_BLUE), "allowed arc".to_owned()));
        list.push((Key::Patch(INK), "seam".to_owned()));
    }
    if dials.iter().any(|d| d.band_deg > 0.0) {
        list.push((Key::Patch(FAINT_BLUE), "band".to_owned()));
    }
    for (i, (from, to, why)) in keep_outs.iter().enumerate() {
        let text = format!(
            "{}: keep out of {}° to {}°, {why}",
            letter(i),
            number(*from, 1),
            number(*to, 1)
        );
        list.push((Key::Hatched(KEEP_OUT), text));
    }
    list
}

fn targets(sheet: &mut Sheet, centre: Point, targets: &[DialTarget]) {
    let drawable: Vec<&DialTarget> = targets
        .iter()
        .filter(|t| plain(t.drive_deg).is_some())
        .collect();
    let few = drawable.len() <= MOST_NAMED;
    labels(sheet, centre, &drawable);
    // What matters most is painted last. Marks closer than a third of a degree cannot be told apart.
    let mut dots: Vec<(Mark, i64)> = drawable
        .iter()
        .map(|t| {
            (
                t.mark,
                (3.0 * t.drive_deg.rem_euclid(TURN_DEG)).round() as i64,
            )
        })
        .collect();
    dots.sort_unstable();
    dots.dedup();
    let radius = if few { 5.0 } else { 3.6 };
    for (mark, thirds) in dots {
        let at = polar(centre, thirds as f64 / 3.0, MARKS);
        sheet.mark(mark.shape(), at, radius, mark.colour(), true);
    }
}

#[cfg(test)]
mod tests {
    use super::super::canvas::tests::check;
    use super::*;

    fn example(targets: Vec<DialTarget>) -> Dial {
        Dial {
            title: "before".to_owned(),
            endless: true,
            arc_from_deg: 0.0,
            arc_width_deg: 180.0,
            band_deg: 2.0,
            keep_outs: vec![(200.0, 250.0, "filter drawer meets the pier".to_owned())],
            targets,
        }
    }

    fn target(i: usize, mark: Mark) -> DialTarget {
        DialTarget {
            name: format!("target {i}"),
            drive_deg: 0.01 * i as f64,
            mark,
        }
    }

    #[test]
    fn arc_keep_outs_and_targets_are_named() -> Result<(), PlotError> {
        let one = example(vec![target(1, Mark::Safe), target(2, Mark::Hunts)]);
        let texts = check(&dial(&[one.clone(), one])?);
        let keep_out = "A: keep out of 200° to 250°, filter drawer meets the pier";
        for wanted in [
            "target 1",
            "target 2",
            "0°",
            "180°",
            "1 safe, 1 hunting",
            keep_out,
        ] {
            assert!(texts.iter().any(|t| t == wanted), "{wanted}: {texts:?}");
        }
        Ok(())
    }

    #[test]
    fn many_targets_are_dots_and_only_the_worst_are_named() -> Result<(), PlotError> {
        let all = (0..10_000).map(|i| {
            target(
                i,
                if i % 400 == 7 {
                    Mark::AtRisk
                } else {
                    Mark::Safe
                },
            )
        });
        let texts = check(&dial(&[example(all.collect())])?);
        let named = texts.iter().filter(|t| t.starts_with("target ")).count();
        assert_eq!(named, 12);
        let counts = "9975 safe, 25 at risk (12 of them named)".to_owned();
        assert!(texts.contains(&counts), "{texts:?}");
        Ok(())
    }

    #[test]
    fn extremes_are_drawn() -> Result<(), PlotError> {
        assert!(check(&dial(&[])?).contains(&"no arc to show".to_owned()));
        let bad = Dial {
            title: "<&>".repeat(100),
            endless: true,
            arc_from_deg: f64::NAN,
            arc_width_deg: f64::INFINITY,
            band_deg: 1e300,
            keep_outs: vec![
                (f64::NAN, 1.0, "nowhere".to_owned()),
                (10.0, 10.0, "\u{1}".repeat(500)),
                (-1e9, 1e9, String::new()),
            ],
            targets: vec![
                DialTarget {
                    name: "long name ".repeat(50),
                    drive_deg: -1e9,
                    mark: Mark::OutOfReach,
                },
                DialTarget {
                    name: String::new(),
                    drive_deg: f64::NAN,
                    mark: Mark::Hunts,
                },
            ],
        };
        check(&dial(&[bad.clone(), bad.clone(), bad])?);
        check(&dial(&[example(vec![])])?);
        check(&dial(&[example(
            (0..24).map(|i| target(i, Mark::Safe)).collect(),
        )])?);
        Ok(())
    }
}
