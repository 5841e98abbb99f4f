//! Numbers in words: one way to write a share, an angle and a time, used everywhere.

/// A share as a percentage: one decimal, two below 1 %.
#[must_use]
pub fn percent(share: f64) -> String {
    let p = 100.0 * share;
    if p == 0.0 {
        "0 %".to_owned()
    } else if p < 0.01 {
        "<0.01 %".to_owned()
    } else if p < 1.0 {
        format!("{p:.2} %")
    } else if p < 99.95 {
        format!("{p:.1} %")
    } else if share < 1.0 {
        ">99.9 %".to_owned()
    } else {
        "100 %".to_owned()
    }
}

/// A limit that the user chose, as a percentage with no needless digits.
#[must_use]
pub fn limit(share: f64) -> String {
    format!("{} %", degrees(100.0 * share))
}

/// An angle in degrees without its unit: two decimals, more below 0.1, no trailing zeros.
#[must_use]
pub fn degrees(angle_deg: f64) -> String {
    let size = angle_deg.abs();
    let decimals = if size == 0.0 || size >= 0.1 {
        2
    } else if size >= 0.001 {
        4
    } else {
        6
    };
    let text = format!("{angle_deg:.decimals$}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    match text {
        "" | "-" | "-0" => "0".to_owned(),
        text => text.to_owned(),
    }
}

/// An angle with "°".
#[must_use]
pub fn angle(angle_deg: f64) -> String {
    format!("{}°", degrees(angle_deg))
}

/// The text with its first letter as a capital.
#[must_use]
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// A count with its thing: "1 solve", "2 000 targets".
#[must_use]
pub fn counted(n: usize, thing: &str) -> String {
    let plural = if n == 1 { "" } else { "s" };
    format!("{} {thing}{plural}", grouped(n as u64))
}

/// How often something happens in a turn: "once a turn", "twice a turn".
#[must_use]
pub fn in_a_turn(cycles: u32) -> String {
    match cycles {
        1 => "once a turn".to_owned(),
        2 => "twice a turn".to_owned(),
        _ => format!("{cycles} times a turn"),
    }
}

/// The parts as a list in a sentence: "a, b and c".
#[must_use]
pub fn joined(parts: &[String]) -> String {
    match parts {
        [rest @ .., last] if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        parts => parts.concat(),
    }
}

/// A drive angle as an endless drive shows it: in `[0, 360)` \[deg\].
#[must_use]
pub fn on_dial(drive_deg: f64) -> f64 {
    crate::angle::fold_finite(drive_deg, 0.0, crate::angle::TURN_DEG)
}

/// A time in seconds, from 2 min up in minutes, from 2 h up in hours.
#[must_use]
pub fn duration(time_s: f64) -> String {
    if time_s < 9.95 {
        format!("{time_s:.1} s")
    } else if time_s < 120.0 {
        format!("{time_s:.0} s")
    } else if time_s < 7200.0 {
        format!("{:.1} min", time_s / 60.0)
    } else {
        format!("{:.1} h", time_s / 3600.0)
    }
}

/// A number of pixels: one decimal below 10, else whole.
#[must_use]
pub fn pixels(px: f64) -> String {
    if px < 9.95 {
        format!("{px:.1}")
    } else {
        grouped(px.round() as u64)
    }
}

/// A whole number in groups of three digits, with a thin space between them.
#[must_use]
pub fn grouped(n: u64) -> String {
    let digits = n.to_string();
    let mut out = String::new();
    for (i, c) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            out.push(' ');
        }
        out.push(c);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_never_round_to_none_or_all() {
        assert_eq!(percent(0.0), "0 %");
        assert_eq!(percent(1e-9), "<0.01 %");
        assert_eq!(percent(0.081), "8.1 %");
        assert_eq!(percent(0.999_999), ">99.9 %");
        assert_eq!(percent(1.0), "100 %");
    }

    #[test]
    fn angles_lose_their_zeros() {
        assert_eq!(degrees(96.5), "96.5");
        assert_eq!(degrees(0.02), "0.02");
        assert_eq!(degrees(-0.0), "0");
        assert_eq!(degrees(-0.000_000_01), "0");
        assert_eq!(degrees(180.0), "180");
        assert_eq!(degrees(100.0), "100");
    }

    #[test]
    fn thousands_are_grouped() {
        assert_eq!(grouped(1_234_567), "1 234 567");
        assert_eq!(grouped(100), "100");
    }
}
