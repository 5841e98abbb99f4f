//! The built-in fonts, and the width of a text.

use ab_glyph::{Font as _, FontRef, ScaleFont as _};

const REGULAR: &[u8] = include_bytes!("../../../../assets/fonts/DejaVuSans-subset.ttf");
const BOLD: &[u8] = include_bytes!("../../../../assets/fonts/DejaVuSans-Bold-subset.ttf");

/// Height of the bitmap font in ems: ascent 1901 and descent 483 of 2048.
pub(super) const HEIGHT_PER_EM: f64 = 2384.0 / 2048.0;

/// Em at which texts are measured, in whole units of it.
const MEASURED_EM: f64 = 1000.0;

/// Weight of a text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Weight {
    Regular,
    Bold,
}

impl Weight {
    /// The bytes of the font file.
    pub(super) fn bytes(self) -> &'static [u8] {
        match self {
            Self::Regular => REGULAR,
            Self::Bold => BOLD,
        }
    }
}

/// Width of a text as the bitmap backend lays it, in ems.
fn measured_em(text: &str, weight: Weight) -> Option<f64> {
    let font = FontRef::try_from_slice(weight.bytes()).ok()?;
    let font = font.as_scaled((MEASURED_EM * HEIGHT_PER_EM) as f32);
    let mut width = 0_f32;
    let mut last = None;
    for glyph in text.chars().map(|c| font.glyph_id(c)) {
        width += font.h_advance(glyph);
        width += last.map_or(0.0, |last| font.kern(last, glyph));
        last = Some(glyph);
    }
    Some(f64::from(width as i32) / MEASURED_EM)
}

pub(super) fn text_width(text: &str, em: f64, weight: Weight) -> f64 {
    let count = |wide: fn(&char) -> bool| text.chars().filter(wide).count() as f64;
    let measured = measured_em(text, weight).unwrap_or_else(|| 0.7 * count(|_| true));
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
