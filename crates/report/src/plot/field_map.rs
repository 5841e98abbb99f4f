//! Field rotation over the sky: a map from the zenith to the horizon, coloured by the rate, with the path of a
//! target.

use super::canvas::picture;
use super::colour_scale::ColourScale;
use super::picture::Picture;
use super::scale::{plain, tick_label};
use super::sheet::{Align, MARGIN, Point, Sheet, TextStyle};
use super::style::{INK, MUTED, PAPER, RULE, SOLID, size};

/// The data of the map.
#[derive(Debug, Clone, PartialEq)]
pub struct FieldMap {
    /// Title.
    pub title: String,
    /// Remark beside the title.
    pub remark: String,
    /// Warning under the title; may be empty.
    pub warning: String,
    /// Number of rings between the horizon and the zenith, and of cells in a ring.
    pub cells: (usize, usize),
    /// Absolute rate in the middle of every cell \[deg/h\]: ring by ring from the horizon up, each from north through
    /// east.
    pub rates: Vec<f64>,
    /// Azimuth \[deg\], altitude \[deg\] and time of the target.
    pub track: Vec<(f64, f64, String)>,
}

/// Radius of the horizon.
const RADIUS: f64 = 250.0;

/// Rates are drawn within these limits, in units of the median rate. At the zenith the rate has no bound, and on a
/// line across the sky it is 0.
const ENDS: (f64, f64) = (1.0 / 40.0, 8.0);

/// Most labels along the track.
const LABELS: usize = 7;

/// Draws the map. North is up and east to the left, as in the sky.
pub fn field_map(map: &FieldMap) -> Picture {
    let mut sheet = Sheet::new(780.0, 640.0, map.title.clone());
    sheet.heading(&map.title, &map.remark);
    let centre = (MARGIN + RADIUS + 30.0, 84.0 + RADIUS);
    let middle = middle(&map.rates);
    let (least, most) = (ENDS.0 * middle, ENDS.1 * middle);
    let capped = |rate: f64| plain(rate).map_or(most, |r| r.clamp(least, most));
    let colours = ColourScale::of(map.rates.iter().map(|r| capped(*r)));
    let (rings, around) = map.cells;
    if let Some(colours) = &colours {
        for (i, rate) in map.rates.iter().enumerate().take(rings * around) {
            let (ring, cell) = (i / around, i % around);
            let height = |r: usize| 90.0 * r as f64 / rings as f64;
            let bearing = |c: usize| 360.0 * c as f64 / around as f64;
            let corners = cell_of(
                centre,
                (height(ring), height(ring + 1)),
                (bearing(cell), bearing(cell + 1)),
            );
            sheet.area(corners, colours.at(capped(*rate)), 1.0);
        }
        bar(
            &mut sheet,
            colours,
            (centre.0 + RADIUS + 70.0, 150.0, 430.0),
        );
    }
    frame(&mut sheet, centre);
    sheet.text(
        (MARGIN, 54.0),
        &map.warning,
        TextStyle::of(size::LABEL).bold(),
    );
    track(&mut sheet, centre, map);
    picture(sheet)
}

/// The median of the rates that can be drawn; 0 without any.
fn middle(rates: &[f64]) -> f64 {
    let mut sorted: Vec<f64> = rates.iter().copied().filter_map(plain).collect();
    sorted.sort_by(f64::total_cmp);
    sorted.get(sorted.len() / 2).copied().unwrap_or(0.0)
}

/// A place of the sky on the map, on which equal steps of altitude are equal.
fn place(centre: Point, azimuth_deg: f64, altitude_deg: f64) -> Point {
    let radius = RADIUS * (90.0 - altitude_deg) / 90.0;
    let (sin, cos) = libm::sincos(azimuth_deg.to_radians());
    (centre.0 - radius * sin, centre.1 - radius * cos)
}

/// The corners of a cell, a little over its edges, so that no paper shows.
fn cell_of(centre: Point, (low, high): (f64, f64), (from, to): (f64, f64)) -> Vec<Point> {
    let over = 0.15;
    let steps = 3;
    let azimuth = |i: usize| from - over + (to - from + 2.0 * over) * i as f64 / steps as f64;
    let outer = (0..=steps).map(|i| place(centre, azimuth(i), (low - over).max(0.0)));
    let inner = (0..=steps)
        .rev()
        .map(|i| place(centre, azimuth(i), (high + over).min(90.0)));
    outer.chain(inner).collect()
}

