//! Sheet -> SVG and PNG: one painting function for both backends of plotters.

use plotters::coord::Shift;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::bearing::left_bearing_em;
use super::font::{self, HEIGHT_PER_EM, Weight, text_width};
use super::form::Layout;
use super::picture::{Picture, PlotError};
use super::sheet::{Align, Item, Point, Sheet, printable};
use super::strokes::joined;
use super::style::PAPER;

/// Backend units in one unit of the sheet. Backends take whole numbers only.
const FINE: f64 = 4.0;

/// Units of the bitmap backend in one pixel of the PNG. The backend draws hard edges, and averaging softens them.
const SOFT: usize = 2;

/// How a backend differs from the other.
#[derive(Clone, Copy)]
struct BackendQuirks {
    /// Font size of the backend per em.
    size_per_em: f64,
    /// Anchor with a known distance from the base line.
    anchor: VPos,
    /// Anchor below the base line, in ems.
    anchor_below_em: f64,
    /// Whether lines are drawn part by part and texts letter by letter.
    by_parts: bool,
}

/// The SVG backend divides sizes by 1.24. Its shift of the anchor is removed from the text later.
const SVG: BackendQuirks = BackendQuirks {
    size_per_em: 1.24,
    anchor: VPos::Bottom,
    anchor_below_em: 0.0,
    by_parts: false,
};

/// The bitmap backend puts the base line half a font height under the top anchor. Its sloping lines are thin, its
/// bends have spikes, and its letters stand unevenly.
const BITMAP: BackendQuirks = BackendQuirks {
    size_per_em: HEIGHT_PER_EM,
    anchor: VPos::Top,
    anchor_below_em: -0.5 * HEIGHT_PER_EM,
    by_parts: true,
};

/// Paints a sheet as SVG and as PNG.
pub(super) fn picture(sheet: &Sheet) -> Result<Picture, PlotError> {
    font::ready()?;
    Ok(Picture {
        svg: svg(sheet)?,
        narrow: None,
        png: png(sheet)?,
    })
}

/// Paints a picture that has a narrow form too.
pub(super) fn in_both_layouts(layout: impl Fn(Layout) -> Sheet) -> Result<Picture, PlotError> {
    let wide = picture(&layout(Layout::Wide))?;
    let narrow = Some(svg(&layout(Layout::Narrow))?);
    Ok(Picture { narrow, ..wide })
}

fn fine_size(sheet: &Sheet) -> (u32, u32) {
    let fine = |units: f64| (units.ceil() * FINE) as u32;
    (fine(sheet.width), fine(sheet.height))
}

fn svg(sheet: &Sheet) -> Result<String, PlotError> {
    let mut text = String::new();
    let (width, height) = fine_size(sheet);
    {
        let area = SVGBackend::with_string(&mut text, (width, height)).into_drawing_area();
        paint(&area, sheet, SVG)?;
    }
    let inside = text
        .split_once('>')
        .map_or("", |(_, rest)| rest.trim().trim_end_matches("</svg>"));
    // The texts of a picture hold no plain quotes, and only attributes match.
    let inside = inside
        .replace(" dy=\"-0.5ex\"", "")
        .replace(" font-family=\"sans-serif\"", "")
        .replace(" opacity=\"1\"", "")
        .replace(" text-anchor=\"start\"", "")
        .replace(">\n", ">")
        .replace("\n</text>", "</text>")
        .replace("/><", "/>\n<")
        .replace("</text><", "</text>\n<");
    let title = printable(&sheet.title)
        .replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;");
    Ok(format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {} {}\" role=\"img\" \
         font-family=\"'DejaVu Sans', sans-serif\" stroke-linejoin=\"round\">\n\
         <title>{title}</title>\n<g transform=\"scale({})\">\n{}\n</g>\n</svg>\n",
        f64::from(width) / FINE,
        f64::from(height) / FINE,
        1.0 / FINE,
        joined(inside.trim()).trim_end()
    ))
}

fn png(sheet: &Sheet) -> Result<Vec<u8>, PlotError> {
    let (width, height) = fine_size(sheet);
    let mut fine = vec![0; 3 * width as usize * height as usize];
    {
        let area = BitMapBackend::with_buffer(&mut fine, (width, height)).into_drawing_area();
        paint(&area, sheet, BITMAP)?;
    }
    let small = averaged(&fine, width as usize, height as usize);
    encoded(&small, (width / SOFT as u32, height / SOFT as u32))
}

