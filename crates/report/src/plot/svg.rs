//! Sheet -> SVG.

use std::fmt::Write as _;

use super::canvas::{FINE, fine_point, fine_size, fine_stroke};
use super::font::Weight;
use super::sheet::{Align, Item, Point, Sheet, printable};
use super::style::{PAPER, RGBColor};

/// Paints a sheet as an `<svg>` element.
pub(super) fn svg(sheet: &Sheet) -> String {
    let (width, height) = fine_size(sheet);
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {} {}\" role=\"img\" \
         font-family=\"'DejaVu Sans', sans-serif\" stroke-linejoin=\"round\">\n\
         <title>{}</title>\n<g transform=\"scale({})\">\n\
         <rect x=\"0\" y=\"0\" width=\"{width}\" height=\"{height}\" fill=\"{}\" stroke=\"none\"/>\n",
        f64::from(width) / FINE,
        f64::from(height) / FINE,
        escaped(&sheet.title),
        1.0 / FINE,
        hex(PAPER),
    );
    // Lines that follow each other and look the same are one path: broken lines are many strokes.
    let mut open = None;
    for item in &sheet.items {
        let look = match item {
            Item::Line { colour, width, .. } => Some((*colour, fine_stroke(*width) as u32)),
            _ => None,
        };
        if open.is_some() && open != look {
            out.push_str("\"/>\n");
        }
        if open != look
            && let Some((colour, width)) = look
        {
            let stroke = hex(colour);
            put(
                &mut out,
                format_args!(
                    "<path fill=\"none\" stroke=\"{stroke}\" stroke-width=\"{width}\" d=\""
                ),
            );
        }
        open = look;
        draw(&mut out, sheet, item);
    }
    if open.is_some() {
        out.push_str("\"/>\n");
    }
    out.push_str("</g>\n</svg>\n");
    out
}

/// One item; of a line the points only.
fn draw(out: &mut String, sheet: &Sheet, item: &Item) {
    let list = |points: &[Point]| {
        let point = |p: &Point| {
            let (x, y) = fine_point(sheet, *p);
            format!("{x},{y}")
        };
        points.iter().map(point).collect::<Vec<_>>().join(" ")
    };
    match item {
        Item::Line { points, .. } => put(out, format_args!("M{}", list(points))),
        Item::Area { opacity: 0.0, .. } => {}
        Item::Area {
            points,
            colour,
            opacity,
        } => {
            let opacity = if *opacity == 1.0 {
                String::new()
            } else {
                format!("opacity=\"{opacity}\" ")
            };
            let (fill, points) = (hex(*colour), list(points));
            put(
                out,
                format_args!("<polygon {opacity}fill=\"{fill}\" points=\"{points} \"/>\n"),
            );
        }
        Item::Disc { at, radius, colour } => {
            let ((x, y), radius) = (fine_point(sheet, *at), fine_stroke(*radius));
            let fill = hex(*colour);
            put(
                out,
                format_args!(
                    "<circle cx=\"{x}\" cy=\"{y}\" r=\"{radius}\" fill=\"{fill}\" stroke=\"none\" stroke-width=\"1\"/>\n"
                ),
            );
        }
        Item::Text {
            at,
            text,
            em,
            weight,
            align,
            colour,
        } => {
            let (x, y) = fine_point(sheet, *at);
            let anchor = match align {
                Align::Left => "",
                Align::Middle => " text-anchor=\"middle\"",
                Align::Right => " text-anchor=\"end\"",
            };
            // The factor cancels out but for the last digit, which older pictures have, too.
            let size = em * FINE * 1.24 / 1.24;
            let bold = match weight {
                Weight::Regular => "",
                Weight::Bold => " font-weight=\"bold\"",
            };
            let text = escaped(text).replace('"', "&quot;").replace('\'', "&apos;");
            let fill = hex(*colour);
            put(
                out,
                format_args!(
                    "<text x=\"{x}\" y=\"{y}\"{anchor} font-size=\"{size}\" fill=\"{fill}\"{bold}>{text}</text>\n"
                ),
            );
        }
    }
}

/// Writing to memory does not fail.
fn put(out: &mut String, text: std::fmt::Arguments<'_>) {
    let _ = out.write_fmt(text);
}

fn hex(RGBColor(r, g, b): RGBColor) -> String {
    format!("#{r:02X}{g:02X}{b:02X}")
}

fn escaped(text: &str) -> String {
    printable(text)
        .replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
}
