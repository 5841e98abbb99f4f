//! A night over time: how high the targets stand, and the readings of the rotator.

use super::style::RGBColor;

use super::axes::Panel;
use super::canvas::picture;
use super::font::shortened;
use super::legend::{Key, legend};
use super::night_readings::{flip_line, readings_of};
use super::night_shown::{NightSheet, TwilightEnds};
use super::picture::Picture;
use super::scale::{Scale, range};
use super::sheet::{Align, MARGIN, Sheet, TextStyle};
use super::state::keys;
use super::style::{
    BLUE, DASHED, DOTTED, FAINT_BLUE, GRID, INK, KEEP_OUT, MUTED, RULE, SLATE, SOLID, size,
};

/// The shade of one kind of twilight.
const TWILIGHT: RGBColor = RGBColor(248, 236, 219);

const MOST_NAMES: usize = 40;

/// Draws a night.
pub fn night_timeline(night: &NightSheet) -> Picture {
    let named = night.bars.len().min(MOST_NAMES);
    let rows = named.div_ceil(3);
    let length_h = night.bars.iter().map(|b| b.to_h).fold(1.0, f64::max);
    let mut sheet = Sheet::new(960.0, 0.0, night.title.clone());
    sheet.heading(&night.title, &night.remark);
    let top = entries(&mut sheet, night, length_h) + 34.0;
    let (upper, lower) = (230.0, 250.0);
    let second = top + upper + 62.0;
    let list = second + lower + 66.0;
    sheet.height = list + 20.0 * rows as f64 + 14.0;
    let (left, right) = (74.0, sheet.width - MARGIN - 10.0);
    let time = Scale::even((0.0, length_h), (left, right));
    let heights = Panel {
        left,
        top,
        right,
        bottom: top + upper,
    };
    let readings = Panel {
        left,
        top: second,
        right,
        bottom: second + lower,
    };
    for panel in [&heights, &readings] {
        twilight(&mut sheet, panel, &time, night, length_h);
    }
    for (panel, labels) in [(&heights, false), (&readings, true)] {
        clock(&mut sheet, panel, &time, night, labels);
    }
    altitudes(&mut sheet, &heights, &time, night);
    readings_of(&mut sheet, &readings, &time, night);
    names(&mut sheet, night, named, list);
    picture(sheet)
}

/// Draws the legend. Returns the middle line of the row after it.
fn entries(sheet: &mut Sheet, night: &NightSheet, length_h: f64) -> f64 {
    let line = |colour, dash| Key::Line {
        colour,
        width: 2.4,
        dash,
        shape: None,
    };
    let mut list = vec![
        (line(BLUE, SOLID), "planned reading"),
        (Key::Patch(SLATE), "mean time of a loop"),
        (Key::Patch(FAINT_BLUE), "allowed arc"),
    ];
    let light = |(_, dusk, dawn): &TwilightEnds| {
        dusk.is_some_and(|h| h > 0.0) || dawn.is_some_and(|h| h < length_h)
    };
    if night.twilight.iter().any(light) {
        list.push((Key::Patch(TWILIGHT), "twilight"));
    }
    if night.bars.iter().any(|b| b.after_flip) {
        list.push((line(INK, DASHED), "meridian flip"));
    }
    if night.bars.iter().any(|b| !b.keep_outs.is_empty()) {
        list.push((Key::Hatched(KEEP_OUT), "keep-out that counts"));
    }
    if night.bars.iter().any(|b| b.not_usable) {
        list.push((line(MUTED, DOTTED), "too low, or not dark"));
    }
    let mut list: Vec<_> = list.into_iter().map(|(k, t)| (k, t.to_owned())).collect();
    list.extend(keys(night.bars.iter().map(|b| b.state)));
    legend(sheet, &list, (MARGIN + 4.0, sheet.width - MARGIN), 58.0)
}

/// The parts of the night that are not dark, in a stronger shade for a brighter sky.
fn twilight(sheet: &mut Sheet, panel: &Panel, time: &Scale, night: &NightSheet, length_h: f64) {
    for (_, dusk, dawn) in &night.twilight {
        let mut shade = |from: f64, to: f64| {
            if to > 0.0 && from < length_h && to > from {
                let corners = vec![
                    (time.at(from), panel.top),
                    (time.at(to), panel.top),
                    (time.at(to), panel.bottom),
                    (time.at(from), panel.bottom),
                ];
                sheet.area(corners, SLATE, 0.12);
            }
        };
        if let Some(dusk) = dusk {
            shade(0.0, *dusk);
        }
        if let Some(dawn) = dawn {
            shade(*dawn, length_h);
        }
    }
}

