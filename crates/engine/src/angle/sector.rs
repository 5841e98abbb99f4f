//! A union of sectors, on the circle or on the line, and how much of a path lies inside it.

use super::span::AngleSpan;
use super::{TURN_DEG, fold_finite, nearest_whole};

/// Disjoint intervals of readings \[deg\]. They repeat every turn if `turning`.
#[derive(Debug, Clone, PartialEq)]
pub struct Sectors {
    /// Sorted, disjoint, none empty; within `[0, 360]` if `turning`.
    spans: Vec<AngleSpan>,
    turning: bool,
    /// Sum of the widths \[deg\].
    total_deg: f64,
}

impl Sectors {
    /// The union of these spans, taken as they are on the line of readings.
    pub(crate) fn on_line(spans: impl IntoIterator<Item = AngleSpan>) -> Self {
        Self::of(spans.into_iter().collect(), false)
    }

    /// The union of spans on the circle, each given by its start and its width \[deg\].
    pub(crate) fn on_circle(spans: impl IntoIterator<Item = (f64, f64)>) -> Self {
        let mut flat = Vec::new();
        for (from, width) in spans {
            if width >= TURN_DEG {
                flat.push(AngleSpan::new(0.0, TURN_DEG));
                continue;
            }
            let from = fold_finite(from, 0.0, TURN_DEG);
            let to = from + width;
            flat.push(AngleSpan::new(from, to.min(TURN_DEG)));
            if to > TURN_DEG {
                flat.push(AngleSpan::new(0.0, to - TURN_DEG));
            }
        }
        Self::of(flat, true)
    }

    fn of(mut spans: Vec<AngleSpan>, turning: bool) -> Self {
        spans.retain(|s| s.from_deg < s.to_deg);
        spans.sort_by(|a, b| a.from_deg.total_cmp(&b.from_deg));
        let mut merged: Vec<AngleSpan> = Vec::with_capacity(spans.len());
        for span in spans {
            match merged.last_mut() {
                Some(last) if span.from_deg <= last.to_deg => {
                    last.to_deg = last.to_deg.max(span.to_deg);
                }
                _ => merged.push(span),
            }
        }
        let total_deg = merged.iter().map(|s| s.to_deg - s.from_deg).sum();
        Self {
            spans: merged,
            turning,
            total_deg,
        }
    }

    /// Whether no reading lies inside.
    pub(crate) fn is_empty(&self) -> bool {
        self.spans.is_empty()
    }

    /// Whether every reading lies inside.
    pub(crate) fn is_everything(&self) -> bool {
        self.turning && self.total_deg >= TURN_DEG
    }

    /// How many degrees of the straight path between two readings lie inside \[deg\].
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
        // `overlap_deg` takes a turn at most, and a longer path goes in pieces.
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
    pub fn spans(&self) -> &[AngleSpan] {
        &self.spans
    }

    /// Whether the spans repeat every turn.
    pub fn turning(&self) -> bool {
        self.turning
    }

    /// The part of `range` around `at_deg` in which no span begins or ends, and so nothing lies in a span.
    /// [`AngleSpan::NOTHING`] if `at_deg` itself lies in one.
    pub(crate) fn clear_part(&self, range: AngleSpan, at_deg: f64) -> AngleSpan {
        let turns = if self.turning {
            let base = ((at_deg / TURN_DEG).floor() - 1.0) * TURN_DEG;
            vec![base, base + TURN_DEG, base + 2.0 * TURN_DEG]
        } else {
            vec![0.0]
        };
        let mut clear = range;
        for turn in turns {
            for span in self.spans.iter().map(|span| span.moved(turn)) {
                if span.to_deg <= at_deg {
                    clear.from_deg = clear.from_deg.max(span.to_deg);
                } else if span.from_deg >= at_deg {
                    clear.to_deg = clear.to_deg.min(span.from_deg);
                } else {
                    return AngleSpan::NOTHING;
                }
            }
        }
        clear
    }
}

/// How many degrees of the straight path between two readings lie in a span \[deg\]. The span is at most a turn wide,
/// and so is the path if the span repeats every turn. The only branch is on `turning`.
#[inline(always)]
pub fn overlap_deg(span: AngleSpan, turning: bool, a_deg: f64, b_deg: f64) -> f64 {
    let (from, to) = (span.from_deg, span.to_deg);
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
    // Moved to within half a turn of the middle of the span, the path meets only the span and its neighbours.
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

    /// Shows (model 5): keep-outs go upwards, cross 0 and repeat each turn with endless travel; on the line once. With:
    /// `a_path_of_several_turns_meets_every_copy`, `on_the_line_a_span_does_not_repeat`. Source: by hand.
    /// Shows (model Where): overlapping keep-outs count once; a sector of a turn is the whole circle. With:
    /// `bad_input::a_whole_turn_upwards_keeps_out_everywhere`. Source: by hand.
    #[test]
    fn overlapping_spans_count_once_and_the_zero_mark_is_crossed() {
        let s = Sectors::on_circle([(350.0, 20.0), (352.0, 2.0), (5.0, 10.0)]);
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
        let half = AngleSpan::new(0.0, 180.0);
        assert_eq!(
            s.clear_part(AngleSpan::ALL, 90.0),
            AngleSpan::new(-110.0, 200.0)
        );
        assert_eq!(s.clear_part(half, 90.0), half);
        assert_eq!(
            s.clear_part(AngleSpan::ALL, 725.0),
            AngleSpan::new(610.0, 920.0)
        );
        assert_eq!(s.clear_part(AngleSpan::ALL, 220.0), AngleSpan::NOTHING);
        let line = Sectors::on_line([AngleSpan::new(5.0, 6.0)]);
        assert_eq!(
            line.clear_part(AngleSpan::ALL, 7.0),
            AngleSpan::new(6.0, f64::INFINITY)
        );
        let nothing = Sectors::on_circle([]);
        assert_eq!(nothing.clear_part(AngleSpan::ALL, 7.0), AngleSpan::ALL);
    }

    #[test]
    fn on_the_line_a_span_does_not_repeat() {
        let s = Sectors::on_line([AngleSpan::new(10.0, 15.0)]);
        assert_eq!(s.inside_deg(0.0, 720.0), 5.0);
        assert_eq!(s.inside_deg(15.0, 400.0), 0.0);
    }
}
