//! Sheet -> picture.

use super::form::Layout;
use super::picture::Picture;
use super::sheet::{Point, Sheet};
use super::svg::svg;

/// Units of a picture to a unit of the sheet: bitmaps know whole numbers only.
pub(super) const FINE: f64 = 4.0;

/// Width and height in units of the picture.
pub(super) fn fine_size(sheet: &Sheet) -> (u32, u32) {
    let fine = |units: f64| (units.ceil() * FINE) as u32;
    (fine(sheet.width), fine(sheet.height))
}

/// A point in units of the picture. Whatever comes in stays near the sheet, where whole numbers do not overflow.
pub(super) fn fine_point(sheet: &Sheet, (x, y): Point) -> (i32, i32) {
    let reach = 4.0 * sheet.width.max(sheet.height);
    let fine = |v: f64| (v.clamp(-reach, reach) * FINE).round() as i32;
    (fine(x), fine(y))
}

/// The width of a stroke in units of the picture.
pub(super) fn fine_stroke(width: f64) -> f64 {
    (width * FINE).round().max(1.0)
}

/// Paints a sheet.
pub(super) fn picture(sheet: Sheet) -> Picture {
    Picture {
        svg: svg(&sheet),
        narrow: None,
        sheet,
    }
}

/// Paints a picture that has a narrow form too.
pub(super) fn in_both_layouts(layout: impl Fn(Layout) -> Sheet) -> Picture {
    let wide = picture(layout(Layout::Wide));
    let narrow = Some(svg(&layout(Layout::Narrow)));
    Picture { narrow, ..wide }
}

#[cfg(test)]
pub(super) mod tests {
    use super::super::sheet::TextStyle;
    use super::super::style::RGBColor;
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
        let png = picture.png().expect("a PNG");
        assert!(png.starts_with(b"\x89PNG\r\n\x1a\n"));
        for (i, at) in [(2, 16), (3, 20)] {
            let bytes = [0, 1, 2, 3].map(|k| png[at + k]);
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
    fn both_forms_hold_the_same_sheet() {
        let mut sheet = Sheet::new(60.0, 40.0, "a < b & \"c\"\u{1b}");
        sheet.text(
            (3.0, 20.0),
            "x < y & dy=\"-0.5ex\"\u{0}",
            TextStyle::of(12.0),
        );
        sheet.line(&[(0.0, 0.0), (1e300, 1e300)], RGBColor(0, 0, 0), 2.0, &[]);
        let found = check(&picture(sheet));
        assert_eq!(found, ["x < y & dy=\"-0.5ex\""]);
    }
}