/// The means of squares of `SOFT` by `SOFT` pixels, three bytes each.
fn averaged(fine: &[u8], width: usize, height: usize) -> Vec<u8> {
    let (columns, rows) = (width / SOFT, height / SOFT);
    let mut out = Vec::with_capacity(3 * columns * rows);
    for row in 0..rows {
        for column in 0..columns {
            for channel in 0..3 {
                let mut sum = 0_u32;
                for y in SOFT * row..SOFT * (row + 1) {
                    for x in SOFT * column..SOFT * (column + 1) {
                        sum += u32::from(fine[3 * (y * width + x) + channel]);
                    }
                }
                let count = (SOFT * SOFT) as u32;
                out.push(((sum + count / 2) / count) as u8);
            }
        }
    }
    out
}

/// RGB pixels as a PNG file.
fn encoded(pixels: &[u8], (width, height): (u32, u32)) -> Result<Vec<u8>, PlotError> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, width, height);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    let mut writer = encoder.write_header()?;
    writer.write_image_data(pixels)?;
    writer.finish()?;
    Ok(bytes)
}

fn failed(error: impl std::fmt::Display) -> PlotError {
    PlotError::Drawing(error.to_string())
}

fn paint<DB: DrawingBackend>(
    area: &DrawingArea<DB, Shift>,
    sheet: &Sheet,
    quirks: BackendQuirks,
) -> Result<(), PlotError> {
    area.fill(&PAPER).map_err(failed)?;
    // Points far outside are moved near the sheet, where whole numbers do not overflow.
    let reach = 4.0 * sheet.width.max(sheet.height);
    let fine = |v: f64| (v.clamp(-reach, reach) * FINE).round() as i32;
    let place = |(x, y): Point| (fine(x), fine(y));
    for item in &sheet.items {
        match item {
            Item::Line {
                points,
                colour,
                width,
            } => {
                let stroke = (width * FINE).round().max(1.0);
                let points: Vec<_> = points.iter().map(|p| place(*p)).collect();
                if !quirks.by_parts {
                    let style = colour.stroke_width(stroke as u32);
                    area.draw(&PathElement::new(points, style))
                        .map_err(failed)?;
                    continue;
                }
                for pair in points.windows(2) {
                    let part = part_of_line(pair[0], pair[1], stroke);
                    area.draw(&Polygon::new(part, colour)).map_err(failed)?;
                }
                let inner = points.len().saturating_sub(2);
                for joint in points.iter().skip(1).take(inner) {
                    let radius = (0.5 * stroke) as u32;
                    area.draw(&Circle::new(*joint, radius, colour.filled()))
                        .map_err(failed)?;
                }
            }
            Item::Area {
                points,
                colour,
                opacity,
            } => {
                let points: Vec<_> = points.iter().map(|p| place(*p)).collect();
                area.draw(&Polygon::new(points, colour.mix(*opacity)))
                    .map_err(failed)?;
            }
            Item::Disc { at, radius, colour } => {
                let radius = (radius * FINE).round().max(1.0) as u32;
                area.draw(&Circle::new(place(*at), radius, colour.filled()))
                    .map_err(failed)?;
            }
            Item::Text {
                at,
                text,
                em,
                weight,
                align,
                colour,
            } => {
                let style = |h_pos| {
                    font::font(em * FINE * quirks.size_per_em, *weight)
                        .color(colour)
                        .pos(Pos::new(h_pos, quirks.anchor))
                };
                let y = fine(at.1 + quirks.anchor_below_em * em);
                if !quirks.by_parts {
                    let h_pos = match align {
                        Align::Left => HPos::Left,
                        Align::Middle => HPos::Center,
                        Align::Right => HPos::Right,
                    };
                    area.draw(&Text::new(text.as_str(), (fine(at.0), y), style(h_pos)))
                        .map_err(failed)?;
                    continue;
                }
                let start = match align {
                    Align::Left => at.0,
                    Align::Middle => at.0 - 0.5 * text_width(text, *em, *weight),
                    Align::Right => at.0 - text_width(text, *em, *weight),
                };
                for (letter, ink) in letters(text, *em, *weight) {
                    area.draw(&Text::new(
                        letter,
                        (fine(start + ink), y),
                        style(HPos::Left),
                    ))
                    .map_err(failed)?;
                }
            }
        }
    }
    area.present().map_err(failed)
}

