//! The window of tolerances: where the loop does not settle, where both loop and frame are served, where the frame is
//! lost.

use super::style::RGBColor;

use super::axes::Panel;
use super::canvas::in_both_layouts;
use super::font::shortened;
use super::form::Layout;
use super::legend::{Key, legend};
use super::picture::Picture;
use super::scale::{Scale, plain, range};
use super::sheet::{Align, MARGIN, Point, Sheet, TextStyle};
use super::style::{
    BLUE, DASHED, INK, MUTED, OUTSIDE, PALE_GREEN, PAPER, RULE, SLATE, SOLID, Shape, size,
};
use halfturn_engine::wording::degrees;

const MOST_LIMITS: usize = 6;

/// Height of the bar and of a line of words.
const BAR: f64 = 54.0;
const LINE: f64 = 17.0;

/// The tolerances that serve, and what limits them.
#[derive(Debug, Clone, PartialEq)]
pub struct ToleranceWindow {
    /// Smallest tolerance with which the loop settles as wished \[deg\]; `None` if none does.
    pub low_deg: Option<f64>,
    /// Largest tolerance that keeps the frame \[deg\]; `None` if it is not known.
    pub high_deg: Option<f64>,
    /// Present tolerance \[deg\].
    pub present_deg: f64,
    /// Advised tolerance \[deg\].
    pub advised_deg: f64,
    /// Limits with their names \[deg\]. Each is drawn as a line.
    pub limits: Vec<(String, f64)>,
}

/// Draws the window on a scale of equal ratios.
pub fn tolerance_window(window: &ToleranceWindow) -> Picture {
    in_both_layouts(|form| layout(window, form))
}

fn layout(window: &ToleranceWindow, form: Layout) -> Sheet {
    let title = "Tolerances that serve";
    let limits: Vec<&(String, f64)> = window
        .limits
        .iter()
        .filter(|(_, at)| drawable(*at))
        .take(MOST_LIMITS)
        .collect();
    let mut sheet = Sheet::new(form.width(960.0), 0.0, title);
    let next = sheet.heading(title, verdict(window));
    let next = entries(&mut sheet, window, next);
    let top = next + 15.0 + LINE * limits.len() as f64;
    sheet.height = top + BAR + 62.0;
    let side = form.of(40.0, 20.0);
    let panel = Panel {
        left: side,
        top,
        right: sheet.width - side,
        bottom: top + BAR,
    };
    let values = limits.iter().map(|(_, at)| *at);
    let own = [window.low_deg, window.high_deg];
    let values = values
        .chain(own.into_iter().flatten())
        .chain([window.present_deg, window.advised_deg])
        .filter(|at| drawable(*at));
    let (low, high) = range(values).unwrap_or((0.1, 1.0));
    let scale = Scale::ratio((low / 2.5, high * 2.5), panel.across());
    let words = zones(&mut sheet, panel, &scale, window);
    let name = "tolerance of the loop (°), logarithmic";
    panel.x_axis(&mut sheet, &scale, Some(name));
    for (at, word) in words {
        let look = TextStyle::of(size::SMALL).align(Align::Middle);
        sheet.text(at, word, look);
    }
    limit_lines(&mut sheet, panel, &scale, window, limits);
    marks(&mut sheet, panel, &scale, window);
    sheet
}

/// A line and a name for every limit. Those towards the middle are lowest, and no line crosses a name.
fn limit_lines(
    sheet: &mut Sheet,
    panel: Panel,
    scale: &Scale,
    window: &ToleranceWindow,
    mut limits: Vec<&(String, f64)>,
) {
    let middle = panel.centre().0;
    limits.sort_by(|a, b| {
        let off = |at: f64| (scale.at(at) - middle).abs();
        off(a.1).total_cmp(&off(b.1))
    });
    let place = |i: usize| panel.top - 14.0 - LINE * i as f64;
    for (i, (_, at)) in limits.iter().enumerate() {
        let x = scale.at(*at);
        // Only the ends of the window divide the bar.
        let ends = [window.low_deg, window.high_deg].contains(&Some(*at));
        let foot = if ends { panel.bottom } else { panel.top };
        sheet.line(&[(x, place(i) - 6.0), (x, foot)], INK, 1.4, DASHED);
    }
    for (i, (name, at)) in limits.iter().enumerate() {
        let (x, y) = (scale.at(*at), place(i));
        let right = x < middle;
        let room = if right {
            panel.right - x
        } else {
            x - panel.left
        };
        let look = TextStyle::of(size::TICK);
        let value = format!(": {}°", degrees(*at));
        let room = room - 6.0 - look.width(&value);
        let text = format!("{}{value}", shortened(name, look.em, look.weight, room));
        let start = if right {
            x + 6.0
        } else {
            x - 6.0 - look.width(&text)
        };
        let behind = [(start, y - 11.0), (start + look.width(&text), y + 4.0)];
        sheet.rectangle(behind[0], behind[1], PAPER);
        sheet.text((start, y), &text, look);
    }
}

/// Whether a scale of ratios can show the value: only above 0.
fn drawable(at_deg: f64) -> bool {
    at_deg > 0.0 && plain(at_deg).is_some()
}

