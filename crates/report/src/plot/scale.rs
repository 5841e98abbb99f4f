//! Scales: from a value to a place on the sheet, with ticks at round values.

use halfturn_engine::decimal::power_of_ten;

/// Largest value to draw. Beyond it, differences of floats mean nothing here.
const LARGEST: f64 = 1e12;

/// The value, or `None` if it cannot be drawn.
pub(super) fn plain(value: f64) -> Option<f64> {
    (value.abs() <= LARGEST).then_some(value)
}

/// Smallest and largest of the values that can be drawn; `None` without any.
pub(super) fn range(values: impl IntoIterator<Item = f64>) -> Option<(f64, f64)> {
    values
        .into_iter()
        .filter_map(plain)
        .fold(None, |range, v| match range {
            None => Some((v, v)),
            Some((low, high)) => Some((v.min(low), v.max(high))),
        })
}

/// Share of a zoomed axis around each of its two places.
const ZOOMED_SHARE: f64 = 0.27;

/// Ticks of the whole axis stay this many times `half` away from a zoomed place.
const ROOM: f64 = 8.0;

/// How a scale stretches.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Stretch {
    Even,
    /// Steps of whole numbers.
    Whole,
    /// Steps of 15, 30, 45, 90 and so on if they fit.
    Angle,
    /// Equal ratios.
    Ratio,
    /// Even, but stretched around two places: `half` to either side of each takes a good part of the axis.
    Zoomed {
        places: [f64; 2],
        half: f64,
        factor: f64,
    },
    /// Even near 0, equal ratios far from it: the inverse hyperbolic sine, in this unit.
    Centred(f64),
}

/// A scale of one axis.
#[derive(Debug, Clone, Copy)]
pub(super) struct Scale {
    stretch: Stretch,
    low: f64,
    high: f64,
    from_px: f64,
    to_px: f64,
}

impl Scale {
    /// Even, from `low` to `high`. A range without width is widened.
    pub(super) fn even((low, high): (f64, f64), px: (f64, f64)) -> Self {
        let (low, high) = widened(low, high);
        Self::new(Stretch::Even, low, high, px)
    }

    /// Even, with ticks at whole numbers.
    pub(super) fn whole((low, high): (f64, f64), px: (f64, f64)) -> Self {
        let (low, high) = widened(low, high);
        Self::new(Stretch::Whole, low, high, px)
    }

    /// Even, with ticks that suit angles.
    pub(super) fn angle((low, high): (f64, f64), px: (f64, f64)) -> Self {
        let (low, high) = widened(low, high);
        Self::new(Stretch::Angle, low, high, px)
    }

    /// Equal ratios. If the range has no width or an end is not above 0, even.
    pub(super) fn ratio((low, high): (f64, f64), px: (f64, f64)) -> Self {
        if low <= 0.0 || low >= high {
            return Self::even((low, high), px);
        }
        Self::new(Stretch::Ratio, low, high, px)
    }

    /// Even, with ticks that suit angles, and enlarged around two places, the smaller first: `half` to either side of
    /// each.
    pub(super) fn zoomed(
        (low, high): (f64, f64),
        places: [f64; 2],
        half: f64,
        px: (f64, f64),
    ) -> Self {
        let rest = high - low - 4.0 * half;
        let factor = ZOOMED_SHARE * rest / ((1.0 - 2.0 * ZOOMED_SHARE) * 2.0 * half);
        Self::new(
            Stretch::Zoomed {
                places,
                half,
                factor,
            },
            low,
            high,
            px,
        )
    }

    /// From `-reach` to `reach`, even up to about `unit`.
    pub(super) fn centred(unit: f64, reach: f64, px: (f64, f64)) -> Self {
        Self::new(Stretch::Centred(unit), -reach, reach, px)
    }

    fn new(stretch: Stretch, low: f64, high: f64, (from_px, to_px): (f64, f64)) -> Self {
        Self {
            stretch,
            low,
            high,
            from_px,
            to_px,
        }
    }

