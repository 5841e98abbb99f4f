//! Hunting over one varied value.

use super::canvas::picture;
use super::form::Layout;
use super::picture::Picture;
use super::rate_lines::{AxisKind, RateLine, RateSheet};

/// The name of an axis.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AxisName {
    /// Name of the value.
    pub name: String,
    /// Its unit; empty if it has none.
    pub unit: String,
    /// Whether its values are whole numbers.
    pub whole: bool,
}

impl AxisName {
    /// The name without its unit.
    pub(super) fn short(&self) -> &str {
        match self.unit.as_str() {
            "" => &self.name,
            unit => self.name.trim_end_matches(unit).trim_end_matches('_'),
        }
    }

    /// Name and unit.
    pub(super) fn shown(&self) -> String {
        if self.unit.is_empty() {
            self.name.clone()
        } else {
            format!("{} ({})", self.short(), self.unit.replace("deg", "°"))
        }
    }
}

/// Draws the share of runs that hunt over one axis, for every rule. `remark` stands beside the title.
pub fn rates_over(axis: &AxisName, lines: &[RateLine], remark: &str) -> Picture {
    let kind = if axis.whole {
        AxisKind::Whole
    } else {
        AxisKind::Even
    };
    let title = format!("Hunting over {}", axis.short());
    let shown = axis.shown();
    let made = RateSheet::new(&title, remark, lines, kind, &shown, Layout::Wide);
    picture(made.finish("no run hunts at any value"))
}

#[cfg(test)]
mod tests {
    use super::super::canvas::tests::check;
    use super::super::rate_lines::RatePoint;
    use super::*;

    #[test]
    fn axis_rules_and_extremes_are_drawn() {
        let axis = |name: &str, unit: &str, whole| AxisName {
            name: name.to_owned(),
            unit: unit.to_owned(),
            whole,
        };
        let line = |rates: &[(f64, f64)]| RateLine {
            label: "half-circle".to_owned(),
            points: rates
                .iter()
                .map(|&(at, rate)| RatePoint {
                    at,
                    rate,
                    low: 0.9 * rate,
                    high: 1.1 * rate,
                })
                .collect(),
        };
        let deg = axis("loop.tolerance_deg", "deg", false);
        let texts = check(&rates_over(
            &deg,
            &[line(&[(0.1, 0.2), (0.2, 0.0)])],
            "1 000 runs each",
        ));
        for wanted in [
            "Hunting over loop.tolerance",
            "loop.tolerance (°)",
            "runs that hunt (%)",
            "half-circle",
            "1 000 runs each",
        ] {
            assert!(texts.iter().any(|t| t == wanted), "{wanted}: {texts:?}");
        }
        let whole = axis("loop.max_solves", "", true);
        let texts = check(&rates_over(&whole, &[line(&[(1.0, 0.0), (3.0, 0.0)])], ""));
        assert!(texts.iter().any(|t| t == "loop.max_solves"), "{texts:?}");
        assert!(texts.iter().any(|t| t == "no run hunts at any value"));
        assert!(!texts.iter().any(|t| t == "1.5"), "{texts:?}");
        check(&rates_over(&deg, &[], ""));
        check(&rates_over(&deg, &[line(&[(5.0, 1.0)])], ""));
        check(&rates_over(
            &deg,
            &[line(&[(f64::NAN, 1.0), (1e300, f64::INFINITY)])],
            "",
        ));
    }
}
