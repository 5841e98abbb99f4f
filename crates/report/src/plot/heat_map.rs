//! Hunting over two varied values: a map of coloured cells for every rule.

use super::axes::Panel;
use super::canvas::picture;
use super::colour_scale::{ColourScale, NONE};
use super::font::shortened;
use super::picture::Picture;
use super::scale::{Scale, range, tick_label};
use super::sheet::{Align, MARGIN, Sheet, TextStyle};
use super::style::{INK, MUTED, RULE, SOLID, size};
use super::varied::AxisName;
use halfturn_engine::verdict::Limits;
use halfturn_engine::wording::limit;

const MOST_MAPS: usize = 8;

/// Distance of the first row of maps from the top.
const FIRST_TOP: f64 = 108.0;

/// An empty cell with at least this side has a dot.
const DOTTED_FROM: f64 = 9.0;

/// Radius of that dot.
const DOT: f64 = 1.5;

/// Widest title. The rest of the line is for the remark.
const WIDEST_TITLE: f64 = 640.0;

/// Cells reach this far under their neighbours, so that no paper shows between them.
const OVERLAP: f64 = 0.5;

/// The rates of one rule over a grid.
#[derive(Debug, Clone, PartialEq)]
pub struct HeatMap {
    /// Name of the map.
    pub label: String,
    /// Share of runs that hunt: for each value of the vertical axis, every value of the horizontal one.
    pub rates: Vec<f64>,
}

/// One axis of the maps.
#[derive(Debug, Clone, PartialEq)]
pub struct HeatAxis {
    /// Its name.
    pub name: AxisName,
    /// Its values, ascending or descending.
    pub values: Vec<f64>,
}

impl HeatAxis {
    /// The scale, and for each value the edges of its cells on the sheet, smaller edge first.
    fn laid(&self, px: (f64, f64)) -> (Scale, Vec<(f64, f64)>) {
        let count = self.values.len();
        let (low, high) = range(self.values.iter().copied()).unwrap_or((0.0, 1.0));
        let half = 0.5 * (high - low) / count.saturating_sub(1).max(1) as f64;
        let ends = (low - half, high + half);
        let scale = if self.name.whole {
            Scale::whole(ends, px)
        } else {
            Scale::even(ends, px)
        };
        let edge = |i: usize| {
            let (first, last) = (self.values[0], self.values[count - 1]);
            let outer = if first <= last { -half } else { half };
            let value = if i == 0 {
                first + outer
            } else if i == count {
                last - outer
            } else {
                0.5 * (self.values[i - 1] + self.values[i])
            };
            scale.at(value)
        };
        let edges = if count == 1 {
            vec![px]
        } else {
            (0..count).map(|i| (edge(i), edge(i + 1))).collect()
        };
        let ordered = |(a, b): (f64, f64)| (a.min(b), a.max(b));
        (scale, edges.into_iter().map(ordered).collect())
    }
}

/// Draws a map for every rule, all in the same colours. `remark` stands beside the title.
pub fn heat_maps(across: &HeatAxis, up: &HeatAxis, maps: &[HeatMap], remark: &str) -> Picture {
    let shown = &maps[..maps.len().min(MOST_MAPS)];
    let columns = shown.len().clamp(1, 2);
    let rows = shown.len().div_ceil(columns).max(1);
    let (height, gap) = if rows == 1 {
        (360.0, 0.0)
    } else {
        (232.0, 58.0)
    };
    let bottom = FIRST_TOP + rows as f64 * (height + gap) - gap;
    let title = title(across, up);
    let mut sheet = Sheet::new(960.0, bottom + 62.0, title.clone());
    sheet.heading(&title, remark);
    let colours = ColourScale::of(shown.iter().flat_map(|m| m.rates.iter().copied()));

    let mut dots = false;
    let (left, right, between) = (74.0, 830.0, 62.0);
    let width = (right - left - between * (columns - 1) as f64) / columns as f64;
    for (i, map) in shown.iter().enumerate() {
        let (row, column) = (i / columns, i % columns);
        let panel_left = left + column as f64 * (width + between);
        let top = FIRST_TOP + row as f64 * (height + gap);
        let panel = Panel {
            left: panel_left,
            top,
            right: panel_left + width,
            bottom: top + height,
        };
        let look = TextStyle::of(size::SUBTITLE).bold();
        let label = shortened(&map.label, look.em, look.weight, width);
        sheet.text((panel.left - 46.0, top - 30.0), &label, look);
        let (x_scale, x_edges) = across.laid(panel.across());
        let (y_scale, y_edges) = up.laid(panel.up());
        let below = i + columns < shown.len();
        let name = across.name.shown();
        panel.x_axis(&mut sheet, &x_scale, (!below).then_some(&name));
        let name = if column == 0 {
            up.name.shown()
        } else {
            String::new()
        };
        panel.y_axis(&mut sheet, &y_scale, 6, &name);
        cells(&mut sheet, panel, map, colours.as_ref(), &x_edges, &y_edges);
        if map.rates.iter().all(|rate| *rate == 0.0) {
            sheet.note(panel.centre(), "no run hunts in any cell");
        } else {
            contour(&mut sheet, map, &x_edges, &y_edges);
        }
        let first = x_edges.first().zip(y_edges.first());
        dots = first.is_some_and(|(x, y)| dotted(*x, *y));
    }
    let name = if colours.as_ref().is_some_and(ColourScale::logarithmic) {
        "runs that hunt (%), logarithmic"
    } else {
        "runs that hunt (%)"
    };
    let look = TextStyle::of(size::LABEL).align(Align::Right);
    sheet.text((sheet.width - MARGIN, FIRST_TOP - 30.0), name, look);
    if let Some(colours) = &colours {
        bar(&mut sheet, colours, (FIRST_TOP, bottom - 38.0));
    }
    if shown.is_empty() {
        sheet.note((480.0, 0.5 * (FIRST_TOP + bottom)), "no rule was run");
    } else {
        none_key(&mut sheet, bottom - 8.0, dots);
        limit_key(&mut sheet, bottom + 20.0);
    }
    picture(sheet)
}

