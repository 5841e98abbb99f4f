//! Labels side by side without overlap.

/// Moves labels as little as possible (least squares) from their wanted places, so that they keep their order, stand
/// `gap` apart and stay in `[low, high]`. `wanted` is ascending. If they do not all fit they run over `high`: see
/// [`capacity`].
pub(super) fn spread(wanted: &[f64], gap: f64, low: f64, high: f64) -> Vec<f64> {
    // Without the gaps, the places must only ascend: isotonic regression by pooling neighbours.
    let mut pools: Vec<(f64, usize)> = Vec::new();
    for (i, place) in wanted.iter().enumerate() {
        let mut pool = (place - gap * i as f64, 1);
        while let Some((mean, count)) = pools.pop_if(|(mean, _)| *mean > pool.0) {
            let all = (count + pool.1) as f64;
            pool = (
                (mean * count as f64 + pool.0 * pool.1 as f64) / all,
                count + pool.1,
            );
        }
        pools.push(pool);
    }
    let last = (high - gap * wanted.len().saturating_sub(1) as f64).max(low);
    pools
        .iter()
        .flat_map(|(mean, count)| std::iter::repeat_n(mean.clamp(low, last), *count))
        .enumerate()
        .map(|(i, place)| place + gap * i as f64)
        .collect()
}

/// How many labels fit.
pub(super) fn capacity(gap: f64, low: f64, high: f64) -> usize {
    ((high - low) / gap).max(0.0).floor() as usize + 1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_keep_their_distance_and_their_bounds() {
        assert_eq!(spread(&[10.0, 50.0], 14.0, 0.0, 100.0), [10.0, 50.0]);
        assert_eq!(spread(&[50.0, 50.0], 14.0, 0.0, 100.0), [43.0, 57.0]);
        assert_eq!(spread(&[0.0, 0.0], 14.0, 0.0, 100.0), [0.0, 14.0]);
        assert_eq!(spread(&[100.0, 100.0], 14.0, 0.0, 100.0), [86.0, 100.0]);
        assert_eq!(spread(&[], 14.0, 0.0, 100.0), [0.0; 0]);
        let crowd = spread(&[33.0; 8], 14.0, 0.0, 100.0);
        assert_eq!((crowd[0], crowd[7]), (0.0, 98.0));
        assert_eq!(capacity(14.0, 0.0, 100.0), 8);
    }
}
