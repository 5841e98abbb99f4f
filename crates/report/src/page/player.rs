//! The player: a script that replays one traced loop, in the report and in the served page.
//!
//! It takes the JSON of `trace` ([`crate::trace_json`]). It sets no style by markup and evaluates nothing, and a
//! strict content-security policy allows it.

/// The script. Its only entry is `HalfturnPlayer.mount(element, data)`.
pub const PLAYER_SCRIPT: &str = concat!(
    include_str!("../../../../assets/page/player_words.js"),
    include_str!("../../../../assets/page/player_dial.js"),
    include_str!("../../../../assets/page/player_gauge.js"),
    include_str!("../../../../assets/page/player.js"),
);

/// Its style sheet. The colours come from the palette.
pub const PLAYER_STYLE: &str = include_str!("../../../../assets/page/player.css");

#[cfg(test)]
mod tests {
    use super::*;

    /// A policy of `script-src` and `style-src` without `unsafe-inline` or `unsafe-eval` forbids all of these.
    #[test]
    fn a_strict_policy_lets_it_run() {
        for banned in [
            "innerHTML",
            "outerHTML",
            "insertAdjacentHTML",
            "document.write",
            "eval(",
            "Function(",
            "\"style\"",
            "onclick",
            "import ",
            "fetch(",
            "</script",
            "<!--",
        ] {
            assert!(!PLAYER_SCRIPT.contains(banned), "{banned}");
        }
        // The name of a namespace is not an address that is fetched.
        let script = PLAYER_SCRIPT.replace("http://www.w3.org/2000/svg", "");
        for text in [script.as_str(), PLAYER_STYLE] {
            assert!(!text.contains("http") && !text.contains("//cdn"));
            assert!(!text.contains("@import") && !text.contains("url(\""));
        }
    }

    /// Every colour is one of the palette.
    #[test]
    fn colours_come_from_the_palette() {
        let palette = include_str!("../../../../assets/page/palette.css");
        assert!(!PLAYER_STYLE.contains('#'));
        for piece in PLAYER_STYLE.split("var(").skip(1) {
            let name = piece.split(')').next().unwrap_or_default();
            assert!(palette.contains(&format!("{name}:")), "{name}");
        }
    }

    /// Shows (files): nothing flashes above 3 Hz. Source: WCAG 2.2 (W3C 2023), success criterion 2.3.1.
    #[test]
    fn nothing_flashes_above_3_hz() {
        let shortest = PLAYER_SCRIPT
            .split_once("SHORTEST_MS = ")
            .map(|(_, rest)| rest);
        let digits: String = shortest
            .unwrap_or_default()
            .chars()
            .take_while(char::is_ascii_digit)
            .collect();
        assert!(
            digits.parse::<f64>().is_ok_and(|ms| 1000.0 / ms < 3.0),
            "{digits}"
        );
    }
}