fn title(across: &HeatAxis, up: &HeatAxis) -> String {
    let full = format!(
        "Hunting over {} and {}",
        across.name.short(),
        up.name.short()
    );
    if TextStyle::of(size::TITLE).bold().width(&full) <= WIDEST_TITLE {
        full
    } else {
        "Hunting over two settings".to_owned() // the axes name them
    }
}

/// The cells of a map. Neighbours of one colour make one shape, and maps of many cells stay small.
fn cells(
    sheet: &mut Sheet,
    panel: Panel,
    map: &HeatMap,
    colours: Option<&ColourScale>,
    x_edges: &[(f64, f64)],
    y_edges: &[(f64, f64)],
) {
    let rate = |i: usize, j: usize| map.rates.get(i * y_edges.len() + j).copied();
    let colour = |i: usize, j: usize| {
        let rate = rate(i, j).filter(|r| r.is_finite())?;
        Some(colours.map_or(NONE, |c| c.at(rate)))
    };
    for (i, &(x0, x1)) in x_edges.iter().enumerate() {
        let mut j = 0;
        while j < y_edges.len() {
            let own = colour(i, j);
            let same = (j..y_edges.len())
                .take_while(|k| colour(i, *k) == own)
                .count();
            let (first, last) = (y_edges[j], y_edges[j + same - 1]);
            let (y0, y1) = (first.0.min(last.0), first.1.max(last.1));
            if let Some(own) = own {
                let corner = (
                    (x1 + OVERLAP).min(panel.right),
                    (y1 + OVERLAP).min(panel.bottom),
                );
                sheet.rectangle((x0, y0), corner, own);
            }
            j += same;
        }
    }
    for (i, &(x0, x1)) in x_edges.iter().enumerate() {
        for (j, &(y0, y1)) in y_edges.iter().enumerate() {
            if dotted((x0, x1), (y0, y1)) && rate(i, j) == Some(0.0) {
                sheet.disc((0.5 * (x0 + x1), 0.5 * (y0 + y1)), DOT, RULE);
            }
        }
    }
    let corners = [
        (panel.left, panel.top),
        (panel.right, panel.top),
        (panel.right, panel.bottom),
        (panel.left, panel.bottom),
        (panel.left, panel.top),
    ];
    sheet.line(&corners, RULE, 1.0, SOLID);
}

/// The line around the cells in which more runs hunt than a safe target may have.
fn contour(sheet: &mut Sheet, map: &HeatMap, x_edges: &[(f64, f64)], y_edges: &[(f64, f64)]) {
    let limit = Limits::default().max_fault;
    let beyond = |i: usize, j: usize| {
        let rate = map.rates.get(i * y_edges.len() + j);
        rate.is_some_and(|rate| *rate > limit)
    };
    // Neighbours lie at either end of an edge, whichever way an axis runs.
    let between = |a: (f64, f64), b: (f64, f64)| if a.0 < b.0 { a.1 } else { a.0 };
    for (i, x) in x_edges.iter().enumerate() {
        for (j, y) in y_edges.iter().enumerate() {
            if let Some(next) = x_edges
                .get(i + 1)
                .filter(|_| beyond(i, j) != beyond(i + 1, j))
            {
                let at = between(*x, *next);
                sheet.line(&[(at, y.0), (at, y.1)], INK, 1.6, SOLID);
            }
            if let Some(next) = y_edges
                .get(j + 1)
                .filter(|_| beyond(i, j) != beyond(i, j + 1))
            {
                let at = between(*y, *next);
                sheet.line(&[(x.0, at), (x.1, at)], INK, 1.6, SOLID);
            }
        }
    }
}

/// The legend of the line around cells.
fn limit_key(sheet: &mut Sheet, y: f64) {
    let (left, width) = BAR;
    sheet.line(&[(left, y), (left + width, y)], INK, 1.6, SOLID);
    let look = TextStyle::of(size::TICK).colour(MUTED);
    let text = limit(Limits::default().max_fault);
    sheet.text((left + width + 9.0, y + look.drop()), &text, look);
}

