//! How targets fare over the position angle, a bar for each rule.

use super::axes::Panel;
use super::canvas::in_both_layouts;
use super::form::Layout;
use super::legend::legend;
use super::picture::Picture;
use super::scale::Scale;
use super::sheet::{MARGIN, Sheet, TextStyle};
use super::state::{keys, look};
use super::style::size;
use halfturn_engine::verdict::TargetState;

/// Height of a bar, and of its name above it.
const BAR: f64 = 22.0;
const NAME: f64 = 26.0;

/// A narrower zone is drawn as wide as this.
const LEAST: f64 = 2.0;

/// A zone has its mark if it is as wide as this.
const MARKED: f64 = 12.0;

/// One bar.
#[derive(Debug, Clone, PartialEq)]
pub struct AngleBar {
    /// Its name.
    pub label: String,
    /// Zones of one state, each from one position angle up to another within 0 to 360 \[deg\].
    pub zones: Vec<(f64, f64, TargetState)>,
}

/// Draws the bars. `remark` stands beside the title.
pub fn angle_bars(bars: &[AngleBar], remark: &str) -> Picture {
    in_both_layouts(|form| layout(bars, remark, form))
}

fn layout(bars: &[AngleBar], remark: &str, form: Layout) -> Sheet {
    let title = "Every position angle";
    let mut sheet = Sheet::new(form.width(960.0), 0.0, title);
    let next = sheet.heading(title, remark);
    let states = bars.iter().flat_map(|bar| bar.zones.iter().map(|z| z.2));
    let width = sheet.width;
    let top = legend(&mut sheet, &keys(states), (MARGIN, width - MARGIN), next);
    let side = form.of(40.0, 20.0);
    let panel = Panel {
        left: side,
        top,
        right: width - side,
        bottom: top + (NAME + BAR) * bars.len() as f64 + 8.0,
    };
    sheet.height = panel.bottom + 62.0;
    let scale = Scale::angle((0.0, 360.0), panel.across());
    panel.x_axis(&mut sheet, &scale, Some("position angle (°)"));
    for (i, bar) in bars.iter().enumerate() {
        let y = top + (NAME + BAR) * i as f64 + NAME;
        let at = (panel.left, y - 6.0);
        sheet.text(at, &bar.label, TextStyle::of(size::SMALL));
        let mut zones: Vec<&(f64, f64, TargetState)> = bar.zones.iter().collect();
        // The worst last, so that a narrow one stays in sight.
        zones.sort_by_key(|z| std::cmp::Reverse(z.2));
        for (from_deg, to_deg, state) in zones {
            let (left, right) = (scale.at(*from_deg), scale.at(*to_deg));
            let wider = 0.5 * (LEAST - (right - left)).max(0.0);
            let look = look(*state);
            let ends = (
                (left - wider).max(panel.left),
                (right + wider).min(panel.right),
            );
            sheet.rectangle((ends.0, y), (ends.1, y + BAR), look.colour);
            if right - left >= MARKED {
                let at = (0.5 * (left + right), y + 0.5 * BAR);
                sheet.disc(at, 8.0, super::style::PAPER);
                sheet.mark(look.shape, at, 4.6, look.colour, look.filled);
            }
        }
    }
    sheet
}

#[cfg(test)]
mod tests {
    use super::super::canvas::tests::check;
    use super::*;

    #[test]
    fn bars_are_named_and_their_states_are_in_the_legend() {
        let bar = AngleBar {
            label: "half-circle, now".to_owned(),
            zones: vec![
                (0.0, 1e-3, TargetState::Hunts),
                (1e-3, 360.0, TargetState::Safe),
            ],
        };
        let texts = check(&angle_bars(&[bar], "a rig"));
        for wanted in ["half-circle, now", "hunts", "safe", "position angle (°)"] {
            assert!(texts.iter().any(|t| t == wanted), "{wanted}: {texts:?}");
        }
        check(&angle_bars(&[], ""));
    }
}
