//! How soon runs settle: the cumulative distribution of the settle time, with a line for each policy.

use super::axes::Panel;
use super::canvas::in_both_layouts;
use super::font::shortened;
use super::form::Layout;
use super::labels::spread;
use super::legend::{Key, legend};
use super::picture::Picture;
use super::scale::{Scale, plain, range};
use super::sheet::{Align, MARGIN, Point, Sheet, TextStyle};
use super::style::{DASHED, MUTED, RULE, SOLID, Series, series, size};
use halfturn_engine::tally::Tally;
use halfturn_engine::wording::percent;

/// Most lines to draw.
const MOST_CURVES: usize = 12;

const MOST_POINTS: usize = 400;

/// A relative difference of times, or difference of shares, that nobody sees in the picture.
const NEAR: f64 = 2e-3;

/// With a larger ratio of times, the axis shows equal ratios.
const RATIO_FROM: f64 = 20.0;

/// The settle times of one policy.
#[derive(Debug, Clone, PartialEq)]
pub struct SettleCurve {
    /// Name of the line.
    pub label: String,
    /// Time \[s\], ascending, and the share of all runs that have settled by then.
    pub points: Vec<(f64, f64)>,
    /// Share of all runs that settle at all.
    pub settled_share: f64,
}

impl SettleCurve {
    /// The curve of a batch.
    #[must_use]
    pub fn of(label: impl Into<String>, tally: &Tally) -> Self {
        let settled_share = if tally.trials == 0 {
            0.0
        } else {
            tally.settled as f64 / tally.trials as f64
        };
        Self {
            label: label.into(),
            points: tally
                .settle_time_s
                .histogram()
                .cumulative(MOST_POINTS)
                .into_iter()
                .map(|(time_s, share)| (time_s, share * settled_share))
                .collect(),
            settled_share,
        }
    }

    /// Whether the other curve is so near that an eye cannot tell them apart.
    fn is_on(&self, other: &Self) -> bool {
        let near = |(a, b): (&(f64, f64), &(f64, f64))| {
            (a.0 - b.0).abs() <= NEAR * b.0.abs() && (a.1 - b.1).abs() <= NEAR
        };
        self.points.len() == other.points.len() && self.points.iter().zip(&other.points).all(near)
    }
}

/// Draws the share of settled runs against time, with the policies named at the ends of their lines. `remark` stands
/// beside the title.
pub fn settle_time(policies: &[SettleCurve], remark: &str) -> Picture {
    let policies = merged(policies);
    in_both_layouts(|form| layout(&policies, remark, form))
}

/// Curves on the same path become one curve with all their names.
fn merged(curves: &[SettleCurve]) -> Vec<SettleCurve> {
    let mut out: Vec<SettleCurve> = Vec::new();
    for curve in curves {
        match out.iter_mut().find(|o| o.is_on(curve)) {
            Some(same) => same.label = format!("{}, {}", same.label, curve.label),
            None => out.push(curve.clone()),
        }
    }
    out
}

fn layout(policies: &[SettleCurve], remark: &str, form: Layout) -> Sheet {
    let title = "How soon the runs settle";
    let mut sheet = Sheet::new(form.width(960.0), 520.0, title);
    let shown = &policies[..policies.len().min(MOST_CURVES)];
    let remark = match policies.len() - shown.len() {
        0 => remark.to_owned(),
        more => format!("and {more} more policies"),
    };
    let next = sheet.heading(title, &remark);
    let curves: Vec<Curve> = shown.iter().enumerate().map(Curve::of).collect();
    let top = match form {
        Layout::Wide => 86.0,
        Layout::Narrow => entries(&mut sheet, &curves, next) + 26.0,
    };
    let panel = Panel {
        left: form.of(74.0, 50.0),
        top,
        right: form.of(696.0, 384.0),
        bottom: top + form.of(370.0, 260.0),
    };
    sheet.height = panel.bottom + 64.0;
    let seen = range(curves.iter().flat_map(|c| c.points.iter().map(|p| p.0)));
    let (low, high) = seen.unwrap_or((0.0, 1.0));
    let by_ratio = low > 0.0 && high / low > RATIO_FROM;
    let (times, name) = if by_ratio {
        let times = Scale::ratio((0.9 * low, 1.1 * high), panel.across());
        (times, "time to settle (s), logarithmic")
    } else {
        let times = Scale::even((0.0, (1.06 * high).max(1.0)), panel.across());
        (times, "time to settle (s)")
    };
    let shares = Scale::even((0.0, 106.0), panel.up());
    panel.x_axis(&mut sheet, &times, Some(name));
    panel.y_axis(
        &mut sheet,
        &shares,
        6,
        "runs settled by then (% of all runs)",
    );
    let all = shares.at(100.0);
    sheet.line(&[(panel.left, all), (panel.right, all)], MUTED, 1.0, DASHED);

    // Solid lines lie under broken ones, and equal curves are both visible.
    for curve in &curves {
        let corners = curve.steps(&times, &shares);
        sheet.line(
            &corners,
            curve.look.colour,
            curve.look.width(),
            curve.look.dash,
        );
    }
    if form == Layout::Wide {
        end_labels(&mut sheet, panel, &shares, &curves);
    }
    if seen.is_none() {
        let text = if policies.is_empty() {
            "no policy was run"
        } else {
            "no run settled"
        };
        sheet.note(panel.centre(), text);
    }
    sheet
}

