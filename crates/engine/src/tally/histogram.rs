//! Quantiles in a fixed memory.

/// Mantissa bits of a bucket: 512 buckets in a factor of two.
const BITS: u32 = 9;

/// Number of buckets that are made together.
const CHUNK: usize = 256;

/// Values below this share the first bucket (6.1e-5 of a degree or second).
const LEAST: f64 = 1.0 / 16_384.0;

/// Values from this up share the last bucket.
const GREATEST: f64 = 1_099_511_627_776.0;

/// A histogram of figures that are not negative, with buckets of equal ratio.
///
/// A quantile is off by at most one part in 512, or by 6.2e-5 if it is below 6.2e-5. Each bucket keeps its least and
/// greatest value: a constant figure is exact. Whole numbers below 1024 have a bucket each, and their quantiles are
/// exact. It has at most 27 904 buckets for any number of values. Merging is exact, in any order.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Histogram {
    /// Number of the first bucket.
    first: usize,
    buckets: Vec<Bucket>,
    count: u64,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Bucket {
    count: u64,
    least: f64,
    greatest: f64,
}

const EMPTY: Bucket = Bucket {
    count: 0,
    least: f64::INFINITY,
    greatest: f64::NEG_INFINITY,
};

/// Number of the bucket of a value.
#[inline]
fn number(x: f64) -> usize {
    if x < LEAST {
        return 0;
    }
    // Its method is a call in WebAssembly.
    let x = if x < GREATEST { x } else { GREATEST };
    // The leading bits of a positive float, exponent then mantissa, grow with its value.
    let leading = |x: f64| x.to_bits() >> (52 - BITS);
    1 + (leading(x) - leading(LEAST)) as usize
}

impl Histogram {
    /// Adds a finite value that is not negative.
    #[inline]
    pub fn push(&mut self, x: f64) {
        self.push_many(x, 1);
    }

    /// Adds a finite value that is not negative, `times` times.
    #[inline]
    pub fn push_many(&mut self, x: f64, times: u64) {
        debug_assert!(x >= 0.0 && x.is_finite(), "{x}");
        if times == 0 {
            return;
        }
        let n = number(x);
        if n < self.first || n >= self.first + self.buckets.len() {
            self.make_room(n, n);
        }
        let bucket = &mut self.buckets[n - self.first];
        bucket.count += times;
        bucket.least = if x < bucket.least { x } else { bucket.least };
        bucket.greatest = if x > bucket.greatest {
            x
        } else {
            bucket.greatest
        };
        self.count += times;
    }

    /// Adds the values of another.
    pub fn merge(&mut self, other: &Self) {
        if other.buckets.is_empty() {
            return;
        }
        self.make_room(other.first, other.first + other.buckets.len() - 1);
        let offset = other.first - self.first;
        for (mine, theirs) in self.buckets[offset..].iter_mut().zip(&other.buckets) {
            mine.count += theirs.count;
            mine.least = mine.least.min(theirs.least);
            mine.greatest = mine.greatest.max(theirs.greatest);
        }
        self.count += other.count;
    }

    /// Makes the buckets from one number to another, in whole chunks. Growing one by one would move the others again
    /// and again. The extent depends on the values only, not on their order.
    fn make_room(&mut self, from: usize, to: usize) {
        let first = from / CHUNK * CHUNK;
        let end = (to / CHUNK + 1) * CHUNK;
        if self.buckets.is_empty() {
            self.first = first;
        }
        if first < self.first {
            let missing = self.first - first;
            self.buckets
                .splice(0..0, std::iter::repeat_n(EMPTY, missing));
            self.first = first;
        }
        if self.first + self.buckets.len() < end {
            self.buckets.resize(end - self.first, EMPTY);
        }
    }

    /// Number of values.
    #[must_use]
    pub fn count(&self) -> u64 {
        self.count
    }

    /// The value of a rank, where the least has rank 1; `None` for a rank beyond the values.
    #[must_use]
    pub fn ranked(&self, rank: u64) -> Option<f64> {
        if rank == 0 || rank > self.count {
            return None;
        }
        let mut below = 0;
        for bucket in &self.buckets {
            if below + bucket.count >= rank {
                let place = (rank - below) as f64;
                let of = bucket.count as f64;
                // Least and greatest are in the bucket. Between them the ranks are spread evenly.
                let share = if bucket.count > 1 {
                    (place - 1.0) / (of - 1.0)
                } else {
                    0.0
                };
                return Some(bucket.least + share * (bucket.greatest - bucket.least));
            }
            below += bucket.count;
        }
        None
    }

    /// The quantile `q` in `(0, 1]`: the least value that at least a share `q` of the values do not exceed. `None`
    /// without values.
    #[must_use]
    pub fn quantile(&self, q: f64) -> Option<f64> {
        let rank = (q * self.count as f64).ceil() as u64;
        self.ranked(rank.clamp(1, self.count.max(1)))
    }