fn verdict(window: &ToleranceWindow) -> &'static str {
    match (window.low_deg, window.high_deg) {
        (None, _) => "none lets the loop settle as wished",
        (Some(low), Some(high)) if low > high => "none serves both loop and frame",
        _ => "",
    }
}

/// The zones of the bar: too small, serving, too large. If the first and the last overlap, nothing serves. Returns
/// their words.
fn zones(
    sheet: &mut Sheet,
    panel: Panel,
    scale: &Scale,
    window: &ToleranceWindow,
) -> Vec<(Point, &'static str)> {
    let (least, most) = scale.ends();
    let low = window.low_deg.filter(|at| drawable(*at)).unwrap_or(most);
    let high = window.high_deg.filter(|at| drawable(*at)).unwrap_or(most);
    let mut placed = Vec::new();
    let mut zone = |from: f64, to: f64, colour: RGBColor, words: &[&'static str]| {
        let (left, right) = (scale.at(from), scale.at(to));
        sheet.rectangle((left, panel.top), (right, panel.bottom), colour);
        let look = TextStyle::of(size::SMALL);
        let fits = words.iter().all(|w| look.width(w) < right - left - 8.0);
        for (i, word) in words.iter().enumerate().filter(|_| fits) {
            let y = panel.top + 16.0 + 14.0 * i as f64;
            placed.push(((0.5 * (left + right), y), *word));
        }
    };
    let small = ["too small:", "does not settle"];
    let large = ["too large:", "loses the frame"];
    zone(least, low.min(high), OUTSIDE, &small);
    if low <= high {
        zone(low, high, PALE_GREEN, &["serves"]);
        zone(high, most, OUTSIDE, &large);
    } else {
        zone(high, low, RULE, &["both at once"]);
        zone(low, most, OUTSIDE, &large);
    }
    placed
}

/// Marks of the present and the advised tolerance.
fn marks(sheet: &mut Sheet, panel: Panel, scale: &Scale, window: &ToleranceWindow) {
    let y = panel.bottom - 13.0;
    for (at, shape, radius, colour, filled) in [
        (window.present_deg, Shape::Square, 8.0, SLATE, false),
        (window.advised_deg, Shape::Disc, 5.0, BLUE, true),
    ] {
        if drawable(at) {
            let x = scale.at(at);
            sheet.line(
                &[(x, panel.bottom), (x, panel.bottom + 8.0)],
                MUTED,
                1.4,
                SOLID,
            );
            sheet.mark(shape, (x, y), radius, colour, filled);
        }
    }
}

fn entries(sheet: &mut Sheet, window: &ToleranceWindow, y: f64) -> f64 {
    let mark = |shape, colour, filled| Key::Mark {
        shape,
        colour,
        filled,
    };
    let present = mark(Shape::Square, SLATE, false);
    let advised = mark(Shape::Disc, BLUE, true);
    let own = [
        (present, "present", window.present_deg),
        (advised, "advised", window.advised_deg),
    ];
    let mut list: Vec<(Key, String)> = own
        .into_iter()
        .filter(|(.., at)| drawable(*at))
        .map(|(key, name, at)| (key, format!("{name}: {}°", degrees(at))))
        .collect();
    list.push((Key::Patch(PALE_GREEN), "serves loop and frame".to_owned()));
    list.push((Key::Patch(OUTSIDE), "does not".to_owned()));
    let right = sheet.width - MARGIN;
    legend(sheet, &list, (MARGIN + 4.0, right), y)
}

#[cfg(test)]
mod tests {
    use super::super::canvas::tests::check;
    use super::*;

    fn window(low: Option<f64>, high: Option<f64>) -> ToleranceWindow {
        ToleranceWindow {
            low_deg: low,
            high_deg: high,
            present_deg: 0.3,
            advised_deg: 0.3,
            limits: vec![
                ("least".to_owned(), low.unwrap_or(0.1)),
                ("most".to_owned(), high.unwrap_or(1.0)),
            ],
        }
    }

    #[test]
    fn the_zones_follow_the_window() {
        let texts = check(&tolerance_window(&window(Some(0.06), Some(1.1))));
        for wanted in [
            "serves",
            "does not settle",
            "loses the frame",
            "present: 0.3°",
            "least: 0.06°",
            "most: 1.1°",
        ] {
            assert!(texts.iter().any(|t| t == wanted), "{wanted}: {texts:?}");
        }
        let none = check(&tolerance_window(&window(Some(2.0), Some(0.5))));
        assert!(none.iter().any(|t| t == "none serves both loop and frame"));
        assert!(none.iter().any(|t| t == "both at once"));
        assert!(!none.iter().any(|t| t == "serves"), "{none:?}");
        let never = check(&tolerance_window(&window(None, None)));
        assert!(
            never
                .iter()
                .any(|t| t == "none lets the loop settle as wished")
        );
        assert!(!never.iter().any(|t| t == "loses the frame"), "{never:?}");
    }

    #[test]
    fn extremes_are_drawn() {
        for at in [0.0, 1e-300, 1e-9, 45.0, 1e300, f64::NAN, f64::INFINITY] {
            let odd = ToleranceWindow {
                present_deg: at,
                advised_deg: at,
                limits: vec![("&<name> ".repeat(99), at); 20],
                ..window(Some(at), Some(at))
            };
            check(&tolerance_window(&odd));
        }
    }
}
