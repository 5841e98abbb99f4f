//! How hunting depends on the distance of the target from the seam.

use super::canvas::in_both_layouts;
use super::form::Layout;
use super::picture::Picture;
use super::rate_lines::{AxisKind, RateLine, RateSheet};
use super::sheet::{Align, Sheet, TextStyle};
use super::style::{INK, SOLID, size};

/// Draws the share of runs that hunt against the distance of the target from the seam: its drive angle minus the
/// start of the arc \[deg\], negative below the start. `remark` stands beside the title.
pub fn seam_distance(lines: &[RateLine], remark: &str) -> Picture {
    in_both_layouts(|form| layout(lines, remark, form))
}

fn layout(lines: &[RateLine], remark: &str, form: Layout) -> Sheet {
    let name = "distance of the target from the seam (°); negative: below the start of the arc";
    let title = "Hunting near the seam";
    let mut made = RateSheet::new(title, remark, lines, AxisKind::AngleFromZero, name, form);
    let (panel, seam) = (made.panel, made.scale.at(0.0));
    let ends = [(seam, panel.top), (seam, panel.bottom)];
    made.sheet.line(&ends, INK, 2.0, SOLID);
    let look = TextStyle::of(size::TICK).bold();
    let (look, x) = if seam + 60.0 < panel.right {
        (look, seam + 7.0)
    } else {
        (look.align(Align::Right), seam - 7.0)
    };
    made.sheet.text((x, panel.top + 14.0), "seam", look);
    made.finish("no run hunts at any distance")
}

#[cfg(test)]
mod tests {
    use super::super::canvas::tests::check;
    use super::super::rate_lines::RatePoint;
    use super::*;

    fn line(label: &str, points: &[(f64, f64)]) -> RateLine {
        let point = |&(at, rate): &(f64, f64)| RatePoint {
            at,
            rate,
            low: 0.9 * rate,
            high: 1.1 * rate,
        };
        RateLine {
            label: label.to_owned(),
            points: points.iter().map(point).collect(),
        }
    }

    #[test]
    fn lines_are_named_and_the_seam_is_marked() {
        let one = line("half-circle", &[(-2.0, 0.0), (0.0, 0.3), (2.0, 0.0)]);
        let other = line("fold-once", &[(-2.0, 0.0), (0.0, 0.0), (2.0, 0.0)]);
        let texts = check(&seam_distance(&[one, other], ""));
        for wanted in [
            "half-circle",
            "fold-once",
            "seam",
            "95 % interval",
            "runs that hunt (%)",
        ] {
            assert!(texts.iter().any(|t| t == wanted), "{wanted}: {texts:?}");
        }
    }

    #[test]
    fn extremes_are_drawn() {
        assert!(check(&seam_distance(&[], "")).contains(&"no rate was found".to_owned()));
        check(&seam_distance(&[line("empty", &[])], ""));
        check(&seam_distance(&[line("one", &[(5.0, 0.0)])], ""));
        check(&seam_distance(&[line("same", &[(5.0, 1.0); 3])], ""));
        let bad = line(
            &"<long> ".repeat(99),
            &[(f64::NAN, 0.1), (1e300, 0.2), (1.0, f64::INFINITY)],
        );
        check(&seam_distance(&vec![bad; 30], ""));
        let many: Vec<_> = (0..10_000).map(|i| (f64::from(i), 1e-9)).collect();
        check(&seam_distance(&[line("many", &many)], ""));
    }
}
