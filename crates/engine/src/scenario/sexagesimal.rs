//! Angles in degrees or hours, minutes and seconds.

use crate::angle::MOST_ANGLE_DEG;

/// The unit of the first part.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Unit {
    /// Degrees.
    Degrees,
    /// Hours.
    Hours,
}

/// Reads `+22:00:52`, `22d00m52s`, `22 0 52` (with `h` for hours), or a plain decimal number.
///
/// A colon, blanks or the mark of the unit separate the parts. `None` for any other text, and for minutes or seconds
/// of 60 or more.
pub(super) fn parse(text: &str, unit: Unit) -> Option<f64> {
    let (negative, mut rest) = match text.strip_prefix(['-', '\u{2212}']) {
        Some(rest) => (true, rest),
        None => (false, text.strip_prefix('+').unwrap_or(text)),
    };
    let marks = match unit {
        Unit::Degrees => [":d°", ":m'′", "s\"″"],
        Unit::Hours => [":h", ":m'′", "s\"″"],
    };
    let mut value = 0.0;
    let mut size = 1.0; // of one of the present part
    for (place, marks) in marks.into_iter().enumerate() {
        let end = rest
            .find(|c: char| !c.is_ascii_digit() && c != '.')
            .unwrap_or(rest.len());
        let part: f64 = rest[..end].parse().ok()?;
        if place > 0 && part >= 60.0 {
            return None;
        }
        value += part * size;
        size /= 60.0;
        let (after, colon) = without_mark(&rest[end..], marks);
        rest = after;
        if rest.is_empty() {
            return (!colon).then_some(if negative { -value } else { value });
        }
    }
    None
}

/// The text after the mark of a part and the blanks around it, and whether the mark was a colon.
fn without_mark<'a>(text: &'a str, marks: &str) -> (&'a str, bool) {
    let text = text.trim_start();
    match text.chars().next() {
        // Two single quotes stand for a double one.
        Some('\'') if text.starts_with("''") && marks.contains('"') => (text[2..].trim(), false),
        Some(c) if marks.contains(c) => (text[c.len_utf8()..].trim_start(), c == ':'),
        _ => (text, false),
    }
}

/// Reads a right ascension and a declination with a comma between them \[deg\]: plain numbers are degrees, and a right
/// ascension in parts is in hours.
#[must_use]
pub fn read_place(text: &str) -> Option<(f64, f64)> {
    let (ra, dec) = text.split_once(',')?;
    let (ra, dec) = (ra.trim(), dec.trim());
    let ra_deg = match ra.parse::<f64>() {
        Ok(ra_deg) => ra_deg,
        Err(_) => parse(ra, Unit::Hours).filter(|h| h.abs() <= 24.0)? * 15.0,
    };
    let dec_deg = dec.parse().ok().or_else(|| parse(dec, Unit::Degrees))?;
    let held = ra_deg.abs() <= MOST_ANGLE_DEG && (-90.0..=90.0).contains(&dec_deg);
    held.then_some((ra_deg, dec_deg))
}

#[cfg(test)]
mod tests {
    use super::{Unit, parse, read_place};

    /// M 31 at 00h42m44s, +41°16'09": 15 × 0.712222 h = 10.68333°, 41.26917°.
    #[test]
    fn a_place_is_read_in_degrees_and_in_parts() {
        let near = |text| {
            let (ra, dec) = read_place(text).expect(text);
            (ra - 10.683_333_333).abs() < 1e-6 && (dec - 41.269_166_667).abs() < 1e-6
        };
        assert!(near("00:42:44,+41:16:09") && near("0h42m44s, 41d16m09s"));
        assert!(near("10.683333333,41.269166667"));
        for text in [
            "10",
            "10,95",
            "25:00:00,0",
            "nan,1",
            "1,nan",
            "1,2,3",
            "x,1",
        ] {
            assert_eq!(read_place(text), None, "{text}");
        }
    }

    #[test]
    fn the_usual_ways_of_writing_are_read() {
        let degrees = [
            ("-00:30:00", -0.5),
            ("\u{2212}0 30", -0.5),
            ("22 30", 22.5),
            ("+22d30m", 22.5),
            ("22° 30' 36\"", 22.51),
            ("22°30′36″", 22.51),
            ("22d30'36''", 22.51),
            ("22.5", 22.5),
            ("22 : 30 : 36", 22.51),
        ];
        for (text, expected) in degrees {
            let found = parse(text, Unit::Degrees).unwrap_or(f64::NAN);
            assert!((found - expected).abs() < 1e-12, "{text}: {found}");
        }
        assert_eq!(parse("5h34m30s", Unit::Hours), Some(5.575));
    }

    #[test]
    fn anything_else_is_refused() {
        let table = [
            "", "+", "+-5", "-+5", "--5", "::5", ":5", "5:", "5::5", "12:60:00", "1:2:3:4", "1e3",
            ".", "30m5", "5s", "5h", "nan", "1 2 3 4", "5 x",
        ];
        for text in table {
            assert_eq!(parse(text, Unit::Degrees), None, "{text}");
        }
        assert_eq!(parse("5d30m", Unit::Hours), None);
    }
}