/// Whether a cell is large enough for a dot.
fn dotted((x0, x1): (f64, f64), (y0, y1): (f64, f64)) -> bool {
    x1 - x0 >= DOTTED_FROM && y1 - y0 >= DOTTED_FROM
}

/// Left edge and width of the colour bar.
const BAR: (f64, f64) = (862.0, 18.0);

/// The colour bar beside the maps.
fn bar(sheet: &mut Sheet, colours: &ColourScale, (top, end): (f64, f64)) {
    let left = BAR.0;
    let part = (end - top) / colours.colours().len() as f64;
    for (i, colour) in colours.colours().iter().enumerate() {
        let low = end - part * i as f64;
        let under = (low + OVERLAP).min(end);
        sheet.rectangle((left, low - part), (left + BAR.1, under), *colour);
    }
    let look = TextStyle::of(size::TICK).colour(MUTED);
    let scale = colours.scale(100.0, (end, top));
    for tick in scale.ticks(8) {
        let (x, y) = (left + BAR.1, scale.at(tick));
        sheet.line(&[(x, y), (x + 5.0, y)], RULE, 1.0, SOLID);
        sheet.text((x + 9.0, y + look.drop()), &tick_label(tick), look);
    }
}

/// The legend of a cell without hunting, on this middle line.
fn none_key(sheet: &mut Sheet, y: f64, dot: bool) {
    let (left, width) = BAR;
    sheet.rectangle((left, y - 8.0), (left + width, y + 8.0), NONE);
    if dot {
        sheet.disc((left + 0.5 * width, y), DOT, RULE);
    }
    let look = TextStyle::of(size::TICK).colour(MUTED);
    sheet.text((left + width + 9.0, y + look.drop()), "none", look);
}

#[cfg(test)]
mod tests {
    use super::super::canvas::tests::check;
    use super::*;

    fn axis(name: &str, values: &[f64], whole: bool) -> HeatAxis {
        HeatAxis {
            name: AxisName {
                name: name.to_owned(),
                unit: if whole { "" } else { "deg" }.to_owned(),
                whole,
            },
            values: values.to_vec(),
        }
    }

    fn map(label: &str, rates: &[f64]) -> HeatMap {
        HeatMap {
            label: label.to_owned(),
            rates: rates.to_vec(),
        }
    }

    #[test]
    fn maps_axes_and_colours_are_named() {
        let (x, y) = (
            axis("target", &[-10.0, 0.0, 10.0], false),
            axis("loop.max_solves", &[1.0, 2.0], true),
        );
        let rates = [0.0, 0.1, 0.2, 0.0, 0.3, 0.4];
        let four = ["a", "b", "c", "d"].map(|l| map(l, &rates));
        for count in 1..=4 {
            let texts = check(&heat_maps(&x, &y, &four[..count], "1 000 runs each"));
            for wanted in [
                "Hunting over target and loop.max_solves",
                "1 000 runs each",
                "a",
                "target (°)",
                "loop.max_solves",
                "runs that hunt (%)",
                "none",
            ] {
                assert!(texts.iter().any(|t| t == wanted), "{wanted}: {texts:?}");
            }
        }
        let texts = check(&heat_maps(&y, &y, &four[..1], ""));
        assert!(!texts.iter().any(|t| t == "1.5"), "{texts:?}");
        let wide = map("wide", &[1e-4, 0.5, 0.0, 0.0, 0.0, 0.0]);
        let texts = check(&heat_maps(&x, &y, &[wide], ""));
        assert!(texts.contains(&"runs that hunt (%), logarithmic".to_owned()));
    }

    #[test]
    fn every_cell_lies_where_its_values_are() {
        for values in [[1.0, 2.0, 3.0], [3.0, 2.0, 1.0]] {
            let (scale, edges) = axis("x", &values, false).laid((100.0, 400.0));
            for (value, (low, high)) in values.iter().zip(&edges) {
                assert!(
                    (0.5 * (low + high) - scale.at(*value)).abs() < 1e-9,
                    "{values:?}"
                );
                assert!((high - low - 100.0).abs() < 1e-9, "{values:?}");
            }
        }
        let (_, edges) = axis("x", &[7.0], false).laid((400.0, 100.0));
        assert_eq!(edges, [(100.0, 400.0)]);
    }

    #[test]
    fn extremes_are_drawn() {
        let one = axis("x", &[5.0], true);
        check(&heat_maps(&one, &one, &[map("none at all", &[0.0])], ""));
        check(&heat_maps(
            &one,
            &one,
            &[map(&"<long> ".repeat(99), &[1.0])],
            "",
        ));
        check(&heat_maps(&one, &one, &[], ""));
        let bad = map("bad", &[f64::NAN, f64::INFINITY, -1.0]);
        check(&heat_maps(
            &axis("x", &[0.0, 1.0], false),
            &one,
            &vec![bad; 30],
            "",
        ));
        let many: Vec<f64> = (0..200).map(f64::from).collect();
        let wide = axis("x", &many, false);
        let rates: Vec<f64> = (0..40_000).map(|i| f64::from(i % 7) / 7.0).collect();
        check(&heat_maps(&wide, &wide, &[map("many", &rates)], ""));
    }
}
