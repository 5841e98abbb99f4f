//! Breaking a text into lines of a width.

use unicode_width::UnicodeWidthStr as _;

/// The words of a text on lines of at most `width` columns; the first line is shorter by `used`. A longer word has
/// its own line. Non-breaking spaces keep words together.
pub(super) fn wrapped(text: &str, width: usize, used: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split(' ') {
        let room = width.saturating_sub(if lines.is_empty() { used } else { 0 });
        if line.is_empty() || line.width() + 1 + word.width() <= room {
            if !line.is_empty() {
                line.push(' ');
            }
        } else {
            lines.push(std::mem::take(&mut line));
        }
        line.push_str(word);
    }
    lines.push(line);
    lines
}

/// Units that stay with their number, behind a space.
const UNITS: [&str; 6] = ["%", "s", "min", "h", "px", "deg"];

/// The text with non-breaking spaces between a number and its unit, and between groups of thousands.
pub(super) fn bound(text: &str) -> String {
    let mut words = text.split(' ').peekable();
    let mut out = String::with_capacity(text.len());
    while let Some(word) = words.next() {
        out.push_str(word);
        let Some(next) = words.peek() else { break };
        let unit = next.trim_end_matches(|c: char| ".,;:)".contains(c));
        let thousands = unit.len() == 3 && unit.bytes().all(|b| b.is_ascii_digit());
        let number = word.ends_with(|c: char| c.is_ascii_digit());
        let together = number && (UNITS.contains(&unit) || thousands);
        out.push(if together { '\u{a0}' } else { ' ' });
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_keeps_its_unit_and_its_thousands() {
        assert_eq!(
            bound("in 28.5 % of 20 000 runs, 5 min."),
            "in 28.5\u{a0}% of 20\u{a0}000 runs, 5\u{a0}min."
        );
        assert_eq!(bound("2 of 8 targets  hunt"), "2 of 8 targets  hunt");
        assert_eq!(bound(""), "");
    }

    #[test]
    fn words_fill_lines_and_none_is_broken() {
        assert_eq!(wrapped("one two three", 7, 0), ["one two", "three"]);
        assert_eq!(wrapped("one two", 6, 0), ["one", "two"]);
        assert_eq!(wrapped("one two three", 7, 4), ["one", "two", "three"]);
        assert_eq!(wrapped("extraordinary it", 5, 0), ["extraordinary", "it"]);
        assert_eq!(wrapped("5\u{a0}° more", 4, 0), ["5\u{a0}°", "more"]);
        assert_eq!(wrapped("", 4, 0), [""]);
    }
}