fn frame(sheet: &mut Sheet, centre: Point) {
    for altitude in [0.0, 30.0, 60.0] {
        let circle: Vec<Point> = (0..=120)
            .map(|i| place(centre, 3.0 * f64::from(i), altitude))
            .collect();
        sheet.line(
            &circle,
            if altitude == 0.0 { INK } else { PAPER },
            1.2,
            SOLID,
        );
        let look = TextStyle::of(size::SMALL)
            .bold()
            .align(Align::Middle)
            .colour(PAPER);
        let at = place(centre, 225.0, altitude + 4.0);
        if altitude > 0.0 {
            sheet.text(
                (at.0, at.1 + 4.0),
                &format!("{}°", tick_label(altitude)),
                look,
            );
        }
    }
    for (azimuth, name) in [(0.0, "N"), (90.0, "E"), (180.0, "S"), (270.0, "W")] {
        let at = place(centre, azimuth, -6.0);
        let look = TextStyle::of(size::LABEL).bold().align(Align::Middle);
        sheet.text((at.0, at.1 + look.drop()), name, look);
    }
    let note = TextStyle::of(size::SMALL)
        .colour(MUTED)
        .align(Align::Middle);
    let below = centre.1 + RADIUS + 44.0;
    sheet.text(
        (centre.0, below),
        "as one sees the sky: east is to the left of north",
        note,
    );
}

/// The path of the target over the horizon, with times.
fn track(sheet: &mut Sheet, centre: Point, map: &FieldMap) {
    let seen: Vec<&(f64, f64, String)> = map
        .track
        .iter()
        .filter(|(azimuth, altitude, _)| azimuth.is_finite() && (0.0..=90.0).contains(altitude))
        .collect();
    let points: Vec<Point> = seen.iter().map(|(a, h, _)| place(centre, *a, *h)).collect();
    let every = points.len().div_ceil(LABELS).max(1);
    let mut marks: Vec<usize> = (0..points.len()).step_by(every).collect();
    // The path ends with a mark, which replaces one just before.
    let last = points.len().saturating_sub(1);
    if let Some(end) = marks.pop() {
        if last - end > every / 2 {
            marks.push(end);
        }
        marks.push(last);
    }
    let look = TextStyle::of(size::TICK).bold();
    // On the side away from the zenith, where no label lies yet; the track lies on top. The last time is always
    // there.
    let mut taken: Vec<Point> = Vec::new();
    for i in marks.iter().rev() {
        let (x, y) = points[*i];
        let text = &seen[*i].2;
        let half = 0.5 * look.width(text) + 3.0;
        let (dx, dy) = (x - centre.0, y - centre.1);
        let away = libm::hypot(dx, dy).max(1.0);
        let (x, y) = (x + (half + 10.0) * dx / away, y + 22.0 * dy / away);
        let free = |(ox, oy): &Point| (x - ox).abs() > 2.0 * half || (y - oy).abs() > 17.0;
        if !taken.iter().all(free) {
            continue;
        }
        taken.push((x, y));
        sheet.rectangle((x - half, y - 8.0), (x + half, y + 8.0), PAPER);
        sheet.text((x, y + look.drop()), text, look.align(Align::Middle));
    }
    sheet.line(&points, PAPER, 6.0, SOLID);
    sheet.line(&points, INK, 2.6, SOLID);
    for i in &marks {
        sheet.disc(points[*i], 5.4, PAPER);
        sheet.disc(points[*i], 4.0, INK);
    }
}

/// The colours with their rates.
fn bar(sheet: &mut Sheet, colours: &ColourScale, (left, top, bottom): (f64, f64, f64)) {
    let list = colours.colours();
    let step = (bottom - top) / list.len() as f64;
    for (i, colour) in list.iter().enumerate() {
        let low = bottom - step * i as f64;
        sheet.rectangle((left, low - step - 0.5), (left + 18.0, low), *colour);
    }
    let scale = colours.scale(1.0, (bottom, top));
    let look = TextStyle::of(size::TICK).colour(MUTED);
    for tick in scale.ticks(6) {
        let y = scale.at(tick);
        sheet.line(&[(left + 18.0, y), (left + 23.0, y)], RULE, 1.0, SOLID);
        sheet.text((left + 28.0, y + look.drop()), &tick_label(tick), look);
    }
    let name = TextStyle::of(size::LABEL);
    sheet.text((left - 4.0, top - 18.0), "rate (°/h)", name);
}

#[cfg(test)]
mod tests {
    use super::super::canvas::tests::check;
    use super::*;

    #[test]
    fn sky_track_and_extremes_are_drawn() {
        let mut map = FieldMap {
            title: "Field rotation".to_owned(),
            remark: "47 N".to_owned(),
            warning: "stuck".to_owned(),
            cells: (3, 8),
            rates: (0..24).map(|i| f64::from(i) * 2.0).collect(),
            track: vec![
                (90.0, 30.0, "20:00".to_owned()),
                (180.0, 70.0, "23:00".to_owned()),
            ],
        };
        let texts = check(&field_map(&map));
        for wanted in ["N", "E", "20:00", "23:00", "rate (°/h)", "20", "stuck"] {
            assert!(texts.iter().any(|t| t == wanted), "{wanted}: {texts:?}");
        }
        map.rates = vec![f64::INFINITY; 24];
        map.track = vec![
            (f64::NAN, 0.0, String::new()),
            (0.0, -5.0, "never".to_owned()),
        ];
        let texts = check(&field_map(&map));
        assert!(!texts.iter().any(|t| t == "never"));
        map.rates = vec![];
        check(&field_map(&map));
    }
}