    /// Ends of the scale.
    pub(super) fn ends(&self) -> (f64, f64) {
        (self.low, self.high)
    }

    /// Where a value lies on the sheet. Values beyond the ends lie at the ends.
    pub(super) fn at(&self, value: f64) -> f64 {
        let warp = |v: f64| match self.stretch {
            Stretch::Even | Stretch::Whole | Stretch::Angle => v,
            Stretch::Ratio => libm::log(v),
            Stretch::Centred(unit) => libm::asinh(v / unit),
            Stretch::Zoomed {
                places,
                half,
                factor,
            } => {
                let within = places.map(|p| (v - p + half).clamp(0.0, 2.0 * half));
                v + (factor - 1.0) * (within[0] + within[1])
            }
        };
        let value = value.clamp(self.low, self.high);
        let share = (warp(value) - warp(self.low)) / (warp(self.high) - warp(self.low));
        self.from_px + share * (self.to_px - self.from_px)
    }

    /// Round values within the ends, about `most` of them or fewer.
    pub(super) fn ticks(&self, most: usize) -> Vec<f64> {
        match self.stretch {
            Stretch::Even => multiples(self.low, self.high, round_step(self.low, self.high, most)),
            Stretch::Whole => {
                let step = round_step(self.low, self.high, most).max(1.0);
                multiples(self.low, self.high, step)
            }
            Stretch::Angle => multiples(self.low, self.high, angle_step(self.low, self.high, most)),
            Stretch::Ratio => ratio_ticks(self.low, self.high, most),
            Stretch::Zoomed { places, half, .. } => {
                let [from, to] = places;
                let mut ticks: Vec<f64> = places
                    .into_iter()
                    .flat_map(|p| [p - half, p, p + half])
                    .collect();
                let between = multiples(self.low, self.high, angle_step(self.low, self.high, most));
                let near = |v: &f64| (v - from).abs().min((v - to).abs()) < ROOM * half;
                ticks.extend(between.into_iter().filter(|v| !near(v)));
                ticks.sort_by(f64::total_cmp);
                ticks
            }
            Stretch::Centred(unit) => {
                let positive: Vec<f64> = ratio_ticks(0.5 * unit, self.high, most.max(2) / 2);
                let negative = positive.iter().rev().map(|v| -v);
                negative
                    .chain([0.0])
                    .chain(positive.iter().copied())
                    .collect()
            }
        }
    }
}

fn widened(low: f64, high: f64) -> (f64, f64) {
    let least = 1e-5 * low.abs().max(high.abs()).max(0.1);
    if high - low >= least {
        return (low, high);
    }
    let middle = 0.5 * (low + high);
    let half = (0.1 * middle.abs()).max(0.5);
    (middle - half, middle + half)
}

/// The range with a margin on both sides, as a share of its width.
pub(super) fn padded((low, high): (f64, f64), share: f64) -> (f64, f64) {
    let margin = share * (high - low);
    (low - margin, high + margin)
}

fn round_step(low: f64, high: f64, most: usize) -> f64 {
    let raw = (high - low) / most.max(1) as f64;
    let power = power_of_ten(libm::log10(raw).floor() as i32);
    let factor = [1.0, 2.0, 5.0].into_iter().find(|f| f * power >= raw);
    factor.unwrap_or(10.0) * power
}

fn angle_step(low: f64, high: f64, most: usize) -> f64 {
    let raw = (high - low) / most.max(1) as f64;
    [15.0, 30.0, 45.0, 90.0, 180.0, 360.0, 720.0]
        .into_iter()
        .find(|step| raw > 10.0 && *step >= raw)
        .unwrap_or_else(|| round_step(low, high, most))
}