    /// Share of the values up to and including `x`, to the accuracy of the buckets.
    #[must_use]
    pub fn share_up_to(&self, x: f64) -> f64 {
        if self.count == 0 || x < 0.0 {
            return 0.0;
        }
        let n = number(x);
        let mut up_to = 0;
        for (i, bucket) in self.buckets.iter().enumerate() {
            let whole = self.first + i < n || bucket.greatest <= x;
            if whole && bucket.count > 0 {
                up_to += bucket.count;
            }
        }
        up_to as f64 / self.count as f64
    }

    /// The distribution function as at most `limit` (at least two) ascending steps: a value, and the share of values
    /// up to it. The last share is 1. With more filled buckets than steps, the steps have about equal height.
    #[must_use]
    pub fn cumulative(&self, limit: usize) -> Vec<(f64, f64)> {
        let filled = || self.buckets.iter().filter(|b| b.count > 0);
        let all = filled().count() <= limit;
        let heights = limit.max(2) as u128 - 1;
        let (mut up_to, mut reached) = (0, 0);
        let mut steps = Vec::new();
        for bucket in filled() {
            up_to += bucket.count;
            let height = u128::from(up_to) * heights / u128::from(self.count);
            if all || height > reached || steps.is_empty() {
                steps.push((bucket.greatest, up_to as f64 / self.count as f64));
                reached = height;
            }
        }
        steps
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Shows (files): the histogram: 1/512, counts below 1024 exact. With: `counts_are_exact_below_1024_only`,
    /// `few_values_are_exact`. Source: by hand.
    #[test]
    fn quantiles_of_a_ramp_are_within_the_stated_error() {
        let mut whole = Histogram::default();
        let (mut a, mut b) = (Histogram::default(), Histogram::default());
        for i in 1..=100_000_u32 {
            let x = f64::from(i) * 0.01;
            whole.push(x);
            if i % 3 == 0 { a.push(x) } else { b.push(x) }
        }
        b.merge(&a);
        assert_eq!(b, whole);
        for q in [0.001, 0.25, 0.5, 0.9, 0.99, 1.0] {
            let found = whole.quantile(q).unwrap_or(0.0);
            let exact = 1000.0 * q;
            assert!((found / exact - 1.0).abs() < 1.0 / 512.0, "{q}: {found}");
        }
    }

    #[test]
    fn few_values_are_exact() {
        let mut h = Histogram::default();
        for x in [38.0, 38.0, 0.0, 7.25] {
            h.push(x);
        }
        assert_eq!(h.quantile(0.25), Some(0.0));
        assert_eq!(h.quantile(0.5), Some(7.25));
        assert_eq!(h.quantile(0.75), Some(38.0));
        assert_eq!(h.quantile(1.0), Some(38.0));
        assert_eq!(h.share_up_to(7.25), 0.5);
        assert_eq!(Histogram::default().quantile(0.5), None);
    }

    #[test]
    fn counts_are_exact_below_1024_only() {
        let mut h = Histogram::default();
        for count in 0..1024_u32 {
            h.push(f64::from(count));
        }
        for count in 0..1024_u64 {
            assert_eq!(h.ranked(count + 1), Some(count as f64));
        }
        // From there on neighbours share a bucket, and ranks between its ends are estimates.
        let mut shared = Histogram::default();
        for count in [1024.0, 1024.0, 1024.0, 1025.0] {
            shared.push(count);
        }
        assert_ne!(shared.ranked(2), Some(1024.0));
    }

    #[test]
    fn the_distribution_function_has_few_steps() {
        let mut h = Histogram::default();
        assert_eq!(h.cumulative(10), []);
        for x in [8.0, 8.0, 3.0, 15.5] {
            h.push(x);
        }
        assert_eq!(h.cumulative(10), [(3.0, 0.25), (8.0, 0.75), (15.5, 1.0)]);

        let mut ramp = Histogram::default();
        for i in 1..=100_000_u32 {
            ramp.push(f64::from(i));
        }
        let steps = ramp.cumulative(400);
        assert!((380..=400).contains(&steps.len()), "{}", steps.len());
        assert_eq!(steps.last(), Some(&(100_000.0, 1.0)));
        // Each value ends its bucket, and its share is exact.
        assert!(steps.iter().all(|(x, share)| *share == x / 100_000.0));
        assert!(steps.is_sorted());
        assert_eq!(ramp.cumulative(0).len(), 2);
    }

    /// Shows (speed): memory does not grow with the runs. With: `benches/growth.py`. Source: by hand; measured.
    #[test]
    fn extremes_stay_within_the_memory() {
        let mut h = Histogram::default();
        h.push(0.0);
        h.push(1e300);
        assert!(h.buckets.len() <= 27_904, "{}", h.buckets.len());
        assert_eq!(h.quantile(1.0), Some(1e300));
    }
}
