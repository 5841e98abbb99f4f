//! A union of sectors, on the circle or on the line, and how much of a path lies inside it.

use super::{TURN_DEG, fold_finite};

/// Disjoint intervals of readings \[deg\], repeated every turn when `turning`.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Sectors {
    /// `(from, to)` with `from < to`, sorted and disjoint; within `[0, 360]` when `turning`.
    spans: Vec<(f64, f64)>,
    turning: bool,
    /// Sum of the widths \[deg\].
    total_deg: f64,
}

impl Sectors {
    /// The union of `(from, to)` spans as they are, on the line of readings.
    pub(crate) fn on_line(spans: impl IntoIterator<Item = (f64, f64)>) -> Self {
        Self::of(spans.into_iter().collect(), false)
    }

    /// The union of spans on the circle; a span begins at `from` and is `width` wide \[deg\].
    pub(crate) fn on_circle(spans: impl IntoIterator<Item = (f64, f64)>) -> Self {
        let mut flat = Vec::new();
        for (from, width) in spans {
            if width >= TURN_DEG {
                flat.push((0.0, TURN_DEG));
                continue;
            }
            let from = fold_finite(from, 0.0, TURN_DEG);
            let to = from + width;
            flat.push((from, to.min(TURN_DEG)));
            if to > TURN_DEG {
                flat.push((0.0, to - TURN_DEG));
            }
        }
        Self::of(flat, true)
    }

    fn of(mut spans: Vec<(f64, f64)>, turning: bool) -> Self {
        spans.retain(|(from, to)| from < to);
        spans.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut merged: Vec<(f64, f64)> = Vec::with_capacity(spans.len());
        for (from, to) in spans {
            match merged.last_mut() {
                Some(last) if from <= last.1 => last.1 = last.1.max(to),
                _ => merged.push((from, to)),
            }
        }
        let total_deg = merged.iter().map(|(from, to)| to - from).sum();
        Self {
            spans: merged,
            turning,
            total_deg,
        }
    }

    /// Nothing is inside.
    pub(crate) fn is_empty(&self) -> bool {
        self.spans.is_empty()
    }

    /// Everything is inside.
    pub(crate) fn is_everything(&self) -> bool {
        self.turning && self.total_deg >= TURN_DEG
    }

    /// How many degrees of the straight path between two readings lie inside.
    pub(crate) fn inside_deg(&self, a_deg: f64, b_deg: f64) -> f64 {
        let (low, high) = if a_deg <= b_deg {
            (a_deg, b_deg)
        } else {
            (b_deg, a_deg)
        };
        if self.is_empty() || low == high {
            return 0.0;
        }
        if self.is_everything() {
            return high - low;
        }
        if !self.turning {
            return self.overlap(low, high);
        }
        // Bring the lower end into the first turn, then walk the copies that the path meets.
        let shift = fold_finite(low, 0.0, TURN_DEG) - low;
        let (low, high) = (low + shift, high + shift);
        let mut sum = 0.0;
        let mut turn = 0.0;
        while turn < high {
            sum += self.overlap(low - turn, high - turn);
            turn += TURN_DEG;
        }
        sum
    }

    fn overlap(&self, low: f64, high: f64) -> f64 {
        self.spans
            .iter()
            .map(|&(from, to)| (high.min(to) - low.max(from)).max(0.0))
            .sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn overlapping_spans_count_once_and_the_zero_mark_is_crossed() {
        let s = Sectors::on_circle([(350.0, 20.0), (5.0, 10.0)]);
        assert_eq!(s.inside_deg(340.0, 380.0), 25.0);
        assert_eq!(s.inside_deg(-20.0, 20.0), 25.0);
        assert_eq!(s.inside_deg(20.0, -20.0), 25.0);
        assert_eq!(s.inside_deg(100.0, 200.0), 0.0);
    }

    #[test]
    fn a_path_of_several_turns_meets_every_copy() {
        let s = Sectors::on_circle([(10.0, 5.0)]);
        assert_eq!(s.inside_deg(0.0, 1080.0), 15.0);
        assert_eq!(s.inside_deg(-1080.0, 12.0), 17.0);
    }

    #[test]
    fn on_the_line_a_span_does_not_repeat() {
        let s = Sectors::on_line([(10.0, 15.0)]);
        assert_eq!(s.inside_deg(0.0, 720.0), 5.0);
        assert_eq!(s.inside_deg(15.0, 400.0), 0.0);
    }
}