/// The names of the policies above the diagram, if it has no room beside it.
fn entries(sheet: &mut Sheet, curves: &[Curve], y: f64) -> f64 {
    let entries: Vec<(Key, String)> = curves
        .iter()
        .map(|curve| {
            let key = Key::Line {
                colour: curve.look.colour,
                width: curve.look.width(),
                dash: curve.look.dash,
                shape: None,
            };
            (key, format!("{} {}", settled(curve), curve.label))
        })
        .collect();
    let ends = (MARGIN, sheet.width - 12.0);
    legend(sheet, &entries, ends, y)
}

/// The share of the runs that settle, in words.
fn settled(curve: &Curve) -> String {
    if curve.end > 0.0 {
        percent(curve.end)
    } else {
        "never".to_owned()
    }
}

/// A curve with those of its points that can be drawn.
struct Curve<'a> {
    label: &'a str,
    look: Series,
    points: Vec<Point>,
    end: f64,
}

impl<'a> Curve<'a> {
    fn of((index, curve): (usize, &'a SettleCurve)) -> Self {
        let drawable = |(time, share): &Point| Some((plain(*time)?, plain(*share)?));
        let end = plain(curve.settled_share).unwrap_or(0.0).clamp(0.0, 1.0);
        Self {
            label: &curve.label,
            look: series(index),
            points: curve.points.iter().filter_map(drawable).collect(),
            end,
        }
    }

    /// From the lower left along the steps to the right end.
    fn steps(&self, times: &Scale, shares: &Scale) -> Vec<Point> {
        let (start, end) = times.ends();
        let mut level = shares.at(0.0);
        let mut corners = vec![(times.at(start), level)];
        for (time, share) in &self.points {
            let x = times.at(*time);
            corners.push((x, level));
            level = shares.at(100.0 * share);
            corners.push((x, level));
        }
        corners.push((times.at(end), level));
        corners
    }
}

fn end_labels(sheet: &mut Sheet, panel: Panel, shares: &Scale, curves: &[Curve]) {
    let level = |c: &Curve| shares.at(100.0 * c.end);
    let mut order: Vec<&Curve> = curves.iter().collect();
    order.sort_by(|a, b| level(a).total_cmp(&level(b)));
    let wanted: Vec<f64> = order.iter().map(|c| level(c)).collect();
    let placed = spread(&wanted, 22.0, panel.top + 6.0, panel.bottom);
    let right = sheet.width - 20.0;
    for (curve, y) in order.into_iter().zip(placed) {
        let colour = curve.look.colour;
        let sample = panel.right + 18.0;
        sheet.line(
            &[(panel.right, level(curve)), (sample, y)],
            RULE,
            1.0,
            SOLID,
        );
        sheet.line(
            &[(sample, y), (sample + 30.0, y)],
            colour,
            curve.look.width(),
            curve.look.dash,
        );
        let value = TextStyle::of(size::TICK).align(Align::Right).colour(MUTED);
        let share = settled(curve);
        sheet.text((right, y + value.drop()), &share, value);
        let look = TextStyle::of(size::LABEL);
        let x = sample + 37.0;
        let room = right - value.width(&share) - 8.0 - x;
        let label = shortened(curve.label, look.em, look.weight, room);
        sheet.text((x, y + look.drop()), &label, look);
    }
}

#[cfg(test)]
mod tests {
    use super::super::canvas::tests::check;
    use super::*;

    fn curve(label: &str, points: &[(f64, f64)], settled_share: f64) -> SettleCurve {
        SettleCurve {
            label: label.to_owned(),
            points: points.to_vec(),
            settled_share,
        }
    }

    #[test]
    fn the_curve_of_a_tally_ends_at_its_settled_share() {
        let mut tally = Tally {
            trials: 4,
            settled: 3,
            ..Tally::default()
        };
        for time_s in [8.0, 16.0, 16.0] {
            tally.settle_time_s.push(time_s);
        }
        let found = SettleCurve::of("half-circle", &tally);
        assert_eq!(
            found,
            curve("half-circle", &[(8.0, 0.25), (16.0, 0.75)], 0.75)
        );
        let none = SettleCurve::of("none", &Tally::default());
        assert_eq!(none, curve("none", &[], 0.0));
    }

    #[test]
    fn policies_are_named_at_their_lines() {
        let one = curve("half-circle", &[(8.0, 0.1), (900.0, 0.5)], 0.5);
        let other = curve("fold-once", &[(8.0, 0.9)], 0.9);
        let texts = check(&settle_time(&[one, other], "4 000 runs each"));
        for wanted in [
            "half-circle",
            "50.0 %",
            "fold-once",
            "90.0 %",
            "time to settle (s), logarithmic",
        ] {
            assert!(texts.iter().any(|t| t == wanted), "{wanted}: {texts:?}");
        }
    }

    #[test]
    fn extremes_are_drawn() {
        assert!(check(&settle_time(&[], "")).contains(&"no policy was run".to_owned()));
        let never = curve("never", &[], 0.0);
        assert!(check(&settle_time(&[never], "")).contains(&"no run settled".to_owned()));
        let bad = curve(
            "<&>",
            &[
                (f64::NAN, 0.5),
                (0.0, f64::INFINITY),
                (0.0, 0.0),
                (1e300, 1.0),
            ],
            f64::NAN,
        );
        check(&settle_time(std::slice::from_ref(&bad), ""));
        let texts = check(&settle_time(&vec![bad; 40], ""));
        assert!(texts.contains(&"and 28 more policies".to_owned()));
    }
}