fn altitudes(sheet: &mut Sheet, panel: &Panel, time: &Scale, night: &NightSheet) {
    let lowest = night
        .bars
        .iter()
        .flat_map(|b| b.altitudes.iter().map(|p| p.1));
    let low = range(lowest).map_or(0.0, |(low, _)| low.min(0.0));
    let up = Scale::angle((low, 90.0), panel.up());
    panel.y_axis(sheet, &up, 7, "altitude (°)");
    let least = up.at(night.least_altitude_deg.max(low));
    sheet.line(
        &[(panel.left, least), (panel.right, least)],
        RULE,
        1.0,
        SOLID,
    );
    for (i, bar) in night.bars.iter().enumerate() {
        let points: Vec<_> = bar
            .altitudes
            .iter()
            .map(|(h, a)| (time.at(*h), up.at(*a)))
            .collect();
        let (colour, dash) = if bar.not_usable {
            (MUTED, DOTTED)
        } else {
            (BLUE, SOLID)
        };
        sheet.line(&points, colour, 3.0, dash);
        flip_line(sheet, panel, time, bar);
        let middle = 0.5 * (time.at(bar.from_h) + time.at(bar.to_h));
        let above = points.iter().map(|p| p.1).fold(panel.bottom, f64::min) - 8.0;
        // Without room above, it stands below the middle of the line.
        let below = points.get(points.len() / 2).map_or(above, |p| p.1) + 22.0;
        let beside = if above < panel.top + 10.0 {
            below
        } else {
            above
        };
        let look = TextStyle::of(size::TICK).bold().align(Align::Middle);
        sheet.text((middle, beside), &(i + 1).to_string(), look);
    }
}

/// Whole hours of universal time under a panel.
fn clock(sheet: &mut Sheet, panel: &Panel, time: &Scale, night: &NightSheet, labels: bool) {
    let look = TextStyle::of(size::TICK).align(Align::Middle).colour(MUTED);
    let (from, to) = time.ends();
    let every = if to - from > 12.0 { 2.0 } else { 1.0 };
    let mut hour = ((night.first_hour + from) / every).ceil() * every;
    while hour <= night.first_hour + to {
        let x = time.at(hour - night.first_hour);
        sheet.line(
            &[(x, panel.bottom), (x, panel.bottom + 5.0)],
            RULE,
            1.0,
            SOLID,
        );
        sheet.line(&[(x, panel.top), (x, panel.bottom)], GRID, 0.6, SOLID);
        if labels {
            let text = format!("{:02.0}:00", hour.rem_euclid(24.0));
            sheet.text((x, panel.bottom + 19.0), &text, look);
        }
        hour += every;
    }
    let ends = [(panel.left, panel.bottom), (panel.right, panel.bottom)];
    sheet.line(&ends, RULE, 1.0, SOLID);
    if labels {
        let look = TextStyle::of(size::LABEL).align(Align::Middle);
        sheet.text(
            (panel.centre().0, panel.bottom + 40.0),
            "universal time",
            look,
        );
    }
}

/// The legend of the numbers of targets.
fn names(sheet: &mut Sheet, night: &NightSheet, named: usize, top: f64) {
    let look = TextStyle::of(size::TICK);
    let width = (sheet.width - 2.0 * MARGIN) / 3.0;
    for (i, bar) in night.bars.iter().take(named).enumerate() {
        let flip = if bar.after_flip {
            ", after the flip"
        } else {
            ""
        };
        let text = format!("{}  {}{flip}", i + 1, bar.name);
        let text = shortened(&text, look.em, look.weight, width - 12.0);
        let at = (
            MARGIN + width * (i % 3) as f64,
            top + 20.0 * (i / 3) as f64 + look.drop(),
        );
        sheet.text(at, &text, look);
    }
}

#[cfg(test)]
mod tests {
    use super::super::canvas::tests::check;
    use super::super::night_shown::{NightBar, NightCourse};
    use super::*;
    use halfturn_engine::verdict::TargetState;

    fn bar(name: &str, from_h: f64, reading_deg: f64) -> NightBar {
        NightBar {
            name: name.to_owned(),
            from_h,
            to_h: from_h + 1.0,
            altitudes: vec![(from_h, 30.0), (from_h + 1.0, 45.0)],
            after_flip: from_h > 0.5,
            reading_deg,
            loop_h: 0.01,
            state: TargetState::Hunts,
            not_usable: false,
            keep_outs: vec![(200.0, 250.0)],
        }
    }

    fn night(bars: Vec<NightBar>) -> NightSheet {
        NightSheet {
            title: "Night".to_owned(),
            remark: "a rig".to_owned(),
            bars,
            twilight: vec![("civil", Some(-0.5), Some(1.5)), ("nautical", None, None)],
            first_hour: 23.2,
            course: NightCourse {
                park_deg: 90.0,
                arc_deg: (0.0, 180.0),
                band_deg: 0.0,
                limit_deg: 100.0,
            },
            least_altitude_deg: 0.0,
        }
    }

    #[test]
    fn targets_hours_and_extremes_are_drawn() {
        let mut struck = bar("two", 1.0, 230.0);
        (struck.state, struck.not_usable) = (TargetState::TurnsThroughKeepOut, true);
        let texts = check(&night_timeline(&night(vec![bar("one", 0.0, 20.0), struck])));
        for wanted in [
            "1  one",
            "2  two, after the flip",
            "00:00",
            "01:00",
            "meridian flip",
            "hunts",
            "turns through a keep-out",
            "too low, or not dark",
        ] {
            assert!(texts.iter().any(|t| t == wanted), "{wanted}: {texts:?}");
        }
        check(&night_timeline(&night(vec![])));
        let mut odd = bar(&"long ".repeat(100), 0.0, 1e300);
        odd.altitudes = vec![(f64::NAN, f64::INFINITY)];
        odd.loop_h = f64::INFINITY;
        check(&night_timeline(&night(vec![odd; 90])));
    }
}
