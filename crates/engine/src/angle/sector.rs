//! A union of sectors, on the circle or on the line, and how much of a path lies inside it.

use super::{TURN_DEG, fold_finite, nearest_whole};

/// Disjoint intervals of readings \[deg\], repeated every turn when `turning`.
#[derive(Debug, Clone, PartialEq)]
pub struct Sectors {
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
        let (mut low, high) = if a_deg <= b_deg {
            (a_deg, b_deg)
        } else {
            (b_deg, a_deg)
        };
        if self.is_everything() {
            return high - low;
        }
        let mut sum = 0.0;
        // A long path in pieces that `overlap_deg` can take.
        while self.turning && high - low > TURN_DEG {
            sum += self.piece_deg(low, low + TURN_DEG);
            low += TURN_DEG;
        }
        sum + self.piece_deg(low, high)
    }

    fn piece_deg(&self, low: f64, high: f64) -> f64 {
        let overlaps = self
            .spans
            .iter()
            .map(|span| overlap_deg(*span, self.turning, low, high));
        overlaps.sum()
    }

    /// The spans, sorted and disjoint.
    pub fn spans(&self) -> &[(f64, f64)] {
        &self.spans
    }

    /// The spans repeat every turn.
    pub fn turning(&self) -> bool {
        self.turning
    }

    /// The part of `(low, high)` around `at`, in which no span begins or ends: nothing inside it lies in
    /// a span. Empty, as `(inf, -inf)`, where `at` itself lies in one.
    pub(crate) fn clear_part(&self, (low, high): (f64, f64), at_deg: f64) -> (f64, f64) {
        let turns = if self.turning {
            let base = ((at_deg / TURN_DEG).floor() - 1.0) * TURN_DEG;
            vec![base, base + TURN_DEG, base + 2.0 * TURN_DEG]
        } else {
            vec![0.0]
        };
        let (mut low, mut high) = (low, high);
        for turn in turns {
            for (from, to) in self.spans.iter().map(|(a, b)| (a + turn, b + turn)) {
                if to <= at_deg {
                    low = low.max(to);
                } else if from >= at_deg {
                    high = high.min(from);
                } else {
                    return (f64::INFINITY, f64::NEG_INFINITY);
                }
            }
        }
        (low, high)
    }
}

/// How many degrees of the straight path between two readings lie in a span of at most a turn. Where it repeats
/// every turn, the path is at most a turn long. Without a branch but on `turning`.
#[inline(always)]
pub fn overlap_deg((from, to): (f64, f64), turning: bool, a_deg: f64, b_deg: f64) -> f64 {
    let (low, high) = if a_deg <= b_deg {
        (a_deg, b_deg)
    } else {
        (b_deg, a_deg)
    };
    let within = |from: f64, to: f64, low: f64, high: f64| {
        let end = if high < to { high } else { to };
        let start = if low > from { low } else { from };
        let length = end - start;
        if length > 0.0 { length } else { 0.0 }
    };
    if !turning {
        return within(from, to, low, high);
    }
    // Brought within half a turn of the middle of the span, the path meets at most its neighbours.
    let middle = 0.5 * (from + to);
    let turns = nearest_whole((low - middle) * (1.0 / TURN_DEG)) * TURN_DEG;
    let (low, high) = (low - turns, high - turns);
    within(from - TURN_DEG, to - TURN_DEG, low, high)
        + within(from, to, low, high)
        + within(from + TURN_DEG, to + TURN_DEG, low, high)
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
    fn the_clear_part_ends_at_the_nearest_spans() {
        let s = Sectors::on_circle([(200.0, 50.0)]);
        let all = (f64::NEG_INFINITY, f64::INFINITY);
        assert_eq!(s.clear_part(all, 90.0), (-110.0, 200.0));
        assert_eq!(s.clear_part((0.0, 180.0), 90.0), (0.0, 180.0));
        assert_eq!(s.clear_part(all, 725.0), (610.0, 920.0));
        let (low, high) = s.clear_part(all, 220.0);
        assert!(low > high);
        assert_eq!(
            Sectors::on_line([(5.0, 6.0)]).clear_part(all, 7.0),
            (6.0, f64::INFINITY)
        );
        assert_eq!(Sectors::on_circle([]).clear_part(all, 7.0), all);
    }

    #[test]
    fn on_the_line_a_span_does_not_repeat() {
        let s = Sectors::on_line([(10.0, 15.0)]);
        assert_eq!(s.inside_deg(0.0, 720.0), 5.0);
        assert_eq!(s.inside_deg(15.0, 400.0), 0.0);
    }
}
