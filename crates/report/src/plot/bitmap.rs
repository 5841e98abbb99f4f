//! Sheet -> PNG, by the bitmap backend of plotters. Its lines are thin where they slope and have spikes where they bend,
//! and its letters stand unevenly: so lines are drawn part by part and texts letter by letter.

use std::sync::OnceLock;

use plotters::coord::Shift;
use plotters::prelude::*;
use plotters::style::register_font;
use plotters::style::text_anchor::{HPos, Pos, VPos};

use super::bearing::left_bearing_em;
use super::canvas::{FINE, fine_point, fine_size, fine_stroke};
use super::font::{HEIGHT_PER_EM, Weight, text_width};
use super::picture::PlotError;
use super::sheet::{Align, Item, Sheet};
use super::style::{self, PAPER};

/// Units of the bitmap backend in one pixel of the PNG. The backend draws hard edges, and averaging softens them.
const SOFT: usize = 2;

/// Registers the fonts. Further calls do nothing.
fn ready() -> Result<(), PlotError> {
    static READY: OnceLock<bool> = OnceLock::new();
    let ready = READY.get_or_init(|| {
        [Weight::Regular, Weight::Bold]
            .into_iter()
            .all(|w| register_font("sans-serif", font_style(w), w.bytes()).is_ok())
    });
    if *ready { Ok(()) } else { Err(PlotError::Font) }
}

fn font_style(weight: Weight) -> FontStyle {
    match weight {
        Weight::Regular => FontStyle::Normal,
        Weight::Bold => FontStyle::Bold,
    }
}

/// A PNG file, two pixels to a unit of the sheet.
pub(super) fn png(sheet: &Sheet) -> Result<Vec<u8>, PlotError> {
    ready()?;
    let (width, height) = fine_size(sheet);
    let mut fine = vec![0; 3 * width as usize * height as usize];
    {
        let area = BitMapBackend::with_buffer(&mut fine, (width, height)).into_drawing_area();
        paint(&area, sheet)?;
    }
    let small = averaged(&fine, width as usize);
    encoded(&small, (width / SOFT as u32, height / SOFT as u32))
}

/// The means of squares of two by two pixels, three bytes each.
fn averaged(fine: &[u8], width: usize) -> Vec<u8> {
    const COUNT: u16 = (SOFT * SOFT) as u16;
    let mut out = Vec::with_capacity(fine.len() / usize::from(COUNT));
    for rows in fine.chunks_exact(3 * width * SOFT) {
        let (upper, lower) = rows.split_at(3 * width);
        for (upper, lower) in upper.chunks_exact(6).zip(lower.chunks_exact(6)) {
            for channel in 0..3 {
                let above = u16::from(upper[channel]) + u16::from(upper[channel + 3]);
                let below = u16::from(lower[channel]) + u16::from(lower[channel + 3]);
                out.push(((above + below + COUNT / 2) / COUNT) as u8);
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
    // Drawings are wide areas of one colour: filters and a longer search would take most of the time, for little.
    encoder.set_filter(png::Filter::NoFilter);
    encoder.set_deflate_compression(png::DeflateCompression::Level(2));
    let mut writer = encoder.write_header()?;
    writer.write_image_data(pixels)?;
    writer.finish()?;
    Ok(bytes)
}

fn failed(error: impl std::fmt::Display) -> PlotError {
    PlotError::Drawing(error.to_string())
}

fn rgb(style::RGBColor(r, g, b): style::RGBColor) -> RGBColor {
    RGBColor(r, g, b)
}

fn paint<DB: DrawingBackend>(
    area: &DrawingArea<DB, Shift>,
    sheet: &Sheet,
) -> Result<(), PlotError> {
    area.fill(&rgb(PAPER)).map_err(failed)?;
    let place = |p| fine_point(sheet, p);
    for item in &sheet.items {
        match item {
            Item::Line {
                points,
                colour,
                width,
            } => {
                let stroke = fine_stroke(*width);
                let points: Vec<_> = points.iter().map(|p| place(*p)).collect();
                for pair in points.windows(2) {
                    let part = part_of_line(pair[0], pair[1], stroke);
                    area.draw(&Polygon::new(part, rgb(*colour)))
                        .map_err(failed)?;
                }
                let inner = points.len().saturating_sub(2);
                for joint in points.iter().skip(1).take(inner) {
                    let radius = (0.5 * stroke) as u32;
                    area.draw(&Circle::new(*joint, radius, rgb(*colour).filled()))
                        .map_err(failed)?;
                }
            }
            Item::Area {
                points,
                colour,
                opacity,
            } => {
                let points: Vec<_> = points.iter().map(|p| place(*p)).collect();
                area.draw(&Polygon::new(points, rgb(*colour).mix(*opacity)))
                    .map_err(failed)?;
            }
            Item::Disc { at, radius, colour } => {
                let radius = fine_stroke(*radius) as u32;
                area.draw(&Circle::new(place(*at), radius, rgb(*colour).filled()))
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
                // The base line is half a font height under the top anchor.
                let size = em * FINE * HEIGHT_PER_EM;
                let look = FontDesc::new(FontFamily::SansSerif, size, font_style(*weight))
                    .color(&rgb(*colour))
                    .pos(Pos::new(HPos::Left, VPos::Top));
                let y = at.1 - 0.5 * HEIGHT_PER_EM * em;
                let start = match align {
                    Align::Left => at.0,
                    Align::Middle => at.0 - 0.5 * text_width(text, *em, *weight),
                    Align::Right => at.0 - text_width(text, *em, *weight),
                };
                for (letter, ink) in letters(text, *em, *weight) {
                    let letter = Text::new(letter, place((start + ink, y)), look.clone());
                    area.draw(&letter).map_err(failed)?;
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
mod tests {
    use super::*;

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
        assert_eq!(averaged(&white_left, 2), [128, 128, 128]);
    }
}
