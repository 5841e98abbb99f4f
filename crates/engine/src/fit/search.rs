//! Minima and roots of functions of one number.

/// Place of the minimum in `[low, high]` after this many steps of golden section. The function must have one minimum.
pub(super) fn golden(f: impl Fn(f64) -> f64, low: f64, high: f64, steps: usize) -> f64 {
    const SHARE: f64 = 0.618_033_988_749_894_9;
    let (mut low, mut high) = (low, high);
    let mut left = high - SHARE * (high - low);
    let mut right = low + SHARE * (high - low);
    let (mut at_left, mut at_right) = (f(left), f(right));
    for _ in 0..steps {
        if at_left <= at_right {
            (high, right, at_right) = (right, left, at_left);
            left = high - SHARE * (high - low);
            at_left = f(left);
        } else {
            (low, left, at_left) = (left, right, at_right);
            right = low + SHARE * (high - low);
            at_right = f(right);
        }
    }
    if at_left <= at_right { left } else { right }
}

/// Place of the least value in `[0, most]`: a grid that is dense near 0, then golden section. The first of equal
/// values wins.
pub(super) fn grid_then_golden(f: impl Fn(f64) -> f64, most: f64, places: usize) -> f64 {
    let place = |i: usize| most * (i as f64 / places as f64).powi(2);
    let mut best = (0, f64::INFINITY);
    for i in 0..=places {
        let value = f(place(i));
        if value < best.1 * (1.0 - 1e-9) {
            best = (i, value);
        }
    }
    let low = place(best.0.saturating_sub(1));
    let high = place((best.0 + 1).min(places));
    let found = golden(&f, low, high, 28);
    // The grid hits a minimum at its ends exactly.
    if f(found) < best.1 {
        found
    } else {
        place(best.0)
    }
}

/// Where a growing function with `f(from) <= 0` reaches 0. The search starts with steps of `step`, of either sign,
/// and returns `end` if the function does not reach 0 before.
pub(super) fn crossing(f: impl Fn(f64) -> f64, from: f64, step: f64, end: f64) -> f64 {
    let beyond = |x: f64| if step < 0.0 { x <= end } else { x >= end };
    let (mut inside, mut outside, mut step) = (from, from, step);
    loop {
        outside += step;
        if beyond(outside) || !outside.is_finite() {
            if !end.is_finite() || f(end) <= 0.0 {
                return end;
            }
            outside = end;
            break;
        }
        if f(outside) > 0.0 {
            break;
        }
        inside = outside;
        step *= 2.0;
    }
    // Regula falsi with halving (Illinois): it needs few evaluations and stays within the bracket.
    let (mut at_inside, mut at_outside) = (f(inside), f(outside));
    for _ in 0..60 {
        if (outside - inside).abs() <= 1e-4 * (outside - from).abs() {
            break;
        }
        let share = at_inside / (at_inside - at_outside);
        let next = inside + share.clamp(0.05, 0.95) * (outside - inside);
        let at_next = f(next);
        if at_next > 0.0 {
            (outside, at_outside) = (next, at_next);
            at_inside *= 0.5;
        } else {
            (inside, at_inside) = (next, at_next);
            at_outside *= 0.5;
        }
    }
    0.5 * (inside + outside)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Shows (fit): the search finds minima (golden section) and crossings. Source: by hand.
    #[test]
    fn minima_and_crossings_are_found() {
        let parabola = |x: f64| (x - 0.3).powi(2);
        assert!((golden(parabola, -1.0, 2.0, 40) - 0.3).abs() < 1e-7);
        assert!((grid_then_golden(parabola, 45.0, 40) - 0.3).abs() < 1e-6);
        assert_eq!(grid_then_golden(|x| x, 45.0, 40), 0.0);
        assert_eq!(grid_then_golden(|_| 1.0, 45.0, 40), 0.0);
        let root = crossing(|x| parabola(x) - 1.0, 0.3, 0.01, 10.0);
        assert!((root - 1.3).abs() < 2e-4, "{root}");
        let root = crossing(|x| parabola(x) - 1.0, 0.3, -0.01, -10.0);
        assert!((root + 0.7).abs() < 2e-4, "{root}");
        assert_eq!(crossing(|x| parabola(x) - 1.0, 0.3, -0.01, 0.0), 0.0);
        assert_eq!(crossing(|_| -1.0, 0.0, 1.0, f64::INFINITY), f64::INFINITY);
    }
}
