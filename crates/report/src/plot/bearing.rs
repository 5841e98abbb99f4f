//! Left side bearings of the built-in fonts.
//!
//! The bitmap text of plotters starts every letter at its leftmost ink. Without the blank before it, letters stand
//! unevenly. The font knows the blanks.

use ab_glyph::{Font as _, FontRef};

/// Blank before the ink of a letter, in ems; 0 if the font does not say.
pub(super) fn left_bearing_em(font: &[u8], letter: char) -> f64 {
    let Ok(font) = FontRef::try_from_slice(font) else {
        return 0.0;
    };
    let Some(units_per_em) = font.units_per_em() else {
        return 0.0;
    };
    let blank = font.h_side_bearing_unscaled(font.glyph_id(letter));
    f64::from(blank) / f64::from(units_per_em)
}

#[cfg(test)]
mod tests {
    use super::super::font::Weight;
    use super::*;

    /// Units of 2048 to the em, as printed by `TTFont(file)["hmtx"][glyph]` of fonttools 4.68.
    #[test]
    fn bearings_are_those_of_the_font() {
        let units = |weight: Weight, letter| 2048.0 * left_bearing_em(weight.bytes(), letter);
        for (letter, regular, bold) in EXPECTED {
            assert_eq!(units(Weight::Regular, letter), regular, "{letter}");
            assert_eq!(units(Weight::Bold, letter), bold, "{letter}");
        }
        assert_eq!(left_bearing_em(b"no font", 'a'), 0.0);
    }

    const EXPECTED: [(char, f64, f64); 5] = [
        ('t', 55.0, 27.0),
        ('H', 201.0, 188.0),
        ('µ', 174.0, 174.0),
        ('−', 217.0, 217.0),
        ('°', 195.0, 178.0),
    ];
}