fn multiples(low: f64, high: f64, step: f64) -> Vec<f64> {
    let slack = 1e-9 * step;
    let first = ((low - slack) / step).ceil() as i64;
    let last = ((high + slack) / step).floor() as i64;
    (first..=last).map(|k| k as f64 * step).collect()
}

fn ratio_ticks(low: f64, high: f64, most: usize) -> Vec<f64> {
    let decades = libm::log10(low).floor() as i32..=libm::log10(high).ceil() as i32;
    let within = |factors: &[f64], every: usize| -> Vec<f64> {
        decades
            .clone()
            .step_by(every)
            .flat_map(|d| factors.iter().map(move |f| f * power_of_ten(d)))
            .filter(|v| *v >= low * (1.0 - 1e-9) && *v <= high * (1.0 + 1e-9))
            .collect()
    };
    let densest_first: [(&[f64], usize); 6] = [
        (&[1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 7.0], 1),
        (&[1.0, 2.0, 5.0], 1),
        (&[1.0, 3.0], 1),
        (&[1.0], 1),
        (&[1.0], 2),
        (&[1.0], 4),
    ];
    densest_first
        .into_iter()
        .map(|(factors, every)| within(factors, every))
        .find(|ticks| ticks.len() <= most.max(1))
        .unwrap_or_default()
}

/// A number as a label: up to `decimals` decimals, a true minus sign.
pub(super) fn number(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let text = match text.split_once('.') {
        Some(_) => text.trim_end_matches('0').trim_end_matches('.'),
        None => &text,
    };
    if text == "-0" {
        return "0".to_owned();
    }
    text.replace('-', "−")
}

pub(super) fn tick_label(value: f64) -> String {
    if value.abs() >= 1e7 {
        format!("{value:.0e}").replace('-', "−")
    } else {
        // Ticks are round: digits beyond the sixth are float noise.
        number(value, 6)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PX: (f64, f64) = (0.0, 100.0);

    #[test]
    fn ranges_never_degenerate() {
        for v in [0.0, -0.0, 5.0, -1e12, 1e12, 1e-300] {
            let scale = Scale::even((v, v), PX);
            assert_eq!(scale.at(v), 50.0, "{v}");
            assert!(!scale.ticks(6).is_empty(), "{v}");
        }
        assert_eq!(range([f64::NAN, f64::INFINITY, -1e13]), None);
        assert_eq!(range([f64::NAN, 2.0, 1.0]), Some((1.0, 2.0)));
        assert!(Scale::ratio((0.0, 0.0), PX).at(0.0).is_finite());
    }

    #[test]
    fn ticks_are_round() {
        let even = Scale::even((0.0, 1.0), PX);
        let labels = |ticks: Vec<f64>| ticks.into_iter().map(tick_label).collect::<Vec<_>>();
        assert_eq!(
            labels(even.ticks(5)),
            ["0", "0.2", "0.4", "0.6", "0.8", "1"]
        );
        let angle = Scale::angle((-8.0, 188.0), PX);
        assert_eq!(angle.ticks(5), [0.0, 45.0, 90.0, 135.0, 180.0]);
        let whole = Scale::whole((0.9, 3.1), PX);
        assert_eq!(whole.ticks(12), [1.0, 2.0, 3.0]);
        let ratio = Scale::ratio((9.0, 1500.0), PX);
        assert_eq!(ratio.ticks(5), [10.0, 30.0, 100.0, 300.0, 1000.0]);
        let centred = Scale::centred(0.3, 90.0, PX);
        let ticks = centred.ticks(8);
        assert_eq!(ticks.first().map(|t| -t), ticks.last().copied());
        assert!(ticks.contains(&0.0));
        assert_eq!(tick_label(-90.0), "−90");
    }

    #[test]
    fn values_beyond_the_ends_lie_at_the_ends() {
        let scale = Scale::even((0.0, 1.0), PX);
        assert_eq!((scale.at(-5.0), scale.at(7.0)), (0.0, 100.0));
    }
}
