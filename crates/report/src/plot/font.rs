//! The built-in fonts: registration, and the width of a text.

use std::sync::OnceLock;

use plotters::style::{FontDesc, FontFamily, FontStyle, register_font};

use super::picture::PlotError;

const REGULAR: &[u8] = include_bytes!("../../../../assets/fonts/DejaVuSans-subset.ttf");
const BOLD: &[u8] = include_bytes!("../../../../assets/fonts/DejaVuSans-Bold-subset.ttf");

/// Height of the bitmap font in ems: ascent 1901 and descent 483 of 2048.
pub(super) const HEIGHT_PER_EM: f64 = 2384.0 / 2048.0;

/// Em at which texts are measured. It is large because layouts are rounded to whole units.
const MEASURED_EM: f64 = 1000.0;

/// Weight of a text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Weight {
    Regular,
    Bold,
}

impl Weight {
    fn style(self) -> FontStyle {
        match self {
            Self::Regular => FontStyle::Normal,
            Self::Bold => FontStyle::Bold,
        }
    }

    /// The bytes of the font file.
    pub(super) fn bytes(self) -> &'static [u8] {
        match self {
            Self::Regular => REGULAR,
            Self::Bold => BOLD,
        }
    }
}

/// A font of plotters. `height` is plotters' measure of size.
pub(super) fn font(height: f64, weight: Weight) -> FontDesc<'static> {
    FontDesc::new(FontFamily::SansSerif, height, weight.style())
}

/// Registers the fonts. Further calls do nothing.
pub(super) fn ready() -> Result<(), PlotError> {
    static READY: OnceLock<bool> = OnceLock::new();
    let ready = READY.get_or_init(|| {
        [Weight::Regular, Weight::Bold]
            .into_iter()
            .all(|w| register_font("sans-serif", w.style(), w.bytes()).is_ok())
    });
    if *ready { Ok(()) } else { Err(PlotError::Font) }
}

pub(super) fn text_width(text: &str, em: f64, weight: Weight) -> f64 {
    let count = |wide: fn(&char) -> bool| text.chars().filter(wide).count() as f64;
    let measured = ready()
        .ok()
        .and_then(|()| {
            let layout = font(MEASURED_EM * HEIGHT_PER_EM, weight).layout_box(text);
            layout
                .ok()
                .map(|(_, (right, _))| f64::from(right) / MEASURED_EM)
        })
        .unwrap_or_else(|| 0.7 * count(|_| true));
    // A character that the font lacks is measured as an empty box of 0.6 em. In an SVG, ideographs and pictures take
    // a whole em, and bold letters of other scripts up to 0.85.
    let foreign = 0.25 * count(|c| matches!(c, '\u{370}'..'\u{2000}'));
    em * (measured + foreign + 0.45 * count(|c| *c > '\u{2e7f}'))
}

/// The text, or as much of its beginning as fits with an ellipsis; empty if not even that fits.
pub(super) fn shortened(text: &str, em: f64, weight: Weight, width: f64) -> String {
    // No text with this many letters fits anywhere, and measuring stays cheap.
    let start: String = text.chars().take(400).collect();
    if start.len() == text.len() && text_width(text, em, weight) <= width {
        return start;
    }
    let letters: Vec<char> = start.chars().collect();
    let fits = |n: usize| {
        let head: String = letters[..n].iter().collect();
        let head = format!("{}…", head.trim_end());
        (text_width(&head, em, weight) <= width).then_some(head)
    };
    // Widths grow with the number of letters, and halving finds the longest that fits.
    let (mut low, mut high) = (0, letters.len());
    while low < high {
        let middle = (low + high).div_ceil(2);
        if fits(middle).is_some() {
            low = middle;
        } else {
            high = middle - 1;
        }
    }
    fits(low).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_texts_end_in_an_ellipsis_and_fit() {
        let text = "a name that is far too long for its column".repeat(20);
        for width in [0.0, 5.0, 20.0, 100.0, 333.0] {
            let short = shortened(&text, 12.0, Weight::Regular, width);
            assert!(
                text_width(&short, 12.0, Weight::Regular) <= width,
                "{short}"
            );
            assert!(short.is_empty() || short.ends_with('…'));
        }
        assert_eq!(shortened("short", 12.0, Weight::Bold, 100.0), "short");
    }

    #[test]
    fn both_weights_have_their_own_widths() {
        let (regular, bold) = (
            text_width("drive angle", 10.0, Weight::Regular),
            text_width("drive angle", 10.0, Weight::Bold),
        );
        assert!(regular > 50.0 && bold > regular, "{regular} {bold}");
    }
}
