//! When a height goes through a limit.

use crate::time::Moment;

/// Step of the search \[s\], far below the time that a body usually spends beyond a limit.
const STEP_S: f64 = 300.0;

/// Accuracy of a crossing \[s\].
const ACCURACY_S: f64 = 0.1;

/// A moment at which a height goes through a limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crossing {
    /// When.
    pub at: Moment,
    /// Whether the height grows.
    pub rises: bool,
}

/// A height over time, looked at every five minutes.
pub(super) struct Course<H> {
    height_deg: H,
    from: Moment,
    heights_deg: Vec<f64>,
}

impl<H: Fn(Moment) -> f64> Course<H> {
    pub(super) fn of(from: Moment, length_s: f64, height_deg: H) -> Self {
        let steps = (length_s / STEP_S).ceil() as u32;
        let heights = (0..=steps).map(|step| height_deg(from.plus_s(f64::from(step) * STEP_S)));
        let heights_deg = heights.collect();
        Self {
            height_deg,
            from,
            heights_deg,
        }
    }

    pub(super) fn lowest_deg(&self) -> f64 {
        self.heights_deg.iter().copied().fold(90.0, f64::min)
    }

    /// All crossings of a limit \[deg\], in the order of time.
    pub(super) fn crossings(&self, limit_deg: f64) -> Vec<Crossing> {
        let mut found = Vec::new();
        for (step, pair) in (0_u32..).zip(self.heights_deg.windows(2)) {
            let below = pair[1] <= limit_deg;
            if (pair[0] <= limit_deg) != below {
                found.push(Crossing {
                    at: self.crossing(f64::from(step) * STEP_S, limit_deg, below),
                    rises: !below,
                });
            }
        }
        found
    }

    /// The crossing in the step that begins here, by halving.
    fn crossing(&self, from_s: f64, limit_deg: f64, goes_below: bool) -> Moment {
        let (mut low, mut high) = (from_s, from_s + STEP_S);
        while high - low > ACCURACY_S {
            let middle = 0.5 * (low + high);
            let below = (self.height_deg)(self.from.plus_s(middle)) <= limit_deg;
            if below == goes_below {
                high = middle;
            } else {
                low = middle;
            }
        }
        self.from.plus_s(0.5 * (low + high))
    }
}

/// When a height \[deg\] goes through 0 in this length of time, to 0.1 s. Two crossings within five minutes are missed.
#[must_use]
pub fn crossings(from: Moment, length_s: f64, height_deg: impl Fn(Moment) -> f64) -> Vec<Crossing> {
    let mut found = Course::of(from, length_s, height_deg).crossings(0.0);
    found.retain(|c| c.at.since_s(from) <= length_s);
    found
}