/// The corners of a straight line with this width. The width is rounded once. Rounding each side separately makes
/// lines at 45 degrees thinner by a third.
fn part_of_line(from: (i32, i32), to: (i32, i32), stroke: f64) -> [(i32, i32); 4] {
    let (dx, dy) = (f64::from(to.0 - from.0), f64::from(to.1 - from.1));
    let length = libm::hypot(dx, dy).max(1.0);
    let across = (-dy * stroke / length, dx * stroke / length);
    let whole = (across.0.round() as i32, across.1.round() as i32);
    let half = (whole.0 / 2, whole.1 / 2);
    let one = |p: (i32, i32)| (p.0 + half.0, p.1 + half.1);
    let other = |p: (i32, i32)| (p.0 + half.0 - whole.0, p.1 + half.1 - whole.1);
    [one(from), one(to), other(to), other(from)]
}

/// The letters of a text and where their ink starts, from the start of the text.
fn letters(text: &str, em: f64, weight: Weight) -> impl Iterator<Item = (&str, f64)> {
    text.char_indices().map(move |(at, c)| {
        let end = at + c.len_utf8();
        // From the end of the letter back by its width: this counts kerning.
        let pen = text_width(&text[..end], em, weight) - text_width(&text[at..end], em, weight);
        (
            &text[at..end],
            pen + em * left_bearing_em(weight.bytes(), c),
        )
    })
}

#[cfg(test)]
pub(super) mod tests {
    use super::super::sheet::TextStyle;
    use super::*;

    /// Checks both forms of a picture: well-formed XML of one `svg` with a view box and a title, and a PNG of twice
    /// the size. Returns the texts of the picture.
    pub(in super::super) fn check(picture: &Picture) -> Vec<String> {
        let document = match roxmltree::Document::parse(&picture.svg) {
            Ok(document) => document,
            Err(error) => panic!("{error}\n{}", picture.svg),
        };
        let root = document.root_element();
        assert_eq!(root.tag_name().name(), "svg");
        assert!(root.attribute("width").is_none() && root.attribute("height").is_none());
        assert!(!picture.svg.contains("NaN") && !picture.svg.contains("inf"));
        let view_box: Vec<f64> = root
            .attribute("viewBox")
            .unwrap_or("")
            .split(' ')
            .filter_map(|n| n.parse().ok())
            .collect();
        assert!(picture.png.starts_with(b"\x89PNG\r\n\x1a\n"));
        for (i, at) in [(2, 16), (3, 20)] {
            let bytes = [0, 1, 2, 3].map(|k| picture.png[at + k]);
            assert_eq!(f64::from(u32::from_be_bytes(bytes)), 2.0 * view_box[i]);
        }
        if let Some(narrow) = &picture.narrow {
            assert!(roxmltree::Document::parse(narrow).is_ok(), "{narrow}");
            assert!(!narrow.contains("NaN") && !narrow.contains("inf"));
        }
        let text_of = |name: &'static str| {
            document
                .descendants()
                .filter(move |n| n.has_tag_name(("http://www.w3.org/2000/svg", name)))
                .filter_map(|n| n.text().map(|t| t.trim().to_owned()))
        };
        assert_eq!(text_of("title").count(), 1);
        text_of("text").collect()
    }

    #[test]
    fn both_forms_hold_the_same_sheet() -> Result<(), PlotError> {
        let mut sheet = Sheet::new(60.0, 40.0, "a < b & \"c\"\u{1b}");
        sheet.text(
            (3.0, 20.0),
            "x < y & dy=\"-0.5ex\"\u{0}",
            TextStyle::of(12.0),
        );
        sheet.line(&[(0.0, 0.0), (1e300, 1e300)], RGBColor(0, 0, 0), 2.0, &[]);
        let found = check(&picture(&sheet)?);
        assert_eq!(found, ["x < y & dy=\"-0.5ex\""]);
        Ok(())
    }

    #[test]
    fn lines_have_their_width_in_every_direction() {
        for angle in 0..180 {
            let (sin, cos) = libm::sincos(f64::from(angle).to_radians());
            let to = ((1000.0 * cos) as i32, (1000.0 * sin) as i32);
            let [a, _, _, b] = part_of_line((0, 0), to, 4.0);
            let width = libm::hypot(f64::from(a.0 - b.0), f64::from(a.1 - b.1));
            // Both coordinates of the width are rounded.
            assert!(
                (width - 4.0).abs() < libm::hypot(0.5_f64, 0.5),
                "{angle}: {width}"
            );
        }
    }

    #[test]
    fn averaging_takes_means() {
        let white_left = [255, 255, 255, 0, 0, 0].repeat(2);
        assert_eq!(averaged(&white_left, 2, 2), [128, 128, 128]);
    }
}
